"""Run as a program: renders glowing meshes through Mitsuba 3's thin lens.

    python mitsuba_thin_lens.py SHAPES.npz PICTURE.npy

A program of its own, so that drjit and Mesa never meet in one process: both bring LLVM, and abort.
"""

import sys
from pathlib import Path

import mitsuba as mi
import numpy as np


def thin_lens_scene(data, folder):
    """The meshes of `data` as area lights that reflect nothing, and the camera."""
    focal, focus = float(data["focal"]), float(data["focus"])
    image_distance = focal * focus / (focus - focal)
    width, height = (int(side) for side in data["size"])
    spp = int(data["spp"])
    scene = {
        "type": "scene",
        "integrator": {"type": "direct", "emitter_samples": 0, "bsdf_samples": 1},
        "sensor": {
            "type": "thinlens",
            "aperture_radius": focal / float(data["stop"]) / 2,
            "focus_distance": focus,
            # The field of view of the focused lens: from v, not from f.
            "fov": float(np.degrees(2 * np.arctan(float(data["sensor_width"]) / 2 / image_distance))),
            "fov_axis": "x",
            "near_clip": 0.004,
            "far_clip": 60.0,
            "to_world": mi.ScalarTransform4f().look_at(
                origin=list(map(float, data["eye"])), target=list(map(float, data["target"])), up=[0, 0, 1]
            ),
            "film": {
                "type": "hdrfilm", "width": width, "height": height, "rfilter": {"type": "box"},
                "component_format": "float32",
            },
            "sampler": {"type": "multijitter", "sample_count": spp},
        },
    }  # fmt: skip
    for number in range(int(data["count"])):
        vertices, faces = data[f"vertices{number}"], data[f"faces{number}"]
        mesh = mi.Mesh(f"m{number}", len(vertices), len(faces))
        values = mi.traverse(mesh)
        values["vertex_positions"] = vertices.astype(np.float32).ravel()
        values["faces"] = faces.astype(np.uint32).ravel()
        values.update()
        path = folder / f"m{number}.ply"
        mesh.write_ply(str(path))
        scene[f"shape{number}"] = {
            "type": "ply", "filename": str(path), "face_normals": True,
            "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.0}},
            "emitter": {"type": "area", "radiance": {"type": "rgb", "value": data[f"glow{number}"].tolist()}},
        }  # fmt: skip
    return mi.load_dict(scene), spp


if __name__ == "__main__":
    shapes, picture = Path(sys.argv[1]), Path(sys.argv[2])
    mi.set_variant("scalar_rgb")  # needs nothing that a fresh machine lacks
    scene, spp = thin_lens_scene(np.load(shapes), shapes.parent)
    np.save(picture, np.array(mi.render(scene, spp=spp, seed=1))[:, :, :3])
