"""Street furniture: lamp posts, fences, signs, cones, walls and kerbs.

Drawn about full size, in metres, and brought to the table by one factor, so that a rail is a rail's thickness.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from previz.layout import (
    CONE_SPREAD,
    FENCE_DEPTHS,
    LAMP_BACK,
    LAMP_FOOT,
    LAMP_HEAD,
    LAMP_RADIUS,
    SIGN_DEPTH,
    SIGN_HIGH,
    SIGN_WIDE,
    GarlandShape,
)
from previz.mesh import Array, Material, Mesh, merged
from previz.physics.smooth import smoothstep
from previz.scene import PIECE_HEIGHTS
from previz.stage.pieces.foliage import limb
from previz.stage.shapes import outlines, solids
from previz.stage.shapes.finish import (
    DARK,
    GLASS,
    LONGEST_BAR,
    LONGEST_EDGE,
    MATT,
    PAINT,
    RUST,
    SNOW,
    STEEL,
    Colour,
    blended,
    fitted,
    glowing,
    mottle,
    sheet,
    subdivided,
    toned,
    weathered,
)

WHITE: Colour = (0.66, 0.66, 0.64)
LAMP_HEIGHT = PIECE_HEIGHTS["lamp_post"]  # [m] full size


# --- lamp posts ---


def lamp_post(
    height: float, lamp: tuple[float, float, float], lit: bool, colour: Colour, rng: np.random.Generator
) -> tuple[Mesh, ...]:
    """A tapering pole on a base, an arm towards +x and a head with a bowl; the foot stands on the origin.

    Parameters
    ----------
    height : float
        Top of the head. [m]
    lamp : (3,) float
        Where its lamp hangs. [m]
    lit : bool
        Whether there will be a lamp; else the bowl is milky glass.
    """
    size = height / LAMP_HEIGHT
    out, top = lamp[0] / size, LAMP_HEIGHT - 0.135
    parts = [*_lamp_foot(colour), _lamp_pole(out, top, colour), *_lamp_head(out, top, colour)]
    worn = [weathered(part, rng, 1.0, tone=0.07, foot=0.5, rise=0.35, grain=0.9) for part in merged(parts)]
    if not lit:
        bowl = solids.coloured(solids.ball(LAMP_RADIUS, 12), (0.55, 0.54, 0.50), GLASS)
        worn.append(solids.placed(bowl, (out, 0.0, lamp[2] / size)))
    return tuple(subdivided(solids.scaled(mesh, size), LONGEST_BAR) for mesh in merged(worn))


def garland(shape: GarlandShape, lit: bool, colour: Colour, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """A wire that sags, and under it a holder for each bulb; the bulbs themselves where there will be no lamps."""
    along = np.linspace(-shape.length / 2, shape.length / 2, max(8 * (len(shape.bulbs) + 1) // 4, 16))
    wire = solids.tube(np.column_stack([along, np.zeros((len(along), 2))]), shape.wire, 6)
    points = wire.vertices.copy()
    points[:, 2] += shape.height_of(points[:, 0])
    parts = [solids.coloured(replace(wire, vertices=points), colour, MATT)]
    radius = shape.radius
    for x, y, z in shape.bulbs:
        top = float(shape.height_of(np.array(x)))
        holder = solids.cylinder(0.45 * radius, top - z - radius, axis="z", segments=8)
        at = (float(x), float(y), float(z + radius + top) / 2)
        parts.append(solids.placed(solids.coloured(holder, toned(colour, rng), MATT), at))
        if not lit:
            bulb = solids.coloured(solids.ball(radius, 8), toned((0.55, 0.52, 0.45), rng), GLASS)
            parts.append(solids.placed(bulb, (float(x), float(y), float(z))))
    return merged(weathered(part, rng, 1.0, tone=0.07, foot=0.0) for part in merged(parts))


def _lamp_foot(colour: Colour) -> list[Mesh]:
    wide = 2 * LAMP_FOOT
    plate = solids.coloured(solids.extrude(outlines.rectangle(wide, wide), 0.04), (0.20, 0.20, 0.19), MATT)
    sleeve = solids.revolve([(0.135, 0.0), (0.135, 0.75), (0.115, 0.86), (0.09, 0.90)], 8)
    door = solids.coloured(solids.box((0.02, 0.13, 0.42)), (0.7 * colour[0], 0.7 * colour[1], 0.7 * colour[2]), PAINT)
    parts = [solids.placed(plate, (0, 0, 0.02)), solids.coloured(sleeve, colour, PAINT)]
    return [*parts, solids.placed(door, (-0.134, 0, 0.45))]


def _lamp_pole(out: float, top: float, colour: Colour) -> Mesh:
    """Pole and arm in one: straight up, round a bend, and out, rising a little."""
    bend = min(0.9, 0.6 * out)
    turn = np.linspace(0, np.pi / 2 * 0.93, 8)
    arc = np.column_stack([bend * (1 - np.cos(turn)), np.zeros(8), top - 0.02 - bend * (1 - np.sin(turn))])
    straight = np.column_stack([np.zeros(5), np.zeros(5), np.linspace(0.5, top - bend - 0.1, 5)])
    end = np.array([[max(out - 0.28, bend * 1.01), 0.0, top]])
    path = np.vstack([straight, arc, end])
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    return solids.coloured(limb(path, 0.088 - 0.050 * along / along[-1], 8), colour, PAINT)


def _lamp_head(out: float, top: float, colour: Colour) -> list[Mesh]:
    """A flat shell, longer than wide, with a pale reflector and a rim below."""
    stations = [(-LAMP_BACK, 0.045, 0.035), (-0.36, 0.10, 0.07), (-0.10, 0.16, 0.13), (0.12, 0.155, 0.135)]
    stations += [(0.21, 0.11, 0.09), (LAMP_HEAD, 0.05, 0.03)]
    angles = np.linspace(0, np.pi, 9)
    rings = []
    for along, half, high in stations:
        over = np.column_stack([np.full(9, out + along), half * np.cos(angles), top + high * np.sin(angles) ** 0.8])
        under = np.array([[out + along, -0.93 * half, top - 0.025], [out + along, 0.93 * half, top - 0.025]])
        rings.append(np.vstack([over, under]))
    shell = solids.coloured(solids.loft(np.stack(rings), crease=40.0), colour, PAINT)
    turn = np.radians(np.arange(0, 360, 30))
    disc = np.column_stack([0.125 * np.cos(turn), 0.125 * np.sin(turn), np.zeros(12)])
    fan = np.array([(0, k + 1, k) for k in range(1, 11)])
    reflector = solids.coloured(solids.shaped(disc, fan), (0.6, 0.6, 0.58), PAINT)
    rim = solids.revolve([(0.118, -0.018), (0.135, -0.018), (0.135, 0.012), (0.118, 0.012)], 12, closed=True)
    return [
        shell,
        solids.placed(reflector, (out, 0, top - 0.027)),
        solids.placed(solids.coloured(rim, DARK, PAINT), (out, 0, top - 0.028)),
    ]


# --- fences ---


#: How high each style is drawn, before it is brought to its size. [m]
DRAWN = {"rails": 1.2, "pickets": 1.2, "guard_rail": 0.8}


def fence(length: float, height: float, style: str, colour: Colour, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """A fence along x. [m]"""
    size = height / DRAWN[style]
    run = length / size
    posts = np.linspace(-run / 2, run / 2, max(1, round(run / 2.0)) + 1)
    make = {"rails": _rail_fence, "pickets": _picket_fence, "guard_rail": _guard_rail}[style]
    fine = [subdivided(solids.scaled(part, size), LONGEST_BAR) for part in merged(make(run, posts, colour, rng))]
    return fitted(fine, (length, FENCE_DEPTHS[style] * height, height))


def _plank(size: tuple[float, float, float], colour: Colour, rng: np.random.Generator) -> Mesh:
    """Sawn wood: a plain bar with its ends a little out of true and a tone of its own."""
    bar = solids.coloured(solids.slab(size, 0.55), toned(colour, rng, 0.14), MATT)
    return replace(bar, colours=bar.colours * np.exp(rng.normal(0, 0.10, (len(bar.colours), 1))))


def _aged(meshes: list[Mesh], rng: np.random.Generator) -> list[Mesh]:
    return [weathered(mesh, rng, 1.0, tone=0.14, foot=0.45, rise=0.18, moss=0.22, grain=0.5) for mesh in merged(meshes)]


def _post_tops(run: float, posts: Array, thick: float) -> Array:
    """Post middles kept within the run."""
    return np.clip(posts, -run / 2 + thick / 2, run / 2 - thick / 2)


def _rail_fence(run: float, posts: Array, colour: Colour, rng: np.random.Generator) -> list[Mesh]:
    """Square posts with weathered heads and three boards to a bay, none quite level."""
    parts = []
    for x in _post_tops(run, posts, 0.12):
        high = 1.2 if x == posts[0] else rng.uniform(1.16, 1.2)
        post = outlines.rectangle(0.12, 0.11)
        head = 0.03
        rings = [np.column_stack([post, np.full(4, z)]) for z in (0.0, high - head)]
        rings.append(np.column_stack([0.55 * post, np.full(4, high)]))
        body = solids.coloured(solids.loft(np.stack(rings), crease=30.0), toned(colour, rng, 0.12), MATT)
        parts.append(solids.placed(body, (float(x), 0.03, 0), turn=rng.normal(0, 2.0), pitch=rng.normal(0, 0.6)))
    for start, end in pairwise(posts):
        for z in (0.34, 0.67, 1.0):
            board = _plank((end - start - 0.006, 0.035, 0.135), colour, rng)
            bow = board.vertices + np.outer(0.012 * mottle(board.vertices[:, :1], 1.5, rng), [0, 0, 1])
            at = ((start + end) / 2, -0.048, z + rng.normal(0, 0.012))
            parts.append(solids.placed(replace(board, vertices=bow), at, pitch=rng.normal(0, 0.35)))
    return _aged(parts, rng)


def _picket_fence(run: float, posts: Array, colour: Colour, rng: np.random.Generator) -> list[Mesh]:
    """Pointed pickets on two rails, a few of them askew."""
    parts = []
    for x in _post_tops(run, posts, 0.1):
        parts.append(solids.placed(_plank((0.1, 0.1, 1.05), colour, rng), (float(x), 0.06, 0.525)))
    for z in (0.30, 0.86):
        for start, end in pairwise(posts):
            parts.append(solids.placed(_plank((end - start, 0.035, 0.085), colour, rng), ((start + end) / 2, 0.005, z)))
    count = max(2, round(run / 0.165))
    for k, x in enumerate(np.linspace(-run / 2 + 0.048, run / 2 - 0.048, count)):
        high = 1.2 if k == 0 else rng.uniform(1.15, 1.2)
        face = np.array([(-0.047, 0.05), (0.047, 0.05), (0.047, high - 0.085), (0.0, high), (-0.047, high - 0.085)])
        picket = solids.extrude(face, 0.022, axis="y")
        picket = solids.coloured(picket, toned(colour, rng, 0.09), MATT)
        askew = rng.normal(0, 0.5) if rng.uniform() < 0.93 else rng.normal(0, 3.0)
        inner = float(np.clip(x, -run / 2 + 0.12, run / 2 - 0.12)) if abs(askew) > 1 else float(x)
        parts.append(solids.placed(picket, (inner, -0.025, 0), pitch=askew))
    return _aged(parts, rng)


def _guard_rail(run: float, posts: Array, colour: Colour, rng: np.random.Generator) -> list[Mesh]:
    """A pressed beam of two waves on posts, facing −y, in overlapped lengths with bolt heads."""
    wave = [(0.0, 0.0), (0.025, 0.012), (0.075, 0.085), (0.095, 0.085), (0.135, 0.015), (0.175, 0.015)]
    wave += [(0.215, 0.085), (0.235, 0.085), (0.285, 0.012), (0.31, 0.0)]
    profile = np.array([(-out, 0.48 + up) for up, out in wave])
    beam = _pressed_beam(profile)
    parts = []
    for k, (start, end) in enumerate(pairwise(posts)):
        long = min(end + 0.05, run / 2) - start
        drawn = replace(beam, vertices=beam.vertices * [long, 1, 1] + [start, -0.004 * (k % 2), 0])
        parts.append(solids.coloured(drawn, toned(colour, rng, 0.06)))
    head = solids.extrude(outlines.circle(0.02, 6), 0.02, axis="y", back=False)
    bolt = solids.coloured(head, (0.25, 0.25, 0.25), PAINT)
    for x in posts[:-1] + 0.06:
        parts.append(solids.placed(bolt, (float(x), -0.02, 0.63)))
    for x in _post_tops(run, posts, 0.12):
        web = solids.coloured(solids.box((0.012, 0.12, 0.76)), toned(colour, rng, 0.1), PAINT)
        for y in (0.10, 0.22):
            flange = solids.coloured(solids.box((0.10, 0.010, 0.76)), toned(colour, rng, 0.1), PAINT)
            parts.append(solids.placed(flange, (float(x), y, 0.38)))
        parts.append(solids.placed(web, (float(x), 0.16, 0.38)))
        block = solids.coloured(solids.box((0.10, 0.11, 0.20)), toned(colour, rng, 0.1), PAINT)
        parts.append(solids.placed(block, (float(x), 0.045, 0.63)))
    aged = [weathered(part, rng, 1.0, tone=0.08, foot=0.5, rise=0.15, grain=0.7) for part in merged(parts)]
    return [_rust_spots(part, rng) for part in aged]


def _pressed_beam(profile: Array) -> Mesh:
    """The profile (n, 2) of (y, z) drawn out along x from 0 to 1, front and back."""
    count = len(profile)
    front = np.column_stack([np.zeros(count), profile])
    ring = np.vstack([front, front[::-1] + np.array([0, 0.006, 0])])
    sections = [ring[::-1] + np.array([x, 0, 0]) for x in np.linspace(0, 1, 3)]
    # Open at its ends: they lap over each other.
    return replace(solids.loft(np.stack(sections), capped=False, crease=20.0), material=PAINT)


def _rust_spots(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    spots = smoothstep(mottle(mesh.vertices, 0.4, rng), 0.9, 1.6)
    return replace(mesh, colours=blended(mesh.colours, RUST, 0.6 * spots))


# --- signs ---

SIGN_HEIGHT = PIECE_HEIGHTS["sign"]  # [m] full size


def sign(height: float, shape: str, colour: Colour, glow: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """A blank sign with a coloured rim on one post (a board on two), facing −x."""
    wide, high = SIGN_WIDE[shape], SIGN_HIGH[shape]
    middle = SIGN_HEIGHT - high / 2
    outline, inner = _plate(shape)
    face, border = _plate_colours(shape, colour)
    back = solids.coloured(solids.extrude(outline, 0.018, axis="x"), (0.30, 0.31, 0.31), PAINT)
    parts = [solids.placed(back, (-0.052, 0, middle))]
    shown = glowing((1.0, 1.0, 1.0), glow) if glow else PAINT
    parts.append(_facing(outline, border, -0.0625, middle, PAINT))
    parts.append(_facing(inner, face, -0.0640, middle, shown))
    for y in (0.0,) if shape != "board" else (-0.5, 0.5):
        post = solids.revolve([(0.038, z) for z in np.linspace(0.0, SIGN_HEIGHT - 0.04, 4)], 8)
        parts.append(solids.placed(solids.coloured(post, STEEL, PAINT), (0, y, 0)))
        foot = solids.revolve([(0.060, 0.0), (0.060, 0.05), (0.04, 0.07)], 8)
        parts.append(solids.placed(solids.coloured(foot, (0.22, 0.22, 0.21), MATT), (0, y, 0)))
        for z in (middle - 0.27 * high, middle + 0.27 * high):
            clamp = solids.coloured(solids.box((0.092, 0.10, 0.035)), (0.25, 0.25, 0.25), PAINT)
            parts.append(solids.placed(clamp, (0.0, y, z)))
    size = height / SIGN_HEIGHT
    aged = [weathered(part, rng, 1.0, tone=0.05, foot=0.5, rise=0.25, grain=0.5) for part in merged(parts)]
    fine = [subdivided(solids.scaled(part, size)) for part in aged]
    return fitted(merged(fine), (SIGN_DEPTH * size, wide * size, height))


@dataclass(frozen=True)
class SignFace:
    """The front of a sign's plate on the table, as the model has it.

    Parameters
    ----------
    outline, inner : (n, 2) float
        The plate, and what its rim leaves: x to the right seen from the front, y up, the plate's middle at 0. [m]
    border, face : (3,) float
        Colour of the rim, and of what is inside it. Linear reflectance.
    """

    outline: Array
    inner: Array
    border: Colour
    face: Colour


def sign_face(height: float, shape: str, colour: Colour) -> SignFace:
    """Of a sign so high over all. [m]"""
    border_outline, inner = _plate(shape)
    face, border = _plate_colours(shape, colour)
    # As `sign` does: its width is stretched to the shape's, its height from the foot to the plate's top to `height`.
    middle = SIGN_HEIGHT - SIGN_HIGH[shape] / 2
    top = max(middle + float(border_outline[:, 1].max()), SIGN_HEIGHT - 0.04)
    size = height / SIGN_HEIGHT
    stretch = np.array([SIGN_WIDE[shape] * size / np.ptp(border_outline[:, 0]), height / top])
    return SignFace(border_outline * stretch, inner * stretch, border, face)


def _plate(shape: str) -> tuple[Array, Array]:
    """Outline of a plate, and of what its rim leaves, full size. (n, 2) [m]"""
    wide, high = SIGN_WIDE[shape], SIGN_HIGH[shape]
    rim = 0.085 if shape != "board" else 0.045
    return _sign_outline(shape, wide, high), _sign_outline(shape, wide, high, rim)


def _plate_colours(shape: str, colour: Colour) -> tuple[Colour, Colour]:
    """Of its face, and of its rim."""
    return (WHITE, colour) if shape != "board" else (colour, WHITE)


def _sign_outline(shape: str, wide: float, high: float, rim: float = 0.0) -> Array:
    """The plate (n, 2), drawn in by `rim` all round. [m]"""
    if shape == "disc":
        turn = np.radians(np.arange(0, 360, 11.25))
        return (np.array([wide, high]) / 2 - rim) * np.column_stack([np.cos(turn), np.sin(turn)])
    if shape == "triangle":
        corners = np.array([(-wide / 2 - 0.052, -high / 2), (wide / 2 + 0.052, -high / 2), (0.0, high / 2 + 0.065)])
    else:
        corners = outlines.rectangle(wide, high)
    return outlines.rounded(outlines.inset(corners, rim) if rim else corners, max(0.06 - 0.5 * rim, 0.02))


def _facing(outline: Array, colour: Colour, x: float, z: float, material: Material) -> Mesh:
    """A thin filled outline in the yz plane that faces −x."""
    points, faces = outlines.filled(outlines.counter_clockwise(outline), 0.14)
    placed = np.column_stack([np.full(len(points), x), -points[:, 0], points[:, 1] + z])
    plate = solids.shaped(placed, faces)
    if plate.normals[:, 0].mean() > 0:
        plate = replace(plate, faces=plate.faces[:, ::-1].copy(), normals=-plate.normals)
    return solids.coloured(plate, colour, material)


# --- cones ---


def cone(height: float, colour: Colour, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """A traffic cone on a square foot, with two white bands."""
    wide = CONE_SPREAD
    foot = solids.extrude(outlines.rounded(outlines.rectangle(wide, wide), 0.07, 2), 0.045, 0.012)
    rubber = (0.030, 0.030, 0.031)
    parts = [solids.placed(solids.coloured(foot, rubber, MATT), (0, 0, 0.0225))]

    def radius(z: float) -> float:
        return 0.190 - 0.150 * (z - 0.045) / 0.955

    bands = [(0.045, 0.43, colour), (0.43, 0.58, WHITE), (0.58, 0.70, colour), (0.70, 0.83, WHITE), (0.83, 1.0, colour)]
    for low, high, tint in bands:
        proud = 0.003 if tint is WHITE else 0.0
        heights = np.linspace(low, high, 3 if (high - low) * height > 0.5 * LONGEST_EDGE else 2)
        ring = [(radius(z) + proud, z) for z in heights]
        if high == 1.0:
            ring = [*ring[:-1], (radius(0.985), 0.985), (radius(1.0) - 0.012, 1.0)]
        if low == 0.045:
            ring = [(0.215, 0.045), (0.205, 0.06), (radius(0.10), 0.10), *ring[1:]]
        parts.append(solids.coloured(_skirt(np.array(ring), 12), tint, PAINT))
    top = solids.coloured(solids.revolve([(0.026, 0.999), (0.026, 1.0)], 12), DARK, MATT)
    aged = [weathered(part, rng, 1.4, tone=0.07, foot=0.55, rise=0.12, grain=0.25) for part in [*parts, top]]
    scuffed = [
        replace(
            part,
            colours=blended(
                part.colours, (0.06, 0.05, 0.045), 0.5 * smoothstep(mottle(part.vertices, 0.2, rng), 0.8, 1.7)
            ),
        )
        for part in aged
    ]
    return fitted(
        merged(subdivided(solids.scaled(part, height)) for part in scuffed), (wide * height, wide * height, height)
    )


def _skirt(profile: Array, sides: int) -> Mesh:
    """The outside of a solid of revolution alone, without its ends."""
    angles = 2 * np.pi * np.arange(sides) / sides
    rings = np.stack([np.column_stack([r * np.cos(angles), r * np.sin(angles), np.full(sides, z)]) for r, z in profile])
    return solids.loft(rings, capped=False)


# --- walls ---

_KERB = 0.006  # [m] on the table: up to this height a wall is a bar


def wall(
    size: tuple[float, float, float], style: str, colour: Colour, snow: float, scale: float, rng: np.random.Generator
) -> tuple[Mesh, ...]:
    """A wall along x: cast in lengths, laid in brick courses, or of rough stones; all with a coping.

    Parameters
    ----------
    size : (length, thickness, height)
        [m]
    scale : float
        S of 1:S: what size a brick is.
    """
    length, thick, high = (float(part) * scale for part in size)
    cap = min(0.09, 0.25 * high)
    drift = min(0.10, 0.2 * high) * snow
    body = high - cap - drift
    proud = min(0.03, 0.12 * thick, 0.12 * length)
    core = (length - 2 * proud, thick - 2 * proud, body)
    parts = {"plain": _cast_wall, "brick": _brick_wall, "stone": _stone_wall}[style](core, proud, colour, rng)
    parts += _coping(length, thick, cap, body, colour, rng)
    # Cast faces show stains, not joints; metres of wall are cut no finer than a hundredth of it.
    longest = LONGEST_EDGE * (0.55 if style == "plain" else 1.0) if high > _KERB * scale else LONGEST_BAR
    edge = max(longest * scale, max(length, high) / 100)
    fine = [subdivided(part, edge) for part in merged(parts)]
    aged = [
        weathered(part, rng, 1.0, tone=0.10, foot=0.5, rise=0.22, moss=0.28 * (1 - snow), grain=0.9) for part in fine
    ]
    aged = [_run_down(part, body, rng) for part in aged]
    if snow > 0:
        aged.append(snow_bank(length, thick, drift, high - drift, LONGEST_EDGE * scale, rng))
    return fitted((solids.scaled(part, 1 / scale) for part in merged(aged)), size)


def _run_down(mesh: Mesh, top: float, rng: np.random.Generator) -> Mesh:
    """Dark streaks below the coping on upright faces."""
    points = mesh.vertices
    upright = np.abs(mesh.normals[:, 2]) < 0.5
    columns = mottle(points[:, :1], 1.4, rng)
    share = 0.45 * upright * smoothstep(columns, 0.1, 1.5) * np.exp(-np.clip(top - points[:, 2], 0, None) / (0.5 * top))
    return replace(mesh, colours=blended(mesh.colours, (0.05, 0.048, 0.042), share))


def _coping(length: float, thick: float, cap: float, z: float, colour: Colour, rng: np.random.Generator) -> list[Mesh]:
    """Flat stones end to end along the top, chamfered."""
    joints = np.linspace(-length / 2, length / 2, max(1, round(length / 1.0)) + 1)
    red, green, blue = np.clip(1.15 * np.asarray(colour) + 0.02, 0.0, 1.0).tolist()
    edge = 0.22 * min(cap, thick)
    profile = [(-thick / 2, 0), (thick / 2, 0), (thick / 2, cap - edge), (thick / 2 - edge, cap)]
    profile += [(-thick / 2 + edge, cap), (-thick / 2, cap - edge)]
    stones = []
    for start, end in pairwise(joints):
        slab = solids.extrude(np.array(profile), end - start - min(0.008, 0.01 * length), axis="x")
        tinted = solids.coloured(slab, toned((red, green, blue), rng, 0.07), MATT)
        stones.append(solids.placed(tinted, ((start + end) / 2, 0, z - slab.vertices[:, 2].min())))
    return stones


def _cast_wall(core: tuple[float, float, float], proud: float, colour: Colour, rng: np.random.Generator) -> list[Mesh]:
    """Lengths of cast concrete with a shadow gap between."""
    length, thick, high = core
    joints = np.linspace(-length / 2, length / 2, max(1, round(length / 2.4)) + 1)
    parts = []
    for start, end in pairwise(joints):
        bevel = 0.08 * min(thick, high, end - start)
        block = solids.extrude(outlines.rectangle(end - start, thick), high, 0.0)
        if bevel > 0.005:
            block = solids.extrude(outlines.rounded(outlines.rectangle(end - start, thick), min(0.02, bevel), 1), high)
        parts.append(
            solids.placed(solids.coloured(block, toned(colour, rng, 0.06), MATT), ((start + end) / 2, 0, high / 2))
        )
    return parts


def _around(core: tuple[float, float, float]) -> list[tuple[float, float, float, float]]:
    """The four upright faces as (width, x, y, turn): each is drawn facing −y and then turned."""
    length, thick, _ = core
    return [
        (length, 0, -thick / 2, 0.0),
        (length, 0, thick / 2, 180.0),
        (thick, length / 2, 0, 90.0),
        (thick, -length / 2, 0, -90.0),
    ]


def _brick_wall(core: tuple[float, float, float], proud: float, colour: Colour, rng: np.random.Generator) -> list[Mesh]:
    length, _, high = core
    mortar = solids.coloured(solids.box(core), (0.30, 0.28, 0.25), MATT)
    parts = [solids.placed(mortar, (0, 0, high / 2))]
    course, brick = brick_size(high, 2 * length, 0.075)
    for width, x, y, turn in _around(core):
        laid = bricks(width, high, [], course, brick, min(proud, 0.008), colour, rng)
        parts.append(solids.placed(laid, (x, y, 0), turn=turn))
    return parts


def brick_size(high: float, wide: float, course: float, most: int = 1500) -> tuple[float, float]:
    """Course height and brick length [m]: real ones, or larger where that would take more than `most` bricks."""
    count = high * wide / (course * 3 * course)
    course *= max(1.0, (count / most) ** 0.5)
    rows = max(2, round(high / course))
    return high / rows, 3 * high / rows


def bricks(
    width: float,
    high: float,
    openings: list[tuple[float, float, float, float]],
    course: float,
    brick: float,
    proud: float,
    colour: Colour,
    rng: np.random.Generator,
) -> Mesh:
    """Brick faces in stretcher bond on the xz plane facing −y, x from −width/2, z from 0, leaving out `openings`.

    Parameters
    ----------
    openings : list of (x0, x1, z0, z1)
        Where no bricks are laid. [m]
    proud : float
        How far the faces stand in front of the mortar. [m]
    """
    gap = 0.09 * course
    faces = []
    for row in range(round(high / course)):
        low, top = row * course + gap, (row + 1) * course - gap
        cuts = sorted((x0, x1) for x0, x1, z0, z1 in openings if z0 < top - gap and z1 > low + gap)
        edges = [-width / 2, *(x for cut in cuts for x in cut), width / 2]
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            joints = np.arange(-width / 2 + (0.5 * brick if row % 2 else 0.0), width / 2 + brick, brick)
            inner = joints[(joints > start + 0.2 * brick) & (joints < end - 0.2 * brick)]
            stops = np.concatenate([[start], inner, [end]])
            for left, right in zip(stops[:-1] + gap / 2, stops[1:] - gap / 2, strict=True):
                if right - left > gap:
                    faces.append([(left, low), (right, low), (right, top), (left, top)])
    flat = np.array(faces).reshape(-1, 4, 2)  # there may be none, on a wall that is narrower than a joint
    corners = np.stack([flat[..., 0], np.full(flat.shape[:2], -proud), flat[..., 1]], 2)
    laid = sheet(corners, colour)
    # Most bricks are alike, some are burnt dark or pale.
    tone = rng.normal(0, 0.13, len(faces)) + np.where(
        rng.uniform(size=len(faces)) < 0.10, rng.normal(0, 0.45, len(faces)), 0
    )
    hue = np.outer(rng.normal(0, 0.07, len(faces)), [1.0, 0.2, -0.8])
    tint = np.exp(tone[:, None] + hue).repeat(4, axis=0)
    return replace(laid, colours=np.clip(laid.colours * tint, 0, 1))


def _stone_wall(core: tuple[float, float, float], proud: float, colour: Colour, rng: np.random.Generator) -> list[Mesh]:
    """Rough stones in uneven courses, each face swelling out of the joint."""
    length, _, high = core
    joint = (0.55 * colour[0], 0.55 * colour[1], 0.55 * colour[2])
    parts = [solids.placed(solids.coloured(solids.box(core), joint, MATT), (0, 0, high / 2))]
    course = max(0.22, (high * 2 * length / 330 / 1.7) ** 0.5)
    for width, x, y, turn in _around(core):
        parts.append(solids.placed(_rubble(width, high, course, proud, colour, rng), (x, y, 0), turn=turn))
    return parts


def _rubble(width: float, high: float, course: float, proud: float, colour: Colour, rng: np.random.Generator) -> Mesh:
    rows = max(1, round(high / course))
    levels = np.concatenate([[0], np.cumsum(rng.uniform(0.7, 1.3, rows))])
    levels *= high / levels[-1]
    points: list[Array] = []
    faces: list[Array] = []
    tints: list[Array] = []
    ring = np.array([(0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7), (4, 5, 6, 7)])
    cell = np.concatenate([ring[:, :3], ring[:, [0, 2, 3]]])
    for low, top in pairwise(levels):
        count = max(1, round(width / (1.7 * course)))
        stops = np.concatenate([[0], np.cumsum(rng.uniform(0.5, 1.5, count))])
        stops = stops * width / stops[-1] - width / 2
        for left, right in pairwise(stops):
            gap = 0.03 * course
            outer = np.array(
                [(left + gap, low + gap), (right - gap, low + gap), (right - gap, top - gap), (left + gap, top - gap)]
            )
            shake = 0.07 * course * rng.uniform(-1, 1, (4, 2))
            middle = outer.mean(0)
            inner = middle + (outer - middle) * [0.80, 0.72] + shake
            swell = -proud * rng.uniform(0.55, 1.0, 4)
            faces.append(cell + 8 * len(faces))
            points.append(
                np.column_stack(
                    [
                        np.vstack([outer, inner])[:, 0],
                        np.concatenate([np.zeros(4), swell]),
                        np.vstack([outer, inner])[:, 1],
                    ]
                )
            )
            tints.append(np.tile(toned(colour, rng, 0.16), (8, 1)) * np.array([0.7] * 4 + [1.0] * 4)[:, None])
    return _shaped_like(np.concatenate(points), np.concatenate(faces), np.clip(np.concatenate(tints), 0, 1))


def _shaped_like(points: Array, faces: Array, tints: Array) -> Mesh:
    """Shaped, with the colours of the nearest given corner kept (shaping reorders corners)."""
    mesh = solids.shaped(points, faces, crease=60.0)
    keys = {tuple(np.rint(point * 1e7).astype(int)): k for k, point in enumerate(points)}
    found = [keys[tuple(np.rint(point * 1e7).astype(int))] for point in mesh.vertices]
    return replace(mesh, colours=tints[found], material=MATT)


def snow_bank(length: float, thick: float, deep: float, z: float, longest: float, rng: np.random.Generator) -> Mesh:
    """A soft ridge of snow on a ledge: rounded in section, uneven along x, its underside at z. [m]"""
    count = int(np.clip(np.ceil(length / longest), 6, 60)) + 1
    x = np.linspace(-length / 2, length / 2, count)
    ends = np.sqrt(np.clip(1 - np.abs(np.linspace(-1, 1, count)) ** 12, 0.05, 1))
    swell = np.clip(0.80 + 0.14 * mottle(x[:, None], 8 * deep + thick, rng), 0.4, 1.0)
    swell /= swell.max()
    angles = np.linspace(0, np.pi, 7)
    across = 0.98 * thick / 2 * np.sign(np.cos(angles)) * np.abs(np.cos(angles)) ** 0.6
    rise = np.sin(angles) ** 0.6
    rings = np.stack(
        [
            np.column_stack([np.full(7, at), across * (0.93 + 0.07 * high), z + deep * end * high * rise])
            for at, high, end in zip(x, swell, ends, strict=True)
        ]
    )
    return solids.coloured(solids.loft(rings, crease=75.0), SNOW, MATT)
