"""Launch: speed off the ramp, how alike the takes are, foot and lip, where it stops, losses from timed runs."""

import math
from dataclasses import replace

import numpy as np

from previz.layout import (
    chassis_of,
    clears_from,
    losses_of,
    measured,
    profile_of,
    travel_of,
    vehicle_path,
    vehicle_size,
)
from previz.physics import pacing, ramp
from previz.physics.losses import Losses
from previz.predictions.findings import Change, Notes, Verdict, above, below
from previz.predictions.release import release_for
from previz.scene import Launch, Scene
from previz.units import percent

# What is assumed of a careful maker until timed runs say otherwise. Common practice, no source.
RELEASE_SCATTER = 0.002  # of the release height, one standard deviation [m]
ROLLING_SCATTER = 0.10  # of the loss from take to take, as a share of it
TOLERANCE = 0.05  # of the speed, within which takes pass for the same
SPREAD_SEED = 20  # the scatter is drawn from this seed, so that one plan gives one answer

# Limits. Common practice, no source.
LIP_FULL_SIZE = 0.025  # a step at full scale over which no hop is seen [m]
FOOT_LOAD = 3.0  # times the weight that a model's axles take without hopping
FOOT_LOSS = 0.005  # of the speed, over which a sharp foot is worth a word
TAKES_WITHIN = 0.8
RUN_SCATTER = 0.05  # of the times, beyond which timed runs contradict each other


def check_launch(scene: Scene) -> Notes:
    """Everything about the ramp; nothing where the vehicle is driven at a given speed."""
    notes = Notes()
    if scene.vehicle is None or scene.vehicle.launch is None:
        return notes
    losses, launch = losses_of(scene), measured(scene)
    speed, profile = travel_of(scene).speed_at_start, profile_of(launch.ramp)
    notes.figure("ramp_height", launch.ramp.height)
    notes.figure("slope", profile.angle)
    notes.figure("exit_speed", speed)
    known = (losses.wheel_share_deviation, losses.rolling_deviation) if losses is not None else (math.nan, math.nan)
    notes.figure("wheel_share", launch.wheel_share, deviation=known[0])
    notes.figure("rolling", launch.rolling, deviation=known[1])
    if losses is None:
        _assumed(launch, notes)
    else:
        _timed(losses, notes)
    _reaches(scene, launch, notes)
    if speed == 0:
        return notes
    _foot_fits(scene, profile, notes)
    notes.figure(
        "height_for_one_percent",
        ramp.height_for_one_percent(profile, launch.wheel_share, launch.rolling, chassis_of(scene)),
    )
    _takes(scene, launch, losses, notes)
    _foot(scene, launch, speed, notes)
    _lip(scene, launch, notes)
    return notes


def _assumed(launch: Launch, notes: Notes) -> None:
    """No runs have been timed: say what the losses rest on."""
    if launch.rolling == 0:
        notes.finding(
            "launch.no_loss",
            "rolling",
            0.0,
            0.001,
            Verdict.STOP,
            "The rolling resistance is zero: nothing rolls without loss, and every speed here is too high.",
            "Time a run, or take 2 % until you have.",
            changes=[Change("vehicle.launch.rolling", "2 %")],
        )
    elif "rolling" not in launch.model_fields_set:
        notes.finding(
            "launch.assumed",
            "rolling",
            launch.rolling,
            launch.rolling,
            Verdict.WATCH,
            "The rolling resistance is an assumption; no published figure for model axles exists.",
            "Time four runs from two heights between marks on the flat and give them as timed_runs.",
        )


def _timed(losses: Losses, notes: Notes) -> None:
    """Whether the timed runs agree, and how well they know the loss."""
    notes.figure("run_scatter", losses.scatter)
    if math.isnan(losses.scatter):
        notes.finding(
            "launch.one_run",
            "rolling_deviation",
            math.nan,
            0.0,
            Verdict.WATCH,
            "There are too few timed runs to say how well they know the loss.",
            "Time three more, from two heights.",
        )
        return
    notes.finding(
        "launch.runs_agree",
        "run_scatter",
        losses.scatter,
        RUN_SCATTER,
        above(losses.scatter, RUN_SCATTER, RUN_SCATTER),
        f"The timed runs scatter by {percent(losses.scatter, 1)} about what fits them best; run {losses.worst + 1} is "
        f"off by {percent(losses.worst_misfit, signed=True)}.",
        f"The runs contradict each other: time run {losses.worst + 1} again, or take it out.",
        changes=[Change(f"vehicle.launch.timed_runs[{losses.worst}]", None)],
    )


def _reaches(scene: Scene, launch: Launch, notes: Notes) -> None:
    """Whether it leaves the ramp at all and gets to the end of its path."""
    speed, length = travel_of(scene).speed_at_start, vehicle_path(scene).length
    rolls = ramp.coasting_distance(speed, launch.wheel_share, launch.rolling)
    notes.figure("coasting_distance", rolls)
    release = release_for(scene)
    slope = math.degrees(profile_of(launch.ramp).angle)
    flattest = math.degrees(math.atan(launch.rolling))
    notes.finding(
        "launch.reach",
        "coasting_distance",
        rolls,
        length,
        below(rolls, length, length),
        f"It rolls {scene.tape(rolls)} from the foot of the ramp; its path is {scene.tape(length)} long."
        if speed > 0
        else f"It does not leave the ramp: the slope is {slope:.1f} deg, and it rolls from {flattest:.1f} deg on.",
        f"{release.words}." if release.changes else f"{release.words}, or use wheels that roll more freely.",
        changes=release.changes,
        otherwise="Use wheels that roll more freely, or a shorter path." if release.changes else "",
    )


def _foot_fits(scene: Scene, profile: ramp.Profile, notes: Notes) -> None:
    if profile.tangent < profile.length:
        return
    most = profile.length / math.tan(profile.angle / 2)
    notes.finding(
        "launch.foot_fits",
        "foot_radius",
        profile.foot_radius,
        most,
        Verdict.STOP,
        f"The bend at the foot is longer than the ramp: {scene.tape(profile.foot_radius)} of radius.",
        f"Keep its radius under {scene.tape(most)}; a third of that leaves a slope to start from.",
        changes=[Change("vehicle.launch.ramp.foot_radius", scene.tape.written(most / 3, 1))],
    )


def takes_spread(scene: Scene) -> ramp.Spread | None:
    """How alike launches are: from the scatter of the timed runs, else from assumed scatter; None where none leaves.

    Of timed runs the spread is normal about the plan, so that the share within the tolerance on either side is that of
    the error function.
    """
    if scene.vehicle is None or scene.vehicle.launch is None or travel_of(scene).speed_at_start == 0:
        return None
    losses, launch = losses_of(scene), measured(scene)
    if losses is not None and losses.scatter > 0:
        speed = travel_of(scene).speed_at_start
        return ramp.Spread(speed, losses.scatter * speed, math.erf(TOLERANCE / losses.scatter / math.sqrt(2)))
    return _assumed_spread(scene, launch, launch.ramp.height)


def _assumed_spread(scene: Scene, launch: Launch, height: float) -> ramp.Spread:
    return ramp.spread_of_takes(
        replace(profile_of(launch.ramp), height=height),
        launch.wheel_share,
        launch.rolling,
        chassis_of(scene),
        release_scatter=RELEASE_SCATTER,
        rolling_scatter=ROLLING_SCATTER,
        tolerance=TOLERANCE,
        rng=np.random.default_rng(SPREAD_SEED),
    )


def _takes(scene: Scene, launch: Launch, losses: Losses | None, notes: Notes) -> None:
    """How alike the takes are, and from where they would be alike enough."""
    spread = takes_spread(scene)
    assert spread is not None  # it leaves the ramp
    notes.figure("speed_deviation", spread.deviation / spread.mean if spread.mean else math.nan)
    notes.figure("takes_within", spread.within)
    if losses is not None and losses.scatter > 0:
        return
    # Not from where it would stop on its way: that, `launch.reach` says.
    lowest = max(float(launch.ramp.height), float(release_for(scene).launch.ramp.height))
    heights = np.linspace(lowest, max(0.8 * launch.ramp.length, lowest), 40)
    possible = [height for height in map(scene.tape.up, heights) if height < launch.ramp.length]
    enough = next(
        (height for height in possible if _assumed_spread(scene, launch, height).within >= TAKES_WITHIN), None
    )
    notes.finding(
        "launch.takes",
        "takes_within",
        spread.within,
        TAKES_WITHIN,
        below(spread.within, TAKES_WITHIN),
        f"With {scene.tape(RELEASE_SCATTER)} of scatter in the release and {percent(ROLLING_SCATTER)} in the loss "
        f"(both assumed), {percent(spread.within)} of takes come within {percent(TOLERANCE)} of the speed.",
        (
            f"Release from {scene.tape(enough)} on the ramp, from behind a peg or a strip and not by hand"
            f"{_faster_on_screen(scene, launch, enough)}."
            if enough
            else "Let go from behind a peg or a strip and not by hand, and make the ramp longer and higher."
        ),
        changes=[Change("vehicle.launch.ramp.height", scene.tape.written(enough))] if enough else [],
    )


def _faster_on_screen(scene: Scene, launch: Launch, height: float) -> str:
    """What a release from higher does to the speed on screen, and how to keep that where all cameras can."""
    profile, losses = profile_of(launch.ramp), (launch.wheel_share, launch.rolling, chassis_of(scene))
    before, then = (float(ramp.launch_speed(each, *losses)) for each in (profile, replace(profile, height=height)))
    if then <= before * 1.005:
        return ""
    rates = [
        pacing.rate_among(scene.cameras[shot.camera].rates, float(shot.capture.rate) * then / before)
        for shot in scene.shots
    ]
    faster = f"it then drives about {then / before:.2g} times as fast on screen"
    if None in rates:
        return f"; {faster}"
    at = " or ".join(f"{rate:g}" for rate in dict.fromkeys(rates))
    return f"; {faster} (capture at {at} fps to make up for it, which takes more light)"


def _foot(scene: Scene, launch: Launch, speed: float, notes: Notes) -> None:
    profile, chassis = profile_of(launch.ramp), chassis_of(scene)
    angle, radius = float(profile.angle), profile.foot_radius
    straight = ramp.exit_speed(profile.height - profile.lip, profile.length, launch.wheel_share, launch.rolling)
    lost = 1 - speed / float(straight)
    # As fast as it comes to the foot, whatever the foot then takes.
    arrives = float(ramp.edge_speed(profile, launch.wheel_share, launch.rolling, chassis))
    needed, why = arrives**2 / (ramp.GRAVITY * (FOOT_LOAD - 1)), "the load would make it hop"
    # In a sharp foot the floor meets it with the part of its speed that points down, and throws it up no higher than
    # that would: a hop that no lip would count for.
    hop = (arrives * math.sin(angle)) ** 2 / (2 * ramp.GRAVITY)
    if hop * scene.vehicle_scale <= LIP_FULL_SIZE:
        needed = 0.0
    body = scene.vehicle.body if scene.vehicle is not None else None
    if body is not None:
        scrape = clears_from(body, vehicle_size(scene)[0], angle)
        if scrape > needed:
            needed, why = scrape, "its bumper would scrape"
    notes.figure("foot_radius", radius)
    notes.figure("foot_load", ramp.foot_load(arrives, radius if chassis.turns(profile) else 0.0))
    notes.figure("foot_loss", lost)
    wanted = scene.tape.up(needed)
    bends = f"bends with a radius of {scene.tape(radius)}" if radius > 0 else "is a sharp corner"
    if radius > 0 and not chassis.turns(profile):
        bends = f"bends tighter than a wheel, with a radius of {scene.tape(radius)}: a sharp corner"
    takes = "" if lost < FOOT_LOSS else f" It takes {percent(lost, 1)} of the speed, which the figures count."
    notes.finding(
        "launch.foot",
        "foot_radius",
        radius,
        needed,
        below(radius, needed * (1 - 1e-9)),  # what is told and then written is that to the last place but one
        f"The foot of the ramp {bends}; with a radius under {scene.tape(needed)} {why}.{takes}"
        if needed > 0
        else f"The foot of the ramp {bends}, and so flat a slope needs no more.{takes}",
        f"Bend a sheet into the foot with a radius of {scene.tape(wanted)} or more.",
        changes=[Change("vehicle.launch.ramp.foot_radius", scene.tape.written(wanted, 0))],
    )


def _lip(scene: Scene, launch: Launch, notes: Notes) -> None:
    """Of a ramp that has one: off a bent foot the vehicle flies level, off a sharp one along the slope."""
    profile, chassis = profile_of(launch.ramp), chassis_of(scene)
    lip, down = profile.lip, 0.0 if chassis.turns(profile) else float(profile.angle)
    if lip == 0:
        return
    hop = ramp.flight(float(ramp.edge_speed(profile, launch.wheel_share, launch.rolling, chassis)), lip, down)
    notes.figure("lip", lip)
    notes.figure("lip_full_size", lip * scene.vehicle_scale)
    notes.figure("flight_time", hop.time)
    notes.figure("landing_distance", hop.distance)
    notes.figure("impact_speed", hop.impact)
    allowed = LIP_FULL_SIZE / scene.vehicle_scale
    notes.finding(
        "launch.lip",
        "lip_full_size",
        lip * scene.vehicle_scale,
        LIP_FULL_SIZE,
        above(lip * scene.vehicle_scale, LIP_FULL_SIZE),
        f"Off the lip it flies {hop.time * 1000:.0f} ms and lands {scene.tape(hop.distance)} on; at full scale the "
        f"step is {scene.tape(lip * scene.vehicle_scale)}.",
        f"Feather the edge to {scene.tape(allowed, 2)} (tape, paper), or start the ramp that much out of the picture.",
        changes=[Change("vehicle.launch.ramp.lip", scene.tape.exact(0.999 * allowed, 3))],
    )
