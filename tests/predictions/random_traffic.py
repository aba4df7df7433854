"""Scenes from a seed with one to three more vehicles of all sorts, and what may not be said of them."""

from collections.abc import Iterable
from contextlib import suppress
from typing import Any

import numpy as np
from random_scenes import others, random_scene

from previz.errors import PrevizError
from previz.predictions import Finding, Verdict
from previz.predictions.checks.others import check_others, check_others_of_shot
from previz.predictions.shot_view import view_of
from previz.scene import Scene, rewritten


def traffic(seed: int) -> dict[str, Any]:
    """A random scene with one to three more vehicles of all sorts."""
    data = random_scene(seed)
    return {**data, "vehicles": others(np.random.default_rng([seed, 91]), data)}


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
