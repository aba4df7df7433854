"""The pictures of what is watched, drawn by a process that stays."""

import math
from collections.abc import Callable, Generator
from contextlib import closing
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import partial
from pathlib import Path

from previz.delivery import deliver_clip
from previz.files import digest, note, read_files
from previz.frames import Crew, Frame, render_frames
from previz.layout import frame_times
from previz.physics.flashes import flashes_in_a_second
from previz.predictions import flashes_told
from previz.scene import Scene, Shot
from previz.scratch import WorkFolder
from previz.stage import Stage, Unlit, build_stage
from previz.takes import Quality, Take, take_of

#: A clip is to be quick: this wide [px], of so many pictures at most.
CLIP_WIDTH, MOST_PICTURES = 320, 96

#: The keys of a scene that say how it is filmed.
_FILMS = ("shots", "cameras")


@dataclass(frozen=True, eq=False)
class Staged:
    """A scene, and the stage of one of its setups, lit.

    whole is the scene as it is written, scene as it is set up; files are those that the stage was built from, each with
    its digest.
    """

    whole: Scene
    scene: Scene
    stage: Stage
    files: dict[Path, str]

    def serves(self, scene: Scene) -> bool:
        """Whether another scene, as set up, has the same stage: one that differs in shots and cameras alone."""
        alike = (getattr(scene, key) == getattr(self.scene, key) for key in Scene.model_fields if key not in _FILMS)
        return all(alike) and all(digest(path) == known for path, known in self.files.items())


def staged(scene: Scene, first: Take, crew: Crew, tell: Callable[[str], None]) -> Staged:
    """The scene on its stage as set up for the first take, lit as a draft; meanwhile the crew gets ready for that."""
    ready = partial(crew.get_ready, first.scene, first.shot, first.look)
    with read_files() as read:
        stage = build_stage(first.scene, "draft", progress=tell, elsewhere=crew.do, built=ready)
    note(read)
    return Staged(scene, first.scene, stage, dict(read))


def staged_again(before: Staged, scene: Scene, first: Take, crew: Crew) -> Staged:
    """Another scene on the very same stage, which serves for it."""
    note(before.files)
    crew.get_ready(first.scene, first.shot, first.look, Unlit.of(before.stage))
    return Staged(scene, first.scene, before.stage, before.files)


def still_of(on: Staged, take: Take, crew: Crew, meanwhile: Callable[[], object]) -> Frame:
    """The one frame of a take; while it is drawn, something else is done."""
    with closing(_drawn(on, take, crew, meanwhile)) as frames:
        return next(frames)


@dataclass
class Clip:
    """A small clip of a shot on its way: what was drawn of it stays when it is left off, and is not drawn again.

    step: of how many frames of the shot one is drawn.
    """

    on: Staged
    take: Take
    step: int
    frames: list[Frame] = field(default_factory=list)

    @classmethod
    def of(cls, on: Staged, shot: Shot) -> "Clip":
        """That of a shot. Raises PrevizError where one of its frames cannot be filmed."""
        count = frame_times(on.scene, shot).count
        step = math.ceil(count / MOST_PICTURES)
        width = min(CLIP_WIDTH, on.scene.mode(shot).width // 2 * 2)
        take = take_of(on.scene, shot, Quality(draft=True, size=str(width)), kind="mp4")
        return cls(on, replace(take, numbers=range(0, count, step)), step)

    @property
    def rate(self) -> Fraction:
        """Pictures a second, as the shot is played back. [1/s]"""
        return self.take.shot.playback / self.step

    def draw(self, crew: Crew, leave_off: Callable[[int], None]) -> None:
        """Draw what is missing. `leave_off` is told before each frame how many there are, and raises to end it."""
        rest = replace(self.take, numbers=self.take.numbers[len(self.frames) :])
        leave_off(len(self.frames))
        if not rest.numbers:
            return
        with closing(_drawn(self.on, rest, crew)) as frames:
            for frame in frames:
                self.frames.append(frame)
                leave_off(len(self.frames))

    def encoded(self) -> bytes:
        """As an mp4 that plays at the shot's pace."""
        with WorkFolder() as folder:
            path = folder / "clip.mp4"
            deliver_clip(path, self.frames, self.rate, self.take.look.size, purpose="message")
            return path.read_bytes()

    def flashes(self) -> str:
        """A warning where it flashes too often in a second; else ""."""
        found = flashes_in_a_second([frame.in_small for frame in self.frames], float(self.rate))
        if not found.too_many:
            return ""
        return f"The clip {flashes_told(found)}. It does not play by itself."


def _drawn(
    on: Staged, take: Take, crew: Crew, meanwhile: Callable[[], object] | None = None
) -> Generator[Frame, None, None]:
    look = replace(take.look, frames=take.numbers)
    yield from render_frames(on.scene, on.stage, take.shot, look, crew, meanwhile=meanwhile)
