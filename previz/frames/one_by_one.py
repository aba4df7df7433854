"""Single frames of a setup from nothing but its scene: for a process that does all of it, beside others that do others.

A film wants all who draw on one set. A plan wants one picture from each of several sets, and those are built side by
side.
"""

from collections.abc import Sequence
from typing import Literal

from previz.frames.crew import Crew
from previz.frames.frame import Frame, Look
from previz.frames.render import render_frames
from previz.scene import Scene
from previz.stage import build_stage


def frames_of(
    scene: Scene, asked: Sequence[tuple[str, Look]], quality: Literal["full", "draft", "small"]
) -> list[Frame]:
    """All frames that each look asks of a shot, by the shot's id, on a stage that is built and lit here."""
    stage = build_stage(scene, quality)
    with Crew(1, keeps=True) as crew:
        return [frame for shot, look in asked for frame in render_frames(scene, stage, scene.shot(shot), look, crew)]
