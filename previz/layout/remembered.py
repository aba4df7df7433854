"""Answers about a scene, worked out once for as long as that very scene is in use."""

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import Any, TypeVar

from previz.scene import Scene

T = TypeVar("T")


class _Same:
    """A scene that is equal only to itself: comparing scenes key by key would cost more than what is remembered."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene

    def __hash__(self) -> int:
        return id(self.scene)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.scene is self.scene


def remembered(answer: Callable[[Scene], T]) -> Callable[[Scene], T]:
    """`answer`, which remembers what it said of the last few scenes; they are frozen, so it stays true."""

    @lru_cache(maxsize=16)
    def kept(same: Any) -> T:
        return answer(same.scene)

    @wraps(answer)
    def find(scene: Scene) -> T:
        return kept(_Same(scene))

    return find
