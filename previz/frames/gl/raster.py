"""Draws views of a stage and adds them up, on the graphics side, in linear float. Opened by `previz.frames.gl`."""

from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from functools import cache

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl.at_once import MOST_TOGETHER, Batches
from previz.frames.gl.buffers import SumTarget
from previz.frames.gl.chunks import WHOLE
from previz.frames.gl.context import Context, require_kept
from previz.frames.gl.drawing import Blurring, Drawing
from previz.frames.gl.glows import Glows
from previz.frames.gl.kept import Kept, KeptView
from previz.frames.gl.layers import Layers
from previz.frames.gl.locked import LockedOff, moving_windows
from previz.frames.gl.mean import Mean
from previz.frames.gl.mirrored import Mirrored
from previz.frames.gl.programs import Program
from previz.frames.gl.silhouettes import Silhouettes
from previz.frames.gl.smear import REACH as SMEARED_REACH
from previz.frames.gl.smear import Smear
from previz.frames.gl.states import Filling, FrameState
from previz.frames.gl.uploaded import RIM, UploadedStage
from previz.frames.gl.window import Window, around, disjoint
from previz.frames.lens import Lens
from previz.frames.light import Light, SetLight
from previz.frames.sensor import OnPhotosites
from previz.frames.spent import Spent
from previz.stage import Unlit

Array = NDArray[np.float64]


class Raster:
    """A stage uploaded for one shot, ready to be surveyed; and, once it is lit, drawn from anywhere.

    Parameters
    ----------
    context : Context
        Its own, and current.
    stage : Unlit
    lens : Lens
    """

    #: Is told what views, filter and read-back take.
    spent: Spent | None = None

    #: What lamps gave to photosites of the last picture, where that tells.
    on_photosites: tuple[OnPhotosites, ...] = ()

    def __init__(self, context: Context, stage: Unlit, lens: Lens) -> None:
        self._context = context
        self._program = cache(Program)
        self._lamps = stage.lamps, stage.vehicle.lamps, *(other.vehicle.lamps for other in stage.others)
        self._stage = UploadedStage(stage)
        self._batches, self._sum = Batches(lens.size), SumTarget(*lens.size)
        self._adding: Mean | Layers = Mean(self._sum, self._program)
        self._look_through(stage, lens)

    def turn_to(self, stage: Unlit, lens: Lens) -> None:
        """Be ready for another shot of the same stage, in pictures as large, as if it had been uploaded for that.

        What a shot leaves is small but for its layers: it stays until the context is given back.
        """
        self._context.be_current()
        self._stage.ground.paint(stage.painting)
        self._look_through(stage, lens)

    def _look_through(self, stage: Unlit, lens: Lens) -> None:
        self._lens = lens
        self._stage.look_through(lens.pupil_radius)
        self._drawing = Drawing(self._stage, lens, self._program)
        # Until views are to fill their patches they are added up as they are, and lamps are drawn with each.
        self._filling: Filling | None = None
        self._adding.delete()
        self._adding = Mean(self._sum, self._program)
        self._glows: Glows | None = None
        self._smear: Smear | None = None
        self._smear_share, self._batches.moving = 0.0, False
        self._locked_off, self._kept = LockedOff(lens.size), Kept(lens.size)
        self._mirrored: Mirrored | None = None
        if stage.film is not None:
            self._mirrored = Mirrored(self._stage, self._drawing, lens, self._program)

    def light(self, on_set: SetLight, usual: Light, exposure: Array, others: Sequence[Light] = ()) -> None:
        """Light on what was uploaded, once for a shot.

        Parameters
        ----------
        on_set : SetLight
        usual : Light
            Of the vehicle mid-shot: still things mirror what it sees there, right in kind if not in place.
        exposure : (3,) float
            From radiance [cd/m2] to share of sensor saturation, white balance included.
        others : sequence of Light
            As `usual`, of the vehicles beside the subject.
        """
        self._context.be_current()
        self._stage.light(on_set, usual, exposure, others)
        if self._glows is not None:
            self._glows.expose(exposure)

    def fill_by(self, filling: Filling | None, blades: int | None, smear: float = 0.0, *, quick: bool = False) -> None:
        """From now on each view fills its own patch of pupil and shutter, and lamps are drawn apart.

        Without a filling the views' patches are too small to matter. `blades` is the pupil's shape. `smear` is the
        share of the shutter over which each view is smeared; where it is 0, its part of a streak is filled as a disc.
        quick: small lamps are drawn more roughly.
        """
        self._context.be_current()
        self.forget()
        self._smear_share, self._batches.moving = smear, smear > 0
        self._filling = filling
        if filling is not None:
            self._adding.delete()
            self._adding = Layers(self._sum, filling, self._program)
        globes = [thing.mesh.material for thing in self._stage.globes]
        hiding = Silhouettes(self._stage, self._program)
        self._glows = Glows(self._lamps, self._lens, blades, hiding, self._program, globes, quick=quick)
        self._glows.expose(self._stage.exposure)

    def survey(self, frame: FrameState) -> Array:
        """Disc and streak of what is seen at every pixel (n, 2); discs are signed. [px]"""
        self._context.be_current()
        width, height = self._lens.size
        self._stage.choose(frame)
        GL.glViewport(0, 0, width, height)
        ((batch,),) = self._batches.of([frame.views[len(frame.views) // 2]])
        self._drawing.survey(batch, Blurring.surveyed(frame, self._lens))
        ((_, framebuffer),) = batch.alone
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
        pixels = np.zeros((height, width, 4), np.float32)
        GL.glReadPixels(0, 0, width, height, GL.GL_RGBA, GL.GL_FLOAT, pixels)
        return pixels[..., :2].reshape(-1, 2).astype(float)

    def picture(self, frame: FrameState) -> NDArray[np.float32]:
        """The mean of a frame's views (h, w, 3), row 0 at the top; 1 is sensor saturation.

        While the camera is locked off only what moves is drawn again, to the same bits as if all had been.
        Raises GraphicsLost where the driver lost what was drawn.
        """
        self._context.be_current()
        assert frame.light is not None
        self.on_photosites = ()
        mirrored = self._mirrored is not None
        if self._mirrored is not None and not self._mirrored.as_before(frame):
            self._locked_off.forget()
        # Where the camera moves all is drawn anew, whatever else does.
        corners = self._stage.moving_corners(frame) if frame.locked_off else []
        moved = moving_windows(frame, self._lens, corners, RIM, mirrored=mirrored)
        kept = self._kept_of(frame)
        changed = self._locked_off.changed(frame, moved)
        smeared = self._smeared_into([each.vehicle for each in changed])
        on_ground = [each.on_ground for each in changed if not each.on_ground.empty]
        added = [*smeared, *on_ground]
        finished = disjoint(each.grown(self._adding.reach, self._lens.size) for each in added)
        # Further from what moves than it is smeared, nothing is taken from beside its place.
        looked_at = disjoint([*self._smeared_into(smeared), *on_ground])
        # Ground that mirrors shows what moves wherever that is.
        apart = frame.locked_off and not mirrored
        shaded = disjoint(each.on_ground for each in moved) if apart else None
        with self._timed("views"):
            self._place(frame, looked_at, kept, apart=apart)
        # Locked off, nothing moves over the picture but vehicles.
        moves = around(smeared if frame.locked_off else added)
        self._draw_and_add(frame, looked_at, disjoint(added), moves, kept, shaded)
        with self._timed("filter"):
            for window in finished:
                self._adding.fill(window)
        with self._timed("lamps"):
            if self._glows is not None:
                self.on_photosites = self._glows.add(self._sum.framebuffer, frame, finished)
        with self._timed("reading"):
            drawn = [self._sum.read(window) for window in finished]
        require_kept()
        GL.glDisable(GL.GL_SCISSOR_TEST)
        return self._locked_off.completed(frame, moved, drawn, finished)

    def _kept_of(self, frame: FrameState) -> Sequence[KeptView | None]:
        """What is kept of each view: something from the second frame on that a camera is locked off."""
        if self._batches.at_once or not frame.locked_off or not self._locked_off.holds(frame):
            self._kept.forget()
            return [None] * len(frame.views)
        return self._kept.views(len(frame.views))

    def _smeared_into(self, windows: Sequence[Window]) -> list[Window]:
        """Where what changes in views changes what they are smeared to."""
        reach = SMEARED_REACH if self._smear_share else 0
        return [window.grown(reach, self._lens.size) for window in windows if not window.empty]

    def _place(
        self, frame: FrameState, windows: Sequence[Window], kept: Sequence[KeptView | None], *, apart: bool
    ) -> None:
        """Bring the light of a frame, and choose what of the stage is drawn in some windows of the picture."""
        assert frame.light is not None
        self._stage.fill(frame.light, frame.others)
        self._stage.apart = set() if self._glows is None else set(self._glows.globes_of(frame))
        if self._mirrored is not None:
            self._drawing.water = self._mirrored.look(frame, around(windows))
        window = around(windows).in_clip(self._lens.size)
        of_set: tuple[float, float, float, float] | None = window
        if any(view is not None and not view.known for view in kept):
            of_set = WHOLE
        elif all(kept):
            of_set = None
        self._stage.choose(frame, window, of_set, apart=apart)
        if not self._batches.at_once:  # hardware looks three things up as fast as one
            self._stage.cast(frame, self._program)
        GL.glViewport(0, 0, *self._lens.size)
        GL.glEnable(GL.GL_SCISSOR_TEST)

    def _draw_and_add(
        self,
        frame: FrameState,
        looked_at: Sequence[Window],
        added: Sequence[Window],
        moves: Window,
        kept: Sequence[KeptView | None],
        shaded: Sequence[Window] | None,
    ) -> None:
        """Each view, as many together as there is room for; what moves is looked for within one window."""
        blurring = Blurring.of(frame, self._lens, self._filling, self._smear_share)
        weight, fresh, of_views = 1 / len(frame.views), True, iter(kept)
        for batches in self._batches.of(frame.views):
            with self._timed("views"):
                for batch in batches:
                    (own, *_) = [next(of_views) for _ in range(batch.count)]
                    self._drawing.views(
                        batch, frame, blurring, looked_at, lamps=self._glows is None, kept=own, shaded=shaded
                    )
            with self._timed("filter"):
                count = sum(batch.count for batch in batches)
                smear = self._looked_for_motion(count, moves)
                for window in added:
                    self._adding.add(self._batches.texture, count, weight, window, fresh=fresh, smear=smear)
            fresh = False

    def _looked_for_motion(self, count: int, window: Window) -> Smear | None:
        if not self._smear_share:
            return None
        if self._smear is None:
            self._smear = Smear(self._lens.size, MOST_TOGETHER, self._program, sorts=not self._batches.at_once)
        self._smear.look(self._batches.moved, count, window)
        return self._smear

    def _timed(self, name: str) -> AbstractContextManager[None]:
        return nullcontext() if self.spent is None else self.spent.on(name, GL.glFinish)

    def forget(self) -> None:
        """Draw all of the next picture anew."""
        self._locked_off.forget()

    def close(self) -> None:
        """Give the context back."""
        self._context.close()
