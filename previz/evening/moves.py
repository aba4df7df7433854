"""What is moved between two setups: pieces, lamps, camera, backdrop, ramp; each move with the marks it needs."""

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import (
    dataclass,
    field,
    replace,
)
from typing import Any

import numpy as np

from previz.errors import ShotFault
from previz.layout import (
    LIGHT_CARDS,
    Solid,
    backdrop_plane,
    camera_at,
    each_driven,
    pieces_of,
    ramp_of,
    target_point,
    vehicle_path,
    way_of_camera,
)
from previz.predictions import moved_words
from previz.scene import (
    VEHICLE,
    Ambient,
    Bulb,
    Scatter,
    Scene,
    Shot,
    apart_from_place,
    as_set_up,
    said_otherwise,
    said_value,
)

#: What differs by less stands where it stood. [m, rad]
_SAME = 1e-6

#: A focal length that differs by less is not set anew: no ring shows it. Common practice, no source. [share]
_ZOOMED = 0.01


@dataclass(frozen=True)
class Mark:
    """Where something stands, from the table's front left corner.

    Parameters
    ----------
    at : (float, float) or (float, float, float)
        x, y, and of what hangs or is on a tripod its height over the table. [m]
    turn : float
        Counter-clockwise seen from above, of what has a front. [rad]
    aim : (float, float, float) or None
        The point that a lamp or a camera faces. [m]
    """

    at: tuple[float, ...]
    turn: float = 0.0
    aim: tuple[float, ...] | None = None

    def words(self, length: Callable[[float], str]) -> str:
        """For people; length writes one of them [m] without its unit."""
        told = ", ".join(length(each) for each in self.at[:2])
        if len(self.at) > 2:
            told += f", {length(self.at[2])} up"
        degrees = round(math.degrees(self.turn) * 2) / 2
        degrees = 180 - (180 - degrees) % 360
        if degrees:
            told += f", turned {degrees:g}°"
        if self.aim is not None:
            told += f", facing {', '.join(length(each) for each in self.aim[:2])}, {length(self.aim[2])} up"
        return told


@dataclass(frozen=True)
class Move:
    """One thing to do between two setups.

    Parameters
    ----------
    kind : str
        The key of `Evening` that says how long it takes: `dress`, `lamp_setting`, …
    what : str
        What is moved, by its id; of a copy of a piece `id/2`.
    does : str
        What is done to it, in a word or two: `move`, `take away`, `put`, `change`, `turn`, `set`, `switch off`; `cover`
        of a lamp that is fixed.
    before, after : Mark or None
        Where it stood and where it stands, where that changes.
    said : str
        What no mark says: `f/2.8 to f/8`.
    """

    kind: str
    what: str
    does: str
    before: Mark | None = None
    after: Mark | None = None
    said: str = ""


@dataclass(frozen=True)
class Position:
    """A set as it is dressed and lit, and the shot that is filmed on it; no shot of the set as built.

    off: lamps that the shot switches off, as they stand on the common set; its scene has none of them.
    """

    scene: Scene
    shot: Shot | None = None
    off: Mapping[str, Any] = field(default_factory=dict)


def position_of(scene: Scene, shot: Shot) -> Position:
    """A shot of a scene, as it was read, on the set as it stands then."""
    then = as_set_up(scene, shot)
    off = {name for name, each in (shot.lights or {}).items() if each.off}
    return Position(then, then.shot(shot.id), {lamp.id: lamp for lamp in scene.lights if lamp.id in off})


def moves_between(one: Position, other: Position) -> tuple[Move, ...]:
    """All that is to do to come from one setup to another, the set before lamps and camera.

    One camera stands at a time: a shot of another camera puts that up in the first one's stead.
    """
    dressed = (_of_the_set, _of_pieces, _of_scattered, _of_all_that_drives, _of_lamps)
    alike = one.scene is other.scene and one.off.keys() == other.off.keys()
    steps = (_of_the_camera,) if alike else (*dressed, _of_the_camera)
    return tuple(move for step in steps for move in step(one, other))


def told_moves(moves: Sequence[Move], length: Callable[[float], str]) -> list[str]:
    """Moves in words, as `mark_words` has them; what is only taken away, in one line."""
    gone = [move for move in moves if move.does == "take away"]
    told = [mark_words(move, length) for move in moves if move.does != "take away"]
    return [f"take away {', '.join(move.what for move in gone)}"] * bool(gone) + told


def mark_words(move: Move, length: Callable[[float], str]) -> str:
    """A move in words, with its marks; length writes one of them [m] as its maker's tape has it, without the unit.

    >>> mark_words(Move("dress", "hut", "move", Mark((0.3, 0.4)), Mark((0.5, 0.42), 0.5236)), lambda m: f"{m * 1000:g}")
    'move hut from 300, 400 to 500, 420, turned 30°'
    """
    parts = [f"{move.does} {move.what}"]
    if move.before is not None:
        parts.append(f"from {move.before.words(length)}")
    if move.after is not None:
        parts.append(f"{'to' if move.before is not None else 'at'} {move.after.words(length)}")
    if move.said:
        return f"{' '.join(parts)}: {move.said}"
    return " ".join(parts)


# --- the set ---


def _of_the_set(one: Position, other: Position) -> Iterator[Move]:
    here, there = one.scene.set, other.scene.set
    for kind, name in (("backdrop", "backdrop"), ("ground", "table"), ("ground", "ground"), ("ground", "road")):
        was, becomes = getattr(here, name), getattr(there, name)
        if was == becomes:
            continue
        lies = name in ("ground", "road")
        does = "take away" if becomes is None else "lay" if lies else "put" if was is None else "change"
        if name == "backdrop" and was is not None and becomes is not None and was.side != becomes.side:
            does = "turn" if _sheet(one.scene) == _sheet(other.scene) else "change"
        yield Move(kind, f"the {name}", does, said=_differing(was, becomes, other.scene))


def _sheet(scene: Scene) -> Mapping[str, Any]:
    """What the backdrop is made of, wherever it stands: as wide as that side of the table, unless written."""
    plane = backdrop_plane(scene)
    assert plane is not None  # there is one
    return {**dict(scene.set.backdrop), "side": None, "distance": None, "width": round(plane.width, 6)}  # type: ignore[arg-type]


def _of_pieces(one: Position, other: Position) -> Iterator[Move]:
    here, there = _standing(one.scene), _standing(other.scene)
    for name in dict.fromkeys((*here, *there)):
        if name not in there:
            yield Move("dress", name, "take away", before=_foot(here[name]))
        elif name not in here:
            yield Move("dress", name, "put", after=_foot(there[name]))
        else:
            yield from _of_a_piece(name, (one.scene, here[name]), (other.scene, there[name]))


def _of_a_piece(name: str, one: tuple[Scene, Solid], other: tuple[Scene, Solid]) -> Iterator[Move]:
    (scene, here), (later, there) = one, other
    was, becomes = scene.dressing[here.entry], later.dressing[there.entry]
    if was is becomes and here.at == there.at and here.turn == there.turn:
        return  # most pieces; as_set_up keeps what is alike
    before, after = _foot(here), _foot(there)
    old, new = apart_from_place(was), apart_from_place(becomes)
    if type(was) is not type(becomes) or old != new:
        told = f"a {there.kind.replace('_', ' ')} in its place"
        if type(was) is type(becomes):
            told = _differing(was, becomes, later, leave={*type(becomes).model_fields} - {*new})
        yield Move("dress", name, "change", None if _same(before, after) else before, after, told)
    elif not _same(before, after):
        yield Move("dress", name, "move", before, after)


def _standing(scene: Scene) -> dict[str, Solid]:
    return {solid.name: solid for solid in pieces_of(scene)}


def _foot(solid: Solid) -> Mark:
    """Of a card for light its lower edge, which hangs or is on a stand."""
    return Mark(tuple(solid.at if solid.kind in LIGHT_CARDS else solid.at[:2]), solid.turn)


def _same(one: Mark, other: Mark) -> bool:
    turn = (one.turn - other.turn + np.pi) % (2 * np.pi) - np.pi
    return bool(np.allclose(one.at, other.at, atol=_SAME, rtol=0)) and abs(turn) < _SAME


def _of_scattered(one: Position, other: Position) -> Iterator[Move]:
    here, there = (
        {each.id: each for each in setup.scene.dressing if isinstance(each, Scatter)} for setup in (one, other)
    )
    for name in dict.fromkeys((*here, *there)):
        if name not in there:
            yield Move("scatter", name, "sweep up")
        elif here.get(name) != there[name]:
            said = _differing(here.get(name), there[name], other.scene)
            yield Move("scatter", name, "strew" if name not in here else "strew anew", said=said)


# --- what drives ---


def _of_all_that_drives(one: Position, other: Position) -> Iterator[Move]:
    """Each vehicle by its name, whichever of them a shot is about."""
    here, there = ({each.subject: each for each in each_driven(setup.scene)} for setup in (one, other))
    for name in dict.fromkeys((*here, *there)):
        moves = [*_of_a_vehicle(here.get(name), there.get(name)), *_of_its_turn(name, here, there)]
        for move in moves:
            yield move if name == VEHICLE else replace(move, what=move.what.replace("the vehicle", name))


def _of_its_turn(name: str, here: dict[str, Scene], there: dict[str, Scene]) -> Iterator[Move]:
    """How much later it starts than the first of those that drive: of one alone that is where a shot's clock begins."""
    if name in here and name in there:
        was, now = _after_the_first(name, here), _after_the_first(name, there)
        if not math.isclose(was, now, abs_tol=1e-9):
            said = f"{was:.3g} s to {now:.3g} s after the first that drives"
            yield Move("release", "the vehicle's start in time", "set", said=said)


def _after_the_first(name: str, scenes: dict[str, Scene]) -> float:
    """How much later one starts than the first does of all that drive; one that stands never does. [s]"""
    starts = {each: float(it.vehicle.start) for each, it in scenes.items() if it.vehicle and not it.vehicle.stands}
    return starts[name] - min(starts.values()) if name in starts else 0.0


def _of_a_vehicle(one: Scene | None, other: Scene | None) -> Iterator[Move]:
    if one is None or other is None:
        yield from _comes_or_goes(one, other)
        return
    here, there = one.vehicle, other.vehicle
    assert here is not None and there is not None  # both have it
    if here == there and _begins(one) == _begins(other):
        return
    if {**dict(here), **dict.fromkeys(_MOVING)} != {**dict(there), **dict.fromkeys(_MOVING)}:
        yield Move("vehicle", "the vehicle", "change", said=_differing(here, there, other, leave=_MOVING))
    before, after = _begins(one), _begins(other)
    if here.launch is not None and there.launch is not None:
        yield from _of_the_ramp(one, other)
    elif there.launch is not None:
        yield Move("ramp", "the vehicle's start for the ramp's foot", "exchange", after=_foot_of_the_ramp(other),
                   said=_ramp_words(other))  # fmt: skip
    elif here.launch is not None:
        yield Move("ramp", "the ramp for the vehicle's start", "exchange", after=after, said=_speed_words(other))
    elif before is None or after is None or not _same(before, after):
        yield Move("vehicle", "the vehicle's start", "move", before, after)
    if here.speed != there.speed and here.speed is not None and there.speed is not None:
        said = f"{_speed_words(one)} to {_speed_words(other)}"
        yield Move("release", "the vehicle's speed", "set", said=said)
    if here.drive != there.drive and None not in (here.drive, there.drive):
        yield Move("release", "what drives the vehicle", "exchange", said=f"{here.drive} to {there.drive}")


#: Keys of a vehicle that say how it goes, not what it is.
_MOVING = {"path", "keep", "offset", "reverse", "speed", "drive", "start", "launch"}


def _comes_or_goes(one: Scene | None, other: Scene | None) -> Iterator[Move]:
    """A vehicle that comes or goes, and its ramp with it."""
    for scene, does in ((one, "take away"), (other, "put")):
        if scene is None or scene.vehicle is None:
            continue
        vehicle, comes = scene.vehicle, does == "put"
        launched = vehicle.launch is not None
        if launched:
            foot = _foot_of_the_ramp(scene) if comes else None
            yield Move("ramp", "the ramp's foot" if comes else "the ramp", does, after=foot,
                       said=_ramp_words(scene) if comes else "")  # fmt: skip
        runs = "on the ramp" if launched else _speed_words(scene)
        said = f"{_differing(None, vehicle, scene, leave=_MOVING)}, {runs}" if comes else ""
        yield Move("vehicle", "the vehicle", does, after=_begins(scene) if comes and not launched else None, said=said)


def _speed_words(scene: Scene) -> str:
    assert scene.vehicle is not None  # it drives or stands
    return scene.pace(scene.vehicle.speed) if scene.vehicle.speed else "standing"


def _ramp_words(scene: Scene) -> str:
    """All of a ramp that is put up, the height first from which the vehicle is let go."""
    assert scene.vehicle and scene.vehicle.launch  # it is launched
    ramp = scene.vehicle.launch.ramp
    return f"release height {scene.tape(ramp.height)}, {_differing(None, ramp, scene, leave={'height', 'foot'})}"


def _begins(scene: Scene) -> Mark | None:
    """Where the vehicle's way begins, and which way it leads."""
    if scene.vehicle is None:
        return None
    way = vehicle_path(scene)
    x, y = np.asarray(way.at(0.0), dtype=float).tolist()
    return Mark((x, y), float(way.heading(0.0)))


def _of_the_ramp(one: Scene, other: Scene) -> Iterator[Move]:
    assert one.vehicle and other.vehicle and one.vehicle.launch and other.vehicle.launch  # both are launched
    before, after = _foot_of_the_ramp(one), _foot_of_the_ramp(other)
    was, becomes = one.vehicle.launch.ramp, other.vehicle.launch.ramp
    if not _same(before, after):
        yield Move("ramp", "the ramp's foot", "move", before, after)
    built = {"height": None, "foot": None}
    if {**dict(was), **built} != {**dict(becomes), **built}:
        yield Move("ramp", "the ramp", "change", said=_differing(was, becomes, other, leave={*built}))
    if abs(was.height - becomes.height) > _SAME:
        yield Move("release", "the release height", "set", said=f"{one.tape(was.height)} to {one.tape(becomes.height)}")


def _foot_of_the_ramp(scene: Scene) -> Mark:
    ramp = ramp_of(scene)
    assert ramp is not None  # it is launched
    return Mark(tuple(ramp.foot.tolist()), ramp.heading)


# --- lamps and camera ---


def _of_lamps(one: Position, other: Position) -> Iterator[Move]:
    here, there = ({each.id: each for each in setup.scene.lights} for setup in (one, other))
    for name in dict.fromkeys((*here, *one.off, *there)):
        was, becomes = here.get(name), there.get(name)
        if becomes is None and name in other.off:
            if was is not None:
                yield Move("lamp_setting", name, "cover" if _fixed(was) else "switch off")
        elif becomes is not None and was is None and name in one.off:
            yield _switched_on(one.off[name], becomes, other.scene)
        else:
            yield from _of_a_lamp(name, was or one.off.get(name), becomes, other.scene)


def _switched_on(off: Any, lamp: Any, scene: Scene) -> Move:
    """All of it is told, for it may have been moved or set anew before it was switched off."""
    if _fixed(lamp) and lamp == off:
        return Move("lamp_setting", lamp.id, "uncover")
    said = _lamp_words(lamp, ("ambient", "output", "colour"), scene)
    if isinstance(lamp, Ambient):
        return Move("lamp_setting", lamp.id, "switch on", said=said)
    stays = type(off) is type(lamp) and _hangs(off) == _hangs(lamp)
    return Move("lamp_setting" if stays else "lamp", lamp.id, "switch on", after=_hangs(lamp), said=said)


def _of_a_lamp(name: str, was: Any, becomes: Any, scene: Scene) -> Iterator[Move]:
    if was == becomes:
        return
    if (was is None or becomes is None) and _fixed(was or becomes):
        yield Move("lamp_setting", name, "uncover" if was is None else "cover")
        return
    if was is None or becomes is None or type(was) is not type(becomes):
        does = "put up" if was is None else "take away" if becomes is None else "change"
        hangs = becomes is not None and not isinstance(becomes, Ambient)
        said = _lamp_words(becomes, ("ambient", "panel", "spot", "bulb", "output", "colour"), scene) if becomes else ""
        yield Move("lamp" if not isinstance(was or becomes, Ambient) else "lamp_setting", name, does,
                   after=_hangs(becomes) if hangs else None, said=said)  # fmt: skip
        return
    if not isinstance(becomes, Ambient) and _hangs(was) != _hangs(becomes):
        yield Move("lamp", name, "move", _hangs(was), _hangs(becomes))
    said = _differing(was, becomes, scene, leave={"at", "aim", "mains"})
    if said:
        yield Move("lamp_setting", name, "set", said=said)


def _fixed(lamp: Any) -> bool:
    """Whether it stays where it is, like a window."""
    return not isinstance(lamp, Ambient) and bool(lamp.fixed)


def _hangs(lamp: Any) -> Mark:
    return Mark(tuple(lamp.at), aim=None if isinstance(lamp, Bulb) else tuple(lamp.aim))


def _lamp_words(lamp: Any, keys: Sequence[str], scene: Scene) -> str:
    """Those keys of a lamp that it has, though they be as they come."""
    return ", ".join(said_value(lamp, key, scene.tape) for key in keys if hasattr(lamp, key))


def _of_the_camera(one: Position, other: Position) -> Iterator[Move]:
    was, becomes = one.shot, other.shot
    if becomes is None:
        return
    before, after = _stands(one), _stands(other)
    if was is None or was.camera != becomes.camera:
        said = ", ".join(filter(None, (_set_to(becomes), _filmed_on_the_way(other))))
        yield Move("camera", f"the camera {becomes.camera}", "put up", after=after, said=said)
        return
    name = f"the camera {becomes.camera}"
    goes = _filmed_on_the_way(other)
    if was.at != becomes.at and before is not None and before == after:
        yield Move("camera", name, "set", said=goes or "it stays there")
    elif was.at != becomes.at:
        yield Move("camera", name, "move", before, after, said=goes)
    elif _looks_elsewhere(was, becomes, before, after):
        yield Move("aim", name, "aim", after=after)
    if abs(becomes.focal_length / was.focal_length - 1) > _ZOOMED:
        said = f"{_millimetres(was.focal_length)} to {_millimetres(becomes.focal_length)}"
        yield Move("lens", f"the lens of {becomes.camera}", "set", said=said)
    said = _settings(one.scene, was, other.scene, becomes)
    if said:
        yield Move("settings", f"{becomes.camera}", "set", said=said)


def _looks_elsewhere(was: Shot, becomes: Shot, before: Mark | None, after: Mark | None) -> bool:
    """Whether a camera that stays is aimed anew; one that follows the vehicle begins the shot where that is."""
    if was.aim != becomes.aim or before is None or after is None:
        return was.aim != becomes.aim
    follows = not isinstance(becomes.aim, tuple) and becomes.aim.vehicle
    return not follows and before.aim != after.aim


def _stands(setup: Position) -> Mark | None:
    """Where the entrance pupil is as the shot begins, and what it is aimed at; mid-pan, what is then in focus."""
    shot = setup.shot
    if shot is None:
        return None
    try:
        pose = camera_at(setup.scene, shot, float(shot.start))
    except ShotFault:
        return None  # check says why
    start, aim = float(shot.start), shot.aim
    if isinstance(aim, tuple) and float(aim[0].time) >= start:  # the first of its keys holds until then
        aim = aim[0].at
    faces = pose.in_focus if isinstance(aim, tuple) else target_point(setup.scene, aim, start)
    return Mark(tuple(pose.position.tolist()), aim=tuple(faces.round(6).tolist()))


def _filmed_on_the_way(setup: Position) -> str:
    """How a camera is moved while it films, and to where; nothing of one that is not."""
    scene, shot = setup.scene, setup.shot
    if shot is None or isinstance(shot.at[0], int | float):
        return ""
    try:
        way = way_of_camera(scene, shot)
    except ShotFault:
        return ""  # check says why
    end = Mark(tuple(way.positions[-1].tolist())).words(scene.tape.bare)
    moved = moved_words(scene, shot, way, scene.tape)
    return f"moved in the shot {moved}, to {end}" if moved else ""


def _set_to(shot: Shot) -> str:
    return f"{_millimetres(shot.focal_length)}, {', '.join(_dials(shot).values())}"


def _settings(here: Scene, was: Shot, there: Scene, becomes: Shot) -> str:
    """What is dialled in anew, focus among it."""
    old, new = _dials(was), _dials(becomes)
    said = [f"{old[key]} to {new[key]}" for key in new if old[key] != new[key]]
    if was.focus != becomes.focus:
        said.append("focus anew")
    return ", ".join(said)


def _dials(shot: Shot) -> Mapping[str, str]:
    capture = shot.capture
    iso = "ISO auto" if capture.iso == "auto" else f"ISO {capture.iso}"
    return {
        "stop": f"f/{shot.f_number:.3g}",
        "rate": f"{float(capture.rate):.5g} fps",
        "shutter": f"1/{1 / capture.exposure_time:.4g} s",
        "iso": iso,
        "white": f"{capture.white_balance:.0f} K",
    }


def _millimetres(length: float) -> str:
    return f"{length * 1000:.3g} mm"


def _differing(one: Any, other: Any, scene: Scene, leave: Collection[str] = ()) -> str:
    """What of a part is otherwise, with its values as the scene's maker has them; nothing of what is gone."""
    return ", ".join(said_otherwise(one, other, scene.tape, leave)) if other is not None else ""
