"""A cut settled before any work: which frames of which shots, at what rate and size, and what was filmed before."""

import dataclasses
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from previz.errors import FileFault
from previz.takes import Quality, Take, digest_of, look_of, take_of

if TYPE_CHECKING:
    from previz.delivery import Clock, KeptShot, Stretch
    from previz.scene import Scene
    from previz.sequence import Event


@dataclass(frozen=True)
class Part:
    """What of one shot plays in a cut.

    Parameters
    ----------
    take : Take
        From the first frame of it that plays to the last.
    digest : str
        Of all that its frames are made from, whichever of them are filmed.
    """

    take: Take
    digest: str

    @property
    def name(self) -> str:
        """Of its film; a draft has one of its own, for a whole one may have taken hours."""
        return f"{self.take.shot.id}.draft" if self.take.effort == "draft" else self.take.shot.id

    def kept(self, folder: Path) -> "KeptShot | None":
        """Its film from an earlier cut; None where it has to be filmed."""
        from previz.delivery import kept_shot

        return kept_shot(folder, self.name, self.digest, self.take.numbers)


@dataclass(frozen=True)
class CutPlan:
    """A cut as it is to be made: its events in order, and each shot that plays, by its id."""

    events: "tuple[Event, ...]"
    parts: dict[str, Part]
    clock: "Clock"
    size: tuple[int, int]

    @property
    def rate(self) -> Fraction:
        """Frames a second on screen."""
        return self.clock.rate

    def kept(self, folder: Path) -> "dict[str, KeptShot]":
        """The films from earlier cuts that will do, by the ids of their shots."""
        films = {shot: part.kept(folder) for shot, part in self.parts.items()}
        return {shot: film for shot, film in films.items() if film is not None}

    def stretches(self, films: "dict[str, KeptShot]", *, slates: bool) -> "tuple[Stretch, ...]":
        """The events with the films that they play; with slates where they are wanted."""
        from previz.delivery import Slate, Stretch

        return tuple(
            Stretch(event, films[event.shot.id], Slate.of(event.scene, event.shot) if slates else None)
            for event in self.events
        )


def cut_plan(scene: "Scene", quality: Quality, start_timecode: str | None = None) -> CutPlan:
    """A scene's cut.

    Raises
    ------
    FileFault
        Where the running order cannot be (`previz.sequence.running_order`), or shots play at different rates or are of
        different shapes, which one clip cannot hold.
    PrevizError
        As `take_of` does, and where there is no such timecode.
    """
    from previz.delivery import clock_of
    from previz.sequence import running_order

    events = running_order(scene)
    _require_one_rate(scene, events)
    quality = _one_width(events, quality)
    parts: dict[str, Part] = {}
    for event in events:
        if event.shot.id not in parts:
            played = [each.frames for each in events if each.shot.id == event.shot.id]
            span = f"{min(each.start for each in played)}:{max(each.stop for each in played)}"
            take = take_of(event.scene, event.shot, quality, span)
            whole = dataclasses.replace(take, numbers=range(0), look=dataclasses.replace(take.look, frames=None))
            parts[event.shot.id] = Part(take, digest_of(take.scene, whole, "cut"))
    size = _one_shape(scene, events, parts)
    return CutPlan(events, parts, clock_of(events[0].shot.playback, start_timecode, events[-1].ends), size)


def _require_one_rate(scene: "Scene", events: "tuple[Event, ...]") -> None:
    first = events[0].shot
    for event in events:
        if event.shot.playback != first.playback:
            rates = [f"{float(each.playback):.5g} fps" for each in (event.shot, first)]
            raise FileFault(
                _steps(scene, event, "playback"),
                f"{event.shot.id} plays at {rates[0]} and {first.id}, the first, at {rates[1]}; one clip has one rate: "
                "give them one playback",
            )


def _one_width(events: "tuple[Event, ...]", quality: Quality) -> Quality:
    """Unless told otherwise pictures are as wide as the narrowest would be."""
    if quality.size is not None:
        return quality
    narrowest = min(look_of(event.scene, event.shot, quality).size[0] for event in events)
    return dataclasses.replace(quality, size=str(narrowest))


def _one_shape(scene: "Scene", events: "tuple[Event, ...]", parts: dict[str, Part]) -> tuple[int, int]:
    first = events[0].shot
    size = parts[first.id].take.look.size
    for event in events:
        found = parts[event.shot.id].take.look.size
        if found != size:
            raise FileFault(
                _steps(scene, event, "capture"),
                f"{event.shot.id} is {found[0]}x{found[1]} and {first.id}, the first, {size[0]}x{size[1]}; one "
                "clip has one shape: choose capture modes of one",
            )
    return size


def _steps(scene: "Scene", event: "Event", key: str) -> tuple[str | int, ...]:
    """Where a file asks for an event: in its running order, or in the shot where it has none."""
    if scene.sequence is not None:
        return ("sequence", event.number - 1, "shot")
    return ("shots", event.number - 1, key)
