"""A cut of two shots that holds together, as plain data, and the means to break it: a wide shot, then a near one."""

import copy
from pathlib import Path
from typing import Any

from previz.continuity import Between, continuity
from previz.predictions import predict
from previz.sequence import running_order
from tests.predictions.broken_scenes import GOOD, read

# The set on which nothing is out of order, its vehicle in the middle of the table at 2.27 s; short, for speed.
_SHORT = GOOD["shots"][0] | {"start": "2.2 s", "duration": "0.1 s"}
_WIDE = _SHORT | {"id": "wide", "at": [1300, -250, 80], "aim": [1500, 400, 80], "focal_length": 4.2}
_NEAR = _SHORT | {"id": "near", "at": [1800, 10, 60], "aim": [1500, 400, 80], "focal_length": 4.2}
HOLDS: dict[str, Any] = GOOD | {"dressing": [], "shots": [_WIDE, _NEAR]}
HUT = {"id": "hut", "piece": "building", "at": [1900, 720], "floors": 1}


def cut_with(**near: Any) -> dict[str, Any]:
    """The cut with keys of the near shot written anew; `wide` holds such of the wide one, `scene` of the scene."""
    data = copy.deepcopy(HOLDS)
    data["shots"][0] |= near.pop("wide", {})
    data |= near.pop("scene", {})
    data["shots"][1] |= near
    return data


def between(data: dict[str, Any], folder: Path) -> tuple[Between, ...]:
    """Read, predict and look between the shots."""
    scene = read(data, folder)
    return continuity(running_order(scene), predict(scene, remedies=False))


def torn(data: dict[str, Any], folder: Path) -> dict[str, Between]:
    """What is not fine, by its id."""
    return {each.id: each for each in between(data, folder) if each.verdict != "fine"}
