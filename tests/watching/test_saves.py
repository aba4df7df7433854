"""Saves as editors make them, on a real disk: in place, by renaming, in pieces; and files that come and go."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty, Queue

import pytest

from previz.watching.files import Watcher

#: A save is told at once where the system tells of it; on a busy machine much later. [s]
IN_ANY_CASE = 120.0
QUIET = 0.6


class Heard:
    """What was told of a scene file, its kit and an image."""

    def __init__(self, folder: Path) -> None:
        self.scene, self.kit, self.image = folder / "scene.yaml", folder / "kits" / "kit.yaml", folder / "sky.png"
        self.kit.parent.mkdir()
        for path in (self.scene, self.kit, self.image):
            path.write_text("first")
        self.saves: Queue[float] = Queue()
        self.watcher = Watcher([self.scene, self.kit, self.image], self.saves.put)

    def once(self) -> float:
        """Wait for one save, and that no other follows."""
        at = self.saves.get(timeout=IN_ANY_CASE)
        with pytest.raises(Empty):
            self.saves.get(timeout=QUIET)
        return at

    def nothing(self) -> None:
        with pytest.raises(Empty):
            self.saves.get(timeout=QUIET + 1.2)


@pytest.fixture
def heard(tmp_path: Path) -> Iterator[Heard]:
    found = Heard(tmp_path)
    with found.watcher:
        time.sleep(0.2)  # until it listens
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


@pytest.mark.parametrize("save", [in_place, by_rename, with_backup, in_pieces])
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


def test_kit_and_image_count_as_the_scene_does_and_nothing_else_does(heard: Heard) -> None:
    (heard.scene.parent / "notes.txt").write_text("of no concern")
    heard.nothing()
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
    time.sleep(1.3)
    heard.kit.parent.mkdir()
    heard.kit.write_text("second")
    heard.once()
    heard.kit.write_text("the third one")
    heard.once()


def test_other_files_can_be_followed_from_now_on(heard: Heard, tmp_path: Path) -> None:
    more = tmp_path / "tiles" / "grass.png"  # whose folder is not there yet
    heard.watcher.follow([heard.scene, more])
    time.sleep(0.3)
    in_place(heard.kit)
    heard.nothing()
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
        time.sleep(0.2)
        in_place(real)
        saves.get(timeout=IN_ANY_CASE)
