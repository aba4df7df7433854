"""What bounce cards give back, as emitters: once known how much falls on a card, it lights the set as a lamp would.

A few rays sent all round find a card now and then; a lamp of its size is found by all. What falls on a card straight
from lamps and from the sky goes on by these emitters, and only that: what other surfaces throw on it goes on as from
any other surface. So no light is counted twice, and no card gives back more than it gets.
"""

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import BEAM_EXPONENT, Ambient, AreaEmitter, BulbEmitter, Emitter, PutUp
from previz.light.direct import direct_light
from previz.light.occluders import Occluders
from previz.light.receivers import Floats, Receivers, floats
from previz.light.samples import Samples
from previz.light.surroundings import ambient_radiance, look_round
from previz.physics.colour import LUMINANCE, RGB

Array = NDArray[np.float64]

#: The emitters lie so far off the board that nothing takes a place on it for one before it. [m]
_OFF = 5e-4

#: Places on a face along each side. Light may differ so many times over from end to end of one of its parts.
_PLACES, _EVEN, _MOST_PARTS = 8, 1.6, 4

#: A silver card is cut into so many parts a side for each lamp, for each part sends its light its own way. Its lobe is
#: that of BEAM_EXPONENT: half as bright 15 degrees off the mirror's way. Typical of crinkled foil, from memory.
_SILVER_PARTS = 4

#: A face that gives less than this share of what the brightest does is left dark.
_FAINT = 1e-3


def gives_back(card: PutUp) -> bool:
    """Whether a card's light goes on by emitters: of bounce cards."""
    return card.solid.kind == "bounce"


def card_emitters(
    cards: Sequence[PutUp], lamps: Sequence[Emitter], occluders: Occluders, samples: Samples
) -> tuple[Emitter, ...]:
    """What bounce cards send out of what these lamps, sky among them, throw on them past what stands in the way.

    White and coloured ones as even Lambertian rectangles, silver ones as lobes about the mirror's way.
    """
    found: list[Emitter] = []
    for card in cards:
        if gives_back(card):
            for middle, half in card.faces(_OFF):
                found += _of_a_face(card, middle, half, lamps, occluders, samples)
    most = max((_luminous(each) for each in found), default=0.0)
    return tuple(each for each in found if _luminous(each) > _FAINT * most)


def flux(emitter: Emitter) -> Floats:
    """Luminous flux of what a card sends out. (3,) RGB [lm]"""
    if isinstance(emitter, AreaEmitter):
        return floats(np.array(emitter.radiance) * math.pi * emitter.area)
    assert isinstance(emitter, BulbEmitter)  # cards send out nothing else
    return floats(np.array(emitter.intensity) * 2 * math.pi / (BEAM_EXPONENT + 1))


def _luminous(emitter: Emitter) -> float:
    return float(flux(emitter) @ floats(LUMINANCE))


def _of_a_face(
    card: PutUp, middle: Array, half: Array, lamps: Sequence[Emitter], occluders: Occluders, samples: Samples
) -> Iterator[Emitter]:
    across, up = half
    out = np.cross(across, up)
    out /= np.linalg.norm(out)
    steps = (np.arange(_PLACES) + 0.5) / _PLACES * 2 - 1
    v, u = (each.ravel() for each in np.meshgrid(steps, steps, indexing="ij"))
    places = Receivers.of(middle + np.outer(u, across) + np.outer(v, up), np.tile(out, (len(u), 1)))
    albedo = np.array(card.spec.colour)
    sky = _sky_on(places, ambient_radiance(lamps), occluders, samples.round)
    straight = [each for each in lamps if not isinstance(each, Ambient)]
    if not card.silver:
        lit: NDArray[Any] = sky + direct_light(places, straight, [occluders], samples)
        yield from _even(middle, half, out, albedo * lit / math.pi)
        return
    yield from _even(middle, half, out, albedo * sky / math.pi)
    for lamp in straight:
        lit = direct_light(places, [lamp], [occluders], samples)
        yield from _mirrored(middle, half, out, albedo * lit, np.array(lamp.centre))


def _sky_on(places: Receivers, radiance: Array, occluders: Occluders, rays: int) -> Floats:
    if not radiance.any():  # most lamps come without a sky
        return np.zeros((len(places), 3), dtype=np.float32)
    return look_round(places, occluders, rays).sky_light(radiance)


def _even(middle: Array, half: Array, out: Array, radiance: NDArray[Any]) -> Iterator[AreaEmitter]:
    """Even rectangles, as many as it takes for the light on each to be alike."""
    grid = radiance.reshape(_PLACES, _PLACES, 3)
    luminous = grid @ LUMINANCE
    if not luminous.any():
        return
    rows, columns = (_parts(luminous.mean(axis=1 - axis)) for axis in (0, 1))
    for place, mean in _cut(middle, half, grid, rows, columns):
        yield AreaEmitter(
            _triple(place), _triple(half[0] / columns), _triple(half[1] / rows), _triple(out), _triple(mean)
        )


def _parts(along: Array) -> int:
    """1, 2 or 4 parts, so that the grid's places share out evenly."""
    apart = math.log(float(along.max()) / max(float(along.min()), 1e-3 * float(along.max())))
    return min(2 ** max(math.ceil(math.log2(max(apart / math.log(_EVEN), 1.0))), 0), _MOST_PARTS)


def _cut(middle: Array, half: Array, grid: Array, rows: int, columns: int) -> Iterator[tuple[Array, Array]]:
    """The middle of each part of a face, and the mean over it."""
    means = grid.reshape(rows, _PLACES // rows, columns, _PLACES // columns, 3).mean(axis=(1, 3))
    for row in range(rows):
        for column in range(columns):
            u, v = (2 * column + 1) / columns - 1, (2 * row + 1) / rows - 1
            yield middle + u * half[0] + v * half[1], means[row, column]


def _mirrored(middle: Array, half: Array, out: Array, exitance: Array, lamp: Array) -> Iterator[BulbEmitter]:
    """Lobes that carry what falls on each part on, the way a mirror would. `exitance` (n, 3) RGB [lm/m2]"""
    area = 4 * float(np.linalg.norm(half[0]) * np.linalg.norm(half[1])) / _SILVER_PARTS**2
    grid = exitance.reshape(_PLACES, _PLACES, 3)
    for place, mean in _cut(middle, half, grid, _SILVER_PARTS, _SILVER_PARTS):
        if not mean.any():
            continue
        way = place - lamp
        way /= np.linalg.norm(way)
        beam = way - 2 * (way @ out) * out
        intensity = mean * area * (BEAM_EXPONENT + 1) / (2 * math.pi)
        yield BulbEmitter(_triple(place), math.sqrt(area / math.pi), _triple(intensity), _triple(beam))


def _triple(values: Array) -> RGB:
    x, y, z = (float(value) for value in values)
    return x, y, z
