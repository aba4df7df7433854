"""Everything that leaves for `outputs/<scene>/`. Front door: `deliver_clip`, `deliver_still`, `deliver_comparison`."""

from typing import TYPE_CHECKING

from previz.doors import door

if TYPE_CHECKING:
    from previz.delivery.clip import CLIP_WRITERS, PURPOSES, check_clip, clip_size, deliver_clip, timing_note
    from previz.delivery.comparison import deliver_comparison, width_note
    from previz.delivery.encoder import try_encoder
    from previz.delivery.page import TooLarge, deliver_page
    from previz.delivery.panels import Comparison, compared
    from previz.delivery.slate import Slate
    from previz.delivery.still import deliver_still
    from previz.delivery.whole_file import try_folder

_HOMES = {
    "CLIP_WRITERS": "clip",
    "PURPOSES": "clip",
    "Comparison": "panels",
    "Slate": "slate",
    "TooLarge": "page",
    "check_clip": "clip",
    "clip_size": "clip",
    "compared": "panels",
    "deliver_clip": "clip",
    "deliver_comparison": "comparison",
    "deliver_page": "page",
    "deliver_still": "still",
    "timing_note": "clip",
    "try_encoder": "encoder",
    "try_folder": "whole_file",
    "width_note": "comparison",
}

__all__ = [
    "CLIP_WRITERS",
    "PURPOSES",
    "Comparison",
    "Slate",
    "TooLarge",
    "check_clip",
    "clip_size",
    "compared",
    "deliver_clip",
    "deliver_comparison",
    "deliver_page",
    "deliver_still",
    "timing_note",
    "try_encoder",
    "try_folder",
    "width_note",
]

__getattr__ = door(__name__, _HOMES)
