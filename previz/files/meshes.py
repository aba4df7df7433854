"""Meshes from files, which come from strangers: read with care, or refused with one clear message.

trimesh reads them, and is imported only when there is one to read.
"""

import io
import json
import logging
import re
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal
from urllib.parse import unquote

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.files.gltf import Damaged, Written, corner_colours, prepared
from previz.files.images import IMAGE_FORMATS, MOST_PIXELS, eight_bit, refuse_large
from previz.files.reading import MOST_BYTES, bytes_of
from previz.files.simplified import simplified
from previz.files.slow import tell
from previz.files.store import Arrays, kept, key_of
from previz.mesh import Array, Material, Mesh, Picture, Surface, merged
from previz.physics.colour import srgb_linear

#: Suffix of a mesh file, and which of its axes points up unless the scene says otherwise. glTF 2.0, 3.4: "+Y up".
MESH_SUFFIXES: dict[str, Literal["y", "z"]] = {".glb": "y", ".gltf": "y", ".obj": "z", ".stl": "z", ".ply": "z"}
MOST_TRIANGLES = 2_000_000

#: More triangles than this in a file are cut down to about so many: a model that fills a picture of 1280 pixels has one
#: for every few of them that it covers.
MOST_DRAWN = 60_000

#: Of one file: nodes of a glTF scene, corners of one face, pixels of all textures. What reads them takes time or memory
#: by the square of the first two.
MOST_NODES, MOST_CORNERS, MOST_TEXELS = 5_000, 1_000, MOST_PIXELS

#: The largest coordinate of a file, in whatever its unit is, and one over it the smallest extent: nothing reckoned from
#: such numbers overflows or vanishes.
FARTHEST = 1e12

_CREASE = np.cos(np.radians(40.0))  # faces that turn by less are one smooth surface, where the file has no normals
_GREY = (0.4, 0.4, 0.4)
_NAMES = 24  # of nodes that a message lists


def load_model(
    path: Path,
    length: float,
    up: Literal["y", "z"] | None = None,
    colour: tuple[float, float, float] | None = None,
    *,
    node: str | None = None,
    glow: float = 1.0,
) -> tuple[Mesh, ...]:
    """A mesh file, standing on z = 0 about the origin, its largest horizontal extent `length`.

    Parameters
    ----------
    path : Path
        A .glb, .gltf, .obj, .stl or .ply file. What it refers to must lie in its folder.
    length : float
        The unit of a file is not trusted; this is the size on the table. [m]
    up : "y", "z" or None
        The file's upward axis; None takes y for glTF (its standard) and z for the others.
    colour : (3,) float or None
        Linear reflectance in place of the file's colours and textures; None keeps those.
    node : str or None
        The part of a glTF file with that name, and what hangs on it, alone.
    glow : float
        Luminance of an emission of 1 in a glTF file. [cd/m2]

    Materials of glTF are read as its specification gives them (`files/gltf.py`); what of it is to be seen through is
    opaque, or cut out by its texture. Other files are matt, their textures and corner colours sRGB; so is a part of a
    glTF file that has no material. Where the file has no normals they are smooth across edges that turn by less than
    40 deg.

    Raises
    ------
    PrevizError
        For a file that is missing, a folder, empty, cut short, of another kind, without triangles, with numbers
        that are not finite, too large, that refers to anything outside its folder, or has no such node.
    """
    return merged(load_parts(path, length, up, colour, node=node, glow=glow).body)


@dataclass(frozen=True)
class Parts:
    """A mesh file with some of its nodes apart, all in one place and size.

    Parameters
    ----------
    body : tuple of Mesh
        All but those.
    named : dict of str to tuple of Mesh
        The nodes that were asked for, each with what hangs on it.
    """

    body: tuple[Mesh, ...]
    named: dict[str, tuple[Mesh, ...]] = field(default_factory=dict)


def load_parts(
    path: Path,
    length: float,
    up: Literal["y", "z"] | None = None,
    colour: tuple[float, float, float] | None = None,
    *,
    node: str | None = None,
    glow: float = 1.0,
    apart: Sequence[str] = (),
) -> Parts:
    """A mesh file like `load_model`, with the nodes `apart` of a glTF file by themselves.

    Raises PrevizError as `load_model` does.
    """
    suffix = path.suffix.lower()
    if suffix not in MESH_SUFFIXES:
        raise PrevizError(
            f"{path}: {suffix or 'no suffix'} found; a mesh file is {', '.join(MESH_SUFFIXES)}; "
            "export it as one of these"
        )
    data = bytes_of(path, "a mesh", MOST_BYTES)
    try:
        owners, meshes = _meshes(data, suffix, path.parent, colour, node, glow, apart)
        standing = _standing(meshes, length, up or MESH_SUFFIXES[suffix])
    except PrevizError as fault:
        raise PrevizError(f"{path}: {fault}") from None
    sorted_out = {
        name: merged(mesh for owner, mesh in zip(owners, standing, strict=True) if owner == name)
        for name in (None, *apart)
    }
    return Parts(sorted_out.pop(None), {str(name): each for name, each in sorted_out.items()})


def _meshes(
    data: bytes,
    suffix: str,
    folder: Path,
    colour: tuple[float, float, float] | None,
    node: str | None,
    glow: float,
    apart: Sequence[str],
) -> tuple[list[str | None], list[Mesh]]:
    """The file's meshes, and for each which of the nodes `apart` it hangs on."""
    placed, written = _read(data, suffix, folder, glow)
    for name in (node, *apart):
        if name is not None:
            _refuse_no_node(name, written)
    found = [(matrix, part, above) for matrix, part, above in placed if len(part.faces) and node in (None, *above)]
    owners = [next((name for name in reversed(above) if name in apart), None) for _, _, above in found]
    for name in apart:
        if name not in owners:
            raise PrevizError(f"the node {name!r} has no triangles" + (f" below {node!r}" if node else ""))
    count = sum(len(part.faces) for _, part, _ in found)
    if count == 0:
        raise PrevizError(
            "no triangles found; a mesh needs some: export the surface, not points, lines or an empty scene"
        )
    if count > MOST_TRIANGLES:
        raise PrevizError(
            f"{count} triangles found; at most {MOST_TRIANGLES} are drawn; simplify the mesh and save it again"
        )
    finishing = _Finishing(suffix, written, colour)
    left = _left_of(np.array([len(part.faces) for _, part, _ in found]))
    return owners, [_mesh(part, matrix, finishing, most) for (matrix, part, _), most in zip(found, left, strict=True)]


def _left_of(counts: NDArray[np.int64]) -> list[int]:
    """How many triangles each part may keep, so that all come to MOST_DRAWN: the more a part has, the more it gives up.

    By the square roots of their numbers, so that a nut of fifty beside a body of a million keeps them all.

    >>> _left_of(np.array([50, 600, 2_000_000]))
    [50, 600, 59350]
    """
    if counts.sum() <= MOST_DRAWN:
        return [int(count) for count in counts]
    whole = np.zeros(len(counts), dtype=bool)
    while True:
        share = (MOST_DRAWN - counts[whole].sum()) / np.sqrt(counts[~whole]).sum()
        more = ~whole & (share * np.sqrt(counts) >= counts)
        if not more.any():
            return [int(each) for each in np.where(whole, counts, np.maximum(share * np.sqrt(counts), 1))]
        whole |= more


def _refuse_no_node(name: str, written: Written | None) -> None:
    if written is None:
        raise PrevizError(f"no nodes found, so there is no {name!r}; only glTF files have parts by name")
    names = written.names()
    if names.count(name) > 1:
        raise PrevizError(f"{names.count(name)} nodes are called {name!r}; give each a name of its own")
    if name not in names:
        some = sorted(set(names))
        listed = ", ".join(repr(each[:60]) for each in some[:_NAMES]) + (" and others" if len(some) > _NAMES else "")
        raise PrevizError(f"no node is called {name!r}; the file has {listed or 'no nodes with a name'}")


#: A geometry with the (4, 4) matrix of its place in the file's scene, and the nodes that it hangs on, outermost first.
Placed = tuple[Array, Any, tuple[str, ...]]


def _read(data: bytes, suffix: str, folder: Path, glow: float) -> tuple[list[Placed], Written | None]:
    """The trimesh geometries in the file's bytes, and what a glTF file says of their materials.

    Everything that trimesh stumbles over becomes one PrevizError.
    """
    beside = _Beside(folder)
    with _overheard() as remarks, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            _refuse_cut_short(data, suffix)
            _refuse_costly(data, suffix)
            written = None
            if MESH_SUFFIXES[suffix] == "y":
                data, written = prepared(data, suffix, glow)
            placed = _geometries(data, suffix, beside)
        except PrevizError:
            raise
        except Exception as fault:  # trimesh raises whatever a damaged file makes it trip over
            if beside.refusals:
                raise PrevizError(beside.refusals[0]) from None
            reason = f" ({fault})" if isinstance(fault, Damaged) else ""  # trimesh's own words are for programmers
            raise PrevizError(
                f"the {suffix[1:]} file is damaged or cut short{reason}; export or copy it again"
            ) from None
    if beside.refusals:
        raise PrevizError(beside.refusals[0])
    lost = next((text for text in remarks if any(word in text for word in ("image", "texture", "decode"))), None)
    if lost:
        raise PrevizError(f"a texture or compressed part cannot be read ({lost}); export it with PNG or JPEG textures")
    return placed, written


def _geometries(data: bytes, suffix: str, beside: "_Beside") -> list[Placed]:
    import trimesh

    data = _as_utf8(data) if suffix == ".obj" else data
    scene = trimesh.load_scene(io.BytesIO(data), file_type=suffix[1:], resolver=beside, process=False)
    placed = []
    for node in scene.graph.nodes_geometry:
        matrix, name = scene.graph[node]
        above = scene.graph.transforms.shortest_path(scene.graph.base_frame, node)
        if isinstance(part := scene.geometry[name], trimesh.Trimesh):
            placed.append((np.asarray(matrix, dtype=float), part, tuple(above[1:])))
    return placed


def _as_utf8(text: bytes) -> bytes:
    """Text for trimesh, which takes UTF-8 only; older exporters write names in Latin-1. Raises Damaged."""
    if b"\0" in text:
        raise Damaged("it is not text")
    try:
        text.decode("utf-8")
    except UnicodeDecodeError:
        return text.decode("latin-1").encode("utf-8")
    return text


def _refuse_cut_short(data: bytes, suffix: str) -> None:
    """What trimesh would take for a smaller but whole file, or for a file beside it. Raises Damaged."""
    if suffix == ".gltf":
        json.loads(data)  # where it is no JSON, trimesh goes and looks for another file
    if suffix == ".stl":
        whole = len(data) >= 84 and len(data) == 84 + 50 * int.from_bytes(data[80:84], "little")
        if not whole and b"endsolid" not in data[-400:]:
            raise Damaged("its end is missing")
    if suffix == ".ply" and b"format ascii" in data[:200]:
        header, _, body = data.partition(b"end_header")
        promised = sum(int(count) for count in re.findall(rb"^element \S+ (\d+)", header, re.MULTILINE))
        if len(body.split(b"\n")) - 1 < promised:
            raise Damaged(f"it should have {promised} lines of numbers and has fewer")


def _refuse_costly(data: bytes, suffix: str) -> None:
    """What would take minutes or gigabytes to read. Raises PrevizError; ValueError where it is no JSON."""
    if suffix == ".obj":
        many = re.search(
            rb"^[ \t]*f(?:[ \t]+[^\s]+){%d}" % (MOST_CORNERS + 1), data.replace(b"\\\n", b" "), re.MULTILINE
        )
        if many:
            raise PrevizError(
                f"a face with more than {MOST_CORNERS} corners found; triangulate the mesh and export it again"
            )
    if suffix in (".gltf", ".glb"):
        # A .glb begins with 12 bytes of header, then the length and kind of its JSON (glTF 2.0, 4.4).
        text = data if suffix == ".gltf" else data[20 : 20 + int.from_bytes(data[12:16], "little")]
        told = json.loads(text)
        nodes = told.get("nodes") if isinstance(told, dict) else None
        if isinstance(nodes, list) and len(nodes) > MOST_NODES:
            raise PrevizError(
                f"{len(nodes)} nodes found; at most {MOST_NODES} are read; join its parts and export again"
            )


class _Beside:
    """Hands trimesh the files that a mesh refers to, if they lie in its folder; remembers what it refused.

    trimesh only asks for `get` and `[]`, and swallows what we raise: hence the list.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        self.refusals: list[str] = []
        self._bytes_left = MOST_BYTES

    def get(self, name: str) -> bytes:
        try:
            data = self._found(str(name).strip())
        except PrevizError as fault:
            self.refusals.append(str(fault))
            raise
        self._bytes_left -= len(data)
        return _as_utf8(data) if str(name).strip().lower().endswith(".mtl") else data

    __getitem__ = get

    def _found(self, name: str) -> bytes:
        shown = name if len(name) <= 80 else name[:77] + "..."
        inside = f"it refers to {shown!r}; a mesh may only refer to files in its own folder: put it beside the mesh"
        # A uri may spell .. as %2e%2e, and a Windows path its separators as backslashes.
        plain = unquote(name).replace("\\", "/")
        if not plain or ":" in plain or plain.startswith(("/", "~")) or ".." in plain.split("/") or "\0" in plain:
            raise PrevizError(f"{inside} and name it without a path")
        for candidate in (self.folder / name, self.folder / plain):
            if candidate.is_file():
                if not candidate.resolve().is_relative_to(self.folder):
                    raise PrevizError(f"{inside} itself, not a link to elsewhere")
                return bytes_of(candidate, "a part of a mesh", self._bytes_left)
        raise PrevizError(f"{inside}, for no such file is there")


@contextmanager
def _overheard() -> Iterator[list[str]]:
    """Keeps trimesh from logging, and lists what it would have logged: it reports lost textures nowhere else."""
    remarks: list[str] = []

    class Listener(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            remarks.append(record.getMessage())

    logger = logging.getLogger("trimesh")
    before = logger.level, logger.propagate, list(logger.handlers)
    logger.handlers = [Listener()]
    logger.setLevel(logging.DEBUG)
    logger.propagate = False
    try:
        yield remarks
    finally:
        logger.propagate, logger.handlers = before[1], before[2]
        logger.setLevel(before[0])


def _mesh(part: Any, matrix: Array, finishing: "_Finishing", most: int) -> Mesh:
    """One trimesh geometry as our mesh, moved to its place in the file's scene, with so many triangles at most."""
    faces = np.asarray(part.faces, dtype=np.int64)
    vertices = np.asarray(part.vertices, dtype=float)
    if vertices.ndim != 2 or vertices.shape[1] != 3:
        raise PrevizError("corners that are not places in space found: the file is damaged; export it again")
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise PrevizError("a triangle names a corner that is not there: the file is damaged; export it again")
    if not np.isfinite(vertices[faces]).all() or not np.isfinite(matrix).all():
        raise PrevizError("corners that are not finite numbers found; export the mesh again")
    if np.abs(matrix).max() > FARTHEST or np.abs(vertices[faces]).max() > FARTHEST:
        raise PrevizError(
            f"corners or scales beyond {FARTHEST:g} found, too large to reckon with; export the mesh at its real size"
        )
    vertices = np.clip(np.nan_to_num(vertices), -FARTHEST, FARTHEST) @ matrix[:3, :3].T + matrix[:3, 3]
    finish = finishing.of(part)
    colours, uv, (image, material, surface) = finish.colours, finish.uv, finish.shared
    if np.linalg.det(matrix[:3, :3]) < 0:
        faces = faces[:, ::-1]
    if most < len(faces):
        whole = Mesh(vertices, faces, vertices, colours, material, uv, image, surface)
        return _cut_down(whole, most, _file_normals(part, matrix, len(vertices)))
    normals = _file_normals(part, matrix, len(vertices))
    if normals is not None:
        return Mesh(vertices, faces.copy(), normals, np.array(colours), material, uv, image, surface)
    corners = faces.ravel()
    # Without normals a corner may need several; give every face its own corners.
    return Mesh(
        vertices[corners],
        np.arange(len(corners)).reshape(-1, 3),
        _crease_normals(vertices[faces]),
        colours[corners],
        material,
        None if uv is None else uv[corners],
        image,
        surface,
    )


def _cut_down(mesh: Mesh, count: int, normals: Array | None) -> Mesh:
    """A mesh of about so many triangles, its normals those given or made anew. What takes long is kept by content."""

    def compute() -> Arrays:
        tell(f"cutting a mesh of {len(mesh.faces)} triangles down to {count}; it is kept for later runs")
        found = simplified(mesh.vertices, mesh.faces, mesh.uv, count, normals)
        return {name: each for name, each in vars(found).items() if each is not None}

    key = key_of("simplified", 2, mesh.vertices, mesh.faces, mesh.uv, normals, count)
    left = kept(key, compute)
    faces = left["faces"]
    corners = faces.reshape(-1)
    return replace(
        mesh,
        vertices=left["vertices"][corners],
        faces=np.arange(len(corners)).reshape(-1, 3),
        normals=_crease_normals(left["vertices"][faces]) if normals is None else left["normals"].reshape(-1, 3),
        colours=mesh.colours[left["origin"][corners]],
        uv=None if mesh.uv is None else left["uv"].reshape(-1, mesh.uv.shape[1]),
    )


def _file_normals(part: Any, matrix: Array, count: int) -> Array | None:
    """The normals that the file gives, or None; `part.vertex_normals` itself would make some up."""
    if "vertex_normals" not in part._cache:
        return None
    normals = np.asarray(part._cache["vertex_normals"], dtype=float)
    if normals.shape != (count, 3) or not np.isfinite(normals).all() or abs(np.linalg.det(matrix[:3, :3])) < 1e-30:
        return None
    turned = normals @ np.linalg.inv(matrix[:3, :3])
    sizes = np.linalg.norm(turned, axis=1, keepdims=True)
    return None if (sizes < 1e-12).any() else turned / sizes


def _crease_normals(corners: Array) -> Array:
    """Unit normals (3 m, 3) of each corner of (m, 3, 3) triangles: the mean of the faces there that turn little.

    Corners at one place (within 1e-6 of the size) count as one, whatever the file says.
    """
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    sizes = np.linalg.norm(across, axis=1, keepdims=True)
    unit = np.where(sizes > 0, across / np.maximum(sizes, 1e-300), (0.0, 0.0, 1.0))
    points = corners.reshape(-1, 3)
    step = 1e-6 * max(float(np.ptp(points, axis=0).max()), 1e-300)
    _, place = np.unique(np.rint((points - points.min(axis=0)) / step), axis=0, return_inverse=True)
    place = place.reshape(-1)
    order = np.argsort(place, kind="stable")
    counts = np.bincount(place)
    starts = np.cumsum(counts) - counts
    summed = across[np.arange(len(points)) // 3]
    # The k-th neighbour of every corner at a time, so that a fan of a thousand faces does not make a million pairs.
    busiest = min(int(counts.max()), 64)
    for k in range(busiest):
        here = np.flatnonzero(counts[place] > k)
        other = order[starts[place[here]] + k]
        near = (np.einsum("ij,ij->i", unit[here // 3], unit[other // 3]) > _CREASE) & (other // 3 != here // 3)
        summed[here[near]] += across[other[near] // 3]
    length = np.linalg.norm(summed, axis=1, keepdims=True)
    return np.where(length > 0, summed / np.maximum(length, 1e-300), unit[np.arange(len(points)) // 3])


@dataclass(frozen=True)
class _Finish:
    """Of a geometry: colours (n, 3), uv, and what all that are finished alike share: image, material, surface."""

    colours: Array
    uv: Array | None
    shared: tuple[NDArray[np.uint8] | None, Material, Surface | None]


class _Finishing:
    """Reads how the geometries of one file are finished, each picture once.

    Parameters
    ----------
    suffix : str
    written : Written or None
        What a glTF file says.
    colour : (3,) float or None
        Takes the place of colours and pictures.
    """

    def __init__(self, suffix: str, written: Written | None, colour: tuple[float, float, float] | None) -> None:
        self._suffix, self._written, self._colour = suffix, written, colour
        self._textures: dict[int, NDArray[np.uint8]] = {}
        self._matt: dict[int, Surface] = {}

    def of(self, part: Any) -> _Finish:
        """Of one geometry. Raises PrevizError for what cannot be used."""
        found = self._by_gltf(part) or self._usual(part)
        if self._colour is None:
            return found
        return replace(found, colours=np.broadcast_to(np.asarray(self._colour, dtype=float), found.colours.shape))

    def _by_gltf(self, part: Any) -> _Finish | None:
        if self._written is None:
            return None
        found = self._written.finish(part, self._pixels, self._colour is not None)
        if found is None:
            return None
        colours = corner_colours(part)
        colours = np.ones((len(part.vertices), 3)) if colours is None else colours
        return _Finish(colours * found.colour, found.uv, (found.image, found.material, found.surface))

    def _usual(self, part: Any) -> _Finish:
        """Of a file in which a material is a colour, perhaps with a texture, or each corner has its own."""
        count, visual = len(part.vertices), part.visual
        white, matt = np.ones((count, 3)), (None, Material(), None)
        if self._written is not None:  # no material at all
            colours = corner_colours(part)
            return _Finish(white * _GREY if colours is None else colours, None, matt)
        if visual.kind in ("vertex", "face"):
            return _Finish(_corner_colours(part), None, matt)
        if visual.kind != "texture" or visual.material is None:
            return _Finish(white * _GREY, None, matt)
        shade = visual.material
        picture = getattr(shade, "image", None) or getattr(shade, "baseColorTexture", None)
        uv = None if visual.uv is None else np.asarray(visual.uv, dtype=float)
        if picture is None or uv is None or len(uv) != count or self._colour is not None:
            return _Finish(white * _factor(shade, False), None, (None, _material(shade), None))
        if not np.isfinite(uv).all():
            raise PrevizError("texture coordinates that are not finite numbers found; export the mesh again")
        image = self._matt_image(picture)
        uv = np.stack([uv[:, 0], 1.0 - uv[:, 1]], axis=1)  # ours run down, theirs up
        shared = (image, _material(shade), self._matt[id(image)])
        return _Finish(white * _factor(shade, True), uv, shared)

    def _matt_image(self, picture: Any) -> NDArray[np.uint8]:
        """A picture whose surface mirrors nothing; it is repeated past its sides (common practice, no source)."""
        image = self._pixels(picture)
        if image.shape[2] == 4:
            image = self._textures[id(picture)] = np.ascontiguousarray(image[..., :3])
        self._matt.setdefault(id(image), Surface(image=Picture(image), matt=True))
        return image

    def _pixels(self, picture: Any) -> NDArray[np.uint8]:
        """The texture's pixels; one array for all meshes that share the picture, so that they merge."""
        textures = self._textures
        if id(picture) not in textures:
            # trimesh opens what Pillow can open; some kinds start other programs once their pixels are asked for.
            if picture.format not in (None, *IMAGE_FORMATS):
                raise PrevizError(
                    f"a texture is {str(picture.format)[:20]}, which is not read; export it with PNG or JPEG textures"
                )
            refuse_large(picture.size)
            texels = picture.size[0] * picture.size[1] + sum(
                each.shape[0] * each.shape[1] for each in textures.values()
            )
            if texels > MOST_TEXELS:
                raise PrevizError(
                    f"textures of {texels / 1e6:.0f} megapixels found; at most {MOST_TEXELS / 1e6:.0f} are read for "
                    "one mesh; make them smaller"
                )
            try:
                textures[id(picture)] = np.ascontiguousarray(eight_bit(picture))
            except Exception:
                raise PrevizError("a texture is damaged; export the mesh again") from None
        return textures[id(picture)]


def _corner_colours(part: Any) -> Array:
    """Of OBJ and PLY, where they are sRGB (common practice, no source)."""
    codes = np.asarray(part.visual.vertex_colors)
    return srgb_linear(_unit_range(codes)[:, :3])


def _unit_range(codes: NDArray[Any]) -> Array:
    most = float(np.iinfo(codes.dtype).max) if np.issubdtype(codes.dtype, np.integer) else 1.0
    return np.asarray(np.clip(np.nan_to_num(np.asarray(codes, dtype=float) / most), 0, 1), dtype=float)


def _factor(shade: Any, textured: bool) -> Array:
    """A material's plain colour, which a texture is multiplied by."""
    if hasattr(shade, "baseColorFactor"):
        factor = shade.baseColorFactor
        return np.ones(3) if factor is None else _unit_range(np.asarray(factor))[:3]
    if textured:  # exporters write any Kd beside a map_Kd; common practice is to let the map stand alone
        return np.ones(3)
    factor = getattr(shade, "diffuse", None)
    return np.array(_GREY) if factor is None else _unit_range(np.asarray(factor))[:3]


def _material(shade: Any) -> Material:
    return Material(two_sided=bool(getattr(shade, "doubleSided", None)))


def _standing(meshes: list[Mesh], length: float, up: Literal["y", "z"]) -> list[Mesh]:
    """Upright, scaled, centred and put down on z = 0."""
    # From y up to z up is a quarter turn about x: (x, y, z) -> (x, -z, y).
    upright = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]]) if up == "y" else np.eye(3)
    turned = [mesh.moved(upright, np.zeros(3)) for mesh in meshes]
    used = np.concatenate([mesh.vertices[mesh.faces].reshape(-1, 3) for mesh in turned])
    low, high = used.min(axis=0), used.max(axis=0)
    extent = float((high - low)[:2].max())
    if not extent > 1 / FARTHEST:
        raise PrevizError("the mesh has no horizontal extent, so it cannot be brought to its length; check `up`")
    foot = np.array([(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]])
    return [replace(mesh, vertices=(mesh.vertices - foot) * (length / extent)) for mesh in turned]
