"""What the commands that draw have in common: who draws, on which stage, what is kept, what is said of it."""

import dataclasses
import shlex
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import ExitStack, contextmanager, nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import previz
from previz import units
from previz.cli.places import at_its_line
from previz.cli.saying import print_out, say, say_folded
from previz.takes import (
    Quality,
    Take,
    digest_of,
)
from previz.telling import (
    building,
    progress,
)

if TYPE_CHECKING:
    from previz.delivery import Reel
    from previz.frames import Crew, Facts, Frame, Spent
    from previz.predictions import Predictions
    from previz.stage import Stage


def crew_for(takes: list[Take], workers: int | None, cluster: str | None = None) -> "Crew":
    """Those who are to draw the takes: processes of this machine, or a cluster."""
    from previz.frames import Crew
    from previz.spread import cores

    if workers is not None and workers > cores():
        say(f"--workers {workers}: this machine has {cores()} cores; more than that only take turns")
    side_by_side = workers or max(_usual_workers(take) for take in takes)
    return Crew(min(side_by_side, max(len(take.numbers) for take in takes)), cluster=cluster)


def part_of(take: Take, numbers: range) -> Take:
    """Some of a take's frames."""
    return dataclasses.replace(take, numbers=numbers, look=dataclasses.replace(take.look, frames=numbers))


def reel_of(home: Path, take: Take, kind: str | None, drawn_by: str, fresh: bool, among: int = 1) -> "Reel":
    """The frames of a take that a run before has left, and where this one keeps its own.

    kind: the format of the clip, or None where more than that is made of the frames. drawn_by: OpenGL's words for
    itself; another one's pictures differ in their last bits. among: how many takes are filmed side by side.
    """
    from previz.delivery import Reel, encoding_of

    encoding = encoding_of(kind) if kind is not None else None
    unmarked = dataclasses.replace(take, slate=None)  # it is put under the frames anew
    digest = digest_of(take.scene, unmarked, encoding and encoding.__name__, drawn_by)
    return Reel(home, digest, take.numbers, encoding, fresh=fresh, among=among)


@contextmanager
def going_on(names: list[str], takes: list[Take], reels: "list[Reel]") -> Iterator[None]:
    """Says what frames are there already; and, if the run ends early, which are by then."""
    totals = [(name, len(take.numbers), reel) for name, take, reel in zip(names, takes, reels, strict=True)]
    for name, total, reel in totals:
        if reel.there:
            say(f"{name}: goes on: {len(reel.there)} of {total} frames are there (--fresh draws them anew)")
    with ExitStack() as open_until_done:
        for reel in reels:
            open_until_done.enter_context(reel)
        try:
            yield
        except BaseException:
            for name, total, reel in totals:
                if reel.kept:
                    left_out = f" (no more: {reel.given_up})" if reel.given_up else ""
                    say_folded(
                        f"{name}: {reel.kept} of {total} frames are kept{left_out}; the same command goes on from there"
                    )
            raise


def setups_together(takes: Sequence[Take]) -> list[int]:
    """The numbers of takes in an order in which those of one setup stand together."""
    first: dict[int, int] = {}
    for number, take in enumerate(takes):
        first.setdefault(id(take.scene), number)
    return sorted(range(len(takes)), key=lambda number: first[id(takes[number].scene)])


def stages_for(
    scene_file: Path, quality: Quality, crew: "Crew", spent: "Spent | None" = None
) -> "Callable[[Take], Stage]":
    """Gives the stage of a take, built and lit when it is first asked for. It holds one: ask for those of a setup
    together, and it is built once."""
    held: list[tuple[previz.Scene, Stage]] = []

    def stage_of(take: Take) -> "Stage":
        if not held or held[0][0] is not take.scene:
            held.clear()
            with spent.on("bake") if spent is not None else nullcontext():
                held.append((take.scene, staged(scene_file, quality, crew, take)))
        return held[0][1]

    return stage_of


def staged(scene_file: Path, quality: Quality, crew: "Crew", first: Take) -> "Stage":
    """The stage of a take, lit; meanwhile the crew gets ready for it. What cannot be built is told by its line."""
    with at_its_line(scene_file, first.scene), building(say) as tell:
        ready = partial(crew.get_ready, first.scene, first.shot, first.look)
        return previz.build_stage(first.scene, quality.effort, progress=tell, elsewhere=crew.do, built=ready)


def most_workers() -> int:
    """One a core, four at most: each holds a whole set."""
    from previz.spread import cores

    return min(cores(), 4)


def _usual_workers(take: Take) -> int:
    """One where starting more would cost more than it saves."""
    return most_workers() if len(take.numbers) >= 24 else 1


def drawer(
    take: Take, stage: "Stage | None", crew: "Crew", spent: "Spent | None" = None
) -> "Callable[[range], Iterator[Frame]]":
    """Draws those of a take's frames that it is asked for; without a stage none is ever missing."""

    def draw(numbers: range) -> "Iterator[Frame]":
        assert stage is not None  # for something is missing
        return previz.render_frames(take.scene, stage, take.shot, part_of(take, numbers).look, crew, spent)

    return draw


class Film:
    """The frames of a take on their way to delivery, counted aloud.

    A context: however delivery ends, drawing is ended and the progress taken off the terminal before anything else is
    said.
    """

    def __init__(self, frames: "Iterator[Frame]", take: Take, reel: "Reel | None" = None) -> None:
        self._frames, self._take, self._reel, self._open = frames, take, reel, ExitStack()
        self.count = 0
        self.waited = 0.0  # for frames [s]
        self.facts: Facts | None = None
        self.cells: list[Any] = []  # of every frame, a few hundred numbers each

    def __enter__(self) -> "Film":
        self._advance = self._open.enter_context(progress(self._take.shot.id, len(self._take.numbers), say))
        if isinstance(self._frames, Generator):
            self._open.callback(self._frames.close)
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def __iter__(self) -> "Iterator[Frame]":
        asked = time.perf_counter()
        for frame in self._frames:
            self.waited += time.perf_counter() - asked
            self.count, self.facts = self.count + 1, frame.facts
            self.cells.append(frame.in_small)
            if self._reel is not None:
                self._reel.keep(frame)
            yield frame
            self._advance(self.count)
            asked = time.perf_counter()


def warn_of_flashes(take: Take, film: Film) -> None:
    """More than three flashes in any one second can harm viewers."""
    from previz.physics.flashes import flashes_in_a_second
    from previz.predictions import flashes_told

    found = flashes_in_a_second(film.cells, float(take.shot.playback))
    if found.too_many:
        say_folded(f"watch: {take.shot.id}: the clip {flashes_told(found)}")


def reported(path: Path, take: Take, film: Film, as_json: bool, purpose: str = "post") -> dict[str, Any]:
    """Name what was written; returns the same as data."""
    from previz.delivery import clip_size
    from previz.doctor import size_text

    assert film.facts is not None  # a clip without frames is never written
    size = path.stat().st_size
    width, height = clip_size(path.suffix.removeprefix("."), take.look.size, take.slate, purpose)
    rate, seconds = take.shot.playback, film.count / take.shot.playback
    if not as_json:
        exposed = f"{units.text_of(units.TIME, film.facts.exposure_time)}, ISO {film.facts.iso_told}"
        lasts = (
            f"{film.count} frames, {float(seconds):.2f} s on screen at {float(rate):.5g} fps, "
            if film.count > 1
            else ""
        )
        print_out(f"{path}: {lasts}{width}x{height}, {exposed}, {size_text(size)}")
    return {
        "file": str(path),
        "bytes": size,
        "shot": take.shot.id,
        "first_frame": take.numbers.start,
        "frames": film.count,
        "playback": str(rate),
        "size": [width, height],
        "seed": take.look.seed,
        **dataclasses.asdict(film.facts),
    }


def warn_of(
    predictions: "Predictions", takes: list[Take], scene_file: Path, verdicts: tuple[str, ...] = ("stop", "watch")
) -> None:
    """Before any waiting: what of these takes will not work as planned."""
    filmed = {take.shot.id for take in takes}
    findings = [each for each in predictions.told if each.concerns(filmed) and each.verdict in verdicts]
    for finding in findings:
        say_folded(f"{finding.verdict}: {finding.shot}{': ' if finding.shot else ''}{finding.message}")
    if findings:
        say(f"(previz check {shlex.quote(str(scene_file))} says what to change)")
