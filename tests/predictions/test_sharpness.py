"""What counts as sharp: defocus and diffraction together (by cubes: tests/physics/test_optics.py)."""

import math
from pathlib import Path

import numpy as np
import pytest
from broken_scenes import broken, found, looked, predicted, read

from previz.physics import optics
from previz.predictions import Verdict, view_of
from previz.predictions.checks.focus import best_f_number


def test_where_diffraction_alone_blurs_a_point_nothing_is_sharp(tmp_path: Path) -> None:
    """f/256 on a one-inch sensor: 1.7454 * 0.55 um * 256 = 246 um, over thirty pixels; some 10 um count as sharp."""
    shot = [
        ("cameras.small.sensor", [13.2, 8.8]), ("cameras.small.lens", "8.8-36.8 mm"),
        ("cameras.small.smallest", "f/256"), ("shots[0].focal_length", 8.8), ("shots[0].f_number", "f/256"),
    ]  # fmt: skip
    predictions = predicted(broken(*shot), tmp_path)
    figures = predictions.shots[0]
    assert figures.value("diffraction_disc") == pytest.approx(246e-6 * (1 + figures.value("magnification")), rel=0.002)
    finding = found(predictions, "focus.some")
    assert finding.verdict is Verdict.STOP
    assert finding.value == pytest.approx(figures.value("diffraction_disc"), rel=1e-3)  # its middle is in focus
    assert "Open up to f/" in finding.remedy
    assert figures.value("depth_of_field") == 0.0
    assert figures.value("hyperfocal_distance") == math.inf
    for gone in ("near_limit", "far_limit", "first_sharp_frame"):
        with pytest.raises(KeyError):
            figures.value(gone)


def test_what_diffraction_makes_a_little_soft_is_to_watch_and_opens_to_the_sharpest_stop(tmp_path: Path) -> None:
    """16:9 of 5.6 mm is 6.425 mm across: 4.283 um count as sharp. Diffraction, 0.96 um times N and a hundredth more so
    close, is past that from f/4.42 on, and past twice that from f/8.84 on. By hand."""
    small = [("cameras.small.sensor", [5.6, 4.2]), ("cameras.small.smallest", "f/16"), ("shots[0].focus", "vehicle")]
    verdicts, best = {}, set()
    for stop in (4, 5, 8, 9, 16):
        told = looked(broken(*small, ("shots[0].f_number", f"f/{stop}")), tmp_path)
        verdicts[stop] = found(told, "focus.some").verdict
        best.add(told.shots[0].value("best_f_number"))
    assert verdicts == {4: "fine", 5: "watch", 8: "watch", 9: "stop", 16: "stop"}
    (sharpest,) = best
    told = looked(broken(*small, ("shots[0].f_number", f"f/{sharpest:g}")), tmp_path)
    assert {found(told, name).verdict for name in ("focus.some", "focus.diffraction")} == {Verdict.FINE}


@pytest.mark.parametrize("seed", range(2))
def test_nothing_is_told_unsharp_at_the_sharpest_stop_where_any_has_some_of_it_sharp(seed: int, tmp_path: Path) -> None:
    """On random lenses, sensors and places."""
    rng = np.random.default_rng([17, seed])
    focal = float(rng.uniform(4, 30))
    across = focal * float(rng.uniform(0.8, 1.6))
    shot = [
        ("cameras.small.sensor", [across, across * 0.75]), ("cameras.small.lens", f"{focal:.2f} mm"),
        ("cameras.small.widest", "f/2"), ("cameras.small.smallest", "f/32"),
        ("shots[0].focal_length", f"{focal:.2f} mm"), ("shots[0].f_number", "f/8"),
    ]  # fmt: skip
    scene = read(broken(*shot), tmp_path)
    view = view_of(scene, scene.shots[0])

    def some(stop: float) -> bool:
        there = looked(broken(*shot, ("shots[0].f_number", f"f/{stop:g}")), tmp_path)
        return found(there, "focus.some").verdict is Verdict.FINE

    assert some(best_f_number(view)) is any(map(some, view.stops[::5]))


@pytest.mark.parametrize("f_number", [1.6, 2.0, 2.8, 3.0])
def test_at_both_limits_the_two_blurs_together_are_what_counts_as_sharp(f_number: float, tmp_path: Path) -> None:
    """Closure by the other road: the disc at each limit and the diffraction disc, by cubes, are the blur limit."""
    figures = looked(broken(("shots[0].f_number", f"f/{f_number}")), tmp_path).shots[0]
    focus, limit, spread = (figures.value(name) for name in ("focus_distance", "blur_limit", "diffraction_disc"))
    for name in ("near_limit", "far_limit"):
        disc = optics.circle_of_confusion(0.0042, f_number, focus, figures.value(name))
        assert (disc**3 + spread**3) ** (1 / 3) == pytest.approx(limit, rel=1e-9)
    # Focused at the hyperfocal distance, infinity is at the limit; there m is N c / f, a hundredth and less.
    disc = optics.circle_of_confusion(0.0042, f_number, figures.value("hyperfocal_distance"), math.inf)
    assert (disc**3 + spread**3) ** (1 / 3) == pytest.approx(limit, rel=0.01)


def test_a_remedy_for_sharpness_does_what_it_says_on_random_shots(tmp_path: Path) -> None:
    """Whatever stop or focus is proposed, the vehicle is sharp with it; from a seed."""
    rng = np.random.default_rng(99)
    proposed = 0
    for _ in range(9):
        changes = [
            ("shots[0].f_number", f"f/{rng.choice([1.4, 2, 2.8, 4, 5.6, 8, 11])}"),
            ("shots[0].focus", f"{rng.uniform(380, 600):.0f} mm"),
        ]
        finding = found(predicted(broken(*changes), tmp_path), "focus.vehicle")
        if finding.verdict is Verdict.FINE:
            continue
        assert finding.changes, finding.remedy
        proposed += 1
        keys = [*changes, *((change.key, change.value) for change in finding.changes)]
        assert found(predicted(broken(*keys), tmp_path), "focus.vehicle").value == 1.0
    assert proposed > 4
