"""A light meter on the set of a shot: what each lamp gives on the vehicle's side that the camera sees, and elsewhere.

Lamps shine past the plain solids of the set and the vehicle; what they light throws light back, twice. For
figures: no picture is made of it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    Ambient,
    CameraPose,
    Emitter,
    PutUp,
    VehiclePose,
    backdrop_plane,
    bulb_of,
    emitters_of,
    ground_heights,
    light_cards,
    pieces_of,
    post_lamps,
    vehicle_size,
)
from previz.light.cards import card_emitters, gives_back
from previz.light.direct import direct_light, direct_light_of
from previz.light.occluders import OFFSET, Occluders
from previz.light.plain_set import RAYS_ROUND, Plain, plain_set, plain_vehicle, with_vehicle
from previz.light.receivers import Floats, Receivers, floats
from previz.light.samples import Samples
from previz.light.seen import seen_places
from previz.light.surroundings import ROOM_REFLECTANCE, Surroundings, directions_round, look_round
from previz.physics.colour import LUMINANCE
from previz.scene import Focus, Scene, Shot

Array = NDArray[np.float64]

#: Rays a place sends: a figure is a mean over many places, so that few do.
EFFORT = Samples(panel=12, probes=5, spot=6, bulb=1, round=RAYS_ROUND, bounces=2)

_EVEN = ""  # stands for a lamp that the scene has not: even light of 1 lx
_PLACES = 384  # on the vehicle, at most
_OFF = 5e-4  # how far off a surface its light is metered [m]


@dataclass(frozen=True)
class Metered:
    """Illuminance somewhere, by each lamp's id: straight from it, and thrown back by set and vehicle. [lx]"""

    straight: dict[str, float]
    thrown: dict[str, float]

    @property
    def by_lamp(self) -> dict[str, float]:
        """Both together."""
        return {name: level + self.thrown[name] for name, level in self.straight.items()}

    @property
    def total(self) -> float:
        """Of all lamps."""
        return sum(self.by_lamp.values())

    def without(self, lamp: str) -> "Metered":
        """All lamps but one."""
        return Metered(*({k: v for k, v in light.items() if k != lamp} for light in (self.straight, self.thrown)))


@dataclass(frozen=True)
class ShotLight:
    """What a light meter reads mid-shot.

    Parameters
    ----------
    vehicle : Metered
        On what the camera sees of it.
    road : Metered
        On the ground beside it, on the camera's side.
    backdrop : Metered or None
        On its middle.
    even : float
        On the vehicle, from even light all round that gives an open table top 1 lx. [lx]
    on_vehicle, in_picture : Receivers
        Where the vehicle is metered; places spread evenly over all of the picture.
    around : Plain
        What stands in the light, the vehicle among it.
    faces_in_picture : (n,) int
        Which of its triangles each of the places in the picture lies on.
    """

    vehicle: Metered
    road: Metered
    backdrop: Metered | None
    even: float
    on_vehicle: Receivers
    in_picture: Receivers
    around: Plain
    faces_in_picture: NDArray[np.int32]

    @property
    def share_of_a_place(self) -> float:
        """Of what the set takes up of the picture, for each of the places in it. [-]"""
        return 1 / _PLACES

    def straight(self, lamp: Emitter, places: Receivers) -> float:
        """What a lamp, one of the scene's or another, gives straight on some places, on the mean. [lx]"""
        return _mean(direct_light(places, [lamp], [self.around.occluders], EFFORT))

    def at_each(self, lamps: Sequence[Emitter], places: Receivers) -> Floats:
        """What lamps, the sky and the room give straight on each of some places. (n,) [lx]"""
        around = look_round(places, self.around.occluders, EFFORT.round)
        light = _straight(places, lamps, self.around, around, _room_seen(places, around))
        return floats(light @ floats(LUMINANCE))

    def kept_off(self, lamp: Emitter, places: Receivers) -> Floats:
        """What stands in a lamp's light keeps off each of some places. (n,) [lx]"""
        bare, there = (direct_light(places, [lamp], [each], EFFORT) for each in (_NOTHING, self.around.occluders))
        return floats(np.maximum((bare - there) @ floats(LUMINANCE), 0.0))

    def unhidden(self, lamp: Emitter, places: Receivers) -> float:
        """The same with nothing in between. [lx]"""
        return _mean(direct_light(places, [lamp], [_NOTHING], EFFORT))

    def in_the_way(self, lamp: Array, places: Receivers) -> str | None:
        """Whose is most of what stands between a lamp (3,) [m] and some places that face it; None where nothing is."""
        rays = floats(lamp) - places.points
        facing = np.einsum("ni,ni->n", rays, places.normals) > 0
        starts, rays = (places.points + np.float32(OFFSET) * places.normals)[facing], rays[facing]
        hidden = ~self.around.occluders.clear(starts, rays)
        met = self.around.occluders.first(starts[hidden], rays[hidden])
        return self.around.names[int(np.bincount(self.around.owner[met]).argmax())] if len(met) else None


_NOTHING = Occluders(np.zeros((0, 3)), np.zeros((0, 3), dtype=int))


def meter(scene: Scene, shot: Shot, camera: CameraPose, vehicle: VehiclePose | None) -> ShotLight:
    """Read a light meter with camera and vehicle at these poses; without one, on what the camera is focused on."""
    still = whole = plain_set(scene)
    if vehicle is None:
        seen = _in_focus(scene, shot, camera, still)
    else:
        body = plain_vehicle(scene, vehicle)
        whole = with_vehicle(still, body)
        seen = _on_thing(scene, shot, camera, body, still)
    places = [seen, _on_ground(scene, _beside(scene, camera, vehicle)), *_on_backdrop(scene)]
    lamps: dict[str, list[Emitter]] = {**_lamps(scene), _EVEN: [Ambient((1 / math.pi,) * 3)]}
    straight, thrown = _light_on(places, whole, lamps, light_cards(scene))
    ends = np.cumsum([len(each) for each in places])
    found = [
        Metered(*({name: _mean(rgb[part]) for name, rgb in light.items()} for light in (straight, thrown)))
        for part in (slice(end - len(each), end) for each, end in zip(places, ends, strict=True))
    ]
    even = found[0].by_lamp[_EVEN]
    on_vehicle, road, *backdrop = (each.without(_EVEN) for each in found)
    picture, faces = _in_picture(scene, shot, camera, whole)
    return ShotLight(on_vehicle, road, backdrop[0] if backdrop else None, even, seen, picture, whole, faces)


def _mean(light: Floats) -> float:
    return float(np.mean(light @ floats(LUMINANCE))) if len(light) else 0.0


def _lamps(scene: Scene) -> dict[str, list[Emitter]]:
    """All emitters by the id of their entry in the scene."""
    found: dict[str, list[Emitter]] = {}
    for light, emitter in zip(scene.lights, emitters_of(scene), strict=False):
        found.setdefault(light.id, []).append(emitter)
    for name, lamp in post_lamps(scene):
        found.setdefault(name, []).append(bulb_of(lamp))
    return found


# --- where ---


def _in_focus(scene: Scene, shot: Shot, camera: CameraPose, still: Plain) -> Receivers:
    """The piece that is named as what to focus on, as the camera sees it; else a card there.

    For the lens is set to a piece's middle, where a card would stand within it.
    """
    piece = shot.focus.target.piece if isinstance(shot.focus, Focus) and shot.focus.target is not None else None
    named = next((solid.name for solid in pieces_of(scene) if solid.id == piece), None)
    if named in still.names:
        is_it = still.owner == still.names.index(named)
        return _on_thing(scene, shot, camera, still.part(is_it), still.part(~is_it))
    towards = camera.world_from_camera[:, 2]
    return Receivers.of([camera.in_focus + _OFF * towards], [towards])


def _on_thing(scene: Scene, shot: Shot, camera: CameraPose, body: Plain, still: Plain) -> Receivers:
    """What the camera sees of a vehicle or piece, past all that stands still."""
    faces = np.arange(3 * len(body.corners)).reshape(-1, 3)
    corners = body.corners.reshape(-1, 3)
    triangle, places = seen_places(scene, shot, camera, corners, faces, still.occluders, _PLACES, body.occluders)
    if not len(triangle):  # the camera stands in it: all of it counts
        triangle, places = np.arange(len(faces), dtype=np.int32), body.shape.receivers.points
    normals = _towards(camera, places, body.shape.receivers.normals[triangle])
    return Receivers.of(places + np.float32(_OFF) * normals, normals)


def _towards(camera: CameraPose, places: Floats, normals: Floats) -> Floats:
    """Normals (n, 3) of the side that the camera sees: files have sheets without thickness, and faces inside out."""
    behind = np.einsum("ni,ni->n", floats(camera.position) - places, normals) < 0
    return floats(np.where(behind[:, None], -normals, normals))


def _in_picture(scene: Scene, shot: Shot, camera: CameraPose, whole: Plain) -> tuple[Receivers, NDArray[np.int32]]:
    """Off what the camera sees, on its side; and which triangle each place lies on."""
    faces = np.arange(3 * len(whole.corners)).reshape(-1, 3)
    corners, itself = whole.corners.reshape(-1, 3), whole.occluders
    triangle, places = seen_places(scene, shot, camera, corners, faces, _NOTHING, _PLACES, itself)
    normals = _towards(camera, places, whole.shape.receivers.normals[triangle])
    return Receivers.of(places + np.float32(_OFF) * normals, normals), triangle


def _beside(scene: Scene, camera: CameraPose, vehicle: VehiclePose | None) -> Array:
    """As far from the vehicle's side as it is wide; without one, where the camera is focused. (2,) [m]"""
    if vehicle is None:
        return camera.in_focus[:2]
    left = np.array([-math.sin(vehicle.heading), math.cos(vehicle.heading)])
    side = 1.0 if (camera.position - vehicle.position)[:2] @ left > 0 else -1.0
    return np.asarray(vehicle.position[:2] + side * 1.5 * vehicle_size(scene)[1] * left)


def _on_ground(scene: Scene, place: Array) -> Receivers:
    """The ground there, where the table reaches as far."""
    place = np.clip(place, _OFF, np.array([scene.set.table.width, scene.set.table.depth]) - _OFF)
    height = float(ground_heights(scene).height(place[None])[0])
    return Receivers.of([[*place, height + _OFF]], [[0.0, 0.0, 1.0]])


def _on_backdrop(scene: Scene) -> list[Receivers]:
    backdrop, plane = scene.set.backdrop, backdrop_plane(scene)
    if backdrop is None or plane is None:
        return []
    height = max(backdrop.height / 2, backdrop.join.cove)
    return [Receivers.of([plane.placed(0.0, backdrop.distance - _OFF, height)], [plane.way(0.0, -1.0, 0.0)])]


# --- how much ---


def _light_on(
    places: Sequence[Receivers], whole: Plain, lamps: dict[str, list[Emitter]], cards: Sequence[PutUp]
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Straight from each lamp, and thrown back, on all places in order. (n, 3) each, RGB [lx]"""
    surfaces, surface_of = whole.shape.gathered.receivers, whole.shape.gathered.whose
    measured = Receivers.all_of(places)
    every = surfaces.joined(measured)
    around = whole.shape.around.joined(look_round(measured, whole.occluders, EFFORT.round))
    room = _room_seen(every, around)
    straight = np.concatenate([_straight(every, emitters, whole, around, room) for emitters in lamps.values()], axis=1)
    albedo = floats(np.tile(whole.albedo / math.pi, len(lamps)))
    given = _given_back(every, lamps, whole, cards)
    gone_on = np.isin(whole.owner, [whole.names.index(card.solid.name) for card in cards if gives_back(card)])
    thrown = given
    for _ in range(EFFORT.bounces):
        light = (straight + thrown)[surface_of]
        light[gone_on] = thrown[surface_of[gone_on]]  # what falls on these straight from lamps is given back above
        thrown = given + around.surface_light(albedo * light)
    rows = slice(len(surfaces), None)
    columns = [slice(3 * k, 3 * k + 3) for k in range(len(lamps))]
    return tuple(  # type: ignore[return-value]
        {name: light[rows, column] for name, column in zip(lamps, columns, strict=True)} for light in (straight, thrown)
    )


def _given_back(places: Receivers, lamps: dict[str, list[Emitter]], whole: Plain, cards: Sequence[PutUp]) -> Floats:
    """What bounce cards give each place of each lamp's light. (n, 3 lamps)"""
    if not any(gives_back(card) for card in cards):
        return np.zeros((len(places), 3 * len(lamps)), dtype=np.float32)
    found = [card_emitters(cards, each, whole.occluders, EFFORT) for each in lamps.values()]
    return np.concatenate(direct_light_of(places, found, [whole.occluders], EFFORT), axis=1)


def _straight(
    receivers: Receivers, emitters: Sequence[Emitter], whole: Plain, around: Surroundings, room: Floats
) -> Floats:
    light = np.zeros((len(receivers), 3), dtype=np.float32)
    for sky in (each for each in emitters if isinstance(each, Ambient)):
        light += around.sky_light(np.array(sky.radiance)) + np.outer(room, sky.radiance).astype(np.float32)
    return light + direct_light(receivers, emitters, [whole.occluders], EFFORT)


def _room_seen(receivers: Receivers, around: Surroundings) -> Floats:
    """Irradiance from a room beyond the set, below the horizon, in an ambient light of radiance 1. (n,)"""
    below = directions_round(receivers, len(around.hits))[..., 2] <= 0
    return floats((below & (around.hits < 0)).sum(axis=0) * around.weight * ROOM_REFLECTANCE)
