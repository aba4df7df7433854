"""`predict(scene)`: every figure and finding, without building or rendering anything."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from previz.errors import ShotFault
from previz.predictions.cautions import Caution, cautions_for
from previz.predictions.checks.backdrop import check_backdrop
from previz.predictions.checks.focus import check_focus
from previz.predictions.checks.framing import check_framing
from previz.predictions.checks.lamps import check_lamps
from previz.predictions.checks.launch import check_launch
from previz.predictions.checks.light import check_light
from previz.predictions.checks.motion import check_motion
from previz.predictions.checks.ramp import check_ramp
from previz.predictions.checks.room import check_room
from previz.predictions.checks.scale import check_scale
from previz.predictions.checks.set import check_set
from previz.predictions.checks.shot import cannot_be, check_shot
from previz.predictions.checks.sizes import check_sizes
from previz.predictions.checks.slips import check_slips, check_slips_of_shot
from previz.predictions.checks.time import check_time
from previz.predictions.findings import Figure, Finding, Verdict, worst_first
from previz.predictions.glossary import GLOSSARY, Quantity
from previz.predictions.rounding import rounded
from previz.predictions.shot_view import view_of
from previz.scene import Scene

_OF_THE_SCENE = (check_set, check_launch, check_ramp, check_sizes, check_slips)
_OF_A_SHOT = (
    check_focus,
    check_scale,
    check_time,
    check_motion,
    check_light,
    check_lamps,
    check_framing,
    check_backdrop,
    check_room,
    check_shot,
    check_slips_of_shot,
)


@dataclass(frozen=True)
class ShotPredictions:
    """What is predicted of one shot.

    Parameters
    ----------
    shot : str
        Its id.
    figures : tuple of Figure
        In the order they are worth reading.
    """

    shot: str
    figures: tuple[Figure, ...]

    def value(self, quantity: str, of: str = "") -> float:
        """One figure, in its SI unit. Raises KeyError where this shot has none of that name."""
        return value_of(self.figures, quantity, of)


@dataclass(frozen=True)
class Predictions:
    """What is predicted of a scene.

    Parameters
    ----------
    figures : tuple of Figure
        Of launch and sizes, which all shots share.
    shots : tuple of ShotPredictions
        In the order of the scene.
    findings : tuple of Finding
        Of the scene and all shots, worst first, the fine ones last.
    cautions : tuple of Caution
        Usual precautions that the plan calls for.
    """

    figures: tuple[Figure, ...]
    shots: tuple[ShotPredictions, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[Caution, ...]

    def shot(self, name: str) -> ShotPredictions:
        """The shot of that id. Raises KeyError."""
        for shot in self.shots:
            if shot.shot == name:
                return shot
        raise KeyError(name)

    def value(self, quantity: str, of: str = "") -> float:
        """One figure of the scene, in its SI unit. Raises KeyError."""
        return value_of(self.figures, quantity, of)

    @property
    def verdict(self) -> Verdict:
        """The worst of all findings."""
        return self.findings[0].verdict if self.findings else Verdict.FINE


def predict(scene: Scene) -> Predictions:
    """Every figure and finding about a scene.

    Raises
    ------
    PrevizError
        Where timed runs are faster than a vehicle without any loss.
    """
    whole = [check(scene) for check in _OF_THE_SCENE]
    findings = [finding for notes in whole for finding in notes.findings]
    shots = []
    for shot in scene.shots:
        try:
            view = view_of(scene, shot)
            noted = [check(view) for check in _OF_A_SHOT]
        except ShotFault as fault:  # nothing else can be said of it
            notes = cannot_be(scene, shot, fault)
            shots.append(ShotPredictions(shot.id, ()))
            findings += notes.findings
            continue
        shots.append(ShotPredictions(shot.id, tuple(figure for notes in noted for figure in notes.figures)))
        findings += [finding for notes in noted for finding in notes.findings]
    return Predictions(
        tuple(figure for notes in whole for figure in notes.figures),
        tuple(shots),
        worst_first(findings),
        cautions_for(scene),
    )


def value_of(figures: Iterable[Figure], quantity: str, of: str = "") -> float:
    """The value of the figure with that name. Raises KeyError, saying what there is."""
    known = list(figures)
    for figure in known:
        if figure.quantity == quantity and figure.of == of:
            return figure.value
    others = [figure.of for figure in known if figure.quantity == quantity]
    raise KeyError(f"no {quantity!r} of {of!r}" + (f"; there is one of {others}" if others else ""))


@dataclass(frozen=True)
class Row:
    """One line of a table for people: a heading where a new group begins, else a label, its value and unit."""

    group: str
    label: str
    value: str
    unit: str


def rows(figures: Iterable[Figure], tape: str = "mm") -> tuple[Row, ...]:
    """Figures laid out for a table: labels and units in words, values in the unit people read, rounded.

    tape: the unit of the maker's tape, mm, cm or in; `Scene.tape_unit`.

    >>> rows((Figure("near_limit", 0.479294), Figure("far_limit", float("inf"))))[0]
    Row(group='Focus', label='sharp from', value='479.3', unit='mm')
    >>> rows((Figure("near_limit", 0.479294),), "in")[0]
    Row(group='Focus', label='sharp from', value='18.87', unit='in')
    """
    laid = []
    for figure in figures:
        quantity = GLOSSARY[figure.quantity].on(tape)
        label = f"{quantity.label}, {figure.of}" if figure.of else quantity.label
        laid.append(Row(quantity.group, label, _written(figure, quantity), quantity.shown))
    order = {group: number for number, group in enumerate(dict.fromkeys(row.group for row in laid))}
    return tuple(sorted(laid, key=lambda row: order[row.group]))


def _written(figure: Figure, quantity: Quantity) -> str:
    """A figure's value in the unit it is shown in, with its standard error to two digits where there is one.

    >>> _written(Figure("rolling", 0.021345, deviation=0.00123), GLOSSARY["rolling"])
    '0.0213 ± 0.0012'
    """
    value = figure.value * quantity.factor
    if not figure.deviation:
        return rounded(value, quantity.digits)
    deviation = figure.deviation * quantity.factor
    places = max(1 - math.floor(math.log10(deviation)), 0)
    return f"{value:.{places}f} ± {deviation:.{places}f}"
