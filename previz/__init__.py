"""See a miniature film's shot before building it.

The public names come from the rooms' front doors and are loaded when first used, so that `import previz` is quick:

    scene = previz.read_scene("scenes/quay_lorry.yaml")
    stage = previz.build_stage(scene)
    frames = previz.render_frames(scene, stage, scene.shots[0], previz.Look(size=(640, 360), views=8))
    previz.deliver_clip(Path("pass.mp4"), frames, scene.shots[0].playback, (640, 360))
"""

from typing import TYPE_CHECKING

from previz.doors import door

if TYPE_CHECKING:
    from previz.delivery import Slate, compared, deliver_clip, deliver_comparison, deliver_page, deliver_still
    from previz.errors import MachineError, PrevizError, SceneErrors
    from previz.frames import Frame, Look, render_frames
    from previz.predictions import Finding, Predictions, predict
    from previz.scene import Scene, Shot, read_scene
    from previz.stage import Stage, build_stage

__version__ = "0.1.0"

# Which front door each public name stands at.
_DOORS = {
    "Finding": "predictions",
    "Frame": "frames",
    "Look": "frames",
    "MachineError": "errors",
    "Predictions": "predictions",
    "PrevizError": "errors",
    "Scene": "scene",
    "SceneErrors": "errors",
    "Shot": "scene",
    "Slate": "delivery",
    "Stage": "stage",
    "build_stage": "stage",
    "compared": "delivery",
    "deliver_clip": "delivery",
    "deliver_comparison": "delivery",
    "deliver_page": "delivery",
    "deliver_still": "delivery",
    "predict": "predictions",
    "read_scene": "scene",
    "render_frames": "frames",
}

__all__ = [
    "Finding",
    "Frame",
    "Look",
    "MachineError",
    "Predictions",
    "PrevizError",
    "Scene",
    "SceneErrors",
    "Shot",
    "Slate",
    "Stage",
    "__version__",
    "build_stage",
    "compared",
    "deliver_clip",
    "deliver_comparison",
    "deliver_page",
    "deliver_still",
    "predict",
    "read_scene",
    "render_frames",
]

__getattr__ = door(__name__, _DOORS)
