"""Lamps out of focus: clean discs of the pupil's shape, cut where something stands in the way.

A lamp is so small and so bright that a sum of views shows each view as a dot. It is nearly a point, though, and a
point's picture is known whole once it is known which parts of the pupil it reaches: so the scene is looked at from the
lamp towards the pupil, and that little picture is the disc. The same goes for a bare bulb, as long as it is no larger
in the picture than its disc is: else what stands before it would have to hide it in part.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.finely import Finely
from previz.frames.gl.programs import Program
from previz.frames.gl.silhouettes import Silhouettes
from previz.frames.gl.smaller import Smaller
from previz.frames.gl.states import FrameState, ViewState
from previz.frames.gl.things import beam_share, lamp_radiance
from previz.frames.gl.window import Window, disjoint
from previz.frames.lens import NEAR, Lens
from previz.frames.sensor import OnPhotosites
from previz.layout import Lamp
from previz.mesh import Material

Array = NDArray[np.float64]

#: The look towards the pupil covers so many pupil radii to each side, on so many pixels across.
REACH, SIDE = 1.25, 128

_MOST_PLACES = 96  # of a lamp along its streak
#: Discs drawn so far apart along it leave a rim that is scalloped by no more than this: by step^2 / 8 radius. [px]
_SCALLOP = 0.02
_SAMPLES = 9  # of the views, from which a lamp's path over the picture is interpolated
_MOMENTS = 4  # at which what a moving vehicle hides is looked at
_LEAST_RADIUS = 0.75  # of a lamp's own picture: what falls between pixels would flicker [px]
_LEAST_SPREAD = 0.5  # of a globe's disc over its own picture, from which it is drawn as a disc
#: A pixel of a small disc is looked at in so many parts each way; in drafts in fewer.
_PARTS, _FEWER_PARTS = 8, 4

#: What a lamp gives to a pixel from which its rim is drawn photosite by photosite [-], and how large its picture may be
#: then: a larger one spreads its light too far, and takes longer. [px]
_FAR_OVER, _LARGE = 2.0, 24.0

_LEAST_DISC = 0.05  # radius of a lamp's disc, lest single precision runs out where there is none [px]


class Glows:
    """The lit lamps of a stage; `lamps` are those of the set, then those on each vehicle, `globes` glowing balls.

    quick: for a draft.
    """

    def __init__(
        self,
        lamps: Sequence[Sequence[Lamp]],
        lens: Lens,
        blades: int | None,
        occluders: Silhouettes,
        program: Callable[..., Program],
        globes: Sequence[Material] = (),
        *,
        quick: bool = False,
    ) -> None:
        self._parts = _FEWER_PARTS if quick else _PARTS
        # Which vehicle carries each, the subject being 0; those of the set stand still.
        lit = [(lamp, number - 1) for number, some in enumerate(lamps) for lamp in some if lamp.flux > 0]
        self._carried = np.array([carrier for _, carrier in lit] + [-1] * len(globes), dtype=int)
        self._fixed = len(lit)
        self._lens, self._blades, self._occluders, self._program = lens, blades, occluders, program
        if not len(self._carried):
            return
        balls = [globe.globe for globe in globes if globe.globe is not None]
        middles = [lamp.centre for lamp, _ in lit] + [ball[:3] for ball in balls]
        self._centres = np.array([(*middle, 1.0) for middle in middles])
        self._beams = np.array([lamp.beam or (0.0, 0.0, 0.0) for lamp, _ in lit] + [(0.0, 0.0, 0.0)] * len(balls))
        self._radii = np.array([lamp.radius for lamp, _ in lit] + [ball[3] for ball in balls])
        self._radiance = np.array([lamp_radiance(lamp) for lamp, _ in lit] + [globe.glow for globe in globes])
        self._stacks: dict[int, tuple[int, list[int], Smaller]] = {}  # by how many looks there is room for
        self._finely = None if quick else Finely(lens.size[1])

    def expose(self, exposure: Array) -> None:
        """From radiance [cd/m2] to share of sensor saturation, from now on."""
        if len(self._carried):
            self._light = self._radiance * exposure

    def add(self, framebuffer: int, frame: FrameState, windows: Sequence[Window]) -> tuple[OnPhotosites, ...]:
        """Add the lamps' light to a finished picture, within windows that do not overlap.

        Returns what photosites have of lamps that are small and far over white, wherever they are; of drafts nothing.
        """
        if not len(self._carried):
            return ()
        GL.glDisable(GL.GL_SCISSOR_TEST)
        between = sorted(frame.views, key=lambda view: view.moment)[:: max(1, len(frame.views) // _SAMPLES)]
        views = [frame.opened, *between, frame.closed]
        images = self._images(views)
        drawn = [*range(self._fixed), *(self._fixed + number for number in self.globes_of(frame))]
        looks = [self._looks(number, views) for number in drawn if self._shows(images[number])]
        if not looks:
            return ()
        reached = self._reached(looks)
        quads, first = [], 0
        for look in looks:
            quads += self._quads(look.lamp, images[look.lamp], views, range(first, first + len(look.views)))
            first += len(look.views)
        squares = _Squares(np.concatenate(quads))
        textures = {"reached": (GL.GL_TEXTURE_2D_ARRAY, reached)}

        def draw(part: Window, finer: int) -> None:
            parts = -(-self._parts // finer)
            program = self._program("glow.vert", "glow.frag", self._switches(parts, finer))
            program.use(textures, part=np.array(part.box, float))
            squares.draw()

        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
        GL.glEnable(GL.GL_SCISSOR_TEST)
        GL.glViewport(0, 0, *self._lens.size)
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glEnable(GL.GL_BLEND)
        GL.glBlendFunc(GL.GL_ONE, GL.GL_ONE)
        for window in windows:
            GL.glScissor(*window.box)
            draw(Window.whole(self._lens.size), 1)
        finely: tuple[OnPhotosites, ...] = ()
        if self._finely is not None:
            rims = disjoint(self._around(images[look.lamp]) for look in looks if self._cut_out(look.lamp, images))
            finely = self._finely.drawn(rims, draw)
        squares.delete()
        return finely

    def _switches(self, parts: int, finer: int) -> tuple[str, ...]:
        blades = () if self._blades is None else (f"BLADES {self._blades}.0",)
        return f"REACH {REACH}", f"SIDE {SIDE}.0", f"PARTS {parts}", f"FINER {finer}", *blades

    def _cut_out(self, number: int, images: Array) -> bool:
        """Whether a lamp is small and so far over white that a sliver of it makes a whole pixel white."""
        seen = images[number]
        own, disc = float(seen[:, 4].max()), float(np.abs(seen[:, 2:4]).max())
        if own + disc > _LARGE:
            return False
        streak = float(np.linalg.norm(seen[-1, :2] - seen[0, :2]))
        most = float(self._light[number].max() * seen[:, 5].max())
        return most * min(1.0, (own / disc) ** 2) * min(1.0, 2 * (own + disc) / max(streak, 1e-9)) > _FAR_OVER

    def _around(self, seen: Array) -> Window:
        """Where in the picture a lamp's images (v, 6) are."""
        margin = self._margin(seen)
        low, high = np.floor((seen[:, :2] - margin).min(axis=0)), np.ceil((seen[:, :2] + margin).max(axis=0))
        return Window(*(int(side) for side in (*low, *high))).grown(0, self._lens.size)

    @staticmethod
    def _margin(seen: Array) -> Array:
        """How far from their middles a lamp's images (v, 6) reach (2,). [px]"""
        return np.asarray(np.abs(seen[:, 2:4]).max(axis=0) * REACH + seen[:, 4].max() + 1)

    def globes_of(self, frame: FrameState) -> list[int]:
        """Which of the globes are drawn here in a frame, and not as the balls that they are."""
        if self._fixed == len(self._carried):
            return []
        _, _, across, up, own, _ = self._images_in(frame.opened)[self._fixed :].T
        return np.flatnonzero(np.maximum(np.abs(across), np.abs(up)) > _LEAST_SPREAD * own).tolist()

    def _shows(self, seen: Array) -> bool:
        """Whether any of a lamp's images (v, 6) has light and reaches into the picture; all are before the camera."""
        if not np.isfinite(seen).all() or seen[:, 5].max() <= 0:
            return False
        margin = self._margin(seen)
        low, high = (seen[:, :2] - margin).min(axis=0), (seen[:, :2] + margin).max(axis=0)
        return bool((high >= 0).all() and (low <= self._lens.size).all())

    def _quads(self, number: int, seen: Array, views: Sequence[ViewState], layers: Sequence[int]) -> list[Array]:
        """Squares (4, 11) around the lamp's discs, one for each place along its streak.

        Columns: corner in the picture [px] (2), radii of the disc across and up and of the lamp's own picture [px]
        (3), light (3), layer of the look towards the pupil, corner from the middle [px] (2).
        """
        moments = np.array([view.moment for view in views])
        streak = float(np.linalg.norm(seen[-1, :2] - seen[0, :2]))
        own, disc = float(seen[:, 4].mean()), float(np.abs(seen[:, 2:4]).mean())
        # The steps are not to show in the rim, which is as soft as the lamp's own picture is large.
        step = max(1.0, min(own, math.sqrt(8 * _SCALLOP * (own + disc))))
        places = min(max(1, int(np.ceil(streak / step))), _MOST_PLACES)
        quads = []
        for moment in (np.arange(places) + 0.5) / places:
            x, y, across, up, own, share = (np.interp(moment, moments, column) for column in seen.T)
            light = self._light[number] * share / places
            half = np.abs([across, up]) * REACH + own + 2
            around = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
            layer = layers[min(int(moment * len(layers)), len(layers) - 1)]
            fixed = np.array([across, up, own, *light, layer])
            quads.append(np.column_stack([around + np.array([x, y]), np.tile(fixed, (4, 1)), around]))
        return quads

    def _images(self, views: Sequence[ViewState]) -> Array:
        """Where the lamps' discs lie and how large they are, seen through the whole pupil (lamps, views, 6).

        Columns: middle x, y; radii of the disc across and up (signed), of the lamp's own picture [px]; share of its
        light. Not a number behind the camera.
        """
        return np.stack([self._images_in(view) for view in views], axis=1)

    def _images_in(self, view: ViewState) -> Array:
        middles, beams = self._placed(view)
        pose, size = view.camera, np.array(self._lens.size)
        to_eye = pose.position - middles[:, :3]
        distance = to_eye @ pose.world_from_camera[:, 2]
        seen = np.full((len(middles), 6), np.nan)
        before = distance > NEAR
        pupils = [self._lens.clip_from_world(pose, pupil) for pupil in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))]
        clips = np.einsum("pij,lj->pli", pupils, middles[before])
        middle, right, top = (clips[..., :2] / clips[..., 3:] + 1) / 2 * size
        field = self._lens.field_at_focus(pose.focus_distance)
        own = self._radii[before] / (field[0] / pose.focus_distance / size[0] * distance[before])
        shown = np.maximum(own, _LEAST_RADIUS)
        share = (own / shown) ** 2 * beam_share(beams[before], to_eye[before])
        radii = np.stack([right[:, 0] - middle[:, 0], top[:, 1] - middle[:, 1]], axis=1)
        radii = np.where(np.abs(radii) > _LEAST_DISC, radii, _LEAST_DISC)
        seen[before] = np.column_stack([middle, radii, shown, share])
        return seen

    def _placed(self, view: ViewState) -> tuple[Array, Array]:
        """Middles (n, 4) and beam axes (n, 3) of the lamps in the world; an axis of 0 shines all round."""
        middles, beams = self._centres, self._beams
        for number, placed in enumerate(view.driven):
            own, frame = (self._carried == number)[:, None], placed.world_from_vehicle
            middles = np.where(own, self._centres @ frame.T, middles)
            beams = np.where(own, self._beams @ frame[:3, :3].T, beams)
        return middles, beams

    def _looks(self, number: int, views: Sequence[ViewState]) -> "_Looks":
        """From a lamp towards the pupil, for equal spans of the shutter."""
        chosen = [views[round((part + 0.5) / _MOMENTS * (len(views) - 1))] for part in range(_MOMENTS)]
        clips = [self._towards_pupil(number, view) for view in chosen]
        if not self._occluders.vehicle_in_the_way(clips, chosen):
            middle = len(chosen) // 2
            chosen, clips = chosen[middle : middle + 1], clips[middle : middle + 1]
        return _Looks(number, chosen, clips)

    def _reached(self, looks: "Sequence[_Looks]") -> int:
        """A stack of all these looks, one after another, with smaller versions: white where nothing is in the way."""
        count = sum(len(look.views) for look in looks)
        # Room for twice as many each time: smaller versions are made of the whole stack, used or not.
        depth = 2 ** (count - 1).bit_length()
        if depth not in self._stacks:
            stack = buffers.stack_texture(SIDE, SIDE, depth)
            smaller = Smaller(stack, SIDE, SIDE, stored=GL.GL_R8, depth=depth)
            self._stacks[depth] = stack, buffers.layer_framebuffers(stack, depth), smaller
        stack, framebuffers, smaller = self._stacks[depth]
        GL.glViewport(0, 0, SIDE, SIDE)
        GL.glDisable(GL.GL_BLEND)
        GL.glDisable(GL.GL_DEPTH_TEST)
        targets = iter(framebuffers)
        self._occluders.look_at([look.clips for look in looks])
        for group, look in enumerate(looks):
            self._occluders.choose(group)
            for view, clip in zip(look.views, look.clips, strict=True):
                GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, next(targets))
                GL.glClearBufferfv(GL.GL_COLOR, 0, np.ones(4, np.float32))
                self._occluders.draw(clip, view)
        smaller.draw(self._program)
        return stack

    def _towards_pupil(self, number: int, view: ViewState) -> Array:
        """A view (4, 4) from the lamp through the square around the pupil, mirrored: its right is the picture's left.

        Begins clear of the lens that the lamp sits in, and ends at the pupil.
        """
        own_middle = self._centres[number]
        carrier = int(self._carried[number])
        middle = (view.driven[carrier].world_from_vehicle @ own_middle if carrier >= 0 else own_middle)[:3]
        right, up, backward = view.camera.world_from_camera.T
        to_pupil = view.camera.position - middle
        distance = float(to_pupil @ backward)
        near, far = min(2.0 * self._radii[number], 0.5 * distance), distance * 0.999
        half = REACH * self._lens.pupil_radius
        turn = np.eye(4)
        turn[:3, :3] = np.stack([-right, up, -backward])
        turn[:3, 3] = -turn[:3, :3] @ middle
        scale, shift = distance / half, np.array([-right @ to_pupil, up @ to_pupil]) / half
        return (
            np.array(
                [
                    [scale, 0, shift[0], 0],
                    [0, scale, shift[1], 0],
                    [0, 0, -(far + near) / (far - near), -2 * far * near / (far - near)],
                    [0, 0, -1, 0],
                ]
            )
            @ turn
        )


class _Squares:
    """Uploaded for a frame: `Glows._quads` of all lamps (n, 11)."""

    def __init__(self, values: Array) -> None:
        self._corners = buffers.Corners(
            {
                "position": np.column_stack([values[:, :2], np.zeros(len(values))]),
                "normal": values[:, 2:5],
                "colour": np.column_stack([values[:, 5:8], values[:, 8]]),
                "uv": values[:, 9:11],
            }
        )
        four = np.arange(len(values)).reshape(-1, 4)
        self._triangles = buffers.Triangles(self._corners, four[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3))

    def draw(self) -> None:
        """With the program in use."""
        self._triangles.draw()

    def delete(self) -> None:
        """Give the memory back."""
        self._triangles.delete()
        self._corners.delete()


@dataclass(frozen=True)
class _Looks:
    """From a lamp, by its number, towards the pupil: at which views' moments, and how (4, 4)."""

    lamp: int
    views: Sequence[ViewState]
    clips: Sequence[Array]
