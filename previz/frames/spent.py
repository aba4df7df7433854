"""Where the time went."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager


class Spent:
    """Seconds spent on each of a few named things.

    >>> spent = Spent()
    >>> with spent.on("views"):
    ...     pass
    >>> list(spent.seconds)
    ['views']
    """

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    @contextmanager
    def on(self, name: str, finish: Callable[[], object] | None = None) -> Iterator[None]:
        """Count what happens within, up to the end of `finish`: graphics hardware works on after it was told to."""
        began = time.perf_counter()
        yield
        if finish is not None:
            finish()
        self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - began

    def add(self, other: "Spent") -> None:
        """Take over what was spent elsewhere."""
        for name, seconds in other.seconds.items():
            self.seconds[name] = self.seconds.get(name, 0.0) + seconds
