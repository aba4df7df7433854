"""Everything that leaves for `outputs/<scene>/`. Front door: `deliver_clip`, `deliver_still`."""

from previz.delivery.clip import CLIP_WRITERS, check_clip, deliver_clip, timing_note
from previz.delivery.encoder import try_encoder
from previz.delivery.slate import Slate
from previz.delivery.still import deliver_still

__all__ = ["CLIP_WRITERS", "Slate", "check_clip", "deliver_clip", "deliver_still", "timing_note", "try_encoder"]
