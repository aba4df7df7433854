"""A program may have several OpenGL contexts, and each stays what it is when another one goes."""

import gc

from previz.frames.gl.context import Context


def test_contexts_stay_when_another_is_closed_and_collected() -> None:
    closed, first, second = Context(16, 16), Context(16, 16), Context(32, 18)
    closed.close()
    later = Context(16, 16)  # where the system may have the closed one's handle for it
    del closed
    gc.collect()
    for each in (first, later, second, first):
        each.be_current()
    for each in (first, later, second):
        each.close()


def test_one_that_nobody_closed_takes_no_other_with_it() -> None:
    forgotten, kept = Context(16, 16), Context(16, 16)
    forgotten.be_current()
    del forgotten
    gc.collect()
    kept.be_current()
    kept.close()
    kept.close()  # as often as one likes
