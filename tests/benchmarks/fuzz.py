"""Scenes nobody would send in good faith, through `check` and to a small still, and what came of them.

`python tests/benchmarks/fuzz.py --files 20000 --seed 1 --stills 40 [--minutes 30]`

`check` runs in processes that fork from one that has everything loaded, one after another; each takes a batch. Stills
are the command line's own, one at a time, 160 pixels wide. Told are tracebacks, what took longer than `HANG` seconds,
the most memory that any of it held, and every file opened that lies outside the scene's folder, the program and the
system: by strace where it is installed, which sees every process, else by Python's audit events, which see what Python
opens in `check` alone.
"""

import argparse
import gc
import math
import os
import re
import resource
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.hostile.mutated_scenes import good_scene, mutated_scene, write
from tests.hostile.trying_scenes import checked, heard, is_bait, listen

HANG = {"check": 10.0, "still": 60.0}  # of processor time, so that other work on the machine does not count [s]
ASLEEP = 180.0  # of anyone's time, for what only waits [s]
BATCH = 200
MOST_MEMORY = 6 * 1024**3  # of addresses while checking, so that a fault of ours harms no machine [bytes]
TELL = sys.stdout.write


@dataclass
class Tally:
    """What was found, each with the seed that makes it again."""

    counts: Counter[str] = field(default_factory=Counter)
    told: list[str] = field(default_factory=list)
    times: dict[str, list[float]] = field(default_factory=lambda: {"check": [], "still": []})
    memory: dict[str, float] = field(default_factory=lambda: {"check": 0.0, "still": 0.0})  # [MB]

    def note(self, kind: str, what: str, seed: int, more: str = "") -> None:
        """Count it, and tell it with its seed."""
        self.counts[f"{kind}: {what}"] += 1
        if more:
            self.told.append(f"{kind} of seed {seed}: {what}\n{more}")
            TELL(f"--- {self.told[-1]}\n")
            sys.stdout.flush()


def main() -> None:
    """Try and tell."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--files", type=int, default=2000, help="scenes through check")
    asked.add_argument("--seed", type=int, default=1, help="of the first")
    asked.add_argument("--stills", type=int, default=10, help="of those that can be read, so many are drawn")
    asked.add_argument("--minutes", type=float, default=math.inf, help="begin nothing after so many")
    asked.add_argument("--traced", type=Path, help=argparse.SUPPRESS)
    wanted = asked.parse_args()
    strace = shutil.which("strace")
    if wanted.traced is None and strace is not None:
        _again_under(strace)
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        tally = Tally()
        assert checked(write(good_scene(), Path(folder, "good"))).code != 2  # which also loads all that children need
        gc.freeze()
        listen()
        began = time.monotonic()
        _draw_some(wanted.seed, wanted.stills, Path(folder), tally, began + 60 * wanted.minutes)
        done = _check_all(wanted.seed, wanted.files, Path(folder), tally, began + 60 * wanted.minutes)
        _tell(tally, done, wanted.seed, time.monotonic() - began)
    if tally.told:
        raise SystemExit(1)


# --- through check ---


def _check_all(seed: int, files: int, folder: Path, tally: Tally, until: float) -> int:
    """Each in turn; returns how many were tried."""
    at, end = seed, seed + files
    while at < end and time.monotonic() < until:
        at = _batch(range(at, min(at + BATCH, end)), folder, tally)
        if (at - seed) % 1000 < BATCH:
            TELL(f"{at - seed} tried: {dict(tally.counts)}\n")
            sys.stdout.flush()
    return at - seed


def _batch(seeds: range, folder: Path, tally: Tally) -> int:
    """A process of its own for these; ended where one of them hangs. Returns the seed to go on with."""
    heard, told = os.pipe()
    child = os.fork()
    if not child:
        os.close(heard)
        _work(seeds, folder, told)
    os.close(told)
    at, since, before, rest = seeds.start, time.monotonic(), 0.0, b""
    with os.fdopen(heard, "rb", buffering=0) as answers:
        while True:
            ready, _, _ = select.select([answers], [], [], 1.0)
            if not ready and _spent(child) - before < HANG["check"] and time.monotonic() - since < ASLEEP:
                continue
            if not ready:
                os.kill(child, signal.SIGKILL)
                tally.note("check", "hangs", at, f"longer than {HANG['check']:.0f} s")
                at += 1
                break
            got = answers.read(1 << 16)
            if not got:
                break
            *lines, rest = (rest + got).split(b"\n")
            for line in lines:
                code, memory, spent, said = line.decode().split("\t", 3)
                tally.times["check"].append(float(spent) - before)
                tally.memory["check"] = max(tally.memory["check"], float(memory))
                more = said.replace("\x1e", "\n")
                tally.note("check", "breaks" if more else f"exit {code}", at, more)
                at, since, before = at + 1, time.monotonic(), float(spent)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status) and os.WTERMSIG(status) != signal.SIGKILL:
        tally.note("check", "ends its process", at, f"signal {os.WTERMSIG(status)}")
        at += 1
    return at


def _spent(process: int) -> float:
    """Processor time of a process so far. [s]"""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _work(seeds: range, folder: Path, told: int) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    home = Path(tempfile.mkdtemp(dir=folder))
    for seed in seeds:
        try:
            options = ((), (), (), ("--all",), ("--json",))[seed % 5]
            scene = write(mutated_scene(seed), home)
            heard()
            answer = checked(scene, *options)
            code, broke = answer.code, answer.broke
            if strayed := sorted({each for each in heard() if is_bait(each)}):
                broke += f"opened {strayed}"
        except BaseException as fault:  # of the making of scenes
            code, broke = -1, f"no scene was made: {fault!r}"
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        os.write(
            told,
            f"{code}\t{peak:.0f}\t{time.process_time():.3f}\t{broke.strip()}".replace("\n", "\x1e").encode(
                "utf-8", "replace"
            )
            + b"\n",
        )
    shutil.rmtree(home, ignore_errors=True)
    os._exit(0)


# --- to a still ---


def _draw_some(seed: int, stills: int, folder: Path, tally: Tally, until: float) -> None:
    """Stills of small scenes that can be read, by the command line; what it keeps between runs is thrown away."""
    drawn, at = 0, seed
    surroundings = {**os.environ, "PREVIZ_CACHE": str(folder / "cache"), "PYTHONPATH": str(Path(__file__).parents[2])}
    while drawn < stills and time.monotonic() < until:
        scene = write(mutated_scene(at, small=at % 4 != 0), folder / f"still{at}")
        at += 1
        if checked(scene).code == 2:
            continue
        drawn += 1
        command = [
            sys.executable,
            "-m",
            "previz",
            "still",
            str(scene),
            "--size",
            "160",
            "--draft",
            "--out",
            str(folder / "out"),
        ]
        began = time.monotonic()
        run = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=surroundings, start_new_session=True
        )
        try:
            said, _ = run.communicate(timeout=HANG["still"])
        except subprocess.TimeoutExpired:
            os.killpg(run.pid, signal.SIGKILL)
            run.communicate()
            tally.note("still", "hangs", at - 1, f"longer than {HANG['still']:.0f} s")
            continue
        finally:
            shutil.rmtree(folder / f"still{at - 1}", ignore_errors=True)
            shutil.rmtree(folder / "cache", ignore_errors=True)
        tally.times["still"].append(time.monotonic() - began)
        broke = said.decode("utf-8", "replace") if b"Traceback" in said or run.returncode not in (0, 2) else ""
        tally.note("still", "breaks" if broke else f"exit {run.returncode}", at - 1, broke)
        if drawn % 5 == 0:
            TELL(f"{drawn} drawn: {dict(tally.counts)}\n")
            sys.stdout.flush()
    tally.memory["still"] = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


# --- what was opened ---


def _again_under(strace: str) -> None:
    """The same once more with every file that is opened written down, then that list looked through."""
    with tempfile.TemporaryDirectory(prefix="opened-") as kept:
        log = Path(kept, "opened")
        trace = [strace, "-f", "-qq", "--seccomp-bpf", "-s", "4096", "-e", "trace=open,openat,openat2", "-o", str(log)]
        run = subprocess.run([*trace, sys.executable, *sys.argv, "--traced", str(log)], check=False)
        outside = _outside(log)
        TELL(f"files opened outside the scene's folder, the program and the system (strace): {sum(outside.values())}\n")
        for name, count in outside.most_common(20):
            TELL(f"  {name}: {count} times\n")
        raise SystemExit(run.returncode or bool(outside))


_OPENED = re.compile(r'open(?:at2?)?\((?:AT_FDCWD, |\d+, )?"((?:[^"\\]|\\.)*)", (?:\{flags=)?(O_\w+)[^)]*\) = \d')


def _outside(log: Path) -> Counter[str]:
    """Files that were opened to be read and are no business of a scene."""
    ours = [Path(__file__).parents[2], Path(sys.prefix), Path(sys.base_prefix), Path(tempfile.gettempdir())]
    ours.append(Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache"), "mesa_shader_cache"))  # OpenGL's own
    ours += [Path(name) for name in ("/usr", "/lib", "/lib64", "/etc", "/proc", "/sys", "/dev", "/opt", "/bin", "/tmp")]
    found: Counter[str] = Counter()
    with log.open(encoding="utf-8", errors="replace") as lines:
        for line in lines:
            match = _OPENED.search(line)
            if match is None or match[2] == "O_WRONLY":
                continue
            name = Path(match[1])
            bait = is_bait(match[1])
            if bait or (name.is_absolute() and not any(name.is_relative_to(each) for each in ours)):
                found[str(name)] += 1
    return found


# --- telling ---


def _tell(tally: Tally, done: int, seed: int, took: float) -> None:
    drawn = len(tally.times["still"])
    TELL(f"scenes from seed {seed}: {done} through check, {drawn} to a still, in {took / 60:.0f} min\n")
    for name in sorted(tally.counts):
        TELL(f"  {name}: {tally.counts[name]}\n")
    for kind, times in tally.times.items():
        if times:
            times.sort()
            of = "of processor time" if kind == "check" else "elapsed"
            TELL(f"  {kind}: {times[len(times) // 2]:.2f} s {of} in the middle, {times[-1]:.1f} s at most, ")
            TELL(f"{sum(times):.0f} s in all; {tally.memory[kind]:.0f} MB at most in one process\n")


if __name__ == "__main__":
    main()
