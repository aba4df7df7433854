"""Small glTF files written out by hand, so that each word of the format can be tried by itself."""

import base64
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

#: Component types of accessors (glTF 2.0, 3.6.2.2).
_TYPES = {"float32": 5126, "uint8": 5121, "uint16": 5123, "uint32": 5125}

SQUARE = np.array([[-0.5, 0, 0.5], [0.5, 0, 0.5], [0.5, 0, -0.5], [-0.5, 0, -0.5]], np.float32)  # seen from above (+y)
FACES = np.array([[0, 1, 2], [0, 2, 3]], np.uint16)
UV = np.array([[0, 1], [1, 1], [1, 0], [0, 0]], np.float32)


def encoded(data: bytes, kind: str = "application/octet-stream") -> str:
    return f"data:{kind};base64," + base64.b64encode(data).decode()


def picture(colour: tuple[int, ...], size: int = 4, kind: str = "PNG") -> str:
    """An even picture as part of the file."""
    mode = "RGBA" if len(colour) == 4 else "RGB"
    out = io.BytesIO()
    Image.new(mode, (size, size), colour).save(out, kind)
    return encoded(out.getvalue(), "image/png")


def told(
    material: dict[str, Any] | None,
    images: list[str] | None = None,
    attributes: dict[str, np.ndarray] | None = None,
    positions: np.ndarray = SQUARE,
    faces: np.ndarray = FACES,
) -> dict[str, Any]:
    """The JSON of a file with one part, a square a metre wide that lies on the ground; change what is to be tried."""
    arrays = {"POSITION": positions, "TEXCOORD_0": UV, **(attributes or {})}
    data, views, accessors = b"", [], []
    for values in (*arrays.values(), faces):
        raw = np.ascontiguousarray(values)
        views.append({"buffer": 0, "byteOffset": len(data), "byteLength": raw.nbytes})
        flat = values is faces
        accessors.append(
            {
                "bufferView": len(views) - 1,
                "componentType": _TYPES[raw.dtype.name],
                "count": raw.size if flat else len(raw),
                "type": "SCALAR" if flat else f"VEC{raw.shape[1]}",
                "normalized": raw.dtype.kind == "u" and not flat,
            }
        )
        data += raw.tobytes() + b"\0" * (-raw.nbytes % 4)
    primitive: dict[str, Any] = {"attributes": {name: k for k, name in enumerate(arrays)}, "indices": len(arrays)}
    tree: dict[str, Any] = {
        "asset": {"version": "2.0"},
        "scenes": [{"nodes": [0]}],
        "scene": 0,
        "nodes": [{"name": "square", "mesh": 0}],
        "meshes": [{"primitives": [primitive]}],
        "buffers": [{"byteLength": len(data), "uri": encoded(data)}],
        "bufferViews": views,
        "accessors": accessors,
    }
    if material is not None:
        primitive["material"] = 0
        tree["materials"] = [material]
    if images:
        tree["images"] = [{"uri": image} for image in images]
        tree["textures"] = [{"source": k} for k in range(len(images))]
    return tree


def written(folder: Path, tree: dict[str, Any]) -> Path:
    path = folder / "model.gltf"
    path.write_text(json.dumps(tree))
    return path
