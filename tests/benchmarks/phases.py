"""What a frame takes part by part, in CPU milliseconds of one process that draws with one thread, as `render` has them.

    python tests/benchmarks/phases.py quay_lorry,one-inch,moving,locked --size 640x360
    python tests/benchmarks/phases.py snow_bus,one-inch,moving,panning --size 640x360 --draft

Of frames from the middle of a case of `bench.py`: *whole* with nothing kept of the frame before, *next* as they follow
one another. Parts are waited for, one by one, which costs a little; what is set in holds what follows it.
"""

import argparse
import os
import time
from collections import defaultdict
from collections.abc import Callable
from typing import Any

os.environ["LP_NUM_THREADS"] = "1"  # before anything loads OpenGL, which reads it then

from bench import prepared, studio_of
from cases import Case

from previz.frames.gl import open_raster  # noqa: F401 - settles OpenGL's platform
from previz.frames.moving import moving_of
from previz.takes import DRAFT_VIEWS

_FRAMES = 12


def parts() -> list[tuple[int, str, type, str]]:
    """How deep, what to call it, and the method that does it."""
    from previz.frames.gl import drawing, glows, kept, layers, raster, smear, uploaded
    from previz.frames.studio import Studio

    return [
        (0, "a frame", Studio, "frame"),
        (1, "choosing triangles", uploaded.UploadedStage, "choose"),
        (1, "taking over what is kept", kept.KeptView, "copied_into"),
        (1, "the set", drawing.Drawing, "_set"),
        (1, "the ground, where nothing is cast", drawing.Drawing, "_ground_plain"),
        (1, "the ground", drawing.Drawing, "_ground"),
        (1, "vehicles", drawing.Drawing, "_vehicles"),
        (1, "what is cast on the ground", drawing.Drawing, "_shade"),
        (1, "finding what moves", smear.Smear, "look"),
        (1, "adding views up", layers.Layers, "add"),
        (1, "blurring and laying over", layers.Layers, "fill"),
        (1, "lamps", glows.Glows, "add"),
        (1, "reading back", raster.SumTarget, "read"),
    ]


class Meter:
    """CPU seconds of each part since the last time that was asked."""

    def __init__(self) -> None:
        from OpenGL import GL

        self._finish = GL.glFinish
        self._spent: dict[str, float] = defaultdict(float)
        for _, name, owner, method in parts():
            setattr(owner, method, self._timed(name, getattr(owner, method)))

    def _timed(self, name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*given: Any, **named: Any) -> Any:
            self._finish()
            began = time.process_time()
            try:
                return work(*given, **named)
            finally:
                self._finish()
                self._spent[name] += time.process_time() - began

        return timed

    def spent(self) -> dict[str, float]:
        """What was spent on each."""
        found, self._spent = self._spent, defaultdict(float)
        return found


def main() -> None:
    """Measure and tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("case")
    parser.add_argument("--size", default="1280x720")
    parser.add_argument("--draft", action="store_true")
    asked = parser.parse_args()
    width, height = (int(side) for side in asked.size.split("x"))
    ready = prepared(Case(*asked.case.split(",")), (width, height), {})
    draft = {"views": DRAFT_VIEWS, "quality": "draft", "thorough": False, "noise": True} if asked.draft else {}
    studio = studio_of(ready, **draft)
    middle = moving_of(ready.setup.scene, ready.setup.shot).times.count // 2
    numbers = [middle, middle + 1] * (_FRAMES // 2)
    views = studio.frame(numbers[-1]).facts.views
    meter = Meter()
    columns = []
    for whole in (True, False):
        for number in numbers[-2:]:  # what is kept is drawn by the second frame
            studio.frame(number)
        meter.spent()
        for number in numbers:
            if whole:
                studio.forget()
            studio.frame(number)
        columns.append(meter.spent())
    print(f"{asked.case}, {asked.size}, {views} views; CPU ms of a frame: whole, next")
    for depth, name, _, _ in parts():
        told = (1000 * spent[name] / len(numbers) for spent in columns)
        print(f"{'  ' * depth + name:36}" + "".join(f"{cost:8.1f}" for cost in told))
    studio.close()


if __name__ == "__main__":
    main()
