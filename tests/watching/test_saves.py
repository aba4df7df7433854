"""Saves as editors make them, on a real disk: in place, by renaming, in pieces; and files that come and go.

What is told of them is looked at as often as a test says so, however long a busy machine takes: a save that is heard in
the middle is two. That the system tells of them at all is tested beside it.
"""

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty, Queue
from threading import Event
from typing import Any

import pytest

from previz.watching.files import Watcher

#: A save is told at once where the system tells of it; on a busy machine much later. [s]
IN_ANY_CASE = 120.0


class Heard:
    """What was told of a scene file, its kit and an image, where the system tells of changes when the test says so."""

    def __init__(self, folder: Path) -> None:
        self.scene, self.kit, self.image = folder / "scene.yaml", folder / "kits" / "kit.yaml", folder / "sky.png"
        self.kit.parent.mkdir()
        for path in (self.scene, self.kit, self.image):
            path.write_text("first")
        self.saves: list[float] = []
        self.watcher = Watcher([self.scene, self.kit, self.image], self.saves.append)
        self.folders: tuple[Path, ...] = ()
        self._words: Queue[None] = Queue()

    def watch(self, *folders: Path, stop_event: Event, **_how: Any) -> Iterator[None]:
        """In place of what the system tells of these folders."""
        self.folders = folders
        while not stop_event.is_set():
            try:
                self._words.get(timeout=0.01)
            except Empty:
                continue
            try:
                yield
            finally:  # what follows from it is done
                self._words.task_done()

    def told(self) -> list[float]:
        """Of which saves it tells once the system says that something has changed."""
        before = len(self.saves)
        self._words.put(None)
        self._words.join()
        return self.saves[before:]

    def once(self) -> float:
        """Of one save, and of no other after it."""
        (at,) = self.told()
        assert self.told() == []
        return at


@pytest.fixture
def heard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Heard]:
    found = Heard(tmp_path)
    monkeypatch.setattr("previz.watching.files.watch", found.watch)
    with found.watcher:
        yield found


def in_place(path: Path) -> None:
    path.write_text("second")


def by_rename(path: Path) -> None:
    part = path.with_name(f".{path.name}.swp")
    part.write_text("second")
    part.replace(path)


def with_backup(path: Path) -> None:
    path.rename(path.with_name(path.name + "~"))
    path.write_text("second")


def in_pieces(path: Path) -> None:
    with path.open("w") as file:
        for _ in range(4):
            file.write("half ")
            file.flush()


EDITORS = [in_place, by_rename, with_backup, in_pieces]


@pytest.mark.parametrize("save", EDITORS)
def test_however_an_editor_saves_it_is_told_once_and_when(
    heard: Heard, save: Callable[[Path], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("previz.watching.files._RECENT", IN_ANY_CASE)  # told late, a save has its own time all the same
    before = time.time()
    save(heard.scene)
    done = time.time()
    at = heard.once()
    # The clock of a file may be a tick behind (10 ms at 100 Hz; from memory).
    assert before - 0.02 <= at <= done + 0.02


@pytest.mark.parametrize("save", EDITORS)
def test_the_system_tells_of_a_save(save: Callable[[Path], None], tmp_path: Path) -> None:
    scene = tmp_path / "scene.yaml"
    scene.write_text("first")
    saves: Queue[float] = Queue()
    with Watcher([scene], saves.put):
        save(scene)
        saves.get(timeout=IN_ANY_CASE)


def test_kit_and_image_count_as_the_scene_does_and_nothing_else_does(heard: Heard) -> None:
    (heard.scene.parent / "notes.txt").write_text("of no concern")
    assert heard.told() == []
    in_place(heard.kit)
    heard.once()
    by_rename(heard.image)
    heard.once()


def test_a_file_that_goes_and_comes_back_is_told_each_time(heard: Heard) -> None:
    heard.scene.unlink()
    heard.once()
    heard.scene.write_text("again")
    heard.once()


def test_a_folder_that_goes_and_comes_back_is_listened_to_again(heard: Heard) -> None:
    heard.kit.unlink()
    heard.once()
    heard.kit.parent.rmdir()
    assert heard.told() == heard.told() == [] and heard.kit.parent not in heard.folders
    heard.kit.parent.mkdir()
    heard.kit.write_text("second")
    heard.once()
    assert heard.kit.parent in heard.folders
    heard.kit.write_text("the third one")
    heard.once()


def test_other_files_can_be_followed_from_now_on(heard: Heard, tmp_path: Path) -> None:
    more = tmp_path / "tiles" / "grass.png"  # whose folder is not there yet
    heard.watcher.follow([heard.scene, more])
    in_place(heard.kit)
    assert heard.told() == []
    more.parent.mkdir()
    more.write_text("here now")
    heard.once()


def test_what_a_link_leads_to_is_what_is_saved(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    real, link = tmp_path / "elsewhere" / "shot.yaml", tmp_path / "scene.yaml"
    real.write_text("first")
    link.symlink_to(real)
    saves: Queue[float] = Queue()
    with Watcher([link], saves.put):
        in_place(real)
        saves.get(timeout=IN_ANY_CASE)
