"""The same set as each of its vehicles has it: that one is `vehicle`, which layout answers about."""

from collections.abc import Iterator
from contextlib import contextmanager

from previz.errors import FileFault
from previz.layout.remembered import remembered
from previz.scene import Scene


@remembered
def others_of(scene: Scene) -> tuple[tuple[str, Scene], ...]:
    """Every vehicle but the subject: its name, and the very same set with that one as `vehicle`.

    What holds of all vehicles together, like where the ground is level, is the same for each of these.
    """
    named = dict(scene.vehicles or {})
    if scene.vehicle is not None:
        named[scene.subject] = scene.vehicle
    found = []
    for name in scene.vehicles or {}:
        rest = {other: each for other, each in named.items() if other != name}
        found.append(
            (name, scene.model_copy(update={"vehicle": named[name], "vehicles": rest or None, "subject": name}))
        )
    return tuple(found)


def each_driven(scene: Scene) -> tuple[Scene, ...]:
    """The set as each of its vehicles has it, its subject first; nothing where nothing drives."""
    own = (scene,) if scene.vehicle is not None else ()
    return (*own, *(other for _, other in others_of(scene)))


@contextmanager
def said_of(name: str) -> Iterator[None]:
    """What is at fault with another vehicle's file or launch, told where the scene has that vehicle."""
    try:
        yield
    except FileFault as fault:
        if fault.steps[:1] != ("vehicle",):
            raise
        raise FileFault(("vehicles", name, *fault.steps[1:]), fault.said) from None
