"""Models of what a scene's dressing is made of, each in its own frame: a few looks of an entry that its copies repeat.

They know nothing of where they will stand, so that they stay the same however the set is dressed around them, and are
kept on disk one by one: a setup in which something else stands, or a lamp, need not build them anew.
"""

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import FileFault, PrevizError
from previz.files import Arrays, kept_apiece, key_of, load_image, load_model
from previz.layout import box_colours
from previz.mesh import Mesh
from previz.scene import Card, Container, MeshPiece, Scatter, Scene, Standing
from previz.stage.packed import meshes_of, packed
from previz.stage.pieces.kinds import build_piece
from previz.stage.shapes.finish import Colour, cut_for_light

Model = tuple[Mesh, ...]
Build = Callable[[], Model]
Pixels = NDArray[np.uint8]

#: Copies come in so many different builds, then repeat; what is made in a works looks alike.
_LOOKS = {"conifer": 6, "broadleaf": 4, "bush": 5, "hedge": 4, "stone": 8}
_LOOKS_MADE = 2

#: Begins the key of a model that is built anew each time.
UNKEPT = "unkept "

#: Of an entry, what says where it lies and not what it is.
_WHERE = {"id", "at", "turn", "copies", "step", "along", "every", "offset", "first", "over"}


class Models:
    """Models by what they are made from.

    Parameters
    ----------
    source : str or None
        Names the source text that builds them. With it they are kept on disk.
    """

    def __init__(self, source: str | None = None) -> None:
        self.source = source

    def all_of(self, wanted: Mapping[str, Build]) -> dict[str, Model]:
        """What is wanted, by key, built unless it is on disk."""
        if self.source is None:
            return {key: build() for key, build in wanted.items()}
        names = {key: key_of("model", self.source, key) for key in wanted if not key.startswith(UNKEPT)}
        kept = kept_apiece({name: _as_arrays(wanted[key]) for key, name in names.items()})
        pictures: dict[str, Pixels] = {}
        known = {key: _on_same(pictures, _model(kept[name])) for key, name in names.items()}
        return {key: known[key] if key in known else build() for key, build in wanted.items()}


def _as_arrays(build: Build) -> Callable[[], Arrays]:
    def compute() -> Arrays:
        arrays, facts = packed({"model": build()}, exact=True)
        return {**arrays, "facts": np.frombuffer(json.dumps(facts).encode(), dtype=np.uint8)}

    return compute


def _model(arrays: Arrays) -> Model:
    return meshes_of(arrays, json.loads(arrays["facts"].tobytes()))["model"]


def _on_same(pictures: dict[str, Pixels], model: Model) -> Model:
    """A model with its pictures as the one array of `pictures` that each is: meshes are merged by that."""
    return tuple(
        mesh if mesh.image is None else replace(mesh, image=pictures.setdefault(key_of(mesh.image), mesh.image))
        for mesh in model
    )


def words_of(spec: Standing | Scatter) -> str:
    """What an entry is, in words, wherever it lies; what was left to its default differs from what was written."""
    whole, written = (spec.model_dump(exclude=_WHERE, exclude_unset=unset) for unset in (False, True))
    return f"{type(spec).__name__} {whole!r} {written!r}"


@contextmanager
def at_fault(*place: str | int) -> Iterator[None]:
    """What goes wrong meanwhile is told at a place in the scene file, unless it has one."""
    try:
        yield
    except FileFault:
        raise
    except PrevizError as error:
        raise FileFault(place, str(error)) from None


class Entry:
    """The looks of one entry's copies: a few that repeat, and the colours of containers in turn."""

    def __init__(self, scene: Scene, spec: Any, number: int) -> None:
        self._scene, self._spec, self._number = scene, spec, number
        self._words = "" if isinstance(spec, MeshPiece) else f"{words_of(spec)} {scene.scale_of(spec)!r}"

    def copy(self, k: int) -> tuple[str, Build]:
        """The key and the build of copy k; those that look alike have the same key."""
        spec = self._spec
        if isinstance(spec, MeshPiece):
            return f"{UNKEPT}{self._number}", self._of_file
        look = k % _LOOKS.get(spec.piece, _LOOKS_MADE)
        boxes = box_colours(spec, k) if isinstance(spec, Container) else ()
        of_file = isinstance(spec, Card) and spec.image
        key = f"{self._words} {look} {boxes!r}"
        return f"{UNKEPT}{self._number} {key}" if of_file else key, partial(self._look, look, boxes)

    def _of_file(self) -> Model:
        spec = self._spec
        path = self._scene.folder / spec.mesh
        with at_fault("dressing", self._number, "id"):
            return cut_for_light(load_model(path, spec.length, spec.up, spec.colour, node=spec.node, glow=spec.glow))

    def _look(self, look: int, boxes: tuple[Colour, ...]) -> Model:
        spec = self._spec
        if boxes:
            spec = spec.model_copy(update={"colour": boxes[0], "colours": boxes[1:]})
        rng = np.random.default_rng([spec.seed, look])
        named = isinstance(spec, Card) and spec.image
        # Of what has no image, one face may be too large.
        with at_fault("dressing", self._number, "image" if named else "id"):
            image = load_image(self._scene.folder / named) if named else None
            return build_piece(spec, self._scene.scale_of(spec), rng, image)
