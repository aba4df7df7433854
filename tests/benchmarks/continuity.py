"""How often each finding between shots fires where cameras stand anywhere: cuts of four shots on random sets.

Run as `python tests/benchmarks/continuity.py [HOW MANY]`. Each cut is drawn from a seed: cameras, rates, stops and
places at random, each fifth shot from beyond the road, balanced for bulbs, with a lamp moved, or with its run from the
other end. So most cuts hold together badly, as they should; a finding that fired always or never would tell nothing.
"""

import json
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

sys.path.append(str(Path(__file__).parents[2]))
from previz.continuity import continuity
from previz.errors import SceneErrors
from previz.predictions import predict
from previz.scene import read_scene
from previz.sequence import running_order
from tests.predictions.random_scenes import _shot, random_scene

SHOTS = 4


def random_cut(seed: int) -> dict[str, Any]:
    """A random set with four shots of its vehicle; the same for the same seed."""
    data, rng = random_scene(seed), np.random.default_rng([seed, 16])
    table, y = data["set"]["table"], data["set"]["road"]["centre"][1][1]
    shots = [
        _shot(rng, number, list(data["cameras"]), table["width"], table["depth"], y, data["vehicle"])
        for number in range(SHOTS)
    ]
    lamps = [each for each in data["lights"] if "ambient" not in each]
    for shot in shots:
        shot["duration"], shot["place"] = "0.2 s", str(rng.choice(["here", "there"]))
        if rng.random() < 0.2:  # from beyond the road
            shot["at"][1] = 2 * y - shot["at"][1]
        if rng.random() < 0.2:
            shot["capture"]["white_balance"] = "3200 K"
        if rng.random() < 0.2:
            shot["run"] = "from the other end"
        if lamps and rng.random() < 0.2:
            shot["moved"] = {lamps[0]["id"]: {"at": [*rng.uniform(0, table["width"], 2).round().tolist(), 700.0]}}
    return data | {"shots": shots}


def main(count: int) -> None:
    """Print of how many cuts each finding was looked for, and in how many it fired."""
    looked, fired, torn, joins = Counter[str](), Counter[str](), Counter[int](), 0
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "cut.yaml"
        for seed in range(count):
            file.write_text(json.dumps(random_cut(seed)))
            try:
                scene = read_scene(file)
            except SceneErrors:
                continue  # a ramp or a lamp that cannot be; not what is asked here
            found = continuity(running_order(scene), predict(scene, remedies=False))
            looked.update(each.id for each in found)
            fired.update(each.id for each in found if each.verdict != "fine")
            torn.update(Counter(each.events for each in found if each.verdict != "fine").values())
            joins += SHOTS - 1
    print(f"{joins // (SHOTS - 1)} of {count} cuts could be read, {joins} joins")
    for name in sorted(looked):
        print(f"{name:18} looked for {looked[name]:5}, fired {fired[name]:5}: {fired[name] / looked[name]:4.0%}")
    print("findings at one pair of shots:", ", ".join(f"{many}: {torn[many]}" for many in sorted(torn)))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
