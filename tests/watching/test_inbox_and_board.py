import json
import threading
import time

from previz.watching import Board, Inbox, Wish
from previz.watching.inbox import News


def test_the_newest_of_each_kind_counts_and_is_taken_once():
    inbox = Inbox()
    inbox.saved(1.0)
    inbox.wish(Wish("pass", 0.2))
    inbox.wish(Wish("pass", 0.4))
    inbox.saved(2.0)
    assert inbox.expect(0) and inbox.saved_meanwhile
    assert inbox.take(0) == News(saved=2.0, wish=Wish("pass", 0.4))
    assert inbox.take(0) == News()
    assert not inbox.expect(0) and not inbox.saved_meanwhile


def test_who_waits_hears_at_once():
    inbox, began = Inbox(), time.monotonic()
    threading.Timer(0.1, inbox.wish, [Wish("pass")]).start()
    assert inbox.take(600).wish == Wish("pass")
    assert time.monotonic() - began < 300


def test_each_change_has_a_number_and_what_is_the_same_has_none():
    board = Board()
    before, _ = board.news()
    board.show(doing="drawing", at=3)
    after, text = board.news()
    assert after == before + 1 == board.version
    assert (json.loads(text)["doing"], json.loads(text)["at"]) == ("drawing", 3)
    board.show(at=3)
    assert board.version == after


def test_the_last_pictures_of_a_kind_are_kept():
    board = Board()
    clip = board.hang(b"clip", "mp4")
    names = [board.hang(b"%d" % number, "png") for number in range(9)]
    assert [board.picture(name) for name in names[-3:]] == [b"6", b"7", b"8"]
    assert [board.picture(name) for name in names[:-3]] == [None] * 6
    assert board.picture(clip) == b"clip"
