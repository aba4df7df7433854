"""What physics says of a scene before anything is built: figures and findings. Front door: `predict`.

Two more doors are imported by name: `predictions.motion` and `predictions.exposure`, which other rooms share.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from previz.predictions.cautions import Caution
    from previz.predictions.findings import Change, Figure, Finding, Verdict
    from previz.predictions.glossary import GLOSSARY, Quantity
    from previz.predictions.overview import Predictions, Row, ShotPredictions, predict, rows

# Loaded when first used: the rooms that only want motion or exposure do not wait for the rest.
_HOMES = {
    "GLOSSARY": "glossary",
    "Caution": "cautions",
    "Change": "findings",
    "Figure": "findings",
    "Finding": "findings",
    "Predictions": "overview",
    "Quantity": "glossary",
    "Row": "overview",
    "ShotPredictions": "overview",
    "Verdict": "findings",
    "predict": "overview",
    "rows": "overview",
}

__all__ = [
    "GLOSSARY",
    "Caution",
    "Change",
    "Figure",
    "Finding",
    "Predictions",
    "Quantity",
    "Row",
    "ShotPredictions",
    "Verdict",
    "predict",
    "rows",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'previz.predictions' has no attribute {name!r}")
    return getattr(import_module(f"previz.predictions.{_HOMES[name]}"), name)
