"""Remedies agree: on random scenes each that is shown does what it says, and whoever follows them comes to an end.

`PREVIZ_RANDOM_SCENES=300` looks at more scenes than the suite does.
"""

import os
from collections import Counter
from pathlib import Path

import pytest
from broken_scenes import read
from random_scenes import random_scene

from previz.predictions import Finding, Predictions, Verdict, predict
from previz.scene import Scene, rewritten

#: Scenes of which every remedy is applied, and of which remedies are followed to their end.
APPLIED, FOLLOWED = (int(os.environ.get("PREVIZ_RANDOM_SCENES", few)) for few in (20, 8))

#: Findings on a shot that cannot be looked at: what they hid is not brought by their remedy.
HIDING = ("shot.aim", "shot.focus", "shot.start")

MOST_ROUNDS = 12


def names(predictions: Predictions, *verdicts: Verdict) -> Counter[tuple[str, str]]:
    return Counter((each.shot, each.id) for each in predictions.findings if each.verdict in verdicts)


def applied(scene: Scene, finding: Finding) -> Scene:
    return rewritten(scene, {change.key: change.value for change in finding.changes})


@pytest.mark.parametrize("seed", range(APPLIED))
def test_every_remedy_shown_clears_its_finding_and_brings_no_stop(seed: int, tmp_path: Path) -> None:
    scene = read(random_scene(seed), tmp_path)
    before = predict(scene)
    for finding in before.findings:
        if not finding.changes:
            continue
        # The whole scene anew, whatever was looked at again before it was shown.
        after = predict(applied(scene, finding), remedies=False)
        key = finding.shot, finding.id
        bad = Verdict.STOP, Verdict.WATCH
        assert names(after, *bad)[key] < names(before, *bad)[key], finding
        hidden = {finding.shot} if finding.id in HIDING else set()
        new = names(after, Verdict.STOP) - names(before, Verdict.STOP)
        assert not [name for name in new if name[0] not in hidden], (finding, new)


@pytest.mark.parametrize("seed", range(FOLLOWED))
def test_following_the_remedies_comes_to_an_end(seed: int, tmp_path: Path) -> None:
    """The worst finding that has a remedy, time and again: no scene comes back, and no remedy is left at the end."""
    scene, seen = read(random_scene(seed), tmp_path), []
    for _ in range(MOST_ROUNDS):
        state = repr(scene)
        assert state not in seen
        seen.append(state)
        finding = next((each for each in predict(scene).findings if each.changes), None)
        if finding is None:
            return
        scene = applied(scene, finding)
    left = [each.id for each in predict(scene).findings if each.changes]
    assert not left, (MOST_ROUNDS, left)
