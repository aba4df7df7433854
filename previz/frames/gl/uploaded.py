"""A stage as the graphics side holds it: its things, the light on them, and which of their triangles a frame needs."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from previz.frames.gl import buffers
from previz.frames.gl.chunks import WHOLE, Eyes
from previz.frames.gl.others import Others
from previz.frames.gl.programs import Program
from previz.frames.gl.sheets import Sheets
from previz.frames.gl.states import FrameState
from previz.frames.gl.surfaces import Looks
from previz.frames.gl.things import Ground, Still, Vehicle, lamp_discs
from previz.frames.light import Light, SetLight
from previz.frames.mirror import MAP_SIDE, MIRROR_WIDTHS
from previz.stage import Unlit

Array = NDArray[np.float64]

#: A window that holds nothing, in clip coordinates over w.
_NOTHING = (2.0, 1.0, 2.0, 1.0)

#: Beyond the pupil's rim, a blade's corner included. [radii]
RIM = 1.25


class UploadedStage:
    """Set, ground, vehicle and lamps of a stage, dark until they are lit.

    Parameters
    ----------
    stage : Unlit
    """

    #: The lamps as discs, those of the set and the vehicle's own; none before there is light, or where none is lit.
    set_lamps: buffers.Triangles | None = None
    own_lamps: buffers.Triangles | None = None

    def __init__(self, stage: Unlit) -> None:
        #: What the vehicle mirrors in a frame, and what still things do in every frame.
        self.mirror, self.still_mirror = (
            buffers.solid_texture(np.zeros((len(MIRROR_WIDTHS), MAP_SIDE, MAP_SIDE, 3))) for _ in range(2)
        )
        looks = Looks()
        self._in_order = [Still.of(mesh, looks) for mesh in stage.still]
        #: Sheets with an image stand behind the rest.
        self.still = sorted(self._in_order, key=lambda thing: thing.image is not None)
        self.ground = Ground(stage.ground, stage.painting, stage.film)
        self.vehicle = Vehicle(stage.vehicle, looks)
        self.others = Others(stage.others, looks)
        #: What vehicles drive on beside the ground, and their shadows there.
        self.ramps = [thing for thing in self._in_order if thing.driver is not None]
        self.sheets = Sheets({thing.driver for thing in self.ramps if thing.driver is not None})
        #: Bare bulbs, and which of them are drawn apart from views.
        self.globes = [thing for thing in self._in_order if thing.mesh.material.globe is not None]
        self.apart: set[int] = set()
        #: Of the ground's grid of shadow and beam: rear, front, right, left, in the vehicle's frame. [m]
        self.shadow_extent = stage.shadow_extent
        #: From radiance [cd/m2] to share of sensor saturation; and what lies beyond the set, in such shares.
        self.exposure, self.room = np.ones(3), np.zeros(3)
        self._lamps, self._rim = (stage.lamps, stage.vehicle.lamps), 0.0

    def look_through(self, pupil_radius: float) -> None:
        """Be seen through a lens of such a pupil from now on. [m]"""
        self._rim, self.apart = RIM * pupil_radius, set()

    def light(self, on_set: SetLight, usual: Light, exposure: Array, others: Sequence[Light] = ()) -> None:
        """Once for a shot; see `Raster.light`."""
        self.exposure, self.room = exposure, np.asarray(on_set.room) * exposure
        shares = on_set.around or (None,) * len(self._in_order)
        for thing, irradiance, around in zip(self._in_order, on_set.still, shares, strict=True):
            thing.light(irradiance, exposure, around)
        beams = any(light.beam is not None for light in (usual, *others))
        self.ground.light(on_set.ground, exposure, usual, beams=beams)
        self.vehicle.expose(exposure)
        self.others.light(others, exposure)
        self.sheets.light((usual, *others))
        buffers.refill(self.still_mirror, (usual.mirror * exposure).astype(np.float32))
        self.set_lamps, self.own_lamps = (lamp_discs(lamps, exposure) for lamps in self._lamps)

    def fill(self, light: Light, others: Sequence[Light] = ()) -> None:
        """The light of this frame: on each vehicle, around it on the ground, and in its paint."""
        self.others.fill(others)
        self.sheets.fill((light, *others))
        self.vehicle.fill(light)
        self.ground.fill(light)
        buffers.refill(self.mirror, light.mirror * self.exposure.astype(np.float32))

    def cast(self, frame: FrameState, program: Callable[..., Program]) -> None:
        """Shadow and beam of this frame made one, where no other vehicle's come between."""
        ground = self.ground
        if ground.cast is not None and ground.beam is not None and not len(self.others):
            ground.cast.make(frame, ground.shadow, ground.beam, self.shadow_extent, program)

    def in_views(self) -> list[Still]:
        """Things of the set that views see, but those that a vehicle's shadow falls on."""
        apart = {id(self.globes[number]) for number in self.apart}
        return [thing for thing in self.still if thing.driver is None and id(thing) not in apart]

    def choose(
        self,
        frame: FrameState,
        window: tuple[float, float, float, float] = WHOLE,
        of_set: tuple[float, float, float, float] | None = WHOLE,
        *,
        apart: bool = False,
    ) -> None:
        """Draw from now on those of the triangles that some view of the frame may see, in a window of the picture.

        of_set: the window in which things of the set are drawn; None: they are not. apart: so is the ground, on which
        shadow and beam come later.
        """
        clips = np.stack([view.clip_from_world for view in frame.views])
        eyes = Eyes.around(np.stack([view.camera.position for view in frame.views]), self._rim)
        if of_set is not None:
            for thing in self.still:
                thing.choose(clips, of_set, eyes)
        for thing in self.ramps:
            thing.choose(clips, window, eyes)
        own = [np.linalg.solve(view.world_from_vehicle, np.append(view.camera.position, 1.0)) for view in frame.views]
        self.vehicle.choose(Eyes.around(np.stack(own)[:, :3], self._rim))
        self.others.choose(frame.views, self._rim)
        self.ground.choose(clips, window, eyes, self._patch_boxes(frame), (of_set or _NOTHING) if apart else None)

    def moving_corners(self, frame: FrameState) -> list[tuple[Array, Array]]:
        """Of the boxes around each vehicle, in its frame, and around shadow and beam, in that of the ground below it.

        The subject first; homogeneous, (8, 4) each. [m]
        """
        low, high = self.ground.heights
        boxes = [self.vehicle.box, *(other.vehicle.box for other in self.others.each)]
        tops = [
            max([high, *(float(thing.mesh.vertices[:, 2].max()) for thing in self.ramps if thing.driver == number)])
            for number in range(len(boxes))
        ]
        patches = [
            np.array([[x, y, z, 1.0] for x in (x0, x1) for y in (y0, y1) for z in (low, top)])
            for (x0, x1, y0, y1), top in zip(self._touched(frame), tops, strict=True)
        ]
        return list(zip(boxes, patches, strict=True))

    def extent_of(self, driver: int) -> tuple[float, float, float, float]:
        """Of the grid of a vehicle's shadow; the subject is 0. [m]"""
        return self.shadow_extent if driver == 0 else self.others.each[driver - 1].shadow_extent

    def _touched(self, frame: FrameState) -> list[Array]:
        """What shadow and beam of each reach in its frame: rear, front, right, left. [m]"""
        assert frame.light is not None
        extents = (self.shadow_extent, *(other.shadow_extent for other in self.others.each))
        found = []
        for (x0, x1, y0, y1), light in zip(extents, (frame.light, *frame.others), strict=True):
            a, b, c, d = light.touched
            found.append(np.array([x0 + a * (x1 - x0), x0 + b * (x1 - x0), y0 + c * (y1 - y0), y0 + d * (y1 - y0)]))
        return found

    def _patch_boxes(self, frame: FrameState) -> list[tuple[Array, Array]]:
        """What shadow and beam of each reach in any view, as boxes of any height in the world; or one of nothing."""
        if frame.light is None:
            return [(np.full(3, np.inf), np.full(3, -np.inf))]
        found = []
        for number, (x0, x1, y0, y1) in enumerate(self._touched(frame)):
            corners = np.array([[x, y, 0.0, 1.0] for x in (x0, x1) for y in (y0, y1)])
            grounds = [view.driven[number].world_from_ground for view in frame.views]
            reached = np.concatenate([corners @ ground.T for ground in grounds])[:, :3]
            low, high = reached.min(axis=0), reached.max(axis=0)
            low[2], high[2] = -np.inf, np.inf
            found.append((low, high))
        return found
