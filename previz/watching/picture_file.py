"""What is watched as a picture file, for a viewer that shows a file anew when it changes."""

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np

from previz.delivery import deliver_still, words_over
from previz.frames import Facts, Frame
from previz.watching.board import Told

#: Of the plain picture that faults stand on where none was drawn yet. [px]
_PLAIN = (360, 640)


class PictureFile:
    """A PNG that is written whole at every save."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._good = Frame(0, Fraction(0), np.full((*_PLAIN, 3), 0.05, np.float32), Facts(0, 0.0, 0.0, 0, 0.0))

    def show(self, frame: Frame) -> None:
        """Write a picture. Raises MachineError where that cannot be."""
        self._good = frame
        deliver_still(self._path, frame)

    def tell(self, faults: Sequence[Told]) -> None:
        """Write the last picture with faults over it. Raises MachineError where that cannot be."""
        said = [": ".join(each for each in (fault.place, fault.message) if each) for fault in faults]
        deliver_still(self._path, words_over(self._good, said))
