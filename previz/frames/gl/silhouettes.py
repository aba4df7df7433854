"""The stage as a lamp meets it on the way to the pupil: what is there at all, without light or colour."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl.programs import Program
from previz.frames.gl.states import ViewState
from previz.frames.gl.things import Ground, Still, Vehicle, face
from previz.frames.gl.uploaded import UploadedStage

Array = NDArray[np.float64]


class Silhouettes:
    """All that may stand between a lamp and the pupil, drawn black."""

    def __init__(self, stage: UploadedStage, program: Callable[..., Program]) -> None:
        self._still, self._ground = stage.still, stage.ground
        self._standing: list[Still | Ground] = [*stage.still, stage.ground]
        self._vehicles = [stage.vehicle, *(other.vehicle for other in stage.others.each)]
        self._program = program
        self._seen: list[NDArray[np.bool_]] = []

    def vehicle_in_the_way(self, clips: Sequence[Array], views: Sequence[ViewState]) -> bool:
        """Whether a vehicle may reach into one of these looks, at its moment."""
        return any(self._in_the_way(clip, view) for clip, view in zip(clips, views, strict=True))

    def _in_the_way(self, clip: Array, view: ViewState) -> list[tuple[Vehicle, Array]]:
        """The vehicles that may reach into a look, each with where it is."""
        found = []
        for vehicle, placed in zip(self._vehicles, view.driven, strict=True):
            x, y, z, w = clip @ placed.world_from_vehicle @ vehicle.box.T
            outside = [x < -w, x > w, y < -w, y > w, z < -w, z > w]
            if not any(side.all() for side in outside):
                found.append((vehicle, placed.world_from_vehicle))
        return found

    def look_at(self, groups: Sequence[Sequence[Array]]) -> None:
        """Find out what each group of looks may see, of all at once."""
        clips = np.stack([clip for group in groups for clip in group])
        starts = np.cumsum([0, *(len(group) for group in groups[:-1])])
        self._seen = [np.logical_or.reduceat(thing.chunks.seen_in_each(clips), starts) for thing in self._standing]

    def choose(self, group: int) -> None:
        """Draw from now on what the looks of that group may see."""
        for thing, seen in zip(self._standing, self._seen, strict=True):
            thing.some.choose(thing.chunks.chosen(seen[group]))

    def draw(self, clip: Array, view: ViewState) -> None:
        """All that is in this look, black."""
        program = self._program("shade.vert", "shade.frag")
        program.use({}, clip_from_own=clip)
        # A face that the camera sees from its front is seen from its back by the lamp.
        GL.glCullFace(GL.GL_FRONT)
        for thing in self._still:
            if thing.some.count:
                face(thing.one_sided)
                thing.some.draw()
        face(False)
        self._ground.some.draw()
        for vehicle, world_from_vehicle in self._in_the_way(clip, view):
            program.use({}, clip_from_own=clip @ world_from_vehicle)
            for part in vehicle.parts:
                face(part.one_sided)
                part.triangles.draw()
        face(False)
        GL.glCullFace(GL.GL_BACK)
