"""More light on the sensor with what is there: a wider stop, a lamp moved nearer, its diffusion off, a slower shutter.

A lamp gives no more than its maker wrote: to ask for a brighter one is no advice.
"""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import emitters_of
from previz.physics.exposure import shutter_beyond
from previz.predictions.findings import Change, Way
from previz.predictions.places import told_place
from previz.predictions.shot_view import ShotView
from previz.scene import Ambient, Scene

Array = NDArray[np.float64]

#: A lamp is not brought nearer to what it lights than this share of its own size, nor than this. Common practice, no
#: source: nearer, its light falls off across the vehicle, and heat and leads come near the set.
_NEAREST_SIZES, _NEAREST = 1.0, 0.25

#: More than is needed, for a tape's rounding and for light thrown back, which does not grow alike. [-]
_SPARE = 1.03

_HALVINGS = 9  # of a lamp's way: to a few millimetres of it


def lacking(times: float) -> str:
    """In words, so many times more light than there is.

    >>> lacking(2.0)[:29], lacking(1.02)[:23]
    ('It takes 1.0 stops more light', 'It takes a little more ')
    """
    stops = math.log2(max(times, 1.0))
    more = f"{stops:.1f} stops" if stops >= 0.05 else "a little"
    return f"It takes {more} more light than there is: another lamp, a slower rate, or a lens that opens wider."


def brighter(view: ShotView, lit: dict[str, float], times: float) -> list[Way]:
    """Ways to so many times the light on the sensor, the cheapest first.

    Parameters
    ----------
    lit : dict of str to float
        What each lamp gives where the light is metered. [lx]
    """
    return [*_opened(view, times), *_bared(view, lit, times), *nearer(view, lit, times), *_slower(view, times)]


def _slower(view: ShotView, times: float) -> list[Way]:
    """As long a shutter as it takes, of those that cameras have, where a frame is that long."""
    parts = shutter_beyond(view.exposure_time * times, 1 / float(view.shot.capture.rate))
    if times <= 1 or parts is None:
        return []
    return [Way(f"Set the shutter to 1/{parts} s, for more smear.",
                (Change(f"shots[{view.index}].capture.shutter", f"1/{parts} s"),))]  # fmt: skip


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


def nearer(view: ShotView, lit: dict[str, float], times: float) -> list[Way]:
    """One lamp moved towards the vehicle, as far as it takes; not into the picture, nor on top of the set."""
    point = view.light.on_vehicle.points.mean(axis=0).astype(float)
    total = sum(lit.values())
    for number, light in _brightest_first(view.scene, lit):
        if light.fixed:
            continue
        wanted = 1 + total * (times * _SPARE - 1) / lit[light.id]
        at, way = np.array(light.at), point - np.array(light.at)
        far, size = float(np.linalg.norm(way)), max(getattr(light, "panel", (0.0, 0.0)))
        most = 1 - max(_NEAREST, _NEAREST_SIZES * size) / far
        now = _gives(view, number, at)
        if now <= 0 or most <= 0 or _gives(view, number, at + most * way) < wanted * now:
            continue
        low, high = 0.0, most
        for _ in range(_HALVINGS):
            share = (low + high) / 2
            enough = _gives(view, number, at + share * way) >= wanted * now
            low, high = (low, share) if enough else (share, high)
        place = at + high * way
        if _out_of_the_way(view, place, size):
            # As the plan has it: so far from its aim.
            aim = getattr(light, "aim", None)
            left, of = ((1 - high) * far, "it") if aim is None else (float(np.linalg.norm(place - aim)), "its aim")
            tape = view.scene.tape
            there = told_place(view.scene, place)
            words = f"Move {light.id} {tape(high * far)} nearer the vehicle, {there}, {tape(left)} from {of}."
            return [Way(words, (Change(f"lights[{number}].at", view.scene.tape.place(place, at, 0)),))]
    return []


def _brightest_first(scene: Scene, lit: dict[str, float]) -> list[tuple[int, Any]]:
    lamps = [(number, light) for number, light in enumerate(scene.lights) if not isinstance(light, Ambient)]
    return sorted((each for each in lamps if lit.get(each[1].id, 0.0) > 0), key=lambda each: -lit[each[1].id])


def _gives(view: ShotView, number: int, at: Array) -> float:
    """What one lamp gives straight on the vehicle from another place, still aimed where it was. [lx]"""
    light = view.scene.lights[number].model_copy(update={"at": tuple(float(value) for value in at)})
    (emitter,) = emitters_of(view.scene.model_copy(update={"lights": (light,), "dressing": ()}))[:1]
    return view.light.straight(emitter, view.light.on_vehicle)


def _out_of_the_way(view: ShotView, at: Array, size: float) -> bool:
    """Whether a lamp, its stand left out, hangs outside the picture of every frame and clear of what drives."""
    corners = at + np.array(np.meshgrid(*[[-size / 2, 0.0, size / 2]] * 3)).reshape(3, -1).T
    places, depths = view.project(corners)
    x, y = places[..., 0], places[..., 1]
    seen = (depths > 0) & (x >= 0) & (x <= view.size[0]) & (y >= 0) & (y <= view.size[1])
    table = view.scene.set.table
    over = 0 <= at[0] <= table.width and 0 <= at[1] <= table.depth
    return not seen.any() and (not over or float(at[2]) > size / 2 + _NEAREST)
