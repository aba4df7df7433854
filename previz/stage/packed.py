"""Meshes as plain arrays, fit to be kept on disk."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.files import Arrays
from previz.mesh import Material, Mesh, Picture, Surface

Groups = Mapping[str, Sequence[Mesh]]


def packed(groups: Groups, *, exact: bool = False) -> tuple[Arrays, dict[str, list[dict[str, Any]]]]:
    """Meshes as named arrays and plain facts; a picture that several share is there once.

    `exact`: to the last bit, for what is built on.
    """
    small, whole = (np.float64, np.int64) if exact else (np.float32, np.int32)
    arrays: Arrays = {}
    facts: dict[str, list[dict[str, Any]]] = {}
    pictures: dict[int, str] = {}

    def picture_of(pixels: NDArray[np.uint8] | None) -> str | None:
        if pixels is None:
            return None
        name = pictures.setdefault(id(pixels), f"picture.{len(pictures)}")
        arrays[name] = pixels
        return name

    def surface_of(surface: Surface) -> dict[str, Any]:
        told: dict[str, Any] = {}
        for name in (each.name for each in fields(Surface)):
            value = getattr(surface, name)
            if isinstance(value, Picture):
                told[name] = {"pixels": picture_of(value.pixels), "way": value.way, "wrap": list(value.wrap)}
            else:
                told[name] = picture_of(value) if isinstance(value, np.ndarray) else value
        return told

    for name, meshes in groups.items():
        facts[name] = []
        for k, mesh in enumerate(meshes):
            arrays |= {f"{name}.{k}.{part}": np.ascontiguousarray(getattr(mesh, part), small) for part in _PARTS}
            arrays[f"{name}.{k}.faces"] = np.ascontiguousarray(mesh.faces, whole)
            if mesh.uv is not None:
                arrays[f"{name}.{k}.uv"] = np.ascontiguousarray(mesh.uv, small)
            fact: dict[str, Any] = {"material": asdict(mesh.material), "picture": picture_of(mesh.image)}
            if mesh.surface is not None:
                fact["surface"] = surface_of(mesh.surface)
            facts[name].append(fact)
    return arrays, facts


_PARTS = ("vertices", "normals", "colours")


def meshes_of(arrays: Arrays, facts: Mapping[str, Any]) -> dict[str, tuple[Mesh, ...]]:
    """What was `packed`."""
    return {
        name: tuple(_mesh(arrays, f"{name}.{k}", each) for k, each in enumerate(meshes))
        for name, meshes in facts.items()
    }


def _mesh(arrays: Arrays, name: str, facts: dict[str, Any]) -> Mesh:
    vertices, normals, colours = (arrays[f"{name}.{part}"].astype(float, copy=False) for part in _PARTS)
    material = Material(**{**facts["material"], "glow": triple(facts["material"]["glow"])})
    uv = arrays[f"{name}.uv"].astype(float, copy=False) if f"{name}.uv" in arrays else None
    image = None if facts["picture"] is None else arrays[facts["picture"]]
    surface = _surface(arrays, facts["surface"]) if "surface" in facts else None
    return Mesh(
        vertices, arrays[f"{name}.faces"].astype(np.int64, copy=False), normals, colours, material, uv, image, surface
    )


def _surface(arrays: Arrays, facts: Mapping[str, Any]) -> Surface:
    def unpacked(value: Any) -> Any:
        if isinstance(value, dict):
            return Picture(arrays[value["pixels"]], value["way"], tuple(value["wrap"]))
        return arrays[value] if isinstance(value, str) else value

    return Surface(**{name: unpacked(value) for name, value in facts.items()})


def triple(values: Iterable[float]) -> tuple[float, float, float]:
    """Three numbers, whatever holds them."""
    x, y, z = (float(value) for value in values)
    return x, y, z
