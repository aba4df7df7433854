"""Renders killed at random moments and started again: whether the same clip comes of it, and what it costs.

    python tests/benchmarks/kills.py [--kills 100] [--seed 0]

Each render of a tiny scene is hit once, sometimes twice, at a moment from a seed: half of them at any time from its
start on, half once so many frames are kept. It is told to end (SIGTERM, SIGINT), killed outright (SIGKILL), or loses a
process that draws or its encoder. Then the same command is started until it is done. Counted are clips that are
byte-identical to that of an undisturbed run, what lies in the temporary and the output folder afterwards, and frames
lost: those that were handed over for the clip and had to be drawn again. What processes were still drawing comes on
top: at most two each and the one in hand.
"""

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[2]

SCENE = """\
title: Tiny
scale: 1:50
units: mm
set: {table: {width: 1000, depth: 700}}
vehicle: {body: van, path: [[0, 400], [1000, 400]], speed: 1 m/s}
lights: [{id: room, ambient: 100 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 16 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}
shots:
  - {id: pass, camera: pocket, focal_length: 16 mm, f_number: 4, at: [500, -100, 80], aim: vehicle, focus: vehicle,
     capture: {rate: 120 fps, iso: auto}, playback: 24 fps, start: 0.2 s, duration: 0.4 s}
"""

#: `previz`, which notes each frame that is handed over for the clip.
PROGRAM = """
import os, signal
import previz, previz.cli

drawing, log = previz.render_frames, os.open(os.environ["FRAMES_LOG"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)

def noted(*given):
    for frame in drawing(*given):
        os.write(log, b"%d\\n" % frame.number)
        yield frame

previz.render_frames = noted
signal.signal(signal.SIGINT, signal.default_int_handler)
previz.cli.main()
"""

WAYS = ("SIGKILL", "SIGTERM", "SIGINT", "a process that draws", "the encoder")


@dataclass
class Machine:
    """Folders of its own for all that a run touches."""

    home: Path
    size: int = 64

    def __post_init__(self) -> None:
        for name in ("temporary", "cache"):
            (self.home / name).mkdir(parents=True)
        (self.home / "tiny.yaml").write_text(SCENE, encoding="utf-8")

    def start(self, out: Path, *more: str) -> "subprocess.Popen[str]":
        """The command at work."""
        environment = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "PREVIZ_CACHE": str(self.home / "cache"),
            "TMPDIR": str(self.home / "temporary"),
            "FRAMES_LOG": str(self.home / "frames.log"),
        }
        asked = ["render", str(self.home / "tiny.yaml"), "--draft", "--views", "1", "--size", str(self.size)]
        return subprocess.Popen(
            [sys.executable, "-W", "ignore", "-c", PROGRAM, *asked, "--workers", "2", "--out", str(out), *more],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment,
        )  # fmt: skip

    def handed_over(self) -> list[int]:
        """Frames that were, since this was asked last."""
        log = self.home / "frames.log"
        numbers = [int(line) for line in log.read_text().split()] if log.exists() else []
        log.unlink(missing_ok=True)
        return numbers


@dataclass
class Tally:
    """What came of all kills."""

    renders: int = 0
    identical: int = 0
    hit: Counter[str] = field(default_factory=Counter)
    missed: int = 0  # was done before it was hit
    tracebacks: int = 0
    left: list[str] = field(default_factory=list)
    lost: list[int] = field(default_factory=list)
    kept: list[int] = field(default_factory=list)


def kept_in(out: Path) -> set[int]:
    try:
        return {int(path.stem) for path in out.glob(".pass.mp4.unfinished/*/*.frame")}
    except FileNotFoundError:  # removed while it was looked through
        return set()


def children(pid: int, word: str) -> list[int]:
    """Processes that a process started, with a word in their command lines."""
    found = []
    for listed in Path(f"/proc/{pid}/task").glob("*/children"):
        for child in map(int, listed.read_text().split()):
            command = Path(f"/proc/{child}/cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
            if word in command:
                found.append(child)
    return found


def hit(program: "subprocess.Popen[str]", way: str, chance: random.Random) -> bool:
    """False where there was nothing to hit (yet, or any more)."""
    try:
        if way.startswith("SIG"):
            if program.poll() is not None:
                return False
            program.send_signal(getattr(signal, way))
            return True
        targets = children(program.pid, "ffmpeg" if way == "the encoder" else "spawn_main")
        if targets:
            os.kill(chance.choice(targets), signal.SIGKILL)
        return bool(targets)
    except (FileNotFoundError, ProcessLookupError):
        return False


def wait_for_moment(program: "subprocess.Popen[str]", out: Path, whole: float, chance: random.Random) -> None:
    if chance.random() < 0.5:
        until = time.monotonic() + chance.uniform(0, whole)
        while time.monotonic() < until and program.poll() is None:
            time.sleep(0.005)
        return
    wanted = chance.randint(1, 46)
    while len(kept_in(out)) < wanted and program.poll() is None:
        time.sleep(0.005)
    time.sleep(chance.uniform(0, 0.05))


def tried(machine: Machine, out: Path, reference: bytes, whole: float, chance: random.Random, tally: Tally) -> None:
    """One render: hit, and started again until it is done."""
    tally.renders += 1
    hits = 1 + (chance.random() < 0.3)
    while True:
        before = kept_in(out)
        machine.handed_over()
        program = machine.start(out)
        if hits:
            way = chance.choice(WAYS)
            wait_for_moment(program, out, whole, chance)
            while not (done := hit(program, way, chance)) and program.poll() is None:
                time.sleep(0.005)
            hits -= 1
            tally.hit[way] += done
            tally.missed += not done
        _, said = program.communicate(timeout=600)
        if "Traceback" in said:
            tally.tracebacks += 1
            print(said, flush=True)
        if program.returncode == 0:
            break
        drawn, kept = set(machine.handed_over()), kept_in(out)
        # Of a clip that is whole they go one by one.
        assert before <= kept or (out / "pass.mp4").exists(), "a frame that was kept is gone"
        tally.lost.append(0 if (out / "pass.mp4").exists() else len(drawn - kept))
        tally.kept.append(len(kept))
    same = (out / "pass.mp4").read_bytes() == reference
    tally.identical += same
    if not same:
        print(f"{out}: another clip", flush=True)
    tally.left += [path.name for path in out.iterdir() if path.name != "pass.mp4"]
    tally.left += [path.name for path in (machine.home / "temporary").iterdir()]


def main() -> None:
    """Kill, go on, count."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--kills", type=int, default=100, help="renders")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kills-") as home:
        machine, tally = Machine(Path(home) / "machine"), Tally()
        for name in ("first", "whole"):  # the second finds the set and its light in the cache, as all others will
            began = time.monotonic()
            program = machine.start(Path(home) / name)
            _, said = program.communicate()
            if program.returncode:
                sys.exit(said)
            whole = time.monotonic() - began
        reference = (Path(home) / "whole" / "pass.mp4").read_bytes()
        if reference != (Path(home) / "first" / "pass.mp4").read_bytes():
            sys.exit("two undisturbed runs differ")
        for number in range(asked.kills):
            chance = random.Random(f"{asked.seed} {number}")
            tried(machine, Path(home) / f"out{number}", reference, whole, chance, tally)
            if number % 10 == 9:
                print(f"{number + 1}: {tally}", file=sys.stderr, flush=True)
    lost = tally.lost or [0]
    print(f"renders {tally.renders}, byte-identical in the end {tally.identical}")
    ways = ", ".join(f"{way} {tally.hit[way]}" for way in WAYS)
    print(f"hits {sum(tally.hit.values())}: {ways}; too late {tally.missed}")
    print(f"runs that ended early {len(tally.lost)}, by then kept {min(tally.kept or [0])} to {max(tally.kept or [0])}")
    print(f"frames lost {sum(lost)}, at most {max(lost)} a hit, {sum(lost) / len(lost):.2f} on average")
    print(f"tracebacks {tally.tracebacks}; left in folders afterwards: {len(tally.left)} {sorted(set(tally.left))}")


if __name__ == "__main__":
    main()
