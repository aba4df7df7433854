"""How shots as they are written answer what is wanted of them: nothing is searched."""

from collections.abc import Iterable

from previz.advice.applied import figures_of
from previz.advice.demands import demands_of, miss_as_told
from previz.advice.plans import Wanted
from previz.advice.telling import met_of
from previz.predictions import Predictions, view_of
from previz.scene import Framed, Scene, as_set_up


def wanted_of(scene: Scene, predictions: Predictions, shots: Iterable[str]) -> tuple[Wanted, ...]:
    """The wants that a scene's file names of those shots, as `advise` would judge the shots as they are.

    A framing as written is left out, for it is. Nothing of a file without wants, of a set without a vehicle, or of a
    shot that cannot be laid open, of which `check` says why.
    """
    if "wants" not in scene.model_fields_set:
        return ()
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
        missed = [miss_as_told(demand, figures[demand.figure]) > 0 for demand in demands]
        told = [met_of(demand, figures[demand.figure]) for demand in demands]
        found.append(
            Wanted(
                each.shot,
                tuple(met for met, miss in zip(told, missed, strict=True) if not miss),
                tuple(met for met, miss in zip(told, missed, strict=True) if miss),
            )
        )
    return tuple(found)
