"""How finely light is worked out: in full, for a draft, and for a small picture."""

import math
from dataclasses import dataclass

from previz.light import Samples
from previz.stage.table.ground import TEXEL


@dataclass(frozen=True)
class Effort:
    """How finely light is worked out.

    painted: texels of the ground's picture [m]; texel: of the light map [m]; within: places in one, from its middle,
    that are looked at for the hard shadows of what is thinner [texels]; finer: how many finer texels along one, and
    within_finer: places in each of those, where such a shadow has an edge; low: what throws one that is to be hard,
    above the ground [m]; soft: light-map texels to a texel of light from all round; close: corners of the set that
    share light from lamps [m]; wide: a side of faces of the set that are looked at between corners [m]; near,
    near_leaves: those that share light from all round [m]; corner: corners of the vehicle that share light [m]; cell:
    of the ground about the vehicle [m].
    """

    samples: Samples
    ground: Samples
    station: Samples
    painted: float
    texel: float
    within: tuple[tuple[float, float], ...]
    finer: int
    within_finer: tuple[tuple[float, float], ...]
    low: float
    soft: int
    close: float
    wide: float
    near: float
    near_leaves: float
    corner: float
    cell: float


#: Places within a texel, from its middle: that alone, or two about it in neither one row nor one column. [texels]
_MIDDLE, _TWO = ((0.0, 0.0),), ((-0.25, -0.25), (0.25, 0.25))

EFFORTS = {
    "full": Effort(
        samples=Samples(panel=24, probes=6, spot=12, bulb=1, round=24, bounces=2),
        ground=Samples(panel=13, probes=4, spot=9, bulb=1, round=48),
        station=Samples(panel=18, probes=5, spot=9, bulb=1, round=72),
        painted=TEXEL,
        texel=0.0025,
        within=_TWO,
        finer=3,
        within_finer=_TWO,
        low=0.010,
        soft=3,
        close=0.0005,
        wide=0.0015,
        near=0.002,
        near_leaves=0.006,
        corner=0.0008,
        cell=0.002,
    ),
    "draft": Effort(
        samples=Samples(panel=13, probes=4, spot=6, bulb=1, round=15, bounces=1),
        ground=Samples(panel=8, probes=3, spot=5, bulb=1, round=36),
        station=Samples(panel=9, probes=3, spot=5, bulb=1, round=18),
        painted=TEXEL,
        texel=0.005,
        within=_MIDDLE,
        finer=1,
        within_finer=_MIDDLE,
        low=0.040,
        soft=2,
        close=0.001,
        wide=math.inf,
        near=0.004,
        near_leaves=0.010,
        corner=0.0015,
        cell=0.003,
    ),
    "small": Effort(
        samples=Samples(panel=6, probes=2, spot=4, bulb=1, round=7, bounces=1),
        ground=Samples(panel=5, probes=3, spot=4, bulb=1, round=20),
        station=Samples(panel=9, probes=3, spot=5, bulb=1, round=18),
        painted=2 * TEXEL,
        texel=0.006,
        within=_MIDDLE,
        finer=1,
        within_finer=_MIDDLE,
        low=0.040,
        soft=3,
        close=0.002,
        wide=math.inf,
        near=0.008,
        near_leaves=0.022,
        corner=0.0025,
        cell=0.004,
    ),
}
