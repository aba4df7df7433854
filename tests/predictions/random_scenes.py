"""Scenes from a seed, as plain data: tables, roads, pieces, lamps, cameras and shots as a maker might write them down.

Most have several things wrong with them at once, which is the point. Those from `FULLER` on may also have traffic,
parked vehicles, cards, gear that is held, a backdrop at another side of the table, and shots that change the set.
"""

from typing import Any

import numpy as np

from tests.predictions.turned_scenes import turned

#: The first seed whose scene may have more on it than a road, pieces and lamps.
FULLER = 300

#: Sensor, lens, widest, smallest, nearest [mm], modes: of the kinds people own; made-up numbers.
CAMERAS: dict[str, dict[str, Any]] = {
    "phone": {"sensor": "1/1.3-type", "lens": "6.9 mm", "widest": "f/1.8", "smallest": "f/1.8", "nearest": 120,
              "modes": ["1080p120", "4k60"], "iso": [50, 6400]},
    "pocket": {"sensor": "1-inch", "lens": "8.8-36.8 mm", "widest": "f/1.8", "widest_at_longest": "f/2.8",
               "smallest": "f/11", "nearest": 50, "modes": ["1080p120", "4k30"], "iso": [125, 12800]},
    "small": {"sensor": [5.6, 4.2], "lens": "4.2-25 mm", "widest": "f/1.4", "smallest": "f/11", "nearest": 60,
              "modes": [{"mode": "1080p240", "readout": "4 ms"}, {"mode": "4k30", "readout": "25 ms"}]},
    "micro": {"sensor": "4/3-type", "lens": "12-60 mm", "widest": "f/2.8", "widest_at_longest": "f/4",
              "nearest": 200, "modes": ["1080p120", "4k60"], "body": [120, 85, 70], "lens_size": [66, 86]},
    "big": {"sensor": "full frame", "lens": "35-105 mm", "widest": "f/2.8", "nearest": 380,
            "modes": ["1080p60", "4k30"], "iso": [100, 51200], "readout": "16 ms"},
}  # fmt: skip

BODIES = ("lorry", "van", "bus", "saloon", "tractor")
SHORTEST = {"phone": 6.9, "pocket": 8.8, "small": 4.2, "micro": 12, "big": 35}
LONGEST = {"phone": 6.9, "pocket": 36.8, "small": 25, "micro": 60, "big": 105}
STOPS = (1.4, 1.8, 2, 2.8, 4, 5.6, 8, 11, 16)
WIDEST = {"phone": 1.8, "pocket": 2.8, "small": 1.4, "micro": 4, "big": 2.8}
SMALLEST = {"phone": 1.8, "pocket": 11, "small": 11, "micro": 22, "big": 22}
FASTEST = {"phone": 120, "pocket": 120, "small": 240, "micro": 120, "big": 60}


def random_scene(seed: int) -> dict[str, Any]:
    """One scene; the same for the same seed."""
    rng = np.random.default_rng([seed, 12])
    scale = int(rng.choice([24, 32, 43, 50, 64, 76, 87]))
    width, depth = float(rng.integers(700, 2200)), float(rng.integers(350, 1000))
    lane = float(rng.uniform(2.9, 3.7)) * 1000 / scale
    y = depth * float(rng.uniform(0.25, 0.6))
    bend = float(rng.uniform(-0.06, 0.06)) * depth
    cameras = [str(name) for name in rng.choice(list(CAMERAS), size=int(rng.integers(1, 3)), replace=False)]
    data: dict[str, Any] = {
        "title": f"Drawn from seed {seed}",
        "scale": f"1:{scale}",
        "units": "mm",
        "set": {
            "table": {"width": width, "depth": depth},
            "road": {"lane": lane, "lanes": int(rng.choice([1, 2, 2, 2])),
                     "centre": [[-60, y], [width / 2, y + bend], [width + 60, y]]},
        },
        "dressing": [_piece(rng, number, width, depth, scale) for number in range(int(rng.integers(0, 6)))],
        "lights": _lights(rng, width, depth),
        "cameras": {name: CAMERAS[name] for name in cameras},
    }  # fmt: skip
    if rng.random() < 0.8:
        data["set"]["backdrop"] = {
            "distance": depth - float(rng.uniform(0, 25)), "height": float(rng.uniform(200, 900)),
            "join": "straight" if rng.random() < 0.5 else "cove 60", "colour": "#9aa4ad",
        }  # fmt: skip
    vehicle: dict[str, Any] = {"body": str(rng.choice(BODIES)), "path": "road"}
    if rng.random() < 0.3:
        vehicle["launch"] = {
            "ramp": {"height": float(rng.uniform(20, 200)), "length": float(rng.uniform(300, 700)),
                     "foot_radius": float(rng.choice([0, 200, 600])), "lip": float(rng.choice([0, 0.5, 3]))},
            "rolling": f"{rng.uniform(1, 4):.2f} %", "wheel_share": "8 %",
        }  # fmt: skip
    else:
        vehicle["speed"] = f"{rng.choice([0.15, 0.3, 0.5, 0.75, 1.1, 2.0]):g} m/s"
    data["vehicle"] = vehicle
    shots = int(rng.choice([1, 1, 1, 2]))
    data["shots"] = [_shot(rng, number, cameras, width, depth, y, vehicle) for number in range(shots)]
    return fuller(data, seed) if seed >= FULLER else data


def fuller(data: dict[str, Any], seed: int) -> dict[str, Any]:
    """The same with more on it, each by a chance of its own."""
    rng = np.random.default_rng([seed, 300])
    if rng.random() < 0.25:
        data = turned(data, str(rng.choice(["left", "right", "front"])))
    width, depth = data["set"]["table"]["width"], data["set"]["table"]["depth"]
    if rng.random() < 0.4:
        data["vehicles"] = others(rng, data)
    for number in range(int(rng.choice([0, 0, 1, 2]))):
        place = [float(rng.uniform(0, width)), float(rng.uniform(0, depth))]
        parked = {"id": f"parked{number}", "piece": "parked", "body": str(rng.choice(BODIES))}
        data["dressing"].append({**parked, "at": place, "turn": f"{rng.choice([0, 90, 180])} deg"})
    if rng.random() < 0.4:
        data["dressing"].append(_card(rng, width, depth))
    for lamp in data["lights"]:
        if "at" in lamp and rng.random() < 0.5:
            lamp["held"] = str(rng.choice(["floor", "arm", "above", "nothing"]))
    if rng.random() < 0.3:
        data["shots"] = _with_changes(rng, data)
    return data


def others(rng: np.random.Generator, data: dict[str, Any]) -> dict[str, Any]:
    """One to three more vehicles of all sorts, by their names."""
    table, found = data["set"]["table"], {}
    for number in range(int(rng.integers(1, 4))):
        body = str(rng.choice(["saloon", "van", "bus", "lorry", "tractor"]))
        other: dict[str, Any] = {"body": body, "start": f"{rng.uniform(-1, 1):.2f} s"}
        other["reverse"] = bool(rng.integers(2))
        if rng.random() < 0.3:
            other["path"] = rng.uniform((0, 0), (table["width"], table["depth"]), (2, 2)).round(1).tolist()
        if rng.random() < 0.2:
            other["launch"] = {"ramp": {"height": 90, "length": 400, "foot_radius": 200}, "rolling": "2 %"}
        else:
            other["speed"] = f"{rng.choice([0, 0.2, 0.5, 0.9, 1.5]):g} m/s"
        found[f"other{number}"] = other
    return found


def _card(rng: np.random.Generator, width: float, depth: float) -> dict[str, Any]:
    card: dict[str, Any] = {
        "id": "card", "piece": str(rng.choice(["bounce", "flag"])),
        "at": [float(rng.uniform(-0.2, 1.2)) * width, float(rng.uniform(-300, 0.6 * depth)),
               float(rng.uniform(0, 300))],
        "width": float(rng.uniform(100, 400)), "height": float(rng.uniform(100, 300)),
        "turn": f"{rng.uniform(0, 360):.0f} deg", "tilt": f"{rng.uniform(-40, 40):.0f} deg",
    }  # fmt: skip
    if rng.random() < 0.5:
        card["held"] = str(rng.choice(["floor", "arm", "above", "nothing"]))
    return card


def _with_changes(rng: np.random.Generator, data: dict[str, Any]) -> list[dict[str, Any]]:
    """The shots and one more, whose set is another than that of the first."""
    first, last = data["shots"][0], data["shots"][-1]
    change: dict[str, Any] = {}
    width, depth = data["set"]["table"]["width"], data["set"]["table"]["depth"]
    pieces = [piece["id"] for piece in data["dressing"]]
    if pieces:
        change["moved"] = {str(rng.choice(pieces)): [float(rng.uniform(0, width)), float(rng.uniform(0, depth))]}
    if "key" in [lamp["id"] for lamp in data["lights"]] and rng.random() < 0.5:
        change["lights"] = {"key": {"output": f"{10 ** rng.uniform(2, 4.6):.0f} lm"}}
    if not change or rng.random() < 0.3:
        change["vehicle"] = {"body": str(rng.choice(BODIES))}
    return [first, {**last, "id": "changed", **change}]


def _piece(rng: np.random.Generator, number: int, width: float, depth: float, scale: int) -> dict[str, Any]:
    kind = str(rng.choice(["container", "building", "conifer", "broadleaf", "fence", "wall", "sign", "cone"]))
    place = [float(rng.uniform(-20, width + 20)), float(rng.uniform(0, depth + 20))]
    piece: dict[str, Any] = {
        "id": f"{kind}{number}",
        "piece": kind,
        "at": place,
        "turn": f"{rng.integers(-90, 90)} deg",
    }
    if kind in ("fence", "wall"):
        piece["length"] = float(rng.uniform(60, 400))
    if kind in ("container", "sign", "cone", "conifer") and rng.random() < 0.25:
        piece |= {"copies": int(rng.integers(2, 5)), "step": [float(rng.uniform(20, 160)), 0, 0]}
    if kind in ("conifer", "broadleaf") and rng.random() < 0.4:
        piece["height"] = float(rng.uniform(3, 25)) * 1000 / scale
    if kind == "building":
        piece["floors"] = int(rng.integers(1, 4))
    return piece


def _lights(rng: np.random.Generator, width: float, depth: float) -> list[dict[str, Any]]:
    lights: list[dict[str, Any]] = []
    mains = {} if rng.random() < 0.4 else {"mains": bool(rng.random() < 0.5)}
    if rng.random() < 0.9:
        lights.append({"id": "key", "panel": [float(rng.uniform(100, 900)), float(rng.uniform(100, 600))],
                       "at": [float(rng.uniform(-0.3, 1.0)) * width, float(rng.uniform(-900, 0)),
                              float(rng.uniform(300, 1400))],
                       "aim": [width / 2, depth * 0.45, 0], "output": f"{10 ** rng.uniform(2, 4.6):.0f} lm",
                       "diffusion": float(rng.choice([0, 0, 1, 2])), **mains})  # fmt: skip
    if rng.random() < 0.4:
        lights.append({"id": "sun", "spot": f"{rng.integers(20, 50)} deg", "at": [width * 1.2, -300.0, 700.0],
                       "aim": [width / 2, depth * 0.45, 0], "output": f"{10 ** rng.uniform(2, 4):.0f} lm",
                       **mains})  # fmt: skip
    if rng.random() < 0.8 or not lights:
        lights.append({"id": "room", "ambient": f"{10 ** rng.uniform(0, 3.2):.0f} lx", **mains})
    return lights


def _shot(
    rng: np.random.Generator, number: int, cameras: list[str], width: float, depth: float, y: float, vehicle: Any
) -> dict[str, Any]:
    camera = str(rng.choice(cameras))
    stops = [stop for stop in STOPS if WIDEST[camera] <= stop <= SMALLEST[camera]]
    rate = int(rng.choice([each for each in (24, 25, 30, 50, 60, 100, 120, 200) if each <= FASTEST[camera]]))
    focal = SHORTEST[camera] * (LONGEST[camera] / SHORTEST[camera]) ** float(rng.random())
    focal = min(max(round(focal, 2), SHORTEST[camera]), LONGEST[camera])
    far = float(rng.uniform(150, 900)) * (2 if camera == "big" else 1)
    middle = width * float(rng.uniform(0.35, 0.65))
    at = [middle + float(rng.uniform(-200, 200)), y - far, float(rng.uniform(15, 250))]
    if rng.random() < 0.03:
        at = [middle, y, float(rng.uniform(-10, 60))]  # on the road
    focus: Any = str(rng.choice(["vehicle", f"{max(far * rng.uniform(0.7, 1.3), 130):.0f} mm", "vehicle at 0.6 s"]))
    if rng.random() < 0.12:
        focus = [{"time": "0.2 s", "at": f"{max(far * 0.9, 130):.0f} mm"}, {"time": "0.8 s", "at": "vehicle"}]
    speed = float(str(vehicle.get("speed", "0.6 m/s")).split()[0])
    start = max((middle / 1000 - 0.15) / speed, 0.0) * float(rng.uniform(0.7, 1.1))
    capture: dict[str, Any] = {"rate": f"{rate} fps", "shutter": str(rng.choice(["180 deg", "90 deg", "360 deg"]))}
    if rng.random() < 0.3:
        capture["iso"] = int(rng.choice([100, 400, 1600, 6400, 25600]))
    shot: dict[str, Any] = {
        "id": f"shot{number}", "camera": camera, "focal_length": focal, "f_number": float(rng.choice(stops)),
        "at": at, "aim": "vehicle" if rng.random() < 0.3 else [middle, y, float(rng.uniform(10, 60))],
        "focus": focus, "capture": capture, "playback": f"{rng.choice([24, 25, 30])} fps",
        "start": f"{start:.3f} s", "duration": f"{rng.uniform(0.2, 1.2):.2f} s",
    }  # fmt: skip
    if rng.random() < 0.1:
        shot["hand"] = {}
    return shot
