"""Light and what makes it: bounce cards as lamps of the set, and the light on lamps' own bodies."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from previz.files import Arrays, kept, key_of
from previz.layout import AreaEmitter, BulbEmitter, Emitter, emitters_of, light_cards
from previz.light import (
    Floats,
    Receivers,
    Samples,
    ambient_radiance,
    card_emitters,
    direct_light,
    look_round,
)
from previz.mesh import Mesh
from previz.scene import Scene
from previz.stage.light.lit_set import StillSet

_KINDS = {"AreaEmitter": AreaEmitter, "BulbEmitter": BulbEmitter}
_OFF_SURFACE = 2e-4  # as corners of the set [m]


def lit_by(scene: Scene, still: StillSet, key: str, samples: Samples, cache: bool) -> tuple[Emitter, ...]:
    """All that lights the set: its lamps, then its bounce cards by what they get; kept on disk by `key`."""
    lamps, cards = emitters_of(scene), light_cards(scene)
    if not still.giving:
        return lamps

    def find() -> Arrays:
        found = card_emitters(cards, lamps, still.occluders, samples)
        told = json.dumps([[type(each).__name__, asdict(each)] for each in found])
        return {"cards": np.frombuffer(told.encode(), dtype=np.uint8)}

    # Of the models one cannot tell which are silver.
    boards = [(card.middle.tolist(), card.half.tolist(), card.spec.colour, card.silver) for card in cards]
    told = kept(key_of("cards", key, lamps, boards), find, cache=cache)["cards"].tobytes()
    return (*lamps, *(_emitter(*each) for each in json.loads(told)))


def _emitter(kind: str, values: dict[str, Any]) -> Emitter:
    made: Emitter = _KINDS[kind](**{k: tuple(v) if isinstance(v, list) else v for k, v in values.items()})
    return made


def light_on(
    gear: Sequence[Mesh], still: StillSet, emitters: Sequence[Emitter], radiance: Floats, samples: Samples
) -> Floats:
    """Light on every corner of what is drawn but stands in no light. (n, 3) RGB [lx]

    radiance (m, 3) is that of the set's triangles, RGB [cd/m2].
    """
    if not gear:
        return np.zeros((0, 3), dtype=np.float32)
    normals = np.concatenate([mesh.normals for mesh in gear])
    points = np.concatenate([mesh.vertices for mesh in gear]) + _OFF_SURFACE * normals
    places = Receivers.of(points, normals)
    around = look_round(places, still.occluders, samples.round)
    light = direct_light(places, emitters, [still.occluders], samples)
    return np.asarray(light + around.sky_light(ambient_radiance(emitters)) + around.surface_light(radiance))
