"""Frames drawn by the workers of a Dask cluster: processes that were started by hand, on this machine or on others.

All that a film needs is sent: its stage as built, its light, and how big its meshes are; nothing is looked for in the
scene's folder. Dask does a frame anew whose worker is lost. The same frames come only from the same program, so whoever
draws first says what it is made of (`made_of`), there, and refuses to draw for one that is made of something else.
Workers run whatever they are sent, by anyone who can reach their scheduler.
"""

import pickle
import re
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor, wait
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache, partial
from hashlib import sha256
from importlib.metadata import version
from itertools import count
from operator import call
from pathlib import Path
from pkgutil import resolve_name
from threading import Thread
from typing import Any, TypeVar
from uuid import uuid4

import numpy as np

from previz.errors import MachineError
from previz.frames import worker
from previz.frames.gl import gl_description

T = TypeVar("T")

#: How long is waited for the scheduler, then for a first worker, and for the workers to say what they are. [s]
_TO_CONNECT, _TO_COME, _TO_SAY = 10.0, 10.0, 30.0

#: After so many looks without any worker a film is given up: one that is replaced is there again by then.
_LONELY_LOOKS, _LOOK = 12, 5.0  # [s]

_ADDRESS = re.compile(r"(tcp|tls)://[^\s/]+:\d+")

_PACKAGE, _LOOK_THERE = "tabletop-previz", f"{__name__}:made_of_there"

Made = dict[str, str]

_SOURCE = (".py", ".glsl", ".vert", ".frag")

#: What must be there as it is here, for frames to be the same; what need only be the same wherever they are drawn.
_AS_HERE, _ALIKE = ("version of previz", "source text of previz", "numpy"), "OpenGL"


# --- what a worker runs ---


@dataclass(frozen=True)
class Sent:
    """What was handed over by sending it."""

    name: str
    data: bytes

    def open(self) -> Any:
        """What it is. From our own user, as all that a worker runs."""
        return pickle.loads(self.data)


@cache
def made_of() -> Made:
    """What decides how a frame of this process comes out."""
    package = Path(__file__).parents[1]
    texts = sorted(path for path in package.rglob("*") if path.suffix in _SOURCE)
    source = sha256(b"\0".join(path.read_bytes() for path in texts)).hexdigest()[:12]
    return dict(zip(_AS_HERE, (version(_PACKAGE), source, np.__version__), strict=True))


@cache
def made_of_there() -> Made:
    """The same in a worker, with what draws there."""
    return {**made_of(), _ALIKE: _drawing().submit(gl_description).result()}


def do_there(made: Made, work: Callable[..., T], *given: object) -> T:
    """In a worker: the result of `work`, unless this is not what it was asked of.

    A worker may have several threads, and its frames have one that draws, as OpenGL wants it.
    """
    refuse_other(made, made_of_there(), "a worker that came later")
    return _drawing().submit(work, *given).result()


@cache
def _drawing() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(1, initializer=worker.get_ready)


def refuse_other(wanted: Made, found: Made, who: str) -> None:
    """Raises MachineError where what was found is not what was wanted."""
    for name, ours in wanted.items():
        if found.get(name) != ours:
            raise MachineError(
                f"{who} has another {name}: {found.get(name, 'none')}, and not {ours}. Its frames would differ; have "
                "the same on all machines of the cluster"
            )


# --- who asks ---


@dataclass
class _Asked:
    """A piece of work on its way."""

    cluster: "Cluster"
    named: str
    future: Any

    def result(self) -> Any:
        """What was done, waited for as long as there is a worker."""
        fetched, lonely = _begun(self.future.result), 0
        while not wait([fetched], _LOOK).done:
            lonely = 0 if self.cluster.workers() else lonely + 1
            if lonely == _LONELY_LOOKS:
                raise MachineError(f"{self.named}: the cluster has had no worker for {lonely * _LOOK:g} s; start some")
        try:
            return fetched.result()
        except self.cluster.dask.KilledWorker as error:
            raise MachineError(
                f"{self.named}: {error.allowed_failures + 1} workers of the cluster ended over it, perhaps because "
                "memory ran out; take a smaller --size"
            ) from None
        finally:
            self.drop()

    def drop(self) -> None:
        """Nobody wants it any more."""
        self.future.release()


class Cluster:
    """The workers of a Dask cluster.

    Raises
    ------
    MachineError
        There is no scheduler at the address, none of its workers can be used, or `distributed` is not installed.
    """

    def __init__(self, address: str) -> None:
        if not _ADDRESS.fullmatch(address):
            raise MachineError(
                f"--cluster {address} is not the address of a cluster's scheduler; write tcp://host:port or tls://host:port"
            )
        self._address, self._numbers = address, count(1)
        self._told: list[Any] = []  # work is called off that nobody holds
        self._name = f"previz-{uuid4().hex[:12]}"
        self.dask = _library()
        _require_certificates(self.dask, address)
        with self.faults_explained():
            connect = partial(self.dask.Client, address, timeout=_TO_CONNECT, set_as_default=False)
            self._client = _in_time(connect, 2 * _TO_CONNECT)
        try:
            with self.faults_explained():
                self._made = self._agreed()
        except BaseException:
            self.close(at_once=True)
            raise

    def _agreed(self) -> Made:
        """What all workers that answer are made of. Raises MachineError where there is none, or they differ."""
        with self._told_of_lack(f"the scheduler at {self._address}"):
            _in_time(partial(self._client.run_on_scheduler, resolve_name, _LOOK_THERE), _TO_CONNECT)
        with suppress(TimeoutError):
            self._client.wait_for_workers(1, _TO_COME)
        asked = {each: self._look_at(each) for each in self.workers()}
        if not asked:
            raise MachineError(
                f"the scheduler at {self._address} has no workers; start some, on any machine that has previz: "
                f"dask worker {self._address} --nthreads 1"
            )
        with self._client.as_current(), suppress(TimeoutError):
            self.dask.wait(list(asked.values()), _TO_SAY)
        made: Made = {}
        for each, future in asked.items():
            if future.done():
                with self._told_of_lack(f"the worker at {each}"):
                    theirs = future.result()
                made = made or {**made_of(), _ALIKE: theirs[_ALIKE]}
                refuse_other(made, theirs, f"the worker at {each}")
        if not made:
            raise MachineError(f"no worker of {self._address} answered within {_TO_SAY:g} s: they are busy or stopped")
        return made

    def _look_at(self, each: str) -> Any:
        """What a worker says that it is made of; named only, for one without previz ends when it is sent ours."""
        look = self._submit("a look whether there is previz", resolve_name, _LOOK_THERE, workers=[each])
        return self._submit("a look", call, look, workers=[each])

    @contextmanager
    def _told_of_lack(self, who: str) -> Iterator[None]:
        try:
            yield
        except (ImportError, AttributeError) as error:
            raise MachineError(
                f"{who} has no previz that knows of clusters ({error}); install tabletop-previz[cluster] "
                f"{version(_PACKAGE)} there"
            ) from None
        except MachineError as error:
            raise MachineError(f"{who}: {error}") from None

    def _submit(self, named: str, work: Callable[..., object], *given: object, **how: Any) -> Any:
        """Work on its way, under a name of its own."""
        return self._client.submit(work, *given, key=f"{self._name}-{next(self._numbers)}: {named}", pure=False, **how)

    def workers(self) -> list[str]:
        """The addresses of those that are there."""
        return list(_in_time(self._client.nthreads, _TO_CONNECT))

    @property
    def count(self) -> int:
        """How many workers there are; one where the only one is being replaced."""
        return max(len(self.workers()), 1)

    def handed(self, data: Any) -> Any:
        """Sent once, kept by the scheduler as work is, so that it outlasts every worker that has a copy."""
        name = f"{self._name}-{next(self._numbers)}"
        packed = pickle.dumps(data, protocol=pickle.HIGHEST_PROTOCOL)
        return self._submit("what is filmed", Sent, name, packed)

    def take_back(self, handed: Any) -> None:
        """It is needed no more."""
        handed.release()

    def ask(self, named: str, work: Callable[..., object], *given: object) -> _Asked:
        """Have one of them do `work(*given)`; `named` in a message."""
        return _Asked(self, named, self._submit(named, do_there, self._made, work, *given))

    def tell_each(self, named: str, work: Callable[..., object], *given: object) -> None:
        """Have each do it; one that is busy may leave it to another."""
        self._told = [
            self._submit(named, do_there, self._made, work, *given, workers=[each], allow_other_workers=True)
            for each in self.workers()
        ]

    def do(self, work: Callable[[], T]) -> T:
        """The result of work on the set, done here, where its files are."""
        return work()

    def drawn_by(self) -> str:
        """OpenGL's words for itself, which are the same for all workers; this machine's may be others."""
        return self._made[_ALIKE]

    @contextmanager
    def faults_explained(self) -> Iterator[None]:
        """Say what a user can do where the way to the cluster fails."""
        try:
            yield
        except (OSError, CancelledError) as error:
            raise MachineError(
                f"no scheduler answers at {self._address}, or not any more: look at the address, or start one there "
                "with dask scheduler"
            ) from error

    def close(self, *, at_once: bool) -> None:
        """Leave the cluster; what it still does for us is called off."""
        self._told = []
        with suppress(OSError):  # it is gone, and so is what it did for us
            self._client.close(timeout=_TO_CONNECT)


def _begun(work: Callable[[], T]) -> Future[T]:
    """Work in a thread that nobody has to wait for, not even at the end of the program."""
    done: Future[T] = Future()

    def run() -> None:
        try:
            done.set_result(work())
        except BaseException as error:
            done.set_exception(error)

    Thread(target=run, daemon=True).start()
    return done


def _in_time(work: Callable[[], T], seconds: float) -> T:
    """Its result, or TimeoutError: whoever listens at an address need not answer, and Dask would wait without end."""
    done = _begun(work)
    if not wait([done], seconds).done:
        raise TimeoutError(f"no answer within {seconds:g} s")
    return done.result()


def _require_certificates(dask: Any, address: str) -> None:
    if address.startswith("tls:") and not dask.Security().get_connection_args("client").get("ssl_context"):
        raise MachineError(
            f"{address} wants certificates: name them in Dask's configuration, distributed.comm.tls (ca-file, and "
            "client with key and cert)"
        )


def _library() -> Any:
    """`distributed`, told to say nothing: its faults are told by us, and what we send is meant to be large."""
    try:
        import dask

        quiet = {"distributed": "critical", "distributed.client": "critical"}
        dask.config.set({"logging": quiet, "distributed.admin.large-graph-warning-threshold": "1 TB"})
        import distributed
    except ImportError as error:
        raise MachineError(
            f"to draw on a cluster Dask is needed ({error}): pip install 'tabletop-previz[cluster]'"
        ) from error
    return distributed
