"""What a glTF file says of its materials beyond what trimesh takes up: how textures lie, how strong they are, all sets.

Source of all meanings and defaults: glTF 2.0 specification, 3.7.2.1, 3.8 and 3.9 (Khronos; ISO/IEC 12113:2022), and the
texts of the extensions KHR_texture_transform and KHR_materials_emissive_strength.
"""

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.mesh import Array, Material, Picture, Surface, Wrap

#: Gives the pixels of what trimesh holds as a picture, (h, w, 3) or (h, w, 4) with its alpha.
Pixels = Callable[[Any], NDArray[np.uint8]]

#: Extensions that a file may say it cannot be read without: they are read, or leave out a finer point of a material.
_READ = ("KHR_texture_transform", "KHR_materials_", "KHR_lights_punctual", "EXT_texture_webp", "KHR_draco_mesh")

_WRAPS: dict[str, Wrap] = {"10497": "repeat", "33071": "edge", "33648": "mirror"}
_MOST_WAYS = 2  # to lay textures over one part: `Mesh.uv` holds no more
_CUT = 0.5  # of what is to be seen through: as good as there, or as good as gone

#: The textures of a material, by their names there.
_SLOTS = ("baseColorTexture", "metallicRoughnessTexture", "normalTexture", "occlusionTexture", "emissiveTexture")


class Damaged(ValueError):
    """What is wrong with a file's own bytes, in words for its maker."""


@dataclass(frozen=True)
class Finish:
    """A material on one part.

    Parameters
    ----------
    colour : (3,) float
        What the corners' colours are multiplied by.
    uv : (n, 2) or (n, 4) float or None
    image : (h, w, 3) uint8 or None
    """

    colour: Array
    uv: Array | None
    image: NDArray[np.uint8] | None
    surface: Surface
    material: Material


class Written:
    """A glTF file's own words.

    Parameters
    ----------
    tree : dict
        Its JSON.
    glow : float
        Luminance of an emission of 1. [cd/m2]
    """

    def __init__(self, tree: Mapping[str, Any], glow: float) -> None:
        self._tree, self._glow = tree, glow
        self._surfaces: dict[Any, tuple[NDArray[np.uint8] | None, Surface, list[tuple[int, Any]]]] = {}
        self._pictures: dict[Any, Picture] = {}

    def names(self) -> list[str]:
        """Of the nodes that have one, in the order of the file."""
        named = (node.get("name") for node in _dicts(self._tree.get("nodes")))
        return [name for name in named if isinstance(name, str)]

    def finish(self, part: Any, pixels: Pixels, painted: bool) -> Finish | None:
        """Of a trimesh geometry; None where the file gives it no material. `painted`: in one colour, as told elsewhere.

        Raises PrevizError for numbers that mean nothing.
        """
        shade = getattr(part.visual, "material", None)
        name = getattr(shade, "name", None)
        if not (isinstance(name, str) and name.isdigit()):
            return None
        number, count = int(name), len(part.vertices)
        written = _dict(_dicts(self._tree.get("materials"))[number])
        sets = {k: uv for k in range(4) if (uv := _coordinates(part, k, count)) is not None}
        key = (number, painted, tuple(sets))
        if key not in self._surfaces:
            self._surfaces[key] = self._surface(written, shade, pixels, painted, tuple(sets))
        image, surface, ways = self._surfaces[key]
        laid = [_laid(sets[which], *turned) for which, turned in ways]
        factor = _numbers(_pbr(written, shade), "baseColorFactor", (1.0, 1.0, 1.0, 1.0), 1.0)
        if written.get("alphaMode") == "BLEND":  # seen as what it is laid over black
            factor = factor[:3] * factor[3]
        return Finish(
            np.ones(3) if painted else np.asarray(factor[:3]),
            np.concatenate(laid, axis=1) if laid else None,
            image,
            surface,
            Material(
                two_sided=written.get("doubleSided") is True, glow=(0.0, 0.0, 0.0) if painted else self._lit(written)
            ),
        )

    def _lit(self, written: Mapping[str, Any]) -> tuple[float, float, float]:
        """What a material sends out by itself. [cd/m2]"""
        extra = _extension(written, "KHR_materials_emissive_strength")
        strength = _number(extra, "emissiveStrength", 1.0, 1e9)
        red, green, blue = (_numbers(written, "emissiveFactor", (0.0, 0.0, 0.0), 1.0) * strength * self._glow).tolist()
        return red, green, blue

    def _surface(
        self, written: Mapping[str, Any], shade: Any, pixels: Pixels, painted: bool, sets: tuple[int, ...]
    ) -> tuple[NDArray[np.uint8] | None, Surface, list[tuple[int, Any]]]:
        pbr, ways = _pbr(written, shade), list[tuple[int, Any]]()
        found: dict[str, Picture] = {}
        alpha = None
        for slot in _SLOTS:
            held = getattr(shade, slot, None)
            if held is None or (painted and slot != "normalTexture" and slot != "occlusionTexture"):
                continue
            if not hasattr(held, "getbands"):
                raise PrevizError(f"{slot} of a material is no picture; export the mesh again")
            info = _dict(_dict(pbr.get(slot)) or written.get(slot))
            way = _way(info)
            if way[0] not in sets:
                continue
            if way not in ways:
                ways.append(way)
            codes = pixels(held)
            if slot == "baseColorTexture" and codes.shape[2] == 4:
                alpha = np.ascontiguousarray(codes[..., 3])
            found[slot] = self._picture(codes, ways.index(way), self._wraps(info))
        if len(ways) > _MOST_WAYS:
            raise PrevizError(
                f"textures of one material that lie in {len(ways)} different ways found; at most {_MOST_WAYS} are "
                "drawn: give them the same texture coordinates and transform"
            )
        base, factor = found.get("baseColorTexture"), _numbers(pbr, "baseColorFactor", (1.0, 1.0, 1.0, 1.0), 1.0)
        cutoff = self._cutoff(written, float(factor[3]), alpha)
        surface = Surface(
            metal=0.0 if painted else _number(pbr, "metallicFactor", 1.0, 1.0),
            roughness=_number(pbr, "roughnessFactor", 1.0, 1.0),
            image=base,
            alpha=None if cutoff is None else alpha,
            cutoff=_CUT if cutoff is None else cutoff,
            metal_roughness=found.get("metallicRoughnessTexture"),
            normal=found.get("normalTexture"),
            normal_scale=_number(_dict(written.get("normalTexture")), "scale", 1.0, 1e3),
            occlusion=found.get("occlusionTexture"),
            occlusion_strength=_number(_dict(written.get("occlusionTexture")), "strength", 1.0, 1.0),
            emission=found.get("emissiveTexture"),
        )
        return (None if base is None else base.pixels), surface, ways

    def _cutoff(self, written: Mapping[str, Any], factor: float, alpha: NDArray[np.uint8] | None) -> float | None:
        """Alpha of the texture below which nothing is there; None where all is.

        What is to be blended over what lies behind is there or not by half of its alpha. Where no more than half is
        anywhere, as in glass, all of it is there.
        """
        mode = written.get("alphaMode")
        if alpha is None or mode not in ("MASK", "BLEND"):
            return None
        if mode == "MASK":
            return _number(written, "alphaCutoff", 0.5, 1e9) / max(factor, 1e-6)
        return _CUT if float(alpha.max()) / 255 > _CUT else None

    def _picture(self, codes: NDArray[np.uint8], way: int, wrap: tuple[Wrap, Wrap]) -> Picture:
        key = (id(codes), way, wrap)
        if key not in self._pictures:
            self._pictures[key] = Picture(_three(codes), way, wrap)
        return self._pictures[key]

    def _wraps(self, info: Mapping[str, Any]) -> tuple[Wrap, Wrap]:
        texture = _entry(self._tree.get("textures"), info.get("index"))
        sampler = _entry(self._tree.get("samplers"), texture.get("sampler"))
        across, down = (_WRAPS.get(str(sampler.get(key)), "repeat") for key in ("wrapS", "wrapT"))
        return across, down


def prepared(data: bytes, suffix: str, glow: float) -> tuple[bytes, Written]:
    """A file's bytes with names that trimesh hands on, and what is written in it.

    Materials are called by their number, and texture coordinates and corner colours are attributes of their own too:
    trimesh keeps those as they are, and of the others the first set alone.

    Raises PrevizError for what is not read; ValueError where it is damaged.
    """
    tree = json.loads(_text_of(data, suffix))
    if not isinstance(tree, dict):
        raise Damaged("it is no glTF")
    for name in tree.get("extensionsRequired") or ():
        if not str(name).startswith(_READ):
            raise PrevizError(f"it cannot be read without {str(name)[:60]!r}; export it without that extension")
    if any("sparse" in accessor for accessor in _dicts(tree.get("accessors"))):
        raise PrevizError(
            "sparse accessors found, which are not read; export it without shape keys, or as another file"
        )
    for mesh in _dicts(tree.get("meshes")):
        for primitive in _dicts(mesh.get("primitives")):
            attributes = primitive.get("attributes")
            if isinstance(attributes, dict):
                kept = [key for key in attributes if key.startswith(("TEXCOORD_", "COLOR_0"))]
                attributes.update({f"_{key}": attributes[key] for key in kept})
    for number, material in enumerate(_dicts(tree.get("materials"))):
        material["name"] = str(number)
    text = json.dumps(tree).encode()
    if suffix == ".gltf":
        return text, Written(tree, glow)
    # glTF 2.0, 4.4: 12 bytes of header, then chunks, each its length, its kind, and bytes in fours.
    text += b" " * (-len(text) % 4)
    rest = data[20 + int.from_bytes(data[12:16], "little") :]
    whole = 20 + len(text) + len(rest)
    if whole >= 2**32:
        raise Damaged("it is longer than the format allows")
    head = data[:8] + whole.to_bytes(4, "little") + len(text).to_bytes(4, "little") + data[16:20]
    return head + text + rest, Written(tree, glow)


def _text_of(data: bytes, suffix: str) -> bytes:
    """Its JSON. A .glb begins with 12 bytes of header, then the length and kind of its JSON (glTF 2.0, 4.4)."""
    return data if suffix == ".gltf" else data[20 : 20 + int.from_bytes(data[12:16], "little")]


def corner_colours(part: Any) -> Array | None:
    """Of a geometry from a glTF file (n, 3), linear (glTF 2.0, 3.7.2.1); None where it has none."""
    codes = part.vertex_attributes.get("_COLOR_0")
    if codes is None:
        return None
    codes = np.asarray(codes)
    if codes.shape not in ((len(part.vertices), 3), (len(part.vertices), 4)):
        raise PrevizError("colours of corners that do not go with the corners found; export the mesh again")
    return np.asarray(np.clip(np.nan_to_num(_decoded(codes)[:, :3]), 0, 1))


def _coordinates(part: Any, number: int, count: int) -> Array | None:
    codes = part.vertex_attributes.get(f"_TEXCOORD_{number}")
    if codes is None or np.shape(codes) != (count, 2):
        return None
    uv = _decoded(np.asarray(codes))
    if not (np.isfinite(uv).all() and np.abs(uv).max(initial=0) < 1e6):
        raise PrevizError(
            "texture coordinates that are not finite numbers, or beyond a million, found; export the mesh again"
        )
    return uv


def _decoded(codes: NDArray[Any]) -> Array:
    """Whole numbers are shares of the largest (glTF 2.0, 3.11)."""
    most = float(np.iinfo(codes.dtype).max) if np.issubdtype(codes.dtype, np.integer) else 1.0
    return np.asarray(codes, dtype=float) / most


def _pbr(written: Mapping[str, Any], shade: Any) -> Mapping[str, Any]:
    """A material's metallic-roughness part; that which trimesh works out of a material in the older terms of gloss."""
    if _extension(written, "KHR_materials_pbrSpecularGlossiness"):
        names = ("metallicFactor", "roughnessFactor")
        made = {name: value for name in names if (value := getattr(shade, name, None)) is not None}
        colour = shade.baseColorFactor
        return made if colour is None else {**made, "baseColorFactor": (np.asarray(colour, dtype=float) / 255).tolist()}
    return _dict(written.get("pbrMetallicRoughness"))


def _way(info: Mapping[str, Any]) -> tuple[int, tuple[float, ...]]:
    """Which texture coordinates a texture takes, and what is done to them: offset, rotation [rad], scale."""
    extra = _extension(info, "KHR_texture_transform")
    which = extra.get("texCoord", info.get("texCoord", 0))
    offset = _numbers(extra, "offset", (0.0, 0.0), 1e6, -1e6)
    scale = _numbers(extra, "scale", (1.0, 1.0), 1e6, -1e6)
    turn = _number(extra, "rotation", 0.0, 1e3, -1e3)
    return which if isinstance(which, int) else 0, (*offset.tolist(), turn, *scale.tolist())


def _laid(uv: Array, right: float, down: float, turn: float, wide: float, high: float) -> Array:
    """Coordinates scaled, turned counter-clockwise as the picture is seen (v runs down), then moved.

    >>> _laid(np.array([[1.0, 0.0]]), 0.5, 0.0, math.pi / 2, 2.0, 1.0).round(6).tolist()
    [[0.5, -2.0]]
    """
    c, s = math.cos(turn), math.sin(turn)
    u, v = uv[:, 0] * wide, uv[:, 1] * high
    return np.stack([c * u + s * v + right, -s * u + c * v + down], axis=1)


def _three(codes: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return codes if codes.shape[2] == 3 else np.ascontiguousarray(codes[..., :3])


# --- a stranger's JSON ---


def _dict(found: Any) -> Mapping[str, Any]:
    return found if isinstance(found, dict) else {}


def _dicts(found: Any) -> list[dict[str, Any]]:
    return [each if isinstance(each, dict) else {} for each in found] if isinstance(found, list) else []


def _entry(found: Any, number: Any) -> Mapping[str, Any]:
    listed = _dicts(found)
    return listed[number] if isinstance(number, int) and 0 <= number < len(listed) else {}


def _extension(written: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    return _dict(_dict(written.get("extensions")).get(name))


def _number(group: Mapping[str, Any], key: str, default: float, most: float, least: float = 0.0) -> float:
    return float(_numbers({key: [group[key]]} if key in group else {}, key, (default,), most, least)[0])


def _numbers(group: Mapping[str, Any], key: str, default: tuple[float, ...], most: float, least: float = 0.0) -> Array:
    """So many numbers, brought into their range. Raises PrevizError where they are none."""
    found = group.get(key, default)
    try:
        values = np.array([float(each) for each in found])
    except (TypeError, ValueError):
        values = np.array([])
    if len(values) != len(default) or not np.isfinite(values).all():
        raise PrevizError(f"{key} of a material is not {len(default)} numbers; export the mesh again")
    return np.clip(values, least, most)
