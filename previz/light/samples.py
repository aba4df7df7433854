"""How many rays a point sends."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Samples:
    """Rays a point sends: to each panel, spot and bulb where its shadow has an edge, and all round.

    `probes` go to a panel first; only where they disagree is there an edge. `bounces` is how often light goes on from
    surface to surface.
    """

    panel: int = 34
    probes: int = 8
    spot: int = 12
    bulb: int = 4
    round: int = 64
    bounces: int = 2
