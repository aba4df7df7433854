"""How shots as they are written answer what is wanted of them: nothing is searched."""

from collections.abc import Iterable

from previz.advice.applied import figures_of
from previz.advice.demands import demands_of
from previz.advice.plans import Wanted
from previz.advice.telling import answered
from previz.predictions import Predictions, view_of
from previz.scene import Framed, Scene, as_set_up


def wanted_of(scene: Scene, predictions: Predictions, shots: Iterable[str]) -> tuple[Wanted, ...]:
    """The wants of those shots, as `advise` would judge the shots as they are.

    A framing as written is left out, for it is. Nothing of a set without a vehicle, or of a shot that cannot be laid
    open, of which `check` says why.
    """
    found = []
    for each in predictions.shots:
        then = as_set_up(scene, scene.shot(each.shot))
        shot = then.shot(each.shot)
        wants = tuple(want for want in then.wants_of(shot) if not isinstance(want, Framed))
        laid_open = any(figure.quantity == "focus_distance" for figure in each.figures)
        if each.shot not in shots or then.vehicle is None or not wants or not laid_open:
            continue
        figures = figures_of(view_of(then, shot), each)
        demands = [demand for demand in demands_of(then, shot, figures) if not isinstance(demand.want, Framed)]
        found.append(answered(shot, demands, [figures[demand.figure] for demand in demands]))
    return tuple(found)
