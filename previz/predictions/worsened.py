"""What check would say of a shot at another stop or shutter that it does not say now: for who would have two alike."""

from collections.abc import Iterable

from previz.predictions.checks.focus import check_focus
from previz.predictions.checks.light import check_light
from previz.predictions.checks.motion import check_motion
from previz.predictions.checks.scale import check_scale
from previz.predictions.compromise import WEIGHED, misfit
from previz.predictions.findings import Finding, Verdict, worst_first
from previz.predictions.shot_view import ShotView, at_another_stop, view_of, with_shot
from previz.predictions.trying import ASKED
from previz.scene import Scene, Shot


def worse_at(view: ShotView, f_number: float) -> bool:
    """Whether check would say of that stop that less is sharp, or that the blur is a miniature's, as it does not now.

    Or says so now, and it is more so then. What light it takes is for who asks.
    """
    there = at_another_stop(
        view, with_shot(view.scene, view.index, view.shot.model_copy(update={"f_number": f_number}))
    )
    now, then = (
        [each for check in (check_focus, check_scale) for each in check(at).findings if each.id in WEIGHED]
        for at in (view, there)
    )
    return bool(_worse(now, then))


def worse_with(scene: Scene, shot: Shot, other: Shot) -> tuple[Finding, ...]:
    """What of light and motion is out of order in another version of a shot and is not as it is, or less so.

    The gravest first. Its shutter is what they may differ in, and what follows from that. Raises ShotFault where one of
    them cannot be laid open.
    """
    now, then = (
        [each for check in (check_light, check_motion) for each in check(view_of(scene, one)).findings]
        for scene, one in ((scene, shot), (with_shot(scene, scene.shots.index(shot), other), other))
    )
    return worst_first(each for each in _worse(now, then) if each.id not in ASKED)


def _worse(now: Iterable[Finding], then: Iterable[Finding]) -> list[Finding]:
    was = {each.id: each for each in now if each.verdict is not Verdict.FINE}
    bad = [each for each in then if each.verdict is not Verdict.FINE]
    return [each for each in bad if each.id not in was or misfit([each]) > misfit([was[each.id]]) + 1e-9]
