"""Frames drawn by a real Dask cluster of this machine: a scheduler and workers, each a process of its own.

The workers know nothing of the scene's folder: it is away while they draw, and so is what is kept between runs.
"""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from previz.cli import app
from previz.errors import MachineError
from previz.frames import Crew, Frame, Look, cluster, render_frames
from previz.frames.render import _prepared
from previz.frames.studio import Prepared
from previz.scene import read_scene
from previz.stage import build_stage

ROOT = Path(__file__).parents[2]

needs_dask = pytest.mark.skipif(
    find_spec("distributed") is None, reason="distributed is not installed: pip install 'tabletop-previz[cluster]'"
)

#: Its vehicle, what it aims at and its floor are files.
SCENE = """
title: On other machines
scale: 1:50
units: mm
set: {table: {width: 600, depth: 400}, ground: {image: floor.png}}
vehicle: {mesh: van.obj, length: 90, path: [[0, 200], [600, 200]], speed: 1 m/s}
dressing: [{id: crate, mesh: crate.obj, length: 60, at: [300, 330]}]
lights: [{id: room, ambient: 300 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 20 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}
shots:
  - id: pass
    camera: pocket
    focal_length: 20 mm
    f_number: 4
    at: [300, -150, 45]
    aim: crate
    focus: vehicle
    capture: {rate: 120 fps, iso: auto}
    start: 0.25 s
    duration: 0.1 s
"""

BOX = "".join(f"v {x} {y} {z}\n" for x in (0, 2) for y in (0, 1) for z in (0, 0.9)) + (
    "f 1 2 4 3\nf 5 7 8 6\nf 1 5 6 2\nf 3 4 8 7\nf 1 3 7 5\nf 2 6 8 4\n"
)

LOOK = Look(size=(64, 36), views=4, seed=5)


class Running:
    """A scheduler and two workers."""

    def __init__(self, folder: Path) -> None:
        self._told = folder / "scheduler.json"
        self._environment = {**os.environ, "PYTHONPATH": str(ROOT), "PREVIZ_CACHE": str(folder / "cache")}
        self._folder = folder
        self.scheduler = self._begun("scheduler", "--host", "127.0.0.1", "--port", "0")
        self.workers = [self._begun("worker", "--no-nanny", "--nthreads", "1") for _ in range(2)]
        while not self._told.exists():
            assert self.scheduler.poll() is None, "the scheduler ended"
            time.sleep(0.05)
        self.address: str = json.loads(self._told.read_text())["address"]

    def _begun(self, *command: str) -> "subprocess.Popen[bytes]":
        more = ("--scheduler-file", str(self._told), "--no-dashboard")
        return subprocess.Popen(
            [sys.executable, "-m", "dask", *command, *more],
            cwd=self._folder, env=self._environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip

    def end(self) -> None:
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    found = Running(tmp_path_factory.mktemp("cluster"))
    try:
        yield found
    finally:
        found.end()


@dataclass(frozen=True)
class Film:
    """A shot ready to be filmed, the folder of its scene, and its frames as they are drawn here."""

    folder: Path
    prepared: Prepared
    drawn: list[Frame]

    @property
    def numbers(self) -> range:
        return range(len(self.drawn))

    def is_same(self, others: list[Frame]) -> bool:
        return len(others) == len(self.drawn) and all(
            ours.number == theirs.number and ours.facts == theirs.facts and np.array_equal(ours.linear, theirs.linear)
            for ours, theirs in zip(self.drawn, others, strict=True)
        )


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Film:
    folder = tmp_path_factory.mktemp("scene") / "here"
    folder.mkdir()
    (folder / "shot.yaml").write_text(SCENE)
    (folder / "van.obj").write_text(BOX)
    (folder / "crate.obj").write_text(BOX)
    Image.fromarray(np.random.default_rng(0).integers(0, 255, (8, 8, 3), np.uint8)).save(folder / "floor.png")
    scene = read_scene(folder / "shot.yaml")
    stage = build_stage(scene, "draft", cache=False)
    (shot,) = scene.shots
    drawn = list(render_frames(scene, stage, shot, LOOK))
    assert len(drawn) == 12
    return Film(folder, _prepared(scene, stage, shot, LOOK, range(12)), drawn)


@needs_dask
def test_a_clip_is_the_same_to_the_byte(film: Film, running: Running, tmp_path: Path) -> None:
    asked = ["render", str(film.folder / "shot.yaml"), "--size", "64", "--views", "4", "--out"]
    for name, how in (("here", ["--workers", "1"]), ("there", ["--cluster", running.address])):
        done = CliRunner().invoke(app, [*asked, str(tmp_path / name), *how])
        assert done.exit_code == 0, done.output
    assert (tmp_path / "here" / "pass.mp4").read_bytes() == (tmp_path / "there" / "pass.mp4").read_bytes()


@needs_dask
def test_workers_made_of_something_else_are_refused(
    film: Film, running: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Crew(0, cluster=running.address) as crew:
        hands = crew._hands
        assert isinstance(hands, cluster.Cluster)
        # One that came after the others had been looked at.
        hands._made = {**hands._made, "OpenGL": "of another kind"}
        assert crew.drawn_by() == "of another kind"  # frames that it leaves are not taken for this machine's
        with pytest.raises(MachineError, match=r"a worker that came later has another OpenGL: .*, and not of a"):
            list(crew.frames(film.prepared, film.numbers, None))
    monkeypatch.setattr(cluster, "made_of", lambda: {"version of previz": "0.0.9"})
    with pytest.raises(MachineError, match=r"worker at tcp:.* has another version of previz: .*, and not 0\.0\.9"):
        Crew(0, cluster=running.address)


@needs_dask
def test_a_film_outlasts_a_worker_and_its_scene_and_is_told_what_it_cannot_do_without(
    film: Film, running: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    film.folder.rename(film.folder.with_name("away"))  # workers know what they were sent
    with Crew(0, cluster=running.address) as crew:
        frames = crew.frames(film.prepared, film.numbers, None)
        drawn = [next(frames)]
        os.kill(running.workers[0].pid, signal.SIGKILL)
        assert film.is_same([*drawn, *frames])

        monkeypatch.setattr(cluster, "_LOOK", 0.2)
        frames = crew.frames(film.prepared, film.numbers, None)
        next(frames)
        os.kill(running.workers[1].pid, signal.SIGKILL)
        with pytest.raises(MachineError, match=r"^frame \d+ of shot 'pass': the cluster has had no worker for"):
            list(frames)

    monkeypatch.setattr(cluster, "_TO_COME", 0.2)
    with pytest.raises(MachineError, match=f"has no workers; start some.*dask worker {running.address} --nthreads 1"):
        Crew(0, cluster=running.address)
    running.scheduler.kill()
    monkeypatch.setattr(cluster, "_TO_CONNECT", 0.5)
    with pytest.raises(MachineError, match=f"no scheduler answers at {running.address}.*start one there with"):
        Crew(0, cluster=running.address)


@needs_dask
def test_whoever_listens_but_is_no_scheduler_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "_TO_CONNECT", 0.3)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"tcp://127.0.0.1:{silent.getsockname()[1]}"
        with pytest.raises(MachineError, match=f"no scheduler answers at {address}"):
            Crew(0, cluster=address)


@needs_dask
def test_an_encrypted_address_wants_certificates() -> None:
    with pytest.raises(MachineError, match=r"tls://127\.0\.0\.1:8786 wants certificates: name them in Dask's conf"):
        Crew(0, cluster="tls://127.0.0.1:8786")


@pytest.mark.parametrize("address", ["127.0.0.1:8786", "tcp://host", "http://host:80", "tcp://host:80/path", ""])
def test_what_is_no_address_is_told(address: str) -> None:
    with pytest.raises(MachineError, match="is not the address of a cluster's scheduler; write tcp://host:port or tls"):
        Crew(0, cluster=address)


def test_what_is_not_installed_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(MachineError, match=r"Dask is needed .*pip install 'tabletop-previz\[cluster\]'"):
        Crew(0, cluster="tcp://127.0.0.1:8786")
