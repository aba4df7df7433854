"""`advise(scene, shot)`: the best shots that this kit can make."""

from previz.advice.plans import Advice
from previz.scene import Scene, Shot


def advise(scene: Scene, shot: Shot, plans: int = 3) -> Advice:
    """The best plans for a shot, within what the scene says may change.

    Parameters
    ----------
    scene : Scene
        As `read_scene` returned it, with `wants` and `may_change`.
    shot : Shot
        One of the scene's.
    plans : int
        How many at most.

    Raises
    ------
    PrevizError
        Where no file stands behind the scene.
    """
    raise NotImplementedError
