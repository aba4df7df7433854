"""What bounce cards give back: as much as a formula of heat transfer says, and never more than they get."""

import math

import numpy as np
import pytest

from previz.layout import Ambient, AreaEmitter, SpotEmitter, light_cards
from previz.light import Occluders, Receivers, Samples, card_emitters, direct_light, flux
from previz.scene import FileUnits, Scene

NOTHING = Occluders(np.zeros((0, 3)), np.zeros((0, 3), dtype=int))
FINE = Samples(panel=144, probes=34, spot=40, round=512)
CAMERAS = {"c": {"sensor": "1-inch", "lens": "10 mm", "widest": "f/2", "nearest": "50 mm", "modes": ["1080p60"]}}
SHOT = {
    "id": "s", "camera": "c", "focal_length": "10 mm", "f_number": 4, "at": [500, -300, 100], "aim": [500, 250, 0],
    "focus": [500, 250, 0], "capture": {"rate": "24 fps"},
}  # fmt: skip


def cards_of(*dressing):
    """Cards as a scene has them, on a table of 1 m by 0.5 m."""
    written = {
        "title": "cards", "scale": "1:50", "units": "mm", "set": {"table": {"width": 1000, "depth": 500}},
        "dressing": list(dressing), "lights": [{"id": "room", "ambient": "1 lx"}], "cameras": CAMERAS, "shots": [SHOT],
    }  # fmt: skip
    return light_cards(Scene.model_validate(written, context=FileUnits(0.001, 50.0)))


def factor(a, b, c):
    """From a small element to a parallel rectangle a by b at a distance c, a corner of it straight over the element.

    Howell, A Catalog of Radiation Heat Transfer Configuration Factors, B-4 (from memory).
    """
    x, y = a / c, b / c
    one = x / math.hypot(1, x) * math.atan(y / math.hypot(1, x))
    return (one + y / math.hypot(1, y) * math.atan(x / math.hypot(1, y))) / (2 * math.pi)


def test_a_white_card_gives_back_what_the_form_factor_says():
    """Level, 300 by 200 mm, its face down 250 mm over the element; lit evenly from far below with 1000 lx."""
    card = {"id": "c", "piece": "bounce", "width": 300, "height": 200, "at": [500, 350, 250], "tilt": "-90 deg"}
    lamp = SpotEmitter((0.5, 0.25, -40.0), (0, 0, 1), 0.01, math.radians(30), (1000 * 40.25**2,) * 3)
    given = card_emitters(cards_of(card), [lamp], NOTHING, FINE)
    off = np.array([[0.0, 0.0], [0.08, -0.05], [0.13, 0.09]])  # of the element from the card's middle
    points = np.column_stack([0.5 + off[:, 0], 0.25 + off[:, 1], np.zeros(3)])
    found = direct_light(Receivers.of(points, np.tile([0, 0, 1.0], (3, 1))), given, [NOTHING], FINE)[:, 1]
    for (x, y), lux in zip(np.abs(off), found, strict=True):
        sides = [(0.15 + i * x, 0.10 + j * y) for i in (-1, 1) for j in (-1, 1)]
        expected = 0.85 * 1000 * sum(factor(a, b, 0.2495) for a, b in sides)  # it shines from 0.5 mm off the board
        assert lux == pytest.approx(expected, rel=2e-3)


def random_case(rng):
    card = {
        "id": "c", "piece": "bounce", "width": float(rng.uniform(50, 500)), "height": float(rng.uniform(50, 400)),
        "at": [float(rng.uniform(0, 1000)), float(rng.uniform(0, 500)), float(rng.uniform(0, 300))],
        "turn": f"{rng.uniform(-180, 180)} deg", "tilt": f"{rng.uniform(-90, 90)} deg",
        "finish": str(rng.choice(["matt", "silver"])),
        "colour": "#" + "".join(f"{code:02x}" for code in rng.integers(30, 250, 3).tolist()),
    }  # fmt: skip
    lamps = [Ambient(tuple(rng.uniform(1, 50, 3).tolist()))] if rng.random() < 0.5 else []
    for _ in range(int(rng.integers(1, 4))):
        centre = np.array([0.5, 0.25, 0.2]) + rng.uniform(0.5, 1.5) * unit(rng.normal(size=3))
        axis = unit(np.array([0.5, 0.25, 0.1]) - centre)
        power = tuple(rng.uniform(50, 500, 3).tolist())
        if rng.random() < 0.5:
            lamps.append(SpotEmitter(tuple(centre), tuple(axis), 0.02, math.radians(100), power))
        else:
            across = unit(np.cross(axis, [0.3, 0.5, 0.8]))
            up = np.cross(axis, across)
            lamps.append(AreaEmitter(tuple(centre), tuple(across * 0.1), tuple(up * 0.08), tuple(axis), power))
    return card, lamps


def unit(vector):
    return vector / np.linalg.norm(vector)


def test_no_card_gives_back_more_than_it_gets():
    """Of 40 random cards and sets of lamps: what leaves is what falls on both faces, times their reflectance."""
    silver = 0
    for seed in range(40):
        rng = np.random.default_rng([15, seed])
        written, lamps = random_case(rng)
        (card,) = cards_of(written)
        silver += card.silver
        given = card_emitters([card], lamps, NOTHING, FINE)
        leaves = sum((flux(each) for each in given), np.zeros(3))
        falls = np.zeros(3)
        u, v = np.meshgrid(*2 * [(np.arange(40) + 0.5) / 20 - 1])
        for middle, (across, up) in card.faces(5e-4):
            normal = unit(np.cross(across, up))
            points = middle + np.outer(u.ravel(), across) + np.outer(v.ravel(), up)
            lux = direct_light(
                Receivers.of(points, np.tile(normal, (1600, 1))),
                [each for each in lamps if not isinstance(each, Ambient)], [NOTHING], FINE,
            ).mean(axis=0)  # fmt: skip
            for each in lamps:  # a sheet leant by t sees (1 + cos t) / 2 of an open sky
                if isinstance(each, Ambient):
                    lux = lux + math.pi * (1 + normal[2]) / 2 * np.array(each.radiance)
            falls += lux * 4 * np.linalg.norm(across) * np.linalg.norm(up)
        albedo = np.array(card.spec.colour)
        assert (leaves < falls * 1.0).all(), seed
        assert leaves == pytest.approx(albedo * falls, rel=0.02), seed
    assert 10 < silver < 30


def test_a_silver_card_throws_its_light_where_a_mirror_would():
    """Upright, lit from 45 degrees to its left: light goes off at 45 degrees to its right, hardly back to its left."""
    written = {"id": "c", "piece": "bounce", "width": 100, "height": 100, "at": [500, 300, 200]}
    lamp = SpotEmitter((-0.5, -0.7, 0.25), tuple(unit(np.array([1, 1, 0.0]))), 0.02, math.radians(40), (1000.0,) * 3)
    turn = np.radians([45, -45])
    places = np.array([0.5, 0.3, 0.25]) + np.column_stack([np.sin(turn), -np.cos(turn), 0 * turn])
    facing = np.array([0.5, 0.3, 0.25]) - places
    light = {}
    for finish in ("matt", "silver"):
        given = card_emitters(cards_of({**written, "finish": finish}), [lamp], NOTHING, FINE)
        light[finish] = direct_light(Receivers.of(places, facing), given, [NOTHING], FINE)[:, 0]
    right, left = light["silver"]
    assert light["matt"][0] == pytest.approx(light["matt"][1], rel=1e-3)
    # Its lobe: cos^n with half of it 15 degrees off holds (n + 1) / 2 times what a matt card of the same reflectance
    # sends out at 45 degrees over the cosine there, n = ln 0.5 / ln cos 15 = 19.98.
    assert right / light["matt"][0] == pytest.approx((19.98 + 1) / 2 / math.cos(math.radians(45)), rel=0.05)
    assert left < 0.01 * right


def test_a_flag_gives_nothing_to_the_emitters():
    flag = {"id": "f", "piece": "flag", "width": 300, "height": 200, "at": [500, 250]}
    lamp = SpotEmitter((0.5, -1, 0.2), (0, 1, 0), 0.02, math.radians(60), (500.0,) * 3)
    assert card_emitters(cards_of(flag), [lamp], NOTHING, FINE) == ()
