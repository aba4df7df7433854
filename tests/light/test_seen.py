"""What of a thing the camera sees: where it is, by how much of the picture, past what stands before it."""

import json
from pathlib import Path

import numpy as np
import pytest

from previz.layout import CameraPose, camera_at
from previz.light import Occluders, seen_places
from previz.scene import Scene, read_scene

NOTHING = Occluders(np.zeros((0, 3)), np.zeros((0, 3), dtype=int))
#: A box 0.2 m wide, 0.1 m deep and 0.1 m high about (0.5, 0.25, 0.05): front, left side, top.
CORNERS = np.array([[x, y, z] for x in (0.4, 0.6) for y in (0.2, 0.3) for z in (0.0, 0.1)])
QUADS = {"front": (0, 4, 5, 1), "back": (6, 2, 3, 7), "left": (2, 0, 1, 3), "right": (4, 6, 7, 5), "top": (1, 5, 7, 3)}
FACES = np.array([face for a, b, c, d in QUADS.values() for face in ((a, b, c), (a, c, d))])


def shot_from(folder: Path, at: list[float], aim: list[float]) -> tuple[Scene, CameraPose]:
    scene = {
        "title": "Seen", "scale": "1:50", "units": "m",
        "set": {"table": {"width": 1, "depth": 0.5}},
        "vehicle": {"body": "van", "path": [[0, 0.45], [1, 0.45]], "speed": "1 m/s"},
        "lights": [{"id": "room", "ambient": "20 lx"}],
        "cameras": {"c": {"sensor": ["20 mm", "10 mm"], "lens": "10 mm", "widest": "f/2", "nearest": "50 mm",
                          "modes": ["800x400 at 60 fps"]}},
        "shots": [{"id": "s", "camera": "c", "focal_length": "10 mm", "f_number": 4, "at": at, "aim": aim,
                   "focus": "400 mm", "capture": {"rate": "60 fps"}, "duration": "0.2 s"}],
    }  # fmt: skip
    path = folder / "seen.yaml"
    path.write_text(json.dumps(scene), encoding="utf-8")
    read = read_scene(path)
    return read, camera_at(read, read.shots[0], 0.0)


def seen(folder: Path, at: list[float], aim: list[float], others: Occluders = NOTHING) -> tuple[dict[str, float], int]:
    """Share of each face of the box, and how many places."""
    scene, camera = shot_from(folder, at, aim)
    triangle, places = seen_places(scene, scene.shots[0], camera, CORNERS, FACES, others, 4000)
    low, high = CORNERS.min(axis=0) - 1e-5, CORNERS.max(axis=0) + 1e-5
    assert ((places >= low) & (places <= high)).all()
    return {name: float(np.mean(triangle // 2 == k)) for k, name in enumerate(QUADS)}, len(places)


def area(points: list[list[float]]) -> float:
    x, y = np.array(points).T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def test_square_on_only_the_front_is_seen(tmp_path: Path) -> None:
    shares, count = seen(tmp_path, [0.5, -0.3, 0.05], [0.5, 0.25, 0.05])
    assert shares["front"] == 1.0 and count == 4000  # the rays go through its part of the picture alone


def test_faces_count_by_their_area_in_the_picture(tmp_path: Path) -> None:
    # From 0.4 m above the top, aimed down by atan(0.35 / 0.7): each face's outline in the picture, by the axes of that
    # aim alone, and Gauss's area of it.
    shares, _ = seen(tmp_path, [0.5, -0.3, 0.5], [0.5, 0.4, 0.15])
    down = np.arctan2(0.35, 0.7)
    right, ahead = np.array([1.0, 0, 0]), np.array([0, np.cos(down), -np.sin(down)])
    local = (CORNERS - [0.5, -0.3, 0.5]) @ np.column_stack([right, np.cross(right, ahead), ahead])
    flat = (local[:, :2] / local[:, 2:]).tolist()
    front, top = (area([flat[k] for k in QUADS[name]]) for name in ("front", "top"))
    assert shares["front"] == pytest.approx(front / (front + top), abs=0.01)
    assert shares["top"] == pytest.approx(top / (front + top), abs=0.01)


CARD = np.array([[0.5, 0.1, -1], [2.0, 0.1, -1], [2.0, 0.1, 1], [0.5, 0.1, 1]])  # before the right half
TWO = np.array([[0, 1, 2], [0, 2, 3]])


def test_what_stands_before_it_does_not_count(tmp_path: Path) -> None:
    scene, camera = shot_from(tmp_path, [0.5, -0.3, 0.05], [0.5, 0.25, 0.05])

    def places(*cards: np.ndarray) -> np.ndarray:
        before = Occluders(np.concatenate(cards), np.concatenate([TWO + 4 * k for k in range(len(cards))]))
        return seen_places(scene, scene.shots[0], camera, CORNERS, FACES, before, 4000)[1]

    half = places(CARD)
    assert len(half) == pytest.approx(2000, rel=0.01)
    assert half[:, 0].max() <= 0.5 + 1e-6
    assert len(places(CARD, CARD - [1.5, 0, 0])) == 4000  # hidden altogether it counts as if it were alone


def test_what_lies_outside_the_picture_does_not_count(tmp_path: Path) -> None:
    # 20 mm of sensor at 10.26 mm: half of the picture is 0.975 over 1. Aimed 45 degrees to the left, it ends 45 -
    # atan(0.975) = 0.7 degrees left of the box's middle line.
    scene, camera = shot_from(tmp_path, [0.5, -0.3, 0.05], [-0.05, 0.25, 0.05])
    _, places = seen_places(scene, scene.shots[0], camera, CORNERS, FACES, NOTHING, 4000)
    assert 0.48 < places[:, 0].max() < 0.5
    # Turned away from it altogether, it counts as if the camera were aimed at it.
    shares, count = seen(tmp_path, [0.5, -0.3, 0.05], [0.5, -1.0, 0.05])
    assert shares["front"] == 1.0 and count > 3000


def test_nothing_is_seen_of_a_thing_without_faces(tmp_path: Path) -> None:
    scene, camera = shot_from(tmp_path, [0.5, -0.3, 0.05], [0.5, 0.25, 0.05])
    empty = seen_places(scene, scene.shots[0], camera, np.zeros((0, 3)), np.zeros((0, 3), dtype=int), NOTHING, 100)
    assert len(empty[0]) == len(empty[1]) == 0
