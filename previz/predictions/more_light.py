"""More light on the sensor with what is there: a wider stop, a lamp moved nearer, its diffusion taken off.

A lamp gives no more than its maker wrote: to ask for a brighter one is no advice.
"""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import illuminance
from previz.predictions.findings import Change, Way
from previz.predictions.metering import metering_place
from previz.predictions.shot_view import ShotView
from previz.scene import Ambient, Scene

Array = NDArray[np.float64]

#: A lamp is not brought nearer to what it lights than this share of its own size, nor than this. Common practice, no
#: source: nearer, its light falls off across the vehicle, and heat and leads come near the set.
_NEAREST_SIZES, _NEAREST = 1.0, 0.25

#: More than is needed, for a tape's rounding. [-]
_SPARE = 1.02


def lacking(times: float) -> str:
    """In words, so many times more light than there is."""
    return (
        f"It takes {math.log2(max(times, 1.0)):.1f} stops more light than these lamps give at this stop and shutter: a "
        "brighter or another lamp, a slower rate, or a lens that opens wider."
    )


def brighter(view: ShotView, lit: dict[str, float], times: float) -> list[Way]:
    """Ways to so many times the light on the sensor, the cheapest first.

    Parameters
    ----------
    lit : dict of str to float
        What each lamp gives where the light is metered. [lx]
    """
    return [*_opened(view, times), *_bared(view, lit, times), *_nearer(view, lit, times)]


def _opened(view: ShotView, times: float) -> list[Way]:
    wanted = view.shot.f_number / math.sqrt(max(times, 1.0))
    stop = max((stop for stop in view.stops if stop <= wanted * (1 + 1e-9)), default=None)
    if stop is None or stop >= view.shot.f_number:
        return []
    written = (Change(f"shots[{view.index}].f_number", f"f/{stop:g}"),)
    return [Way(f"Open up to f/{stop:g}, for less depth of field.", written)]


def _bared(view: ShotView, lit: dict[str, float], times: float) -> list[Way]:
    """Without diffusion on the lamp that gives most of those that have any."""
    total = sum(lit.values())
    for number, light in _brightest_first(view.scene, lit):
        if getattr(light, "diffusion", 0.0) > 0:
            gained = lit[light.id] * (2.0**light.diffusion - 1)
            if total + gained >= total * times:
                return [Way(f"Take the diffusion off {light.id}, for harder light.",
                            (Change(f"lights[{number}].diffusion", None),))]  # fmt: skip
    return []


def _nearer(view: ShotView, lit: dict[str, float], times: float) -> list[Way]:
    """One lamp moved towards what is metered, as far as it takes; not into the picture, nor on top of the set."""
    point, normal = metering_place(view)
    total = sum(lit.values())
    for number, light in _brightest_first(view.scene, lit):
        wanted = lit[light.id] + total * (times * _SPARE - 1)
        at, way = np.array(light.at), point - np.array(light.at)
        far, size = float(np.linalg.norm(way)), max(getattr(light, "panel", (0.0, 0.0)))
        least = max(_NEAREST, _NEAREST_SIZES * size)
        if far <= least:
            continue
        low, high = 0.0, 1 - least / far
        if _light_at(view.scene, number, at + high * way, point, normal) < wanted:
            continue
        for _ in range(18):
            share = (low + high) / 2
            low, high = (low, share) if _light_at(view.scene, number, at + share * way, point, normal) >= wanted else (
                share, high)  # fmt: skip
        place = at + high * way
        if _out_of_the_way(view, place, size):
            written = tuple(f"{value * 1000:.0f} mm" for value in place)
            words = f"Move {light.id} {view.scene.tape(high * far)} nearer, to {view.scene.tape((1 - high) * far)} off."
            return [Way(words, (Change(f"lights[{number}].at", list(written)),))]
    return []


def _brightest_first(scene: Scene, lit: dict[str, float]) -> list[tuple[int, Any]]:
    lamps = [(number, light) for number, light in enumerate(scene.lights) if not isinstance(light, Ambient)]
    return sorted((each for each in lamps if lit.get(each[1].id, 0.0) > 0), key=lambda each: -lit[each[1].id])


def _light_at(scene: Scene, number: int, at: Array, point: Array, normal: Array) -> float:
    """What one lamp gives from another place, still aimed where it was. [lx]"""
    light = scene.lights[number].model_copy(update={"at": tuple(float(value) for value in at)})
    return illuminance(scene.model_copy(update={"lights": (light,), "dressing": ()}), point, normal).get(light.id, 0.0)


def _out_of_the_way(view: ShotView, at: Array, size: float) -> bool:
    """Whether a lamp, its stand left out, hangs outside the picture of every frame and clear of what drives."""
    corners = at + np.array(np.meshgrid(*[[-size / 2, 0.0, size / 2]] * 3)).reshape(3, -1).T
    places, depths = view.project(corners)
    x, y = places[..., 0], places[..., 1]
    seen = (depths > 0) & (x >= 0) & (x <= view.size[0]) & (y >= 0) & (y <= view.size[1])
    table = view.scene.set.table
    over = 0 <= at[0] <= table.width and 0 <= at[1] <= table.depth
    return not seen.any() and (not over or float(at[2]) > size / 2 + _NEAREST)
