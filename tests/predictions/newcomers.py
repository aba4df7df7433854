"""A newcomer's scenes, from a seed: a starting point of `previz new`, changed as someone does who has not measured yet.

Two cameras, and one to four things that are not as they were: the camera, its place, aim, lens, stop or rate, a lamp,
the speed.
"""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from previz.errors import PrevizError
from previz.predictions import Predictions, Verdict, predict
from previz.scene import Scene, read_scene, rewritten
from previz.starters import STARTS, TYPICAL, Wish, camera_text, starting_scene

Slip = Callable[[Scene, np.random.Generator], dict[str, Any]]

#: What drives; the same for the same seed, whatever bodies are added.
BODIES = ["lorry", "van", "bus", "saloon", "tractor"]

#: More findings than a scene has.
MOST_ROUNDS = 30


def newcomers_scene(seed: int, folder: Path) -> Scene:
    """One scene; the same for the same seed."""
    rng = np.random.default_rng([seed, 2026])
    while True:
        path = folder / f"newcomer_{seed}.yaml"
        try:
            path.write_text(starting_scene(_wish(rng)), encoding="utf-8")
        except PrevizError:  # the table is too small for that
            continue
        scene = read_scene(path)
        for slip in rng.permutation(len(SLIPS))[: int(rng.integers(1, 5))].tolist():
            try:
                scene = rewritten(scene, SLIPS[slip](scene, rng))
            except PrevizError:  # that cannot be written of this camera
                continue
        return scene


#: A table in inches, and one in centimetres. [m]
_TABLES = {"in": (48 * 0.0254, 30 * 0.0254), "cm": (1.2, 0.7)}


def lit_by_a_bulb(seed: int, folder: Path) -> Scene:
    """A starting point on a small table, in inches or centimetres, lit by a bare bulb, its backdrop a bit small.

    The first shot is taken from a hand's breadth aside, and a second one written for the other camera, of which one is
    a phone.
    """
    rng = np.random.default_rng([seed, 77])
    names = ["phone", ["pocket", "big"][seed % 2]]
    names = names[::-1] if rng.random() < 0.5 else names
    cameras = {name: (text, camera) for name, text, camera in map(camera_text, names)}
    start, body = str(rng.choice(list(STARTS))), str(rng.choice(BODIES))
    unit, scale = "cm" if seed % 3 == 2 else "in", float([43, 64][int(rng.integers(2))])
    path = folder / f"bulb_{seed}.yaml"
    path.write_text(starting_scene(Wish(start, _TABLES[unit], unit, scale, body, cameras)), encoding="utf-8")
    scene = read_scene(path)
    for _ in scene.lights[1:]:
        scene = rewritten(scene, {"lights[0]": None})
    for changes in (_bulb(scene, rng), _small_backdrop(scene, rng), *_shots(scene, names[1], rng)):
        scene = rewritten(scene, changes)
    return scene


def _bulb(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    table, lumens = scene.set.table, int(rng.choice([450, 800, 1500, 3000]))
    at = _mm(rng.uniform(0.2, 0.8) * table.width, rng.uniform(-0.4, 0.2), rng.uniform(0.3, 0.8))
    bulb: dict[str, Any] = {"id": "bulb", "bulb": "60 mm", "at": at, "output": f"{lumens} lm"}
    fed = rng.random() < 0.4
    if fed:
        bulb["mains"] = True
    named = {"mains": "60 Hz" if scene.units == "in" else "50 Hz"} if fed and rng.random() < 0.7 else {}
    return {"lights[0]": bulb, **named}


def _small_backdrop(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    backdrop = scene.set.backdrop
    if backdrop is None:
        return {}
    wide = (backdrop.width or scene.set.table.width) * rng.uniform(0.7, 1.0)
    size = _mm(wide, backdrop.height * rng.uniform(0.7, 1.0))
    return dict(zip(("set.backdrop.width", "set.backdrop.height"), size, strict=True))


def _shots(scene: Scene, other: str, rng: np.random.Generator) -> Iterator[dict[str, Any]]:
    """Another shot, by the other camera; and the first one from elsewhere."""
    first, camera, table = scene.shots[0], scene.cameras[other], scene.set.table
    focal = float(rng.uniform(camera.lens.shortest, camera.lens.longest))
    x, y, z = (float(each) for each in first.at)  # type: ignore[arg-type]
    at = (x + rng.uniform(-0.25, 0.25), y + rng.uniform(-0.1, 0.1), max(z + rng.uniform(-0.02, 0.1), 0.02))
    aim = (rng.uniform(0.3, 0.7) * table.width, rng.uniform(0.35, 0.6) * table.depth, 0.02)
    rate = min(float(first.capture.rate), max(float(mode.fastest) for mode in camera.modes))
    yield {
        "shots[1]": {
            "id": "second",
            "camera": other,
            "focal_length": f"{focal * 1000:.2f} mm",
            "f_number": max(float(camera.widest_at(focal)), min(4.0, camera.smallest)),
            "at": _mm(*at),
            "aim": _mm(*aim) if rng.random() < 0.7 else "vehicle",
            "focus": "vehicle",
            "capture": {"rate": f"{rate:g} fps", "shutter": "180 deg"},
            "start": f"{first.start:g} s",
            "duration": f"{first.duration:g} s",
        }
    }
    if rng.random() < 0.6:
        by = rng.uniform(-0.08, 0.08), rng.uniform(-0.05, 0.05), rng.uniform(-0.02, 0.05)
        yield {"shots[0].at": _mm(x + by[0], y + by[1], max(z + by[2], 0.015))}


def _wish(rng: np.random.Generator) -> Wish:
    width = float(rng.uniform(0.9, 2.4))
    names = [str(name) for name in rng.permutation(list(TYPICAL))[:2]]
    cameras = {name: (text, camera) for name, text, camera in map(camera_text, names)}
    start, body = str(rng.choice(list(STARTS))), str(rng.choice(BODIES))
    scale = float(rng.choice([32, 43, 50, 64, 76, 87]))
    return Wish(start, (width, min(width, float(rng.uniform(0.5, 1.0)))), "mm", scale, body, cameras)


def _mm(*values: float) -> list[str]:
    return [f"{value * 1000:.0f} mm" for value in values]


def _other_camera(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    name = next(each for each in scene.cameras if each != scene.shots[0].camera)
    camera = scene.cameras[name]
    focal = float(rng.uniform(camera.lens.shortest, camera.lens.longest))
    stop = min(max(scene.shots[0].f_number, camera.widest_at(focal)), camera.smallest)
    return {"shots[0].camera": name, "shots[0].focal_length": f"{focal * 1000:.2f} mm", "shots[0].f_number": stop}


def _elsewhere(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    x, y, z = (float(each) for each in scene.shots[0].at)  # type: ignore[arg-type]
    by = rng.uniform(-0.2, 0.2, 2)
    return {"shots[0].at": _mm(x + by[0], y + by[1], max(z + float(rng.uniform(-0.04, 0.2)), 0.015))}


def _aimed(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    if rng.random() < 0.3:
        return {"shots[0].aim": "vehicle"}
    table = scene.set.table
    x, y = table.width * float(rng.uniform(0.2, 0.8)), table.depth * float(rng.uniform(0.3, 0.8))
    return {"shots[0].aim": _mm(x, y, float(rng.uniform(0, 0.12)))}


def _zoomed(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    camera, shot = scene.cameras[scene.shots[0].camera], scene.shots[0]
    focal = float(rng.uniform(camera.lens.shortest, camera.lens.longest))
    return {
        "shots[0].focal_length": f"{focal * 1000:.2f} mm",
        "shots[0].f_number": max(float(shot.f_number), float(camera.widest_at(focal))),
    }


def _stopped(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    camera, shot = scene.cameras[scene.shots[0].camera], scene.shots[0]
    return {"shots[0].f_number": float(rng.choice([camera.widest_at(shot.focal_length), 4, 8, camera.smallest]))}


def _faster(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    rates = [each for each in (24, 30, 60, 120) if each <= max(float(mode.fastest) for mode in
             scene.cameras[scene.shots[0].camera].modes)]  # fmt: skip
    return {"shots[0].capture.rate": f"{rng.choice(rates)} fps"}


def _dimmer(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    return {f"lights[{number}].output": f"{10 ** rng.uniform(2, 3.5):.0f} lm"
            for number, light in enumerate(scene.lights) if hasattr(light, "output")}  # fmt: skip


def _driven(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    return {"vehicle.speed": f"{float(rng.choice([0.1, 0.25, 0.5, 1.0, 2.0])):g} m/s"}


def _timed(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    return {"shots[0].start": f"{rng.uniform(0, 1):.2f} s", "shots[0].duration": f"{rng.uniform(0.2, 1.5):.2f} s"}


def _dressed(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    table = scene.set.table
    kind = str(rng.choice(["container", "building", "fence", "conifer"]))
    at = _mm(float(rng.uniform(0, table.width)), float(rng.uniform(0, table.depth)))
    return {f"dressing[{len(scene.dressing)}]": {"id": "mine", "piece": kind, "at": at}}


def _low_backdrop(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    return {"set.backdrop.height": f"{rng.uniform(100, 400):.0f} mm"}


def _focused(scene: Scene, rng: np.random.Generator) -> dict[str, Any]:
    return {"shots[0].focus": f"{rng.uniform(0.15, 0.9) * 1000:.0f} mm"}


SLIPS: tuple[Slip, ...] = (
    _other_camera, _elsewhere, _aimed, _zoomed, _stopped, _faster, _dimmer, _driven, _timed, _dressed, _low_backdrop,
    _focused,
)  # fmt: skip


def stops_of(predictions: Predictions) -> list[str]:
    """Names of what stops, with the shot where there are several."""
    return [each.id for each in predictions.findings if each.verdict is Verdict.STOP]


def until_nothing_stops(scene: Scene, first: Predictions | None = None) -> tuple[Scene, Predictions, list[str]]:
    """What becomes of a scene whose maker does what is shown first, time and again, until nothing stops.

    Returns
    -------
    The scene in the end, what is said of it, and what was done, in words.
    """
    found, done = first if first is not None else predict(scene), list[str]()
    for _ in range(MOST_ROUNDS):
        if not stops_of(found):
            break
        shown = [(each.changes, each.remedy) for each in found.findings]
        shown += [(each.changes, each.words) for each in found.compromises]
        changes, words = next(((made, said) for made, said in shown if made), ((), ""))
        if not changes:
            break
        scene = rewritten(scene, {change.key: change.value for change in changes})
        found = predict(scene)
        done.append(words)
    return scene, found, done
