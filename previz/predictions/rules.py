"""The rules by which another camera takes a shot over. Words alone, so that help about them need not wait."""

from enum import StrEnum


class Framing(StrEnum):
    """What stays while another camera takes over the framing."""

    PLACE = "place"
    LENS = "lens"
    OWN = "own"


class Stop(StrEnum):
    """Where the other camera's stop comes from."""

    SAME = "same"
    DEPTH = "depth"
    BEST = "best"


FRAMING_RULES = {
    Framing.PLACE: "same framing from the same place: the focal length follows the sensor",
    Framing.LENS: "same framing with the lens as it is: the camera moves along its axis",
    Framing.OWN: "same place and same focal length: each camera frames as it does",
}

STOP_RULES = {
    Stop.SAME: "same f-number",
    Stop.DEPTH: "same depth of field: the f-number follows",
    Stop.BEST: "each at its own sharpest f-number for this run",
}
