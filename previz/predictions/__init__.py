"""What physics says of a scene before anything is built: figures and findings. Front door: `predict`.

Two more doors are imported by name: `predictions.motion` and `predictions.exposure`, which other rooms share.
"""

from typing import TYPE_CHECKING

from previz.doors import door

if TYPE_CHECKING:
    from previz.predictions.cautions import Caution
    from previz.predictions.findings import Change, Figure, Finding, Verdict
    from previz.predictions.flashes import Flashes, cells_of, flashes_in_a_second
    from previz.predictions.glossary import GLOSSARY, Quantity
    from previz.predictions.in_picture import (
        background_point,
        place_in_picture,
        vehicle_in_picture,
        vehicle_leads_right,
    )
    from previz.predictions.matching import CannotMatch, match
    from previz.predictions.overview import Predictions, Row, ShotPredictions, predict, rows
    from previz.predictions.rules import FRAMING_RULES, STOP_RULES, Framing, Stop

# Loaded when first used: the rooms that only want motion or exposure do not wait for the rest.
_HOMES = {
    "FRAMING_RULES": "rules",
    "GLOSSARY": "glossary",
    "STOP_RULES": "rules",
    "CannotMatch": "matching",
    "Caution": "cautions",
    "Change": "findings",
    "Figure": "findings",
    "Finding": "findings",
    "Flashes": "flashes",
    "Framing": "rules",
    "Predictions": "overview",
    "Quantity": "glossary",
    "Row": "overview",
    "ShotPredictions": "overview",
    "Stop": "rules",
    "Verdict": "findings",
    "background_point": "in_picture",
    "cells_of": "flashes",
    "flashes_in_a_second": "flashes",
    "match": "matching",
    "place_in_picture": "in_picture",
    "predict": "overview",
    "rows": "overview",
    "vehicle_in_picture": "in_picture",
    "vehicle_leads_right": "in_picture",
}

__all__ = [
    "FRAMING_RULES",
    "GLOSSARY",
    "STOP_RULES",
    "CannotMatch",
    "Caution",
    "Change",
    "Figure",
    "Finding",
    "Flashes",
    "Framing",
    "Predictions",
    "Quantity",
    "Row",
    "ShotPredictions",
    "Stop",
    "Verdict",
    "background_point",
    "cells_of",
    "flashes_in_a_second",
    "match",
    "place_in_picture",
    "predict",
    "rows",
    "vehicle_in_picture",
    "vehicle_leads_right",
]

__getattr__ = door(__name__, _HOMES)
