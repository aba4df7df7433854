"""A scene whose every finding is fine, as plain data, and the means to break, mend and read it.

Shots are broken by writing keys as a finding's remedy does (`shots[0].f_number`), so that remedies can be applied here.
"""

import copy
import json
import re
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from typing import Any

from previz.predictions import Change, Finding, Predictions, predict
from previz.scene import Scene, read_scene

# A phone-like sensor at 1:24 close to a wide road: the one corner of table-top film where nothing is out of order.
GOOD: dict[str, Any] = {
    "title": "All in order",
    "scale": "1:24",
    "units": "mm",
    "set": {
        "table": {"width": 3000, "depth": 900},
        "road": {"lane": "3.5 m full size", "centre": [[-200, 400], [3200, 400]]},
        "backdrop": {"distance": 890, "height": 900, "join": "cove 90", "colour": "#9aa4ad"},
    },
    "dressing": [
        {"id": "tree", "piece": "conifer", "at": [1500, 700], "height": 420},
        {"id": "hut", "piece": "building", "at": [1900, 720], "floors": 1},
    ],
    "vehicle": {"body": "lorry", "path": "road", "speed": "0.75 m/s"},
    "lights": [
        {
            "id": "key",
            "panel": [1200, 900],
            "at": [700, -500, 1400],
            "aim": [1500, 400, 0],
            "output": "60 klm",
            "mains": False,
        },
        {"id": "room", "ambient": "900 lx", "mains": False},
    ],
    "cameras": {
        "small": {
            "sensor": [5.6, 4.2],
            "lens": "4.2-25 mm",
            "widest": "f/1.4",
            "smallest": "f/11",
            "nearest": 60,
            "modes": ["1080p240"],
        }
    },
    "shots": [
        {
            "id": "pass",
            "camera": "small",
            "focal_length": 4.2,
            "f_number": "f/2.8",
            "at": [1500, -150, 70],
            "aim": [1500, 400, 80],
            "focus": "vehicle",
            "capture": {"rate": "120 fps", "shutter": "180 deg"},
            "playback": "24 fps",
            "start": "2.05 s",
            "duration": "0.45 s",
        }
    ],
}


def changed(data: dict[str, Any], changes: Iterable[Change]) -> dict[str, Any]:
    """The data with keys written as a scene file would hold them; None takes one out."""
    new = copy.deepcopy(data)
    for change in changes:
        value = copy.deepcopy(change.value)  # a later key may write into it
        steps = [int(name[1:-1]) if name[0] == "[" else name for name in re.findall(r"\[\d+\]|[^.\[\]]+", change.key)]
        place: Any = new
        for step, after in pairwise(steps):
            if isinstance(place, dict):
                place = place.setdefault(step, [] if isinstance(after, int) else {})
            else:
                place = place[step]
        last = steps[-1]
        if value is None:
            del place[last]
        elif isinstance(place, list) and last == len(place):
            place.append(value)
        else:
            place[last] = value
    return new


def broken(*changes: tuple[str, Any]) -> dict[str, Any]:
    """The good scene with some keys written anew."""
    return changed(GOOD, [Change(key, value) for key, value in changes])


def read(data: dict[str, Any], folder: Path) -> Scene:
    """Through the front door, as a file (JSON is YAML too)."""
    file = folder / "scene.yaml"
    file.write_text(json.dumps(data))
    return read_scene(file)


def predicted(data: dict[str, Any], folder: Path) -> Predictions:
    """Read and predict."""
    return predict(read(data, folder))


def looked(data: dict[str, Any], folder: Path) -> Predictions:
    """The same without remedies, which take most of the time."""
    return predict(read(data, folder), remedies=False)


def found(predictions: Predictions, name: str) -> Finding:
    """The finding of that id."""
    return next(finding for finding in predictions.findings if finding.id == name)
