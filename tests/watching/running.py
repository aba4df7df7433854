"""`previz watch` as a person runs it: a program of its own, a scene in a folder, and what its page is told."""

import http.client
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from threading import Thread
from typing import Any
from urllib.parse import urlsplit

import numpy as np
from PIL import Image

TITLE = "Pier & <b>lorry</b>"

#: Small and bare, so that it is drawn in no time.
SCENE = (
    f"title: {TITLE}"
    """
scale: 1:50
units: mm
set:
  table: {width: 600, depth: 400}
  ground: {image: floor.png}
vehicle: {body: van, path: [[0, 200], [600, 200]], speed: 1 m/s}
dressing:
  - {id: box, piece: container, at: [300, 300]}
lights:
  - {id: room, ambient: 800 lx}
kit: kits/tabletop.yaml
shots:
  - id: pass
    camera: pocket
    focal_length: 20 mm
    f_number: 5.6
    at: [300, -150, 45]
    aim: [300, 200, 20]
    focus: 400
    capture: {rate: 120 fps}
    start: 0.2 s
    duration: 0.2 s
  - id: away
    camera: pocket
    focal_length: 12 mm
    f_number: 4
    at: [20, -100, 45]
    aim: [500, 300, 20]
    focus: 600
    capture: {rate: 60 fps}
    start: 0.1 s
    duration: 0.4 s
"""
)

KIT = """\
cameras:
  pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}
"""

#: The program as it is; and so that it tries no remedies, which is most of what a save costs.
WHOLE, HASTY = (
    ("-m", "previz"),
    (
        "-c",
        "from previz.predictions import trying; trying.PATIENCE = trying.LEAST_PATIENCE = 0\n"
        "from previz.cli import main; main()",
    ),
)

PATIENCE = 120.0  # for anything, on a machine that has much to do [s]


def floor(colour: tuple[int, int, int]) -> Image.Image:
    return Image.fromarray(np.full((64, 96, 3), colour, np.uint8))


class Running:
    """The program and its folder; a context, at whose end both have gone."""

    def __init__(self, folder: Path, *options: str, start: tuple[str, str] = HASTY) -> None:
        self.folder = folder
        self.scene, self.kit, self.floor = (
            folder / "scene.yaml",
            folder / "kits" / "tabletop.yaml",
            folder / "floor.png",
        )
        self.kit.parent.mkdir()
        self.kit.write_text(KIT)
        self.scene.write_text(SCENE)
        floor((120, 120, 120)).save(self.floor)
        self.scratch = folder / "scratch"
        self.scratch.mkdir()
        self.lines: list[str] = []
        self.count = 0  # of writes
        self.told: list[dict[str, Any]] = []
        command = [sys.executable, *start, "watch", str(self.scene), *options]
        env = {**os.environ, "TMPDIR": str(self.scratch), "PREVIZ_CACHE": str(folder / "cache")}
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env)

    def __enter__(self) -> "Running":
        self.hearing = Thread(target=self._hear, daemon=True)
        self.hearing.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        self.hearing.join()
        for pipe in (self.process.stdout, self.process.stderr):
            assert pipe is not None
            pipe.close()

    def _hear(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.lines.append(line.rstrip("\n"))

    @property
    def address(self) -> str:
        self.until(lambda: self.lines)
        assert self.lines[0].startswith("http://127.0.0.1:"), self.lines
        return self.lines[0]

    def until(self, true: Callable[[], Any]) -> Any:
        """What `true` returns once it is something."""
        end = time.monotonic() + PATIENCE
        while not (found := true()):
            assert time.monotonic() < end, f"never came true; it said {self.lines}, {self.told[-3:]}"
            assert self.process.poll() is None, f"it ended; it said {self.lines}"
            time.sleep(0.01)
        return found

    def listen(self) -> None:
        """Note all that the page is told from now on."""
        Thread(target=self._listen, args=[self.address], daemon=True).start()
        self.until(lambda: self.told)

    def _listen(self, address: str) -> None:
        with closing(http.client.HTTPConnection(urlsplit(address).netloc)) as connection:
            connection.request("GET", f"{urlsplit(address).path}news")
            with closing(connection.getresponse()) as answer:
                for line in answer:
                    if line.startswith(b"data: {"):
                        self.told.append(json.loads(line[6:]))

    @property
    def shown(self) -> dict[str, Any]:
        """As the page was told last."""
        return self.told[-1]

    def next_still(self, before: str = "") -> dict[str, Any]:
        """What is shown once there is a still other than the one before."""
        return self.until(lambda: self.shown if self.shown["still"] not in ("", before) else None)  # type: ignore[no-any-return]

    def after(self, change: Callable[[], object]) -> dict[str, Any]:
        """What is shown with the next still after a change."""
        before = self.shown["still"]
        change()
        return self.next_still(before)

    def write(self, old: str = "", new: str = "") -> None:
        """Save the scene with something else in it, under a title of its own."""
        assert old in SCENE
        self.count += 1
        self.scene.write_text(SCENE.replace(old, new).replace(TITLE, self.title))

    @property
    def title(self) -> str:
        return f"{TITLE} {self.count}" if self.count else TITLE

    def saved(self, old: str = "", new: str = "") -> dict[str, Any]:
        """What is shown with the still that such a save leads to."""
        self.write(old, new)
        return self.read()

    def read(self) -> dict[str, Any]:
        """What is shown with the still of what was written last."""

        def first() -> dict[str, Any] | None:
            return next((each for each in self.told if each["title"] == self.title), None)

        return self.next_still(self.until(first)["still"])

    def picture(self, name: str) -> bytes:
        with closing(http.client.HTTPConnection(urlsplit(self.address).netloc)) as connection:
            connection.request("GET", f"{urlsplit(self.address).path}pictures/{name}")
            answer = connection.getresponse()
            assert answer.status == 200
            return answer.read()

    def wish(self, shot: str, moment: float | None) -> None:
        parts = urlsplit(self.address)
        with closing(http.client.HTTPConnection(parts.netloc)) as connection:
            body = json.dumps({"shot": shot, "time": moment})
            connection.request("POST", f"{parts.path}wish", body, {"origin": f"http://{parts.netloc}"})
            assert connection.getresponse().status == 204

    def workers(self) -> list[int]:
        """The processes it has started that are still there, by their numbers."""
        return _children(self.process.pid)

    def interrupt(self) -> int:
        """Ctrl-C; returns the exit code."""
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(timeout=PATIENCE)


def _children(parent: int) -> list[int]:
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, above = stat.read_text().rpartition(")")[2].split()[:2]
        except OSError:
            continue
        if int(above) == parent and state != "Z":
            number = int(stat.parent.name)
            found += [number, *_children(number)]
    return found
