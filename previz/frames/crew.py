"""Frames drawn side by side, by processes of this machine or by other machines.

Frames are independent, so the pixels do not depend on how they are shared out. Those who draw start while the set is
still being built, for loading what they need takes a second, and may build a part of it. Of each film they are handed
two things: the stage without light, the first one's while the set is still being lit, and then its light.
"""

from collections import deque
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, suppress
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from previz.errors import MachineError
from previz.frames import worker
from previz.frames.processes import Processes
from previz.frames.spent import Spent

if TYPE_CHECKING:
    from previz.frames.frame import Frame, Look
    from previz.frames.studio import Prepared, Setup, Studio
    from previz.scene import Scene, Shot
    from previz.stage import Unlit

T = TypeVar("T")

_AHEAD = 2  # frames that each may be ahead of what has been asked for: memory holds no more


class Asked(Protocol):
    """A piece of work on its way."""

    def result(self) -> Any:
        """What was done, waited for; once."""

    def drop(self) -> None:
        """Nobody wants it any more."""


class Hands(Protocol):
    """Those who draw. One who is lost over a piece of work is replaced, and it is done anew."""

    @property
    def count(self) -> int:
        """How many there are."""

    def handed(self, data: Any, /) -> Any:
        """Plain data brought to where the work is done; stands for a `worker.Handed` in what is asked."""

    def take_back(self, handed: Any, /) -> None:
        """It is needed no more."""

    def ask(self, named: str, work: Callable[..., object], /, *given: object) -> Asked:
        """Have one of them do `work(*given)`; `named` in a message."""

    def tell_each(self, named: str, work: Callable[..., object], /, *given: object) -> None:
        """Have each do it, if it can be told apart; nobody waits for that."""

    def do(self, work: Callable[[], T], /) -> T:
        """The result of work on the set, which may need its files."""

    def drawn_by(self) -> str:
        """OpenGL's words for itself, where they draw. To be asked before anything is uploaded there."""

    def faults_explained(self) -> AbstractContextManager[None]:
        """Make a MachineError of what goes wrong between us."""

    def close(self, *, at_once: bool) -> None:
        """Let them go, when each has finished what it does or at once."""


class Crew:
    """Those who draw; a context, at whose end they end.

    Processes of this machine need what Python's `multiprocessing` needs of a program: that it can be imported without
    running.

    Parameters
    ----------
    count : int
        How many processes.
    at_once : int or None
        So many start at once, the others when they are expected or there is work for them; None: all.
    apart : bool
        Whether even one is a process of its own; else the caller draws what one would.
    keeps : bool
        Whether what the caller uploads for one film, where it draws, stays until the next, which may be of the same
        stage. All must be drawn by one thread then.
    cluster : str or None
        Address of a Dask scheduler, "tcp://host:port" or "tls://host:port": its workers draw in place of processes.

    Raises
    ------
    MachineError
        Processes, or the cluster, cannot be had.
    """

    def __init__(
        self,
        count: int,
        *,
        at_once: int | None = None,
        apart: bool = False,
        keeps: bool = False,
        cluster: str | None = None,
    ) -> None:
        self._hands: Hands | None = None
        if cluster is not None:
            from previz.frames.cluster import Cluster

            self._hands = Cluster(cluster)
        elif count > 1 or apart:
            self._hands = _processes(count, count if at_once is None else at_once)
        self._ready: tuple[Setup, Any] | None = None  # what was uploaded ahead, until it is filmed
        self._keeps = keeps
        self._kept: tuple[Unlit, Studio] | None = None  # the caller's, where it draws

    def frames(
        self,
        prepared: "Prepared",
        numbers: range,
        spent: Spent | None,
        meanwhile: Callable[[], object] | None = None,
    ) -> "Iterator[Frame]":
        """The frames in order. `meanwhile` is called once, before the first is waited for.

        Raises
        ------
        MachineError
            A frame ended whoever drew it again and again, the disk is full, or the cluster is gone.
        """
        if self._hands is None:
            if meanwhile is not None:
                meanwhile()
            yield from self._drawn_here(prepared, numbers, spent)
            return
        hands, shot = self._hands, prepared.setup.shot.id
        waiting: deque[Asked] = deque()
        handed: list[Any] = []
        try:
            with hands.faults_explained():
                handed.append(setup := self._made_ready(hands, prepared.setup))
                handed.append(lighting := hands.handed(prepared.lighting))
                for number in numbers:
                    named = f"frame {number} of shot {shot!r}"
                    waiting.append(hands.ask(named, worker.draw, setup, lighting, spent is not None, number))
                    if meanwhile is not None and len(waiting) == min(hands.count, len(numbers)):
                        meanwhile()
                        meanwhile = None
                    if len(waiting) > hands.count * _AHEAD:
                        yield _frame_of(waiting.popleft(), spent)
                while waiting:
                    yield _frame_of(waiting.popleft(), spent)
        finally:
            for asked in waiting:
                asked.drop()
            for each in handed:
                hands.take_back(each)

    def _drawn_here(self, prepared: "Prepared", numbers: range, spent: Spent | None) -> "Iterator[Frame]":
        from previz.frames.studio import Studio

        unlit = prepared.setup.unlit
        if self._kept is not None and not self._kept[0].is_same(unlit):
            self._give_back()
        before, self._kept = self._kept and self._kept[1], None
        studio = Studio(prepared.setup, before)
        with ExitStack() as unless_kept:
            unless_kept.callback(studio.close)
            studio.light(prepared.lighting, spent)
            for number in numbers:
                yield studio.frame(number)
            if self._keeps:
                unless_kept.pop_all()
                self._kept = unlit, studio

    def _give_back(self) -> None:
        if self._kept is not None:
            self._kept[1].close()
            self._kept = None

    def get_ready(self, scene: "Scene", shot: "Shot", look: "Look", unlit: "Unlit") -> None:
        """Upload a stage while it is still being lit; the first frames of that shot, if it comes next, come sooner.

        Nothing where the caller draws itself. A process that is late to start may find its upload done by another one,
        and then uploads with its first frame.

        Raises
        ------
        MachineError
            As `frames` does.
        """
        if self._hands is None:
            return
        from previz.frames.studio import Setup

        setup = Setup.of(scene, shot, look, unlit)
        with self._hands.faults_explained():
            self._drop_ready()
            self._ready = setup, self._hands.handed(setup)
            # Faults come up again with the first frame.
            self._hands.tell_each(f"shot {shot.id!r}", worker.upload, self._ready[1])

    def _made_ready(self, hands: Hands, setup: "Setup") -> Any:
        """A setup handed over: that which was made ready if it is the same. It serves one film, to be lit once."""
        if self._ready is not None and self._ready[0].is_same(setup):
            (_, handed), self._ready = self._ready, None
            return handed
        self._drop_ready()
        return hands.handed(setup)

    def _drop_ready(self) -> None:
        """What was made ready and never filmed goes: a crew may stay for hours."""
        if self._ready is not None and self._hands is not None:
            self._hands.take_back(self._ready[1])
            self._ready = None

    def do(self, work: Callable[[], T], /) -> T:
        """The result of a piece of work that one of the processes does before it draws, or the caller if there is none.

        The work and its result must be fit to be sent: a top-level function or a `partial` of one, and plain data.

        Raises
        ------
        MachineError
            As `frames` does; an OSError of the work counts as one of the disk. What else it raises passes through.
        """
        if self._hands is None:
            return work()
        with self._hands.faults_explained():
            return self._hands.do(work)

    def begin(self, named: str, work: Callable[[], T], /) -> Callable[[], T]:
        """Begin a piece of work that may build, light and draw by itself, as `one_by_one.frames_of` does.

        What comes back is asked for the result once, and waits for it; where there is no process, it does the work.
        `named` says in a message what it is. Work and result must be fit to be sent, as with `do`.

        Raises
        ------
        MachineError
            As `frames` does; when the result is asked for, too.
        """
        if self._hands is None:
            return work
        hands = self._hands
        with hands.faults_explained():
            asked = hands.ask(named, worker.or_end, work)

        def result() -> T:
            with hands.faults_explained():
                done: T = asked.result()
                return done

        return result

    def expect(self, count: int) -> None:
        """Have so many processes get ready, for which there will be work; no more than there are."""
        if isinstance(self._hands, Processes):
            with suppress(OSError):  # told where there is work for one
                self._hands.expect(count)

    def drawn_by(self) -> str:
        """OpenGL's words for itself, where frames will be drawn; before anything is uploaded there.

        Raises
        ------
        MachineError
            As `frames` does, or there is no OpenGL.
        """
        if self._hands is None:
            from previz.frames.gl import gl_description

            return gl_description()
        with self._hands.faults_explained():
            return self._hands.drawn_by()

    def close(self, *, at_once: bool = False) -> None:
        """End them, when each has finished its frame or at once."""
        self._give_back()
        if self._hands is not None:
            self._hands.close(at_once=at_once)

    def __enter__(self) -> "Crew":
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        # Whatever went wrong, or interrupted: their frames are not waited for.
        self.close(at_once=kind is not None)


def _processes(count: int, at_once: int) -> Processes | None:
    """Processes that draw; None where the first alone cannot be had, for the caller can do what it would."""
    try:
        return Processes(count, at_once)
    except OSError as error:
        if at_once == 1:
            return None
        raise MachineError(
            f"processes that draw side by side cannot be had here ({error.strerror or error}): they need a folder for "
            "temporary files, and leave to start; render with --workers 1"
        ) from error


def _frame_of(asked: Asked, spent: Spent | None) -> "Frame":
    frame: Frame
    frame, own = asked.result()
    if spent is not None:
        spent.add(own)
    return frame
