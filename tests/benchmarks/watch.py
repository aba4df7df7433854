"""How long `previz watch` takes from a save to its picture: the camera moved, and a piece moved.

    python tests/benchmarks/watch.py [--times 10] [scenes/quay_lorry.yaml ...]

From when the file was written to when its picture was fetched from the page's server. Each save comes while the clip
of the one before is being drawn. Nothing is on disk at first. Seconds, and those of all its processes' time: on a
machine that does other work as well, the second says what the first would be at best.
"""

import argparse
import http.client
import json
import os
import re
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

ROOT = Path(__file__).parents[2]
SCENES = ("quay_lorry", "snow_bus", "night_van")


@dataclass
class Watched:
    """The program at work, and the stream of what its page is told."""

    process: subprocess.Popen[str]
    address: str
    news: http.client.HTTPResponse

    def still(self, before: str) -> str:
        """The name of the next still, once it has been fetched."""
        while True:
            line = self.news.readline()
            if not line.startswith(b"data: {"):
                continue
            shown: dict[str, Any] = json.loads(line[6:])
            if shown["faults"]:
                raise SystemExit(f"{shown['faults']}")
            if shown["still"] not in ("", before):
                break
        parts = urlsplit(self.address)
        with closing(http.client.HTTPConnection(parts.netloc)) as connection:
            connection.request("GET", f"{parts.path}pictures/{shown['still']}")
            connection.getresponse().read()
        return str(shown["still"])

    def clip_begun(self) -> None:
        while b'"doing": "clip: 2' not in self.news.readline():
            pass


@contextmanager
def watched(scene: Path, cache: Path) -> Iterator[Watched]:
    command = [sys.executable, "-m", "previz", "watch", str(scene)]
    process = subprocess.Popen(
        command, stderr=subprocess.PIPE, text=True, env={**os.environ, "PREVIZ_CACHE": str(cache)}
    )
    assert process.stderr is not None
    address = process.stderr.readline().strip()
    parts = urlsplit(address)
    with closing(http.client.HTTPConnection(parts.netloc)) as connection:
        connection.request("GET", f"{parts.path}news")
        yield Watched(process, address, connection.getresponse())
        process.send_signal(signal.SIGINT)
        process.communicate()


def moved(text: str, place: re.Match[str], by: float) -> str:
    """The scene with the x of a place some mm further."""
    return f"{text[: place.start(1)]}{float(place[1]) + by:g}{text[place.end(1) :]}"


def camera_of(text: str) -> re.Match[str]:
    found = re.compile(r"\bat: \[\s*(-?[\d.]+)").search(text, text.index("\nshots:"))
    assert found, "the first shot's camera stands at a place in numbers"
    return found


def piece_of(text: str) -> re.Match[str]:
    found = re.compile(r"\bat: \[\s*(-?[\d.]+)").search(text, text.index("\ndressing:"))
    assert found, "a piece stands at a place in numbers"
    return found


def cpu_of(pid: int) -> float:
    """The processor time of a process and of those it started. [s]"""
    total = 0.0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if stat.parent.name == str(pid):
            total += sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")
        elif int(fields[1]) == pid:
            total += cpu_of(int(stat.parent.name))
    return total


def measure(scene: Path, times: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        own = Path(folder, scene.name)
        shutil.copytree(scene.parent, folder, dirs_exist_ok=True)
        text = own.read_text()
        with watched(own, Path(folder, "cache")) as here:
            began = time.perf_counter()
            still = here.still("")
            print(f"{scene.stem:12} first picture     {time.perf_counter() - began:5.2f} s", flush=True)
            for name, place in (("camera moved", camera_of(text)), ("piece moved", piece_of(text))):
                walls, cpus = [], []
                for number in range(1, times + 1):
                    here.clip_begun()
                    cpu, began = cpu_of(here.process.pid), time.perf_counter()
                    own.write_text(moved(text, place, number))
                    still = here.still(still)
                    walls.append(time.perf_counter() - began)
                    cpus.append(cpu_of(here.process.pid) - cpu)
                print(
                    f"{scene.stem:12} {name:14} median {statistics.median(walls):5.2f} s, {min(walls):.2f} to "
                    f"{max(walls):.2f}; processor {statistics.median(cpus):.2f} s",
                    flush=True,
                )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scenes", nargs="*", type=Path, default=[ROOT / "scenes" / f"{each}.yaml" for each in SCENES])
    parser.add_argument("--times", type=int, default=10)
    asked = parser.parse_args()
    load = ", ".join(f"{each:.1f}" for each in os.getloadavg())
    print(f"{len(os.sched_getaffinity(0))} cores, load {load}; median of {asked.times}")
    for scene in asked.scenes:
        measure(scene, asked.times)


if __name__ == "__main__":
    main()
