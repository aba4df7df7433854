"""What comes in while a scene is watched: that a file was saved, and what the page wishes to see."""

from dataclasses import dataclass, replace
from threading import Condition
from typing import Any


@dataclass(frozen=True)
class Wish:
    """What is to be seen: a shot by its id, and a time on set [s]; None leaves them to us."""

    shot: str | None = None
    time: float | None = None


@dataclass(frozen=True)
class News:
    """What came in since it was last taken. saved: when a file was [s since the epoch]; None where nothing came."""

    saved: float | None = None
    wish: Wish | None = None


class Inbox:
    """Filled by the threads that hear of something, emptied by the one that works. The newest of a kind counts."""

    def __init__(self) -> None:
        self._came, self._news = Condition(), News()

    def saved(self, at: float) -> None:
        """A file of the scene was saved then."""
        self._put(saved=at)

    def wish(self, wish: Wish) -> None:
        """Somebody wants to see this."""
        self._put(wish=wish)

    def take(self, patience: float) -> News:
        """What came in, waited for so long at most. [s]"""
        with self._came:
            if not self._any:
                self._came.wait(patience)
            news, self._news = self._news, News()
        return news

    def expect(self, patience: float) -> bool:
        """Whether something is there within so long [s]; it stays."""
        with self._came:
            return self._any or (self._came.wait(patience) and self._any)

    @property
    def saved_meanwhile(self) -> bool:
        """Whether a file was saved that nobody has looked at."""
        return self._news.saved is not None

    @property
    def _any(self) -> bool:
        return self._news != News()

    def _put(self, **news: Any) -> None:
        with self._came:
            self._news = replace(self._news, **news)
            self._came.notify_all()
