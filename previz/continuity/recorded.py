"""How two neighbours were recorded and are played: pace, shutter, playback, shape of the picture."""

import math
from fractions import Fraction

from previz.continuity.joins import End, Join
from previz.continuity.rule import Told, apart, nearer_limit, ratio_of, times
from previz.physics import pacing
from previz.predictions import Verdict, worse_with
from previz.scene import Shutter

# Limits. Common practice, no source.
PACE = 1.5  # slowed so many times more, what falls and bounces looks lighter or heavier than before
SHUTTER = 1.5  # so many times as much motion blur for one speed


def different_pace(join: Join) -> Told | None:
    """Slowed more or less than the shot before: what gravity moves changes its weight."""
    one, other = join.before, join.after
    if not (one.drives and other.drives):
        return None
    ratio = ratio_of(other.slowdown, one.slowdown)
    return Told(
        "between.pace",
        "slowdown_ratio",
        ratio,
        nearer_limit(ratio, PACE),
        apart(ratio, PACE),
        f"{other.name} is slowed {other.slowdown:.3g} times and {one.name} {one.slowdown:.3g} times.",
        f"{_alike(one, other)}; else dust, hops and swaying look heavier in one than in the other.",
    )


def _alike(one: End, other: End) -> str:
    """What to record at which rate that its camera has; of both, that neither camera has one, without a stop."""
    for end, beside in ((other, one), (one, other)):
        rate = pacing.rate_among(end.view.camera.rates, beside.slowdown * float(end.event.shot.playback), PACE)
        if rate is not None:
            return f"Record {end.event.shot.id} at {rate:.5g} fps, and set the vehicle's speed anew"
    return "No rate that either camera has slows both alike: film both with one camera and at one rate"


def different_shutter(join: Join) -> Told | None:
    """Exposed for more or less of each frame, where in both something moves."""
    one, other = join.before, join.after
    if not (one.moves and other.moves):
        return None
    ratio = ratio_of(other.shutter_angle, one.shutter_angle)
    degrees = [math.degrees(each.shutter_angle) for each in (other, one)]
    return Told(
        "between.shutter",
        "shutter_ratio",
        ratio,
        nearer_limit(ratio, SHUTTER),
        apart(ratio, SHUTTER),
        f"The shutter is at {degrees[0]:.3g} deg in {other.name} and at {degrees[1]:.3g} deg in {one.name}: motion "
        f"smears {times(ratio)} as far.",
        _as_smeared(one, other, ratio) if apart(ratio, SHUTTER) is not Verdict.FINE else "",
    )


#: Where between the shutter of the shot before and the furthest that still smears like it one is looked for. [-]
_SHARES = (0.0, 0.5, 0.95)


def _as_smeared(one: End, other: End, ratio: float) -> str:
    """A shutter near enough to that before the cut with which the shot stays in order; else what is not, with that."""
    event, called_out = other.event, ""
    for share in _SHARES:
        degrees = f"{math.degrees(one.shutter_angle) * nearer_limit(ratio, SHUTTER) ** share:.3g}"
        shutter = Shutter(angle=f"{degrees} deg")
        capture = event.shot.capture.model_copy(update={"shutter": shutter})
        worse = worse_with(event.scene, event.shot, event.shot.model_copy(update={"capture": capture}))
        if not worse:
            return f"Set the shutter of {event.shot.id} to {degrees} deg."
        called_out = called_out or (
            f"At {degrees} deg {event.shot.id} would not be in order: {worse[0].message} {worse[0].remedy}".rstrip()
        )
    return f"{called_out} Else let the two differ."


def different_playback(join: Join) -> Told:
    """Frames a second on screen: one clip has but one."""
    one, other = (Fraction(each.event.shot.playback) for each in (join.before, join.after))
    return Told(
        "between.playback",
        "playback_rate",
        float(other),
        float(one),
        Verdict.FINE if one == other else Verdict.STOP,
        f"{join.after.name} plays at {float(other):.5g} fps and {join.before.name} at {float(one):.5g} fps.",
        f"Set playback of {join.after.event.shot.id} to {float(one):.5g} fps; one clip has one rate.",
    )


def different_shape(join: Join) -> Told:
    """Width over height of the picture."""
    one, other = (Fraction(*each.view.size) for each in (join.before, join.after))
    same = math.isclose(one, other, rel_tol=0.01)
    return Told(
        "between.shape",
        "picture_shape",
        float(other),
        float(one),
        Verdict.FINE if same else Verdict.STOP,
        f"The picture of {join.after.name} is {float(other):.3g} times as wide as high, that of {join.before.name} "
        f"{float(one):.3g} times.",
        f"Choose a mode of one shape for both (capture.mode of {join.after.event.shot.id}).",
    )
