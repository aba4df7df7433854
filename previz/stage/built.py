"""The set and the vehicle as built, before any light; kept on disk, because building takes longer than lighting.

What was kept is used again only for the same description, built by the same source text from the same files.
"""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import cache, partial
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np

from previz.files import Arrays, kept_with_files, key_of, note, read_files, source_of
from previz.layout import Heights, Lamp, ground_heights, refuse_too_much, roadside_of, roof
from previz.mesh import Mesh, merged
from previz.scene import Scene
from previz.spread import Elsewhere, T, both, here
from previz.stage.model import VehicleModel, Wheel
from previz.stage.packed import Groups, meshes_of, packed, triple
from previz.stage.pieces.dressing import dress
from previz.stage.pieces.gear import put_up
from previz.stage.pieces.loose_stones import loose_stones
from previz.stage.pieces.models import Models
from previz.stage.pieces.ramp import build_ramps
from previz.stage.shapes.finish import MOST_TRIANGLES, subdivided
from previz.stage.table.backdrop import build_backdrop, build_table
from previz.stage.table.ground import TEXEL, Ground, build_ground
from previz.stage.table.kerbs import build_kerbs
from previz.stage.vehicles.bodies import build_vehicle, no_vehicle
from previz.stage.vehicles.from_file import vehicle_from_file

_LONGEST_EDGE = 0.025  # of triangles from files, which are cut for their light as our own pieces are [m]

#: Threads that build at the same time mostly wait for Python's lock in turns: together they take no less time than one
#: after the other, and half as much of the processor's again.
_ONE_BUILDS = Lock()


@dataclass(frozen=True)
class BuiltSet:
    """All that stands still, unlit.

    Parameters
    ----------
    standing : tuple of Mesh
        The dressing, in few meshes.
    around : tuple of Mesh
        Backdrop and the table's sides; flags, and the edges of bounce cards.
    giving : tuple of Mesh
        The faces of bounce cards.
    key : str
        Names all of this by content.
    """

    standing: tuple[Mesh, ...]
    around: tuple[Mesh, ...]
    giving: tuple[Mesh, ...]
    ground: Ground
    key: str


def built_set(scene: Scene, cache: bool, elsewhere: Elsewhere = here, texel: float = TEXEL) -> BuiltSet:
    """The scene's set, from disk if it was built before. Raises PrevizError for a file that cannot be used.

    The ground is built `elsewhere`, painted in texels of that size [m].
    """
    # The set leaves room for the vehicle, and its ramp stands on it; how fast it is and what it looks like are nothing
    # to it.
    losses: dict[str, Any] = {"timed_runs": ..., "wheel_share": ..., "rolling": ...}
    vehicle: dict[str, Any] = {"speed": ..., "start": ..., "colour": ..., "headlamps": ..., "launch": losses}
    described = _described(
        scene,
        {"set": ..., "dressing": ..., "scale": ..., "vehicle": ..., "vehicles": ...},
        {"vehicle": vehicle, "vehicles": {"__all__": vehicle}},
    )
    described += f" {roof(scene)!r} {texel!r}"  # a mesh file's height is not in the scene's words
    models = Models(source_key() if cache else None)
    arrays, facts = _kept(described, scene.folder, lambda: _build_set(scene, elsewhere, texel, models), cache)
    groups = meshes_of(arrays, facts["meshes"])
    (floor,) = groups["ground"]
    assert floor.image is not None  # the ground is painted
    heights = Heights(arrays["heights.x"], arrays["heights.y"], arrays["heights.z"], roadside_of(scene))
    return BuiltSet(
        groups["standing"],
        groups["around"],
        groups.get("giving", ()),
        Ground(floor, floor.image, heights, arrays.get("film")),
        facts["content"],
    )


def _build_set(
    scene: Scene, elsewhere: Elsewhere, texel: float, models: Models
) -> tuple[Groups, Arrays, dict[str, Any]]:
    with _ONE_BUILDS:
        refuse_too_much(scene)
        # Here, for ground and dressing: where two threads load parts of scipy at once, either may find half of it.
        import scipy.ndimage
        import scipy.spatial  # noqa: F401
    heights = ground_heights(scene)

    def rest() -> tuple[tuple[Mesh, ...], tuple[Mesh, ...]]:
        with _ONE_BUILDS:
            return (*dress(scene, models), *loose_stones(scene), *build_ramps(scene)), build_backdrop(scene)

    giving, flags = put_up(scene)
    # The ground takes as long as all the rest.
    paint = partial(build_ground, scene, texel, models.source)
    ground, (dressing, backdrop) = both(lambda: _apart(elsewhere, paint), rest)
    edges = build_table(scene, ground.mesh.vertices[: ground.own])
    # Buried corners are lit as if they stood on the ground, or a dark seam would run along every foot.
    groups = {
        "standing": merged(_all_fine(dressing)),
        "around": merged(_all_fine((*backdrop, *edges, *build_kerbs(scene), *flags))),
        "ground": (ground.mesh,),
    }
    if giving:
        groups["giving"] = giving
    more = {f"heights.{axis}": getattr(heights, axis) for axis in "xyz"}
    return groups, more if ground.film is None else {**more, "film": ground.film}, {}


def _all_fine(meshes: Sequence[Mesh]) -> Iterator[Mesh]:
    """Each cut small enough for its light; PrevizError where all together become too many."""
    left = MOST_TRIANGLES
    for mesh in meshes:
        fine = _fine(mesh, left)
        left -= len(fine.faces)
        yield fine


def _fine(mesh: Mesh, most: int | None = None) -> Mesh:
    corners = mesh.vertices[mesh.faces]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(initial=0.0)
    return subdivided(mesh, _LONGEST_EDGE, most) if longest > 1.5 * _LONGEST_EDGE else mesh


# --- the vehicle ---


def built_vehicle(scene: Scene, cache: bool) -> VehicleModel:
    """The scene's vehicle, from disk if it was built before. Raises PrevizError for a file that cannot be used."""
    look = {"body", "mesh", "node", "wheels", "glow", "up", "front", "length", "colour", "headlamps", "scale"}
    # A shot that has it go otherwise may write out what was left to its default, which is the same vehicle.
    include: dict[str, Any] = {"vehicle": look, "scale": ...}
    described = f"{scene.model_dump(include=include)!r}"
    arrays, facts = _kept(described, scene.folder, lambda: _build_vehicle(scene), cache)
    groups = meshes_of(arrays, facts["meshes"])
    wheels = tuple(
        Wheel(triple(wheel["centre"]), wheel["radius"], groups[f"round{k}"], groups[f"turning{k}"])
        for k, wheel in enumerate(facts["wheels"])
    )
    return VehicleModel(groups["body"], wheels, tuple(_lamp(lamp) for lamp in facts["lamps"]), *facts["size"])


def _build_vehicle(scene: Scene) -> tuple[Groups, Arrays, dict[str, Any]]:
    with _ONE_BUILDS:
        model = vehicle_model(scene)
    groups: dict[str, Sequence[Mesh]] = {"body": model.body}
    for k, wheel in enumerate(model.wheels):
        groups |= {f"round{k}": wheel.round, f"turning{k}": wheel.turning}
    return (
        groups,
        {},
        {
            "wheels": [{"centre": wheel.centre, "radius": wheel.radius} for wheel in model.wheels],
            "lamps": [asdict(lamp) for lamp in model.lamps],
            "size": [float(model.length), float(model.width), float(model.height)],
        },
    )


def vehicle_model(scene: Scene) -> VehicleModel:
    """The scene's vehicle, built afresh."""
    written = scene.vehicle
    if written is None:
        return no_vehicle()
    if written.body is not None:
        return build_vehicle(written.body, scene.vehicle_length, written.colour, written.headlamps)
    return vehicle_from_file(scene)


# --- elsewhere ---


def _apart(elsewhere: Elsewhere, build: Callable[[], T]) -> T:
    """What `build` makes elsewhere; the files it reads there count as read here."""
    made, read = elsewhere(partial(_with_files, build))
    note(read)
    return made


def _with_files(build: Callable[[], T]) -> tuple[T, dict[Path, str]]:
    with read_files() as read:
        return build(), read


# --- keeping ---


def _described(scene: Scene, include: dict[str, Any], exclude: dict[str, Any]) -> str:
    """That part of the scene in words; what was left to its default differs from what was written."""
    whole, written = (
        scene.model_dump(include=include, exclude=exclude, exclude_unset=unset) for unset in (False, True)
    )
    return f"{whole!r} {written!r}"


#: Their source text decides what is built and how it is lit. What a scene says is in the key itself, so of `scene` only
#: the sizes that it leaves out are here; nor is the text of the findings: a message may be reworded and nothing is
#: built anew.
DECIDING = ("mesh.py", "files", "scene/real_sizes.py", "physics", "layout", "light", "stage")


@cache
def source_key() -> str:
    """Names the source text of the rooms that decide what is built and how it is lit."""
    return source_of(Path(__file__).parents[1], DECIDING)


def _kept(
    described: str, folder: Path, build: Callable[[], tuple[Groups, Arrays, dict[str, Any]]], cache: bool
) -> tuple[Arrays, dict[str, Any]]:
    """Arrays and facts of what `build` makes, or of what it made from the same files before."""

    def compute() -> Arrays:
        groups, more, facts = build()
        arrays, facts["meshes"] = packed(groups)
        arrays |= more
        facts["content"] = key_of(*arrays.values(), facts)
        return {**arrays, "facts": np.frombuffer(json.dumps(facts).encode(), dtype=np.uint8)}

    # The folder counts because the files read are known by their whole paths.
    key = key_of("built", source_key(), described, str(folder.resolve()))
    arrays = kept_with_files(key, compute, cache=cache)
    return arrays, json.loads(arrays["facts"].tobytes())


def _lamp(facts: dict[str, Any]) -> Lamp:
    values: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in facts.items()}
    return Lamp(**values)
