"""Answers about what a scene has on the set, worked out once for as long as that is in use."""

from collections.abc import Callable
from functools import lru_cache, wraps
from operator import attrgetter
from pathlib import Path
from typing import Any, TypeVar

from previz.files import note, read_files
from previz.scene import Scene, Shot

T = TypeVar("T")


#: What no answer of the layout has to do with: a scene that is filmed otherwise has the same set.
_NOT_ON_THE_SET = {"title", "cameras", "kit", "shots", "written"}
_ON_THE_SET = tuple(name for name in Scene.model_fields if name not in _NOT_ON_THE_SET)


class _Same:
    """A scene that is equal to one of the very same parts: comparing key by key would cost more than is remembered."""

    def __init__(self, scene: Scene, parts: Callable[[Scene], tuple[Any, ...]], shot: Shot | None = None) -> None:
        self.scene, self.shot = scene, shot
        self.parts = (*map(id, parts(scene)), id(shot))

    def __hash__(self) -> int:
        return hash(self.parts)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.parts == self.parts  # which live as long as the scene that is kept


def remembered(answer: Callable[[Scene], T]) -> Callable[[Scene], T]:
    """`answer`, which remembers what it said of the last few sets; they are frozen, so it stays true.

    It must not ask for the scene's shots or cameras. Files that it reads count as read by each who asks.
    """
    return _remembered(answer, _ON_THE_SET)


def remembered_of(*names: str) -> Callable[[Callable[[Scene], T]], Callable[[Scene], T]]:
    """The same of an answer that asks for nothing but those parts of a scene: it holds however the set is lit, say."""
    return lambda answer: _remembered(answer, names)


def remembered_of_shot(answer: Callable[[Scene, Shot], T]) -> Callable[[Scene, Shot], T]:
    """The same of a shot on a set, by what stands and drives there; it must not ask for other shots or cameras."""
    parts = attrgetter(*_ON_THE_SET)

    @lru_cache(maxsize=16)
    def kept(same: Any) -> tuple[T, dict[Path, str]]:
        with read_files() as read:
            return answer(same.scene, same.shot), read

    @wraps(answer)
    def find(scene: Scene, shot: Shot) -> T:
        found, read = kept(_Same(scene, parts, shot))
        if read:
            note(read)
        return found

    return find


def _remembered(answer: Callable[[Scene], T], names: tuple[str, ...]) -> Callable[[Scene], T]:
    parts = attrgetter(*names)  # several thousand times a check

    @lru_cache(maxsize=16)
    def kept(same: Any) -> tuple[T, dict[Path, str]]:
        with read_files() as read:
            return answer(same.scene), read

    @wraps(answer)
    def find(scene: Scene) -> T:
        found, read = kept(_Same(scene, parts))
        if read:
            note(read)
        return found

    return find
