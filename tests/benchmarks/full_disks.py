"""A disk of 20 MB that fills in the middle of a render: as output, as cache and as temporary folder.

    python tests/benchmarks/full_disks.py

For each a real file system of 20 MB is mounted (tmpfs, which takes root) and filled once some frames of a tiny scene
are there. Told are how the run ended, what it said, whether an older clip is as it was, and whether the same command
comes to the clip of an undisturbed run once there is space again. Processes that draw are handed the set through the
temporary folder; where 20 MB do not hold it, that disk is made larger and filled then.
"""

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from kills import Machine, kept_in

AFTER = 8  # frames


@contextmanager
def disk(where: Path, size: str = "20m") -> Iterator[Path]:
    """A file system of that size."""
    where.mkdir(parents=True, exist_ok=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", where], check=True)
    try:
        yield where
    finally:
        subprocess.run(["umount", where], check=True)


def fill(where: Path) -> Path:
    """A file that takes all there is."""
    ballast = where / "ballast"
    with ballast.open("wb", buffering=0) as file:
        for size in (1 << 16, 1):
            try:
                while file.write(bytes(size)):
                    pass
            except OSError:
                continue
    return ballast


def ended(machine: Machine, out: Path, full: Path | None) -> tuple[int, str]:
    """A run, in the midst of which a disk fills: its status and what it said."""
    program, ballast = machine.start(out), None
    if full is not None:
        while len(kept_in(out)) < AFTER and program.poll() is None:
            pass
        ballast = fill(full)
    _, said = program.communicate(timeout=600)
    if ballast is not None:
        ballast.unlink()
    return program.returncode, said


def tell(what: str, machine: Machine, out: Path, full: Path, reference: bytes) -> None:
    """Fill, see, make room, go on, see."""
    out.mkdir(exist_ok=True)
    clip = out / "pass.mp4"
    clip.write_bytes(b"an older clip")
    status, said = ended(machine, out, full)
    older = {reference: "the clip is there", b"an older clip": "the older clip is as it was"}
    print(f"\n{what}: ended with {status}; traceback: {'Traceback' in said}; {older.get(clip.read_bytes(), 'DAMAGED')}")
    for line in said.splitlines():
        if any(word in line for word in ("disk", "kept", "space")):
            print(f"    {line}")
    status, said = ended(machine, out, None)
    same, first = clip.read_bytes() == reference, said.splitlines()[0]
    print(f"  with space again: ended with {status}; the same clip: {same}; {first if 'goes on' in first else 'anew'}")
    left = [path.name for path in out.iterdir() if path != clip]
    left += [path.name for path in (machine.home / "temporary").iterdir()]
    print(f"  left afterwards: {left}", flush=True)


def main() -> None:
    """One disk after another."""
    with tempfile.TemporaryDirectory(prefix="full-") as name:
        home = Path(name)
        machine = Machine(home / "machine", size=320)
        status, said = ended(machine, home / "whole", None)
        if status:
            sys.exit(said)
        reference = (home / "whole" / "pass.mp4").read_bytes()
        with disk(home / "out"):
            tell("output", machine, home / "out", home / "out", reference)
        for what, size in (("cache", "20m"), ("temporary", "20m"), ("temporary", "200m")):
            other = home / f"{what} {size}"
            machine = Machine(other, size=320)
            with disk(other / what, size):
                tell(f"{what}, {size}", machine, home / f"out {what} {size}", other / what, reference)


if __name__ == "__main__":
    main()
