"""Scenes as plain data, turned on the floor: the same set, shot and light, its backdrop at another side."""

import copy
from collections.abc import Callable, Sequence
from typing import Any

Point = Sequence[float]


def turned(data: dict[str, Any], side: str) -> dict[str, Any]:
    """A scene whose backdrop stands at the back, written as whoever stands before another side of the table writes it.

    Places are numbers in the file's unit, turns are in degrees. The table turns with it all.
    """
    new = copy.deepcopy(data)
    table = new["set"]["table"]
    width, depth = table["width"], table["depth"]
    moves: dict[str, tuple[float, Callable[[Point], list[float]]]] = {
        "back": (0.0, lambda at: [*at]),
        "left": (90.0, lambda at: [depth - at[1], at[0], *at[2:]]),
        "front": (180.0, lambda at: [width - at[0], depth - at[1], *at[2:]]),
        "right": (-90.0, lambda at: [at[1], width - at[0], *at[2:]]),
    }
    degrees, placed = moves[side]
    origin = placed([0.0, 0.0])

    def way(step: Point) -> list[float]:
        x, y, *up = placed(step)
        return [x - origin[0], y - origin[1], *up]

    if side in ("left", "right"):
        table["width"], table["depth"] = depth, width
    if "backdrop" in new["set"]:
        new["set"]["backdrop"]["side"] = side
    if "road" in new["set"]:
        new["set"]["road"]["centre"] = [placed(point) for point in new["set"]["road"]["centre"]]
    for piece in new.get("dressing", ()):
        piece["at"] = placed(piece["at"])
        piece["turn"] = f"{float(str(piece.get('turn', '0 deg')).removesuffix('deg')) + degrees:g} deg"
        if "step" in piece:
            piece["step"] = way(piece["step"])
    for lamp in new["lights"]:
        lamp |= {key: placed(lamp[key]) for key in ("at", "aim") if key in lamp}
    for shot in new["shots"]:
        shot |= {key: placed(shot[key]) for key in ("at", "aim") if isinstance(shot[key], list)}
    return new
