"""What water mirrors, against published values and a sum by quadrature; and how dark it makes what lies under it."""

import numpy as np
import pytest
from scipy.integrate import quad

from previz.physics.water import WATER, fresnel, mean_mirrored, wetted


def test_water_mirrors_two_hundredths_head_on_and_everything_at_a_grazing_angle() -> None:
    # Normal incidence: ((n - 1) / (n + 1))^2 = 2.0 % for water, Hecht, "Optics", 4.6 (from memory; a sum by hand too).
    assert float(fresnel(1.0)) == pytest.approx((0.333 / 2.333) ** 2, rel=1e-9)
    assert 0.0200 < float(fresnel(1.0)) < 0.0205
    assert float(fresnel(0.0)) == pytest.approx(1.0)


def test_at_brewsters_angle_half_of_what_is_mirrored_is_missing() -> None:
    # tan(angle) = n, 53.1 deg for water: there rays in the plane of incidence are not mirrored at all, and the others
    # by ((n^2 - 1) / (n^2 + 1))^2. Born and Wolf, 1.5.3 (from memory).
    angle = np.arctan(WATER)
    assert np.degrees(angle) == pytest.approx(53.1, abs=0.05)
    assert float(fresnel(np.cos(angle))) == pytest.approx(((WATER**2 - 1) / (WATER**2 + 1)) ** 2 / 2, rel=1e-9)


def test_glass_and_water_at_sixty_degrees() -> None:
    # Unpolarised at 60 deg, by Snell and Fresnel's sines and tangents, which the code does not use.
    for index in (WATER, 1.5):
        inside = np.arcsin(np.sin(np.pi / 3) / index)
        less, more = np.pi / 3 - inside, np.pi / 3 + inside
        expected = ((np.sin(less) / np.sin(more)) ** 2 + (np.tan(less) / np.tan(more)) ** 2) / 2
        assert float(fresnel(0.5, index)) == pytest.approx(expected, rel=1e-9)
    assert float(fresnel(0.5)) == pytest.approx(0.060, abs=0.001)  # 6.0 % in tables of water's albedo, from memory


def test_the_mean_over_a_hemisphere_is_that_of_an_adaptive_sum() -> None:
    expected, _ = quad(lambda cosine: 2 * cosine * float(fresnel(cosine)), 0, 1)
    assert mean_mirrored() == pytest.approx(expected, rel=1e-6)
    # 6.6 % for a calm sea under an even sky: Jerlov, "Marine Optics", 1976 (from memory).
    assert mean_mirrored() == pytest.approx(0.066, abs=0.001)


def test_wet_ground_is_darker_and_white_hardly_is() -> None:
    grey = np.random.default_rng(3).uniform(0.02, 0.98, 50)
    wet = wetted(grey)
    assert (wet < grey).all()
    # Bounce by bounce: what gets in, is sent back, and is thrown down again, until little is left.
    into = 1 - mean_mirrored()
    down = 1 - into / WATER**2
    bounced = sum(into * grey * (down * grey) ** k * (1 - down) for k in range(2000))
    assert wet == pytest.approx(bounced, rel=1e-6)
    # Sand of 0.3 falls to some 0.2 when wet: Lekner and Dorf (1988) have 0.15 to 0.2 for such soils, from memory.
    assert 0.14 < float(wetted(0.3)) < 0.21
