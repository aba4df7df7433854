"""Scenes from a seed with one to three more vehicles of all sorts, and what may not be said of them."""

from collections.abc import Iterable
from contextlib import suppress
from typing import Any

import numpy as np
from random_scenes import random_scene

from previz.errors import PrevizError
from previz.predictions import Finding, Verdict
from previz.predictions.checks.others import check_others, check_others_of_shot
from previz.predictions.shot_view import view_of
from previz.scene import Scene, rewritten


def traffic(seed: int) -> dict[str, Any]:
    """A random scene with one to three more vehicles of all sorts."""
    rng, data = np.random.default_rng([seed, 91]), random_scene(seed)
    table = data["set"]["table"]
    others = {}
    for number in range(int(rng.integers(1, 4))):
        body = str(rng.choice(["saloon", "van", "bus", "lorry", "tractor"]))
        other: dict[str, Any] = {"body": body, "start": f"{rng.uniform(-1, 1):.2f} s"}
        other["reverse"] = bool(rng.integers(2))
        if rng.random() < 0.3:
            points = rng.uniform((0, 0), (table["width"], table["depth"]), (2, 2)).round(1).tolist()
            other["path"] = points
        if rng.random() < 0.2:
            other["launch"] = {"ramp": {"height": 90, "length": 400, "foot_radius": 200}, "rolling": "2 %"}
        else:
            other["speed"] = f"{rng.choice([0, 0.2, 0.5, 0.9, 1.5]):g} m/s"
        others[f"other{number}"] = other
    return {**data, "vehicles": others}


def of_others(scene: Scene) -> list[Finding]:
    """What is found of the vehicles beside the subject, in every shot."""
    found = list(check_others(scene).findings)
    for shot in scene.shots:
        with suppress(PrevizError):  # one that cannot be filmed at all
            found += check_others_of_shot(view_of(scene, shot)).findings
    return found


def _which(finding: Finding) -> tuple[str, str, list[str]]:
    """Of findings of one question, which: the message names first whose vehicle it is, then what is in its way."""
    return finding.id, finding.shot, finding.message.split()[:2]


def wrong_with(scene: Scene, findings: Iterable[Finding]) -> list[str]:
    """Findings that are told twice or whose remedy does not clear them."""
    seen: set[tuple[str, str, str]] = set()
    found = []
    for each in findings:
        key = each.shot, each.id, each.message
        if key in seen:
            found.append(f"twice: {each.id}: {each.message}")
        seen.add(key)
        if ".other" in each.id and each.changes:
            after = rewritten(scene, {change.key: change.value for change in each.changes})
            left = [_which(it) for it in of_others(after) if it.verdict is not Verdict.FINE]
            if _which(each) in left:
                found.append(f"not mended: {each.id}: {each.message} {each.remedy}")
    return found
