"""Time on set and on screen, and mains flicker."""

import math

import pytest

from previz.physics import flicker, pacing

MPH, FOOT = 0.44704, 0.3048

# --- time and speed at scale ---


def test_quarter_scale_wants_48_frames_a_second() -> None:
    # VES Handbook of Visual Effects app. A, "Miniatures": seen
    assert pacing.rate_for_gravity(4, 24) == 48


def test_sixteenth_scale_wants_96_frames_a_second() -> None:
    # modelshipsinthecinema.com, lighting page: seen. Froude time 1:4 at 1:16, University of Florida hydraulic model
    # thesis, eq. 3.8: seen
    assert pacing.rate_for_gravity(16, 24) == 96
    assert pacing.gravity_slowdown(16) == 4


def test_the_handbooks_car_drives_22_feet_a_second() -> None:
    # VES Handbook of Visual Effects, same appendix, 36 mph at 1:6: 8.8 ft/s by geometry, 22.0 with the rounded factor
    # 2.5: seen. 21.556 with the exact root, by hand.
    full_size = 36 * MPH
    assert pacing.set_speed(full_size, 6, 1) / FOOT == pytest.approx(8.8, rel=1e-6)
    assert pacing.set_speed(full_size, 6, 2.5) / FOOT == pytest.approx(22.0, rel=1e-6)
    assert pacing.set_speed(full_size, 6, pacing.gravity_slowdown(6)) / FOOT == pytest.approx(21.556, abs=1e-3)


@pytest.mark.parametrize(
    "scale,times",
    [
        (12, 3.4641),
        (18, 4.2426),
        (24, 4.8990),
        (32, 5.6569),
        (43, 6.5574),
        (64, 8.0),
        (87, 9.3274),
        (160, 12.6491),
        (220, 14.8324),
    ],
)
def test_slowdown_of_common_scales(scale: float, times: float) -> None:
    # Square roots, by hand. Transactions of SMPE 18 (1924) p. 122, sizes appear as the square of time: seen
    assert pacing.gravity_slowdown(scale) == pytest.approx(times, abs=5e-5)
    assert times**2 == pytest.approx(scale, rel=1e-4)


def test_a_model_falls_too_fast_on_screen_unless_slowed() -> None:
    # Common practice, no source: a fall of 3 m takes 0.782 s; at 1:50 the model's 60 mm take 0.111 s.
    def fall(height: float) -> float:
        return math.sqrt(2 * height / 9.80665)

    assert fall(3.0 / 50) < fall(3.0) / 7
    assert fall(3.0 / 50) * pacing.gravity_slowdown(50) == pytest.approx(fall(3.0), rel=1e-12)


def test_apparent_speed_undoes_set_speed() -> None:
    assert pacing.apparent_speed(pacing.set_speed(12.0, 43, 5), 43, 5) == pytest.approx(12.0, rel=1e-12)


# --- blur, panning, wheels ---


def test_exposure_time_of_180_degrees() -> None:
    # 180 deg at 24 fps is 1/48 s: angle / (360 fps), as in a cinematography text at tumgag.com, seen
    assert pacing.exposure_time(math.pi, 24) * 1000 == pytest.approx(20.833, abs=5e-4)


def test_panning_rule_of_seven_seconds() -> None:
    # Rule of thumb: common practice, no source
    assert pacing.crossing_time(1920 / (7 * 24), 1920, 24) == pytest.approx(pacing.PAN_CROSSING, rel=1e-12)


def test_wheels_turn_backwards_and_stand_still() -> None:
    # Sampling: a wheel with n equal spokes repeats every 1/n turn.
    assert pacing.apparent_wheel_turn(0.1, 10) == pytest.approx(0, abs=1e-12)
    assert pacing.apparent_wheel_turn(0.09, 10) < 0 < pacing.apparent_wheel_turn(0.04, 10)
    assert pacing.wheel_turn(0.9, 0.020, 120) * 120 * math.pi * 0.020 == pytest.approx(0.9, rel=1e-12)


def test_the_lean_of_a_rolling_shutter_is_the_shift_over_the_height() -> None:
    lean = pacing.read_out_lean(1080 / 0.010, 0.010, 1080)
    assert math.degrees(lean) == pytest.approx(45, rel=1e-12)


# --- mains flicker ---


def test_lamps_pulse_twice_a_period() -> None:
    # 100 and 120 pulses a second, dial.de on IEEE 1789, davidsatz.com: seen
    assert flicker.PULSES == {50: 100, 60: 120}


def test_safe_shutter_angles_at_25_frames_under_60_hertz() -> None:
    # Cinematography text at tumgag.com: 75, 150, 225, 300 deg: seen
    angles = [360 * 25 * time for time in flicker.steady_shutters(25, 120)]
    assert angles == pytest.approx([75, 150, 225, 300], abs=1e-9)
    assert all(flicker.residual_ripple(time, 120) < 1e-9 for time in flicker.steady_shutters(25, 120))


def test_no_shutter_is_safe_faster_than_the_pulses() -> None:
    # By hand: a frame shorter than one pulse holds no whole pulse, at any shutter
    assert flicker.steady_shutters(121, 120) == ()
    assert flicker.steady_shutters(101, 100) == ()
    assert flicker.steady_shutters(100, 100) == (1 / 100,)
    shutters = [angle / 360 / 240 for angle in range(10, 361, 10)]
    assert all(flicker.ripple_between_frames(240, time, 120) > flicker.EVEN_LIGHT for time in shutters)


def test_left_over_ripple_is_what_a_moving_window_measures() -> None:
    # Against brute force: mean of 1 + cos over a window that starts anywhere.
    numpy = pytest.importorskip("numpy")
    pulses, time = 100, 1 / 70
    starts = numpy.linspace(0, 1 / pulses, 400, endpoint=False)[:, None]
    inside = (numpy.arange(2000)[None, :] + 0.5) / 2000 * time
    means = (1 + numpy.cos(2 * math.pi * pulses * (starts + inside))).mean(axis=1)
    assert (means.max() - means.min()) / 2 == pytest.approx(flicker.residual_ripple(time, pulses), rel=1e-3)
