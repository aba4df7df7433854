"""What lights the set as things: lamp housings, stands and arms, bounce cards and flags, where they are.

No light is shaded by a lamp's own body, and bodies and stands throw no shadow: makers keep them out of the light. What
is meant to shade is a flag, and that stands on the set as pieces do.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout.backdrop import backdrop_plane
from previz.layout.emitters import AreaEmitter, emitters_of, fixture_of, unit
from previz.layout.ground import ground_heights
from previz.layout.remembered import remembered
from previz.layout.sizes import BOARD, card_foot, card_frame
from previz.layout.standing import Solid, pieces_of
from previz.scene import Ambient, BounceCard, Bulb, FlagCard, Panel, Scene, Spot

Array = NDArray[np.float64]
Colour = tuple[float, float, float]

# Sizes of what no kit tells. All common practice, no source. [m]
PANEL_DEPTH, PANEL_RIM = 0.040, 0.012  # of a panel's housing: behind its lit face, and round it
FRAME_DEPTH, FRAME_RIM = 0.010, 0.012  # of a diffusion frame
BULB_WIDE, BULB_LEAST, BULB_LONG = 1.6, 0.045, 1.5  # of a spot's housing: over its source, at least, and its length
POLE, LEG, LEG_REACH, LEG_RISE = 0.011, 0.008, 0.35, 0.30  # of a stand on the floor: radii, how far out, how high up
SMALL_POLE, SMALL_FOOT, FOOT_HIGH = 0.005, 0.060, 0.006  # of one on the table: its radius, and its round foot
ABOVE = 1.0  # how far up what hangs from above is drawn
BESIDE = 0.10  # how far beside the table the stand of an arm is
SOCKET, SOCKET_LONG = 0.040, 0.050  # of a bare bulb: its width, and how far it reaches past the glass
SOCKET_SHARE = 0.7  # of a bulb smaller than those of the household: its width, by that of the glass
HEAD = 0.015  # half the side of the clamp that holds a lamp or card

#: What bodies and stands are painted. Reflectances chosen by eye.
HOUSING: Colour = (0.030, 0.030, 0.032)
METAL: Colour = (0.10, 0.10, 0.105)

#: The kinds of pieces that are put up for their light.
LIGHT_CARDS = ("bounce", "flag")

#: A card begins so little above the ground that it stands on its own edge. [m]
ON_ITS_EDGE = 0.003


@dataclass(frozen=True, eq=False)
class Part:
    """A box, or what is round in it: a rod or drum along the third of its axes.

    Parameters
    ----------
    what : str
        "housing", "frame", "stand" or "arm"; "glass" is a ball that sends out its `face` all round.
    centre : (3,) float
        [m]
    half : (3, 3) float
        Rows: from its middle to the middles of three of its faces, the third along the first x the second.
    round : bool
    colour : (3,) float
        Linear reflectance.
    face : (3,) float or None
        RGB [cd/m2] that its third face sends out, of a lamp's lit side.
    rim : float
        How wide the edge of that face is that is dark. [m]
    """

    what: str
    centre: Array
    half: Array
    round: bool
    colour: Colour
    face: Colour | None = None
    rim: float = 0.0

    @property
    def corners(self) -> Array:
        """(8, 3) [m]"""
        signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
        return np.asarray(self.centre + signs @ self.half)


@dataclass(frozen=True, eq=False)
class Gear:
    """A lamp or card with all that holds it.

    Parameters
    ----------
    id : str
        As the scene names it; of a card's copies with their numbers.
    kind : str
        "lamp", "bounce" or "flag".
    entry : int
        Number of its entry in `lights` or `dressing`.
    held : str
        "floor", "table", "arm", "above", "nothing" or, of a card, "edge".
    parts : tuple of Part
        Of a card what holds it; the card itself stands among the pieces.
    """

    id: str
    kind: str
    entry: int
    held: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, eq=False)
class PutUp:
    """A bounce card or flag where it is.

    Parameters
    ----------
    solid : Solid
    spec : BounceCard or FlagCard
    corner : (3,) float
        The middle of the lower edge of its face. [m]
    frame : (3, 3) float
        Rows: right along its face, up along its face, out of it; unit.
    """

    solid: Solid
    spec: BounceCard | FlagCard
    corner: Array
    frame: Array

    @property
    def silver(self) -> bool:
        """Whether it throws light much like a mirror."""
        return isinstance(self.spec, BounceCard) and self.spec.finish == "silver"

    @property
    def turn(self) -> Array:
        """From the piece's own frame to the set's. (3, 3)"""
        return _turn(self.solid)

    @property
    def middle(self) -> Array:
        """Of the board. (3,) [m]"""
        return np.asarray(self.corner + self.frame[1] * self.spec.height / 2 - self.frame[2] * BOARD / 2)

    @property
    def half(self) -> Array:
        """Half its width, height and thickness along its frame. (3, 3) [m]"""
        return np.asarray(self.frame * np.array([[self.spec.width / 2], [self.spec.height / 2], [BOARD / 2]]))

    @property
    def foot(self) -> Array:
        """Corners of its lower edge seen from above, as deep as the board is there. (4, 2) [m]"""
        across, deep = self.frame[0, :2] * self.spec.width / 2, self.frame[2, :2] * BOARD
        near = self.corner[:2]
        return np.array([near - across, near + across, near + across - deep, near - across - deep])

    def faces(self, off: float = 0.0) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
        """Front and back: the middle (3,), so far off the board [m], and half-vectors (2, 3) whose cross points out."""
        across, up, _ = self.half
        away = self.frame[2] * (BOARD / 2 + off)
        return (self.middle + away, np.stack([across, up])), (self.middle - away, np.stack([-across, up]))


def _turn(solid: Solid) -> Array:
    c, s = np.cos(solid.turn), np.sin(solid.turn)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


@remembered
def light_cards(scene: Scene) -> tuple[PutUp, ...]:
    """Every copy of every bounce card and flag."""
    found = []
    for solid in pieces_of(scene):
        spec = scene.dressing[solid.entry]
        if isinstance(spec, BounceCard | FlagCard):
            turn = _turn(solid)
            corner = turn @ card_foot(spec) + np.array(solid.at)
            found.append(PutUp(solid, spec, corner, card_frame(spec) @ turn.T))
    return tuple(found)


def holds(scene: Scene, solid: Solid) -> str:
    """What a card is held by: as its scene says, else its own edge on the table, else as a lamp there would be."""
    spec: Any = scene.dressing[solid.entry]
    if spec.held is not None:
        return str(spec.held)
    if not _over_table(scene, solid.at):
        return "floor"
    low = solid.base - float(ground_heights(scene).height([solid.at[:2]])[0])
    return "edge" if low < ON_ITS_EDGE else "above"


def _over_table(scene: Scene, at: Any) -> bool:
    return bool(0 <= at[0] <= scene.set.table.width and 0 <= at[1] <= scene.set.table.depth)


@remembered
def gear_of(scene: Scene) -> tuple[Gear, ...]:
    """Every lamp and card, with what holds it."""
    found = []
    for number, (light, emitter) in enumerate(zip(scene.lights, emitters_of(scene), strict=False)):
        if isinstance(light, Ambient):
            continue
        bodies, neck = ([], np.array(light.at)) if isinstance(light, Bulb) else _lamp(light, emitter)
        held = light.held or ("nothing" if light.fixed else "above" if _over_table(scene, neck) else "floor")
        if isinstance(light, Bulb):
            bodies, neck = _bulb(light, emitter, held)
        found.append(Gear(light.id, "lamp", number, held, (*bodies, *_holder(scene, neck, held))))
    for card in light_cards(scene):
        held = holds(scene, card.solid)
        # It is gripped by its edge: the upper one of an arm, the lower one of a stand.
        edge = 1 if held in ("arm", "above") else -1
        neck = card.middle + edge * card.half[1] - card.frame[2] * (BOARD / 2 + HEAD)
        parts = tuple(_holder(scene, neck, held)) if held != "edge" else ()
        found.append(Gear(card.solid.name, card.solid.kind, card.solid.entry, held, parts))
    return tuple(found)


# --- lamps ---


def _lamp(light: Panel | Spot, emitter: Any) -> tuple[list[Part], Array]:
    """A lamp's housing and what is in front of it, and where it is held."""
    at, axis = np.array(light.at), unit(np.subtract(light.aim, light.at))
    if isinstance(light, Panel):
        assert isinstance(emitter, AreaEmitter)  # emitters come in the lamps' order
        body = _sheet("housing", emitter, PANEL_RIM, PANEL_DEPTH)
        return [body], at - axis * (PANEL_DEPTH + HEAD)
    wide = max(BULB_WIDE * light.size, BULB_LEAST)
    across, up = level_axes(axis)
    half = np.stack([across * wide / 2, up * wide / 2, axis * BULB_LONG * wide / 2])
    drum = Part("housing", at - half[2] - axis * 1e-3, half, True, HOUSING, _disc(light), (wide - light.size) / 2)
    parts = [drum]
    if isinstance(emitter, AreaEmitter):
        parts.append(_sheet("frame", emitter, FRAME_RIM, FRAME_DEPTH))
    return parts, at - axis * (BULB_LONG * wide + HEAD)


def _bulb(light: Bulb, emitter: Any, held: str) -> tuple[list[Part], Array]:
    """A bare bulb and its socket: above it where it hangs, else below. A tiny one has none."""
    at, radius = np.array(light.at), light.bulb / 2
    radiance: Any = tuple(float(one) / (np.pi * radius**2) for one in emitter.intensity)
    glass = Part("glass", at, radius * np.eye(3), True, HOUSING, radiance)
    if light.tiny:
        return [glass], at
    way = np.array([0.0, 0.0, 1.0 if held in ("arm", "above") else -1.0])
    small = min(SOCKET_SHARE * light.bulb / SOCKET, 1.0)
    near, far = at + way * 0.9 * radius, at + way * (radius + small * SOCKET_LONG)
    return [glass, _rod("housing", near, far, small * SOCKET / 2)], far


def _sheet(what: str, emitter: AreaEmitter, rim: float, depth: float) -> Part:
    """A housing behind a lit rectangle."""
    axis, (u, v) = np.array(emitter.normal), (np.array(emitter.half_u), np.array(emitter.half_v))
    half = np.stack([u + unit(u) * rim, v + unit(v) * rim, axis * depth / 2])
    return Part(what, np.array(emitter.centre) - axis * (depth / 2 + 1e-3), half, False, HOUSING, emitter.radiance, rim)


def _disc(light: Spot) -> Colour:
    """Of a spot's opening, as seen from where it shines: what leaves it over its area, mean over the beam."""
    spot = fixture_of(light)
    area = np.pi / 4 * light.size**2
    red, green, blue = (float(one) / area for one in spot.intensity)
    return red, green, blue


def level_axes(axis: Array) -> tuple[Array, Array]:
    """Across (level) and up of what faces along a unit axis; across x up is the axis. (3,) each

    Straight up or down, across is x.
    """
    level = np.array([-axis[1], axis[0], 0.0])
    across = unit(level) if np.linalg.norm(level) > 1e-6 else np.array([1.0, 0.0, 0.0])
    return across, np.cross(axis, across)


# --- what holds them ---


def _holder(scene: Scene, neck: Array, held: str) -> Iterator[Part]:
    """What stands under a place, reaches to it from beside the table, or comes down to it."""
    floor = -float(scene.set.table.height)
    if held == "nothing":
        return
    if held == "table":
        foot = float(ground_heights(scene).height(neck[None, :2])[0])
        yield _rod("stand", (*neck[:2], foot), tuple(neck), SMALL_POLE)
        yield _rod("stand", (*neck[:2], foot), (*neck[:2], foot + FOOT_HIGH), SMALL_FOOT)
        return
    if held == "above":
        yield _rod("arm", tuple(neck), (*neck[:2], neck[2] + ABOVE), POLE)
        return
    top = neck
    if held == "arm":
        top = _beside(scene, neck)
        yield _rod("arm", tuple(neck), tuple(top), POLE)
    yield _rod("stand", (*top[:2], floor), tuple(top), POLE)
    for turn in np.arange(3) * 2 * np.pi / 3 + np.pi / 2:
        out = np.array([np.cos(turn), np.sin(turn)]) * LEG_REACH
        yield _rod("stand", (*(top[:2] + out), floor), (*top[:2], floor + LEG_RISE), LEG)


def _beside(scene: Scene, neck: Array) -> Array:
    """Beside the nearest edge of the table that an arm at that height gets to, past the backdrop's top. (3,) [m]"""
    table, plane = scene.set.table, backdrop_plane(scene)
    x, y, z = neck
    ways = {
        "left": (x, (-BESIDE, y)),
        "right": (table.width - x, (table.width + BESIDE, y)),
        "front": (y, (x, -BESIDE)),
        "back": (table.depth - y, (x, table.depth + BESIDE)),
    }
    if plane is not None:
        behind = max(plane.long, plane.distance)
        px, py, _ = plane.placed(plane.across(neck), behind + BESIDE, z)
        ways[plane.side] = (behind - float(plane.off(neck)), (float(px), float(py)))
        if z <= plane.height:
            del ways[plane.side]
    _, (px, py) = min(ways.values(), key=lambda way: way[0])
    return np.array([px, py, z])


def _rod(what: str, start: Any, end: Any, radius: float) -> Part:
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    length = float(np.linalg.norm(b - a))
    way = (b - a) / length if length > 1e-6 else np.array([0.0, 0.0, 1.0])
    across, up = level_axes(way)
    half = np.stack([across * radius, up * radius, way * max(length, 1e-6) / 2])
    return Part(what, (a + b) / 2, half, True, METAL)
