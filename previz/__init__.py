"""See a miniature film's shot before building it.

The public names come from the rooms' front doors and are loaded when first used, so that `import previz` is quick:

    scene = previz.read_scene("scenes/quay_lorry.yaml")
    stage = previz.build_stage(scene)
    frames = previz.render_frames(scene, stage, scene.shots[0], previz.Look(size=(640, 360), views=8))
    previz.deliver_clip(Path("pass.mp4"), frames, scene.shots[0].playback, (640, 360))
"""

import lazy_loader

from previz.threads import one_thread

__version__ = "0.1.0"

one_thread()

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
__all__ = sorted([*__all__, "__version__"])
