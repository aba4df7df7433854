"""Likely slips of the pen: what may be meant so, and hardly ever is; each asks what was meant."""

import math
from fractions import Fraction

from previz.physics.optics import crop_factor
from previz.physics.pacing import CAMERA_RATES
from previz.predictions.checks.time import slowdown_of
from previz.predictions.findings import Notes, Verdict
from previz.predictions.shot_view import ShotView
from previz.scene import ALIKE, SMALLEST_TABLE, USUAL_TABLE, AimKey, Fence, FocusKey, PlaceKey, Scene, like_a_phone

# Between which nobody stops to wonder, and what is taken for meant. All common practice, no source. [m]
TABLE = (SMALLEST_TABLE, 5.0)  # a side of the table
VEHICLE, USUAL_VEHICLE = (1.0, 30.0), (1.5, 20.0)  # its length, at full size
FENCE, USUAL_FENCE = (0.2, 6.0), (0.6, 3.0)  # its height, at full size

#: Longer lenses no phone has room for: its longest, of some 120 mm equivalent, measure below. Common practice, no
#: source. [m]
_IN_A_PHONE = 0.020

#: No lens focuses only from so far on that is no longer than that over so many; those of a fixed focus have it nearer.
#: Common practice, no source. [m], [-]
_NEAREST, _NEAREST_OVER_LENGTH = 1.2, 25


def check_slips(scene: Scene) -> Notes:
    """Of the set: a table, vehicle and fences of sizes that are none."""
    notes = Notes()
    for name in ("width", "depth"):
        side = float(getattr(scene.set.table, name))
        said = f"The table's {name} is {scene.tape(side)}."
        _size(notes, "slips.table", "table_side", side, TABLE, said, _asks(scene, side, USUAL_TABLE))
    vehicle, scale = scene.vehicle, scene.vehicle_scale
    if vehicle is not None and vehicle.mesh is not None:  # of a body, `sizes` knows the length
        long = scene.vehicle_length
        said = f"The vehicle is {scene.tape(long)} long, {scene.tape.real(long * scale, 3)} at full size."
        asks = _asks(scene, long, USUAL_VEHICLE, scale)
        _size(notes, "slips.vehicle", "vehicle_length", long * scale, VEHICLE, said, asks)
    for piece in scene.dressing:
        # Of a guard rail, `sizes` knows the height.
        if isinstance(piece, Fence) and piece.height is not None and piece.style != "guard_rail":
            scale = scene.scale_of(piece)
            full = scene.tape.real(piece.height * scale, 3)
            said = f"The fence {piece.id} is {scene.tape(piece.height)} high, {full} at full size."
            asks = _asks(scene, piece.height, USUAL_FENCE, scale)
            _size(notes, f"slips.{piece.id}", "piece_height", piece.height * scale, FENCE, said, asks)
    return notes


def check_slips_of_shot(view: ShotView) -> Notes:
    """Of a shot: keys past its end, and a frame rate that its camera is not said to have."""
    notes = Notes(view.shot.id)
    for name in ("at", "aim", "focus"):
        _late_key(view, name, notes)
    _odd_rate(view, notes)
    _lens_by_its_equivalent(view, notes)
    return notes


def _asks(scene: Scene, found: float, usual: tuple[float, float], scale: float | None = None) -> str:
    """Which lengths of a usual size a slip of a unit, or of a nought, turns into the one found [m]; two at most.

    scale: S of 1:S, of what is usual at full size; then what is found may be at full size too.
    """
    low, high = (each / (scale or 1.0) for each in usual)
    slips = [(found / scale, " (that at full size)")] if scale else []
    slips += [(found * factor, "") for factor in (0.1, 10.0, 25.4, 1 / 25.4, 1000.0, 0.001)]
    meant = [f"{scene.tape(each)}{how}" for each, how in slips if low <= each <= high]
    return f"Did you mean {' or '.join(meant[:2])}?" if meant else "Look at its unit and at its noughts."


def _size(
    notes: Notes, name: str, quantity: str, value: float, limits: tuple[float, float], said: str, asks: str
) -> None:
    low, high = limits
    if not low <= value <= high:
        notes.finding(name, quantity, value, low if value < low else high, Verdict.WATCH, said, asks)


def _late_key(view: ShotView, name: str, notes: Notes) -> None:
    """The last key of a place, aim or focus, where it is more than a frame past the shot's end."""
    found = getattr(view.shot, name)
    keys = (
        [each for each in found if isinstance(each, PlaceKey | AimKey | FocusKey)] if isinstance(found, tuple) else []
    )
    rate, start = float(view.shot.capture.rate), float(view.shot.start)
    end = start + view.count / rate
    if not keys or keys[-1].time <= end + 1 / rate:
        return
    last, slow = float(keys[-1].time), slowdown_of(view)
    on_set = last / slow
    asks = (
        f"Did you mean {on_set:.3g} s? Times are those on set, not on screen"
        if slow > 1 and start <= on_set <= end
        else f"Did you mean a time before {end:.3f} s on set"
    )
    notes.finding(
        f"slips.{name}",
        "key_time",
        last,
        end,
        Verdict.WATCH,
        f"The last key of {name} is at {last:.3g} s on set; the shot ends at {end:.3f} s on set.",
        f"{asks}{'.' if '?' in asks else '?'} Else nothing is wrong, and it gets part of the way.",
    )


def _odd_rate(view: ShotView, notes: Notes) -> None:
    """A rate that no mode is named by: one that hardly any camera has, or one that this camera may not have."""
    rate, modes = view.shot.capture.rate, view.camera.modes
    named = view.shot.capture.mode
    rates = [float(view.mode.fastest)] if named is not None and view.camera.only(view.mode) else view.camera.rates
    own = [Fraction(each).limit_denominator(1001) for each in rates]
    known = {each * part for each in own for part in ALIKE}
    if rate in known:
        return
    most = max(mode.fastest for mode in modes)
    alike = [each for each in known if each <= most and (each.denominator == 1) == (rate.denominator == 1)]
    near = min(alike or own, key=lambda each: (abs(math.log(each / rate)), each))
    usual = any(rate == each * part for each in CAMERA_RATES for part in ALIKE)
    camera, listed = view.shot.camera, ", ".join(map(str, modes))
    notes.finding(
        "slips.rate",
        "capture_rate",
        float(rate),
        float(near),
        Verdict.WATCH,
        f"No mode of {camera} is said to record at {float(rate):.5g} fps; it has {listed}."
        if usual
        else f"Hardly any camera records at {float(rate):.5g} fps; {camera} has {listed}.",
        f"Did you mean {float(near):.5g} fps?"
        + (f" If its menu has {float(rate):.5g} fps, add that mode to its modes." if usual else ""),
    )


def _lens_by_its_equivalent(view: ShotView, notes: Notes) -> None:
    """A phone's lens with the length that it is sold by, for full frame, as if it were its own."""
    camera = view.camera
    length, crop = float(camera.lens.shortest), crop_factor(camera.sensor)
    if not like_a_phone(camera.lens, camera.sensor) or length <= _IN_A_PHONE:
        return
    notes.finding(
        "slips.lens",
        "focal_length",
        length,
        _IN_A_PHONE,
        Verdict.WATCH,
        f"The lens of {view.shot.camera}, {length * 1000:.3g} mm, is {length * crop * 1000:.3g} mm equivalent on its "
        "sensor.",
        f"Did you mean lens: {length * 1000:.3g} mm equivalent, which is {length / crop * 1000:.3g} mm?",
    )


def nearest_asked(view: ShotView) -> str:
    """Whether a nearest focus is meant that is too far for the lens: millimetres, where lengths are in centimetres.

    In words, with a space before; "" where it may well be.
    """
    camera, tape = view.camera, view.scene.tape
    nearest, longest = float(camera.nearest), float(camera.lens.longest)
    usual = max(_NEAREST, _NEAREST_OVER_LENGTH * longest)
    if nearest <= usual:
        return ""
    far, meant = " Hardly a lens of that length begins so far off:", nearest / 10
    if not longest < meant <= usual:
        return f"{far} look at its unit and at its noughts (nearest)."
    said, plain = tape(meant), f"{meant * 1000:.3g} mm"
    return f"{far} did you mean nearest: {said}{f', which is {plain}' if plain != said else ''}?"
