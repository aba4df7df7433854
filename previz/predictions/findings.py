"""What a prediction says: figures, and findings with a verdict and a remedy. Data only; the CLI prints them."""

import math
import re
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from previz.predictions.glossary import GLOSSARY


class Verdict(StrEnum):
    """How a figure stands to its limit."""

    FINE = "fine"
    WATCH = "watch"
    STOP = "stop"


@dataclass(frozen=True)
class Figure:
    """One predicted number.

    Parameters
    ----------
    quantity : str
        Its name in the glossary.
    value : float
        In the glossary's SI unit; inf and nan are allowed and mean what they say.
    of : str
        What it belongs to, where there are several (a piece, a lamp, a mark); else "".
    deviation : float or None
        Its standard error in the same unit, where it was measured and that is known.
    beside : str
        What people are told beside it, in a few words: what it is to be held against; "" mostly.
    """

    quantity: str
    value: float
    of: str = ""
    deviation: float | None = None
    beside: str = ""

    def __post_init__(self) -> None:
        if self.quantity not in GLOSSARY:
            raise KeyError(f"{self.quantity!r} is not in the glossary")


@dataclass(frozen=True)
class Change:
    """One key of the scene file and what a remedy would write there.

    Parameters
    ----------
    key : str
        Dotted place, `shots[0].f_number`.
    value : object
        As a file would hold it: text with its unit, or a list or group of such; None takes the key or the entry out.
    """

    key: str
    value: Any


@dataclass(frozen=True)
class Way:
    """One way to mend what a finding says, not tried yet.

    Parameters
    ----------
    words : str
        What to do, as whole sentences.
    changes : tuple of Change
        What that writes; none where it was looked for and not found.
    cost : float
        What finding it took, in the measure of `looking.cost_of`.
    tried : str
        What of the words the changes write, where they offer something beside it; "" where that is all of them.
    looking : bool
        Whether it is only the best so far, "" where there is none yet: its search goes on as far as patience goes.
    """

    words: str
    changes: tuple[Change, ...]
    cost: float = 0.0
    tried: str = ""
    looking: bool = False


def in_two(message: str) -> tuple[str, str]:
    """The first sentence of what was found, and what is said after it.

    >>> in_two("Slowed 5 times; hops look light. Steady driving looks right.")
    ('Slowed 5 times; hops look light.', 'Steady driving looks right.')
    >>> in_two("The ramp stands in the picture.")
    ('The ramp stands in the picture.', '')
    """
    first, *rest = re.split(r"(?<=\.) (?=[A-Z])", message, maxsplit=1)
    return first, "".join(rest)


@dataclass(frozen=True)
class Finding:
    """One question about a shot, answered.

    Parameters
    ----------
    id : str
        Of the question, `focus.nearest`; stable, for programs.
    quantity : str
        What was compared, by its name in the glossary.
    value, limit : float
        Both in `unit`. Which side of the limit is good follows from the question.
    unit : str
        SI, from the glossary.
    verdict : Verdict
        Fine, watch or stop.
    message : str
        What is the matter, for people.
    remedy : str
        What to change; "" where all is fine.
    shot : str
        Id of the shot, "" for the whole scene.
    frames : (int, int) or None
        First and last frame concerned, None for all.
    changes : tuple of Change
        The remedy for programs, where one holds: applied all together, they clear the finding and bring no new stop
        (`agreed.py` tried it).
    also : tuple of str
        Ids of other shots of which the very same holds: what stands alike in them, and not in all.
    among_figures : bool
        Whether people are told it among the figures alone: nearly every shot of a miniature has it, no setting mends
        it, and nobody asked for it.
    """

    id: str
    quantity: str
    value: float
    limit: float
    unit: str
    verdict: Verdict
    message: str
    remedy: str = ""
    shot: str = ""
    frames: tuple[int, int] | None = None
    changes: tuple[Change, ...] = ()
    also: tuple[str, ...] = ()
    among_figures: bool = False

    @property
    def gist(self) -> str:
        """What was found, without what it means: up to the first pause. A name ahead of it stays.

        >>> slow = "Slowed 5 times; hops and falls at this scale want 7.07, and look light."
        >>> Finding("time.rate", "slowdown", 5, 7.07, "", Verdict.WATCH, slow).gist
        'Slowed 5 times'
        >>> Finding("ramp", "tilt", 1, 0, "", Verdict.STOP, "red_van: It tips: too fast.").gist
        'red_van: It tips'
        """
        whose, colon, said = self.message.partition(": ")
        if not colon or " " in whose:
            whose, said = "", self.message
        return f"{whose}{colon if whose else ''}{re.split(r'[;:.](?= |$)', said, maxsplit=1)[0]}"

    @property
    def sentence(self) -> str:
        """The first sentence of what was found: a whole thought, where `gist` needs the finding before it.

        >>> late = "The last key is at 11 s on set; the shot ends at 2.5 s on set. Else nothing is wrong."
        >>> Finding("slips.aim", "shot_end", 11, 2.5, "s", Verdict.WATCH, late).sentence
        'The last key is at 11 s on set; the shot ends at 2.5 s on set.'
        """
        return in_two(self.message)[0]

    def concerns(self, shots: Collection[str]) -> bool:
        """Whether it is of the whole scene, or of any of those shots."""
        return self.shot == "" or self.shot in shots or any(shot in shots for shot in self.also)


@dataclass
class Notes:
    """A notebook that one check fills while it works and then hands in."""

    shot: str = ""
    figures: list[Figure] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    ways: list[Callable[[], Iterator[Way]]] = field(default_factory=list)  # of each finding, best liked first

    def figure(
        self, quantity: str, value: float, of: str = "", *, deviation: float = math.nan, beside: str = ""
    ) -> None:
        """Note a number; a deviation that is zero or unknown says nothing of how well it is known, and is left out."""
        self.figures.append(Figure(quantity, float(value), of, float(deviation) if deviation > 0 else None, beside))

    def finding(
        self,
        id: str,
        quantity: str,
        value: float,
        limit: float,
        verdict: Verdict,
        message: str,
        remedy: str = "",
        *,
        changes: Iterable[Change] = (),
        ways: Callable[[], Iterable[Way]] = tuple,
        otherwise: str = "",
        frames: Iterable[int] | None = None,
        among_figures: bool = False,
    ) -> None:
        """Note an answer. All of what follows is dropped where all is fine.

        Parameters
        ----------
        remedy : str
            What to do: what `changes` write, or, where there are none, advice that no program can follow.
        ways
            Asked what else might help, the one liked best first, worked out as far as it is asked for. The first that
            holds is shown, all others are not.
        otherwise : str
            What is said where none holds: only what none of the ways does, for those were tried and fail.
        among_figures : bool
            Whether it is for the figures alone, where it is not fine.
        """
        bad = verdict is not Verdict.FINE
        written = tuple(changes)
        own = (Way(remedy, written),) if written else ()
        self.ways.append(lambda: _one_by_one(own, ways) if bad else iter(()))
        concerned = [] if frames is None else [int(frame) for frame in frames]
        self.findings.append(
            Finding(
                id,
                quantity,
                float(value),
                float(limit),
                GLOSSARY[quantity].unit,
                verdict,
                message,
                (otherwise or (remedy if not written else "")) if bad else "",
                self.shot,
                (min(concerned), max(concerned)) if bad and concerned else None,
                among_figures=bad and among_figures,
            )
        )


def _one_by_one(own: tuple[Way, ...], ways: Callable[[], Iterable[Way]]) -> Iterator[Way]:
    yield from own
    yield from ways()


def past_limit(finding: Finding) -> float:
    """How far from its limit a finding is that is out of order: as a share of that, or in its unit where that is 0.

    >>> round(past_limit(Finding("focus.nearest", "near_limit", 0.15, 0.2, "m", Verdict.STOP, "")), 6)
    0.25
    """
    return abs(finding.value - finding.limit) / (abs(finding.limit) or 1.0)


#: That the scale is likely another one: why all else may be out of order, and so told before it.
LIKELY_SCALE = "sizes.scale"

_ORDER = {Verdict.STOP: 0, Verdict.WATCH: 1, Verdict.FINE: 2}


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Stops before watches before fines; within one verdict, those furthest from their limit (by ratio) first.

    What stops the whole scene comes before what stops one shot: it stops them all, and may be why. A scale that is
    likely another one comes before all.
    """

    def distance(finding: Finding) -> float:
        low, high = sorted((abs(finding.value), abs(finding.limit)))
        return math.inf if low == 0 or not math.isfinite(high) else high / low

    def rank(finding: Finding) -> tuple[bool, int, bool, float]:
        cause = finding.id == LIKELY_SCALE and finding.verdict is not Verdict.FINE
        return (
            not cause,
            _ORDER[finding.verdict],
            finding.verdict is Verdict.STOP and finding.shot != "",
            -distance(finding),
        )

    return tuple(sorted(findings, key=rank))


def to_mend_and_watch(findings: Iterable[Finding], shot: str) -> tuple[int, int]:
    """How many findings stop a shot and how many may cost it its look, as it is told wherever they are counted.

    What holds of several shots counts in each; what is of the whole scene under its own name, "".

    >>> slow = Finding("time.rate", "slowdown", 5, 7.07, "", Verdict.WATCH, "Slowed.", shot="pass", also=("coming",))
    >>> to_mend_and_watch([slow], "coming"), to_mend_and_watch([slow], "")
    ((0, 1), (0, 0))
    """
    verdicts = [each.verdict for each in findings if shot == each.shot or shot in each.also]
    return verdicts.count(Verdict.STOP), verdicts.count(Verdict.WATCH)


def above(value: float, watch: float, stop: float = math.inf) -> Verdict:
    """The verdict on a value that should stay below.

    >>> above(1.0, 2.0), above(3.0, 2.0), above(5.0, 2.0, 4.0)
    (<Verdict.FINE: 'fine'>, <Verdict.WATCH: 'watch'>, <Verdict.STOP: 'stop'>)
    """
    return Verdict.STOP if value > stop else Verdict.WATCH if value > watch else Verdict.FINE


def below(value: float, watch: float, stop: float = -math.inf) -> Verdict:
    """The verdict on a value that should stay above.

    >>> below(3.0, 2.0), below(1.0, 2.0)
    (<Verdict.FINE: 'fine'>, <Verdict.WATCH: 'watch'>)
    """
    return above(-value, -watch, -stop)


def as_told(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings as people are told them, and as they are counted.

    Where a shot is out of order by noise and by its camera's ISO, in one, with the worse verdict and the remedy that
    serves both if there is one. What is for the figures alone is left to them.
    """
    told: list[Finding] = []
    for each in findings:
        if each.among_figures:
            continue
        first = next((number for number, other in enumerate(told) if _of_one_iso(each, other)), None)
        if first is None:
            told.append(each)
            continue
        noise, ends = sorted((told[first], each), key=lambda one: one.id)
        # What the picture takes is said once; what a camera cannot be set to is all that is said of it.
        both = f"{noise.message.removesuffix('.')}, and {ends.message.rpartition('; ')[2]}"
        worse = Verdict.STOP if Verdict.STOP in (noise.verdict, ends.verdict) else Verdict.WATCH
        mends = noise if noise.changes or not ends.changes else ends
        told[first] = replace(mends, message=both, verdict=worse)
    return tuple(told)


def _of_one_iso(one: Finding, other: Finding) -> bool:
    """Whether two say of one shot that noise shows and that the camera has not that ISO."""
    pair = {one.id, other.id} == {"light.iso", "light.iso_range"} and one.shot == other.shot
    return pair and Verdict.FINE not in (one.verdict, other.verdict)
