"""What can be counted on, as tables: `python tests/benchmarks/trust.py [--files 500] [--only memory]`.

- fuzz: changed scenes through `check` and to stills (`fuzz.py` tries more of them);
- memory: the most that a render holds, all its processes together (proportional set size, where the system tells it),
  of a set with next to nothing on it and two views a frame, so that pictures count and not the set; twice the frames
  must not take more;
- workers: a demo's frames by one process and by two;
- sweep: a thousand shots on 64 machines, reckoned from what was measured here. Nothing is run on 64 machines.

Runs killed at random are `kills.py`'s.
"""

import argparse
import os
import pickle
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
TELL = sys.stdout.write
DEMO = ROOT / "scenes" / "quay_lorry.yaml"

#: Of the sweep: the machines, and what joins them. Common sizes, no source.
MACHINES, SHOTS = 64, 1000
LINK = 1e9 / 8  # of the machine that gives out work and takes in frames [byte/s]
DISK = 200e6  # of that machine [byte/s]

TINY = """
title: Next to nothing
scale: 1:50
units: mm
set:
  table: {width: 400, depth: 300}
  road: {lane: 50, lanes: 1, centre: [[0, 150], [400, 150]]}
vehicle: {body: van, speed: 0.1 m/s}
lights: [{id: room, ambient: 1000 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 16 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120, 4k120]}}
shots:
  - {id: pass, camera: pocket, focal_length: 16 mm, f_number: 4, at: [200, -150, 50], aim: [200, 150, 20], focus: 300,
     capture: {rate: 120 fps, shutter: 180 deg, iso: 800}, playback: 24 fps, start: 0.5 s, duration: 2.1 s}
"""


def main() -> None:
    """Measure and tell."""
    parts: dict[str, Callable[[argparse.Namespace], None]] = {
        "fuzz": _fuzz,
        "memory": _memory,
        "workers": _workers,
        "sweep": _sweep,
    }
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--only", choices=parts, action="append", help="this part alone; may be given more than once")
    asked.add_argument("--files", type=int, default=500, help="changed scenes through check")
    asked.add_argument("--stills", type=int, default=5, help="changed scenes to a still")
    asked.add_argument("--widths", type=int, nargs="+", default=[1920, 3840], help="of pictures, for memory")
    asked.add_argument("--frames", type=int, nargs="+", default=[24, 240], help="of renders, for memory")
    wanted = asked.parse_args()
    for name in wanted.only or parts:
        TELL(f"\n## {name}\n\n")
        parts[name](wanted)
        sys.stdout.flush()


def _fuzz(wanted: argparse.Namespace) -> None:
    command = [sys.executable, str(ROOT / "tests/benchmarks/fuzz.py"), "--files", str(wanted.files)]
    done = subprocess.run([*command, "--stills", str(wanted.stills)], capture_output=True, text=True, check=False)
    TELL(done.stdout[done.stdout.find("scenes from seed") :])


# --- memory ---


def _memory(wanted: argparse.Namespace) -> None:
    TELL("| picture | frames | all processes [MB] | ours [MB] | the encoder [MB] |\n|---|---|---|---|---|\n")
    with tempfile.TemporaryDirectory() as folder:
        scene = Path(folder, "tiny.yaml")
        scene.write_text(TINY, encoding="utf-8")
        for width in wanted.widths:
            for frames in wanted.frames:
                most = [each / 1e6 for each in _most_memory(scene, width, frames, Path(folder))]
                told = " | ".join(f"{each:.0f}" for each in most)
                TELL(f"| {width}×{width * 9 // 16} | {frames} | {told} |\n")
                sys.stdout.flush()


def _most_memory(scene: Path, width: int, frames: int, folder: Path) -> tuple[float, float, float]:
    """Of a render: its processes together, ours and the encoder, each at its own worst moment. [byte]"""
    out = folder / f"{width}-{frames}"
    command = [sys.executable, "-m", "previz", "render", str(scene), "--size", str(width), "--frames", f"0:{frames}"]
    command += ["--views", "2", "--draft", "--workers", "2", "--out", str(out)]
    surroundings = {**os.environ, "PYTHONPATH": str(ROOT)}
    run = subprocess.Popen(command, env=surroundings, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    most = (0.0, 0.0, 0.0)
    while run.poll() is None:
        ours, encoder = 0.0, 0.0
        for process in _family(run.pid):
            if _name(process).startswith("ffmpeg"):
                encoder += _held(process)
            else:
                ours += _held(process)
        most = max(most[0], ours + encoder), max(most[1], ours), max(most[2], encoder)
        time.sleep(0.2)
    assert run.stderr is not None
    if run.returncode:
        raise SystemExit(run.stderr.read().decode())
    shutil.rmtree(out)
    return most


def _family(first: int) -> list[int]:
    """A process and all that it began, and they in turn."""
    parents = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                parents[int(entry.name)] = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
            except OSError:
                continue  # it has ended
    found = [first]
    for each in found:
        found += [process for process, parent in parents.items() if parent == each]
    return found


def _name(process: int) -> str:
    try:
        return Path(f"/proc/{process}/comm").read_text()
    except OSError:
        return ""  # it has ended


def _held(process: int) -> float:
    """A process's share of memory. [byte]"""
    try:
        for line in Path(f"/proc/{process}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return 1024.0 * int(line.split()[1])
    except OSError:
        pass  # it has ended
    return 0.0


# --- frames ---


@dataclass(frozen=True)
class Costs:
    """Of one film: frames, what they took, and what of them travels.

    wall and cpu are for each frame [s]; frame is one as it comes back, sent what a process needs for the shot [byte].
    """

    frames: int
    wall: float
    cpu: float
    frame: int
    sent: int


def _film(workers: int, size: tuple[int, int], few: int, many: int) -> tuple[Costs, list[Any]]:
    """The demo's frames by so many processes. What a film takes before its first frame falls out: two are compared."""
    from previz import build_stage, read_scene, render_frames
    from previz.frames import Crew, Look
    from previz.frames.render import _prepared

    scene = read_scene(DEMO)
    shot = scene.shots[0]
    taken = []
    with Crew(workers, apart=True) as crew:
        stage = build_stage(scene, elsewhere=crew.do)
        for count in (few, few, many):  # the first lets every process load what it needs
            look = Look(size=size, frames=range(20, 20 + count))
            wall, cpu = time.perf_counter(), _spent_by_children()
            drawn = list(render_frames(scene, stage, shot, look, crew))
            taken.append((time.perf_counter() - wall, _spent_by_children() - cpu))
    wall, cpu = ((more - less) / (many - few) for less, more in zip(*taken[1:], strict=True))
    sent = pickle.dumps(_prepared(scene, stage, shot, look, range(20, 22)), protocol=5)
    return Costs(many, wall, cpu, drawn[0].linear.nbytes, len(sent)), drawn


def _spent_by_children() -> float:
    """Processor time so far of the processes that this one began and that still run. [s]"""
    total = 0
    for process in _family(os.getpid())[1:]:
        try:
            fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        total += int(fields[11]) + int(fields[12])
    return total / os.sysconf("SC_CLK_TCK")


def _workers(_: argparse.Namespace) -> None:
    TELL(f"{DEMO.stem}, 1280×720, views as chosen, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before\n\n")
    TELL("| workers | frames | frames a second | CPU time a frame [s] |\n|---|---|---|---|\n")
    for workers in (1, 2):
        costs, _ = _film(workers, (1280, 720), 4, 28)
        TELL(f"| {workers} | {costs.frames} | {1 / costs.wall:.2f} | {costs.cpu:.2f} |\n")
        sys.stdout.flush()


# --- a sweep, on paper ---


def _sweep(_: argparse.Namespace) -> None:
    from previz import read_scene
    from previz.delivery import deliver_clip
    from previz.layout import frame_times

    cores = os.cpu_count() or 1
    costs, drawn = _film(1, (1920, 1080), 2, 10)
    scene = read_scene(DEMO)
    shot = scene.shots[0]
    with tempfile.TemporaryDirectory() as folder:
        before = resource.getrusage(resource.RUSAGE_CHILDREN), time.process_time()
        clip = Path(folder, "clip.mp4")
        many = [*drawn, *reversed(drawn)] * 3
        deliver_clip(clip, iter(many), Fraction(24), (1920, 1080))
        after = resource.getrusage(resource.RUSAGE_CHILDREN), time.process_time()
        encoding = (after[0].ru_utime - before[0].ru_utime + after[1] - before[1]) / len(many)
        written = clip.stat().st_size / len(many)
    frames = frame_times(scene, shot).count
    TELL(f"Measured: {DEMO.stem} at 1920×1080, {frames} frames a shot; drawing {costs.cpu:.2f} s of CPU time a frame, ")
    TELL(f"encoding {encoding:.3f} s; a frame comes back as {costs.frame / 1e6:.1f} MB, a shot is sent as ")
    TELL(f"{costs.sent / 1e6:.1f} MB, a clip has {written * frames / 1e6:.1f} MB.\n")
    TELL(
        f"Assumed: {SHOTS} shots of it; {MACHINES} machines with {cores} cores like these; one of them gives out work, "
    )
    TELL(f"takes in frames over {LINK * 8 / 1e9:.0f} Gbit/s, encodes, and writes {DISK / 1e6:.0f} MB/s.\n\n")
    all_frames = frames * SHOTS
    hours = {
        "drawing, on all cores of all machines": costs.cpu * all_frames / (MACHINES * cores) / 3600,
        "frames coming back over its link": costs.frame * all_frames / LINK / 3600,
        "encoding, on all its cores": encoding * all_frames / cores / 3600,
        "set and light over its link, each shot drawn by one machine": costs.sent * SHOTS / LINK / 3600,
        "set and light over its link, each shot's frames drawn by all": costs.sent * SHOTS * MACHINES / LINK / 3600,
        "clips to its disk": written * all_frames / DISK / 3600,
    }
    TELL("| what | hours if nothing else held it up | busy from so many machines on |\n|---|---|---|\n")
    drawing = next(iter(hours.values()))
    for name, each in sorted(hours.items(), key=lambda item: -item[1]):
        busy = "" if each == drawing else f"{MACHINES * drawing / each:.0f}"
        TELL(f"| {name} | {each:.2f} | {busy} |\n")


if __name__ == "__main__":
    main()
