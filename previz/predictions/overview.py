"""`predict(scene)`: every figure and finding, without building or rendering anything."""

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from previz.errors import FileFault
from previz.layout import open_files, refuse_too_much
from previz.predictions.agreed import agreed, weight_of
from previz.predictions.cautions import Caution, cautions_for, cautions_of_all
from previz.predictions.compromise import Compromise
from previz.predictions.findings import Figure, Finding, Verdict, as_told, worst_first
from previz.predictions.glossary import GLOSSARY, Quantity
from previz.predictions.looking import Looked, looked_at
from previz.predictions.rounding import iso_shown, rounded, significant
from previz.predictions.together import compromise_in_file, figures_together, findings_together
from previz.predictions.trying import Purse, findings_of
from previz.scene import Scene, Setup, setups_of
from previz.units import in_sixteenths


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
        Of launch and sizes, which all shots share; what differs from setup to setup is with the shots.
    shots : tuple of ShotPredictions
        In the order of the scene.
    findings : tuple of Finding
        Of the scene and all shots, worst first, the fine ones last.
    cautions : tuple of Caution
        Usual precautions that the plan calls for.
    compromises : tuple of Compromise
        What answers several findings of one shot together, where they pull on one thing.
    """

    figures: tuple[Figure, ...]
    shots: tuple[ShotPredictions, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[Caution, ...]
    compromises: tuple[Compromise, ...] = ()

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
    def told(self) -> tuple[Finding, ...]:
        """The findings as people are told them, wherever that is: what is in `findings` but said once, or no more."""
        return as_told(self.findings)

    @property
    def verdict(self) -> Verdict:
        """The worst of all findings."""
        return self.findings[0].verdict if self.findings else Verdict.FINE


def predict(scene: Scene, *, remedies: bool = True) -> Predictions:
    """Every figure and finding about a scene, each shot as it is set up.

    Parameters
    ----------
    scene : Scene
        As it was read; of one that was made or copied from it, findings have no changes, for none can be tried.
    remedies : bool
        Whether to try remedies too, which takes most of the time.

    Raises
    ------
    FileFault
        Where a file that the scene names cannot be used, more stands on the set than can be built, or timed runs are
        faster than a vehicle without any loss.
    """
    setups = setups_of(scene)
    if setups[0].scene is scene:
        looked = _looked(scene)
        return _predicted(looked, Purse.after([looked]) if remedies else None)
    seen = []
    for setup in setups:
        with _where_the_file_says_so(setup):
            seen.append(_looked(setup.scene))
    return _together(scene, setups, _predicted_in_turn(seen, remedies))


def require_files(scene: Scene) -> None:
    """Open every file that a scene names for any of its shots: who looks at one setup knows not where it is written.

    Raises
    ------
    FileFault
        For the first that cannot be used.
    """
    for setup in setups_of(scene):
        with _where_the_file_says_so(setup):
            open_files(setup.scene)


@contextmanager
def _where_the_file_says_so(setup: Setup) -> Iterator[None]:
    try:
        yield
    except FileFault as fault:
        raise FileFault(setup.origin(fault.steps), fault.said) from None


def _predicted_in_turn(seen: Sequence[Looked], remedies: bool) -> list[Predictions]:
    """Of each setup; the patience goes to them by what is wrong in each, and what one leaves to the next.

    One that has what stops a shot gets what it would get as a scene of its own.
    """
    if not remedies:
        return [_predicted(looked, None) for looked in seen]
    left, weights, found = Purse.after(seen).left, [weight_of(looked) for looked in seen], []
    for number, (looked, weight) in enumerate(zip(seen, weights, strict=True)):
        stops = any(each.verdict is Verdict.STOP for each in findings_of(looked.noted))
        own = max(left * weight / (sum(weights[number:]) or 1.0), Purse.after([looked]).left if stops else 0.0)
        purse = Purse(own)
        found.append(_predicted(looked, purse))
        left -= own - purse.left
    return found


def _together(scene: Scene, setups: tuple[Setup, ...], found: list[Predictions]) -> Predictions:
    shared, rest = figures_together([(setup, each.figures) for setup, each in zip(setups, found, strict=True)])
    shots = {shot.shot: shot for each in found for shot in each.shots}
    return Predictions(
        shared,
        tuple(replace(shots[shot.id], figures=shots[shot.id].figures + rest[shot.id]) for shot in scene.shots),
        findings_together(scene, setups, [each.findings for each in found]),
        cautions_of_all(scene),
        tuple(
            compromise_in_file(scene, setup, each)
            for setup, predictions in zip(setups, found, strict=True)
            for each in predictions.compromises
        ),
    )


def _looked(scene: Scene) -> Looked:
    """A scene whose shots stand alike, looked at."""
    open_files(scene)
    refuse_too_much(scene)
    return looked_at(scene)


def _predicted(looked: Looked, purse: Purse | None) -> Predictions:
    """Of a scene whose shots stand alike; with remedies, as far as the purse goes."""
    scene = looked.scene
    figures: dict[str, list[Figure]] = {"": [], **{shot.id: [] for shot in scene.shots}}
    for look, notes in looked.noted.items():
        figures[look.shot] += notes.figures
    findings, compromises = agreed(looked, purse) if purse else (worst_first(findings_of(looked.noted)), ())
    return Predictions(
        tuple(figures[""]),
        tuple(ShotPredictions(shot.id, tuple(figures[shot.id])) for shot in scene.shots),
        findings,
        cautions_for(scene),
        compromises,
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
    """One line of a table for people: its heading, a label, its value and unit, and what is told beside the value."""

    group: str
    label: str
    value: str
    unit: str
    beside: str = ""

    @property
    def told(self) -> str:
        """The value with what is told beside it.

        >>> Row("Apparent scale", "stop that reads as full size", "14", "", "f/1.8 is its only stop").told
        '14 (f/1.8 is its only stop)'
        """
        return f"{self.value} ({self.beside})" if self.beside else self.value


def rows(figures: Iterable[Figure], tape: str = "mm", *, decimals: bool = False) -> tuple[Row, ...]:
    """Figures laid out for a table: labels and units in words, values in the unit people read, rounded.

    tape: the unit of the maker's tape, mm, cm, in or ft; `Scene.tape_unit`. decimals: inches are told in decimals, as a
    spreadsheet reads them; else in the sixteenths of a tape, but for what is smaller than half an inch.

    >>> rows((Figure("near_limit", 0.479294), Figure("far_limit", float("inf"))))[0]
    Row(group='Focus', label='sharp from', value='479', unit='mm', beside='')
    >>> rows((Figure("near_limit", 0.479294),), "in")[0]
    Row(group='Focus', label='sharp from', value='18 7/8', unit='in', beside='')
    """
    laid = []
    for figure in figures:
        quantity = GLOSSARY[figure.quantity].on(tape)
        label = f"{quantity.label}, {figure.of}" if figure.of else quantity.label
        value = _written(figure, quantity, decimals)
        laid.append(Row(quantity.group, label, value, quantity.shown, figure.beside))
    order = {group: number for number, group in enumerate(dict.fromkeys(row.group for row in laid))}
    return tuple(sorted(laid, key=lambda row: order[row.group]))


def _written(figure: Figure, quantity: Quantity, decimals: bool = False) -> str:
    """A figure's value in the unit it is shown in, with its standard error to two digits where there is one.

    >>> _written(Figure("rolling", 0.021345, deviation=0.00123), GLOSSARY["rolling"])
    '0.0213 ± 0.0012'
    """
    value = figure.value * quantity.factor
    if quantity.as_scale:
        return f"1:{significant(max(1 / value, 1.0), 2)}"
    if quantity.marked:
        return iso_shown(value)
    if quantity.estimate:
        return significant(value, quantity.digits)
    if not figure.deviation:
        in_marks = quantity.shown == "in" and not decimals and 0.5 <= abs(value) < math.inf
        return in_sixteenths(value) if in_marks else rounded(value, quantity.digits)
    deviation = figure.deviation * quantity.factor
    places = max(1 - math.floor(math.log10(deviation)), 0)
    return f"{value:.{places}f} ± {deviation:.{places}f}"
