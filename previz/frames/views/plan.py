"""How many views a shot needs, and how each fills its patch of pupil and shutter."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.frames.gl.states import Filling
from previz.physics.colour import srgb_encoded

Array = NDArray[np.float64]
Floats = NDArray[np.float32]

#: Mean FLIP error (a visible-difference measure, 0..1) that each preset aims at; and how many times as much a
#: hundredth of the picture may exceed.
QUALITIES = {"draft": 0.040, "usual": 0.015, "fine": 0.010}
_WORST = 16 / 3

#: Views of a frame; the usual quality ends sooner, for twice as many take twice the time and a quarter off the error.
_FEWEST, _MOST, _USUALLY_MOST = 8, 256, 128

#: Mean error of N filtered views whose looks differ by d where things streak over s px:
#: _MEAN d^_BY_MEAN (1 + s)^_BY_STREAK / N^_BY_VIEWS; and what a hundredth exceeds: _HUNDREDTH w^_BY_HUNDREDTH /
#: N^_BY_VIEWS. Fitted to what `tests/benchmarks/bench.py --differences` measured of 136 pictures of twelve sets from
#: seeds, 8 to 96 views of each (`views_fitted.py` beside it): some two thirds of either lie within a quarter of it. So
#: that most keep what is aimed at, a tenth more is reckoned with.
_MEAN, _BY_MEAN, _BY_STREAK = 0.58, 1.19, 0.063
_HUNDREDTH, _BY_HUNDREDTH = 0.83, 0.953
_BY_VIEWS, _MARGIN = 0.373, 1.1

#: Of a difference in sRGB codes, what FLIP makes of it on the mean: an edge twice as high shows less than twice.
_BY_DIFFERENCE = 0.6

#: A view fills a patch this many times its share of the pupil, so that neighbours overlap and no lattice of dots shows;
#: the views move together in proportion, and the whole disc keeps its size.
OVERLAP = 1.5

#: A bell around each of an even set of places adds up to an even disc, and what is thin shows no lines in it, once it
#: has so many times its share. It takes the rim off discs: less of it is used with few views (one and a part for every
#: so many), with many (so many shared by all, for no line is seen any more; but no less than makes a bell so small that
#: blades and needles are not dotted) and where the largest disc's bell would be wider than that, for lines a few pixels
#: apart are not seen as lines. Measured on random sets: tests/benchmarks/RESULTS.md. [-], [-], [-], [px, standard
#: deviation] twice
_EVEN, _FEW, _MANY, _SMALL, _WIDEST = 3.0, 8, 108, 1.2, 3.0

#: Residual blur below this is not worth a layer; nor in drafts, where a layer is a seventh of a frame. [px, standard
#: deviation]
_FAINT, _SHARP = 0.4, 1.2

#: Each view is smeared over so many times its share of the shutter, so that every moment is seen by so many views and
#: none need keep exactly to its own; over twice as many as far as that is short, for what is thinner than a pixel is
#: missed by most views; but not over more than that part of the shutter, or streaks lose their ends, nor where it is as
#: good as nothing. [-], [px], [-], [px]
_MOMENTS, _SHORT, _MOST_OF_SHUTTER, _LEAST_SMEAR = 6.0, 2.5, 0.3, 2.0


@dataclass(frozen=True)
class _Rungs:
    """How blurred a side's layers are but for the most blurred one. [px, standard deviation]

    Parameters
    ----------
    least : (2,) float
        The least blurred, where there are two or more: no less than the first nor more than the second, between them as
        far below the most blurred as `apart` says; those between rise evenly. What is less blurred is drawn sharp in
        part, and thin lines of it show as a comb.
    more_from : tuple of float
        A second layer, and a third, where the most blurred is over this. Hardware draws into eight at once, so no more.
    apart : float
    """

    least: tuple[float, float]
    more_from: tuple[float, float]
    apart: float = 5.0


#: Of pictures, measured on random sets (tests/benchmarks/RESULTS.md), and of drafts.
_RUNGS, _QUICK_RUNGS = _Rungs((0.7, 1.0), (0.8, 2.0)), _Rungs((1.7, 1.7), (10.2, 61.0))


@dataclass(frozen=True)
class Blurs:
    """What a survey of a shot found. [px]

    Parameters
    ----------
    streak : float
        The longest but for half a percent of the picture.
    longest : float
        Of all: a vehicle may be small in the picture.
    nearest, furthest : float
        The largest disc of all before and behind the plane of focus, motion included.
    near_disc, far_disc : float
        The same without motion.
    usual : float
        The disc that half of what is seen has at least.
    """

    streak: float
    longest: float
    nearest: float
    furthest: float
    near_disc: float
    far_disc: float
    usual: float

    @classmethod
    def of(cls, surveyed: Array) -> "Blurs":
        """From discs and streaks (n, 2)."""
        disc, streak = np.abs(surveyed[:, 0]), surveyed[:, 1]
        swept = np.sqrt(disc**2 + 4 / math.pi * disc * streak + streak**2 / 16)
        before = surveyed[:, 0] < 0
        return cls(
            streak=float(np.percentile(streak, 99.5)),
            longest=float(streak.max(initial=0.0)),
            nearest=float(swept[before].max(initial=0.0)),
            furthest=float(swept[~before].max(initial=0.0)),
            near_disc=float(disc[before].max(initial=0.0)),
            far_disc=float(disc[~before].max(initial=0.0)),
            usual=float(np.median(disc[disc > 0])) if disc.any() else 0.0,
        )


def target_of(quality: str | float) -> float:
    """Mean FLIP error to aim at, of a preset or a number.

    >>> target_of("usual"), target_of(0.03)
    (0.015, 0.03)
    """
    if isinstance(quality, str):
        if quality not in QUALITIES:
            raise PrevizError(f"quality {quality!r} is not one of {', '.join(QUALITIES)}, nor a number such as 0.02")
        return QUALITIES[quality]
    if not 0.001 <= quality <= 0.2:
        raise PrevizError(f"quality {quality:g} is not a mean error between 0.001 and 0.2")
    return float(quality)


@dataclass(frozen=True)
class Differing:
    """How far the pictures of single views differ: what the mean of some has for error.

    Parameters
    ----------
    mean : float
        Over the picture, of the standard deviation of sRGB codes to a power.
    worst : float
        The standard deviation that a hundredth of the picture exceeds.
    """

    mean: float
    worst: float

    def joined(self, other: "Differing") -> "Differing":
        """The most that either has of each."""
        return Differing(max(self.mean, other.mean), max(self.worst, other.worst))


def difference(looks: Sequence[Floats]) -> Differing:
    """How far the pictures (h, w, 3) of single views differ, in linear light.

    Blur and motion count for as much as they change what is seen there: a smooth sky is the same through all of the
    pupil. Every other pixel each way is looked at, which tells as well.

    >>> sky = np.full((4, 4, 3), 0.5, np.float32)
    >>> difference([sky, sky]), round(difference([sky, 0 * sky]).mean, 2)
    (Differing(mean=0.0, worst=0.0), 0.68)
    """
    codes = np.stack([srgb_encoded(look[::2, ::2]) for look in looks])
    spread = codes.std(axis=0, ddof=1).mean(axis=2)
    return Differing(float(np.mean(spread**_BY_DIFFERENCE)), float(np.percentile(spread, 99)))


def views_for(quality: str | float, differing: Differing, streak: float) -> int:
    """The number of views for a quality, a multiple of four, where single views differ so much and things streak. [px]

    >>> even, edges = Differing(0.08, 0.1), Differing(0.08, 0.4)
    >>> views_for("usual", even, 0.0), views_for("usual", edges, 0.0), views_for("fine", even, 0.0)
    (8, 68, 24)
    """
    asked = target_of(quality)
    target, most = asked / _MARGIN, _MOST if asked < QUALITIES["usual"] else _USUALLY_MOST
    mean = _MEAN * differing.mean**_BY_MEAN * (1 + streak) ** _BY_STREAK / target
    hundredth = _HUNDREDTH * differing.worst**_BY_HUNDREDTH / (_WORST * target)
    wanted = max(mean, hundredth) ** (1 / _BY_VIEWS)
    return min(max(4 * math.ceil(wanted / 4), _FEWEST), most)


def patch_of(count: int, largest: float) -> float:
    """The share of the pupil that each of so many views fills, where the largest disc is so large [px]; a single one
    fills all of it.

    >>> patch_of(1, 20.0), patch_of(24, 20.0), patch_of(24, 200.0), patch_of(100, 40.0)
    (1.0, 0.125, 0.0625, 0.015)
    """
    bell = max(largest, 1.0) / 4 / math.sqrt(count)  # of a view that fills its share [px]
    of_many = max(_MANY / count, (_SMALL / bell) ** 2)
    return min(max(OVERLAP, min(_EVEN, 1 + count / _FEW, of_many, (_WIDEST / bell) ** 2)) / count, 1.0)


def smear_of(count: int, blurs: Blurs) -> float:
    """The share of the shutter that each of so many views is smeared over; 0 where that is nothing to see.

    >>> few = Blurs(streak=20.0, longest=20.0, nearest=0.0, furthest=0.0, near_disc=0.0, far_disc=0.0, usual=0.0)
    >>> smear_of(8, few), smear_of(200, few)
    (0.3, 0.0)
    """
    if count * blurs.longest == 0:
        return 0.0
    usual = _MOMENTS / count
    share = min(max(usual, min(2 * usual, _SHORT / blurs.longest)), _MOST_OF_SHUTTER)
    return share if count > 3 and share * blurs.longest > _LEAST_SMEAR else 0.0


def filling_for(count: int, blurs: Blurs, *, smeared: bool = False, quick: bool = False) -> Filling | None:
    """The layers for that many views; None where every view's own part is too small to matter.

    smeared: motion is filled apart. quick: fewer layers, none for a side of the plane of focus where all is all but
    sharp.
    """
    sides = (blurs.near_disc, blurs.far_disc) if smeared else (blurs.nearest, blurs.furthest)
    scale = patch_of(count, max(sides)) / 16  # an even disc of diameter D has variance D^2 / 16 along each axis
    # Where there are layers the views' places give up what their patches add: on either side, or discs are too small.
    faint, rungs = (_SHARP, _QUICK_RUNGS) if quick else (_FAINT, _RUNGS)
    near, far = (_ladder(side**2 * scale, faint, rungs) for side in sides)
    if not near and not far:
        return None
    knots = (*(-knot for knot in reversed(near)), 0.0, *far)
    # A view's own part of a streak of length S is S / N long, of variance S^2 / 12 N^2.
    return Filling(knots, scale, streak_share=1 / (12 * count**2 * scale))


def _ladder(variance: float, faint: float, rungs: _Rungs) -> list[float]:
    """Rising variances up to one, or none where nothing is to be seen of it; standard deviations rise by a ratio.

    >>> [round(math.sqrt(each), 2) for each in _ladder(6.25, 0.4, _RUNGS)], _ladder(0.5, 0.4, _RUNGS)
    ([0.7, 1.32, 2.5], [0.5])
    """
    widest = math.sqrt(variance)
    if widest < faint:
        return []
    steps = 1 + sum(widest > start for start in rungs.more_from)
    least = min(max(widest / rungs.apart, rungs.least[0]), rungs.least[1])
    ratio = (widest / least) ** (1 / max(steps - 1, 1))
    return [variance / ratio ** (2 * (steps - 1 - step)) for step in range(steps)]
