"""The set dressing: every piece and copy built and put where `layout` says it stands."""

import numpy as np

from previz.errors import FileFault
from previz.layout import Solid, ground_heights, pieces_of
from previz.mesh import Array, Mesh, merged
from previz.scene import BounceCard, FlagCard, Scatter, Scene
from previz.stage.pieces.footing import footing
from previz.stage.pieces.models import Entry, Models, at_fault
from previz.stage.pieces.scattering import scatter, variants_of
from previz.stage.shapes.finish import MOST_TRIANGLES, too_many

#: They are put up apart.
_FOR_LIGHT = (BounceCard, FlagCard)


def dress(scene: Scene, models: Models | None = None) -> tuple[Mesh, ...]:
    """Build and place all of the scene's dressing, in few meshes of the world frame; cards for light are put up apart.

    `models` builds or knows what it is made of.
    Raises PrevizError for a file or a scatter that cannot be used.
    """
    models = models or Models()
    standing = [solid for solid in pieces_of(scene) if not isinstance(scene.dressing[solid.entry], _FOR_LIGHT)]
    entries = {solid.entry: Entry(scene, scene.dressing[solid.entry], solid.entry) for solid in standing}
    scattered = [(number, spec) for number, spec in enumerate(scene.dressing) if isinstance(spec, Scatter)]
    wanted = dict(entries[solid.entry].copy(solid.copy) for solid in standing)
    for number, spec in scattered:
        wanted |= variants_of(scene, spec, number)
    known = models.all_of(wanted)
    meshes: list[Mesh] = []
    count, ground = 0, ground_heights(scene)
    for solid in standing:
        spec, model = scene.dressing[solid.entry], known[entries[solid.entry].copy(solid.copy)[0]]
        model += footing(solid, model, ground, scene.scale_of(spec), getattr(spec, "seed", 0))
        count += sum(len(mesh.faces) for mesh in model)
        if count > MOST_TRIANGLES:
            why = too_many(f"with {solid.name} all that stands has {count}")
            raise FileFault(("dressing", solid.entry, "id"), str(why))
        meshes += _placed(model, np.array(solid.at), solid.turn)
    for number, spec in scattered:
        made = [known[key] for key in variants_of(scene, spec, number)]
        with at_fault("dressing", number, "scatter"):
            meshes += scatter(scene, spec, MOST_TRIANGLES - count, made)[1]
        count = sum(len(mesh.faces) for mesh in meshes)
    return merged(meshes)


def model_of(scene: Scene, solid: Solid) -> tuple[Mesh, ...]:
    """The model of one piece that stands on the set, in its own frame, as `dress` builds it."""
    _, build = Entry(scene, scene.dressing[solid.entry], solid.entry).copy(solid.copy)
    return build()


def _placed(model: tuple[Mesh, ...], place: Array, turn: float) -> list[Mesh]:
    c, s = np.cos(turn), np.sin(turn)
    rotation = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    return [mesh.moved(rotation, place) for mesh in model]
