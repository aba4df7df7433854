"""The set dressing: every piece and copy built and put where `layout` says it stands."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import FileFault, PrevizError
from previz.files import load_image, load_model
from previz.layout import Solid, pieces_of
from previz.mesh import Array, Mesh, merged
from previz.scene import BounceCard, Card, Container, FlagCard, MeshPiece, Scatter, Scene, Standing
from previz.stage.pieces.kinds import build_piece
from previz.stage.pieces.scattering import scatter
from previz.stage.shapes.finish import MOST_TRIANGLES, too_many

#: Copies come in so many different builds, then repeat; what is made in a works looks alike.
_LOOKS = {"conifer": 6, "broadleaf": 4, "bush": 5, "hedge": 4, "stone": 8}
_LOOKS_MADE = 2


def dress(scene: Scene) -> tuple[Mesh, ...]:
    """Build and place all of the scene's dressing, in few meshes of the world frame; cards for light are put up apart.

    Raises PrevizError for a file or a scatter that cannot be used.
    """
    meshes: list[Mesh] = []
    count = 0
    builds: dict[int, _Models] = {}
    for solid in pieces_of(scene):
        spec: Any = scene.dressing[solid.entry]
        if isinstance(spec, BounceCard | FlagCard):
            continue
        models = builds.setdefault(solid.entry, _Models(scene, spec, solid.entry))
        try:
            model = models.copy(solid.copy)
        except FileFault:
            raise
        except PrevizError as error:  # one face of it is too large
            raise FileFault(("dressing", solid.entry, "id"), str(error)) from None
        count += sum(len(mesh.faces) for mesh in model)
        if count > MOST_TRIANGLES:
            why = too_many(f"with {solid.name} all that stands has {count}")
            raise FileFault(("dressing", solid.entry, "id"), str(why))
        meshes += _placed(model, np.array(solid.at), solid.turn)
    for number, spec in enumerate(scene.dressing):
        if isinstance(spec, Scatter):
            try:
                meshes += scatter(scene, spec, MOST_TRIANGLES - count)[1]
            except PrevizError as error:
                raise FileFault(("dressing", number, "scatter"), str(error)) from None
            count = sum(len(mesh.faces) for mesh in meshes)
    return merged(meshes)


def model_of(scene: Scene, solid: Solid) -> tuple[Mesh, ...]:
    """The model of one piece that stands on the set, in its own frame, as `dress` builds it."""
    return _Models(scene, scene.dressing[solid.entry], solid.entry).copy(solid.copy)


class _Models:
    """The builds of one entry's copies: a few looks that repeat, and the colours of containers in turn."""

    def __init__(self, scene: Scene, spec: Standing | MeshPiece, entry: int) -> None:
        self.scene, self.spec, self.entry = scene, spec, entry
        self._built: dict[Any, tuple[Mesh, ...]] = {}

    def copy(self, k: int) -> tuple[Mesh, ...]:
        spec: Any = self.spec
        if isinstance(spec, MeshPiece):
            if not self._built:
                path = self.scene.folder / spec.mesh
                self._built[0] = load_model(path, spec.length, spec.up, spec.colour, node=spec.node, glow=spec.glow)
            return self._built[0]
        look, first = k % _LOOKS.get(spec.piece, _LOOKS_MADE), 0
        if isinstance(spec, Container) and spec.colours:
            paints = (spec.colour, *spec.colours)
            first = k * spec.stack % len(paints)
            turned = (*paints[first:], *paints[:first])
            spec = spec.model_copy(update={"colour": turned[0], "colours": turned[1:]})
        if (look, first) not in self._built:
            rng = np.random.default_rng([spec.seed, look])
            image = self._image(spec.image) if isinstance(spec, Card) and spec.image else None
            self._built[look, first] = build_piece(spec, self.scene.scale_of(spec), rng, image)
        return self._built[look, first]

    def _image(self, name: str) -> NDArray[np.uint8]:
        try:
            return load_image(self.scene.folder / name)
        except PrevizError as error:
            raise FileFault(("dressing", self.entry, "image"), str(error)) from None


def _placed(model: tuple[Mesh, ...], place: Array, turn: float) -> list[Mesh]:
    c, s = np.cos(turn), np.sin(turn)
    rotation = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    return [mesh.moved(rotation, place) for mesh in model]
