"""A frame for Mitsuba 3: the same triangles with the same radiance, through its thin lens.

As a program, `python mitsuba_case.py VARIANT SHAPES.npz FOLDER SAMPLES...`, it renders once for each number of samples
and prints what each took; a program of its own, so that drjit and Mesa never meet in one process: both bring LLVM.
Where `pyoidn` can be imported each picture is also denoised by Open Image Denoise, and that is told beside it.

What shines is baked: every surface is an area light that reflects nothing, its radiance on corners or in an image. What
paint mirrors is left out, lamps are small balls, and all stand as they do mid-shutter: the cheapest case for Mitsuba.
"""

import json
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np


def shapes_of(ready: Any, number: int) -> dict[str, Any]:
    """Arrays that tell it all, of a `previz.frames.studio.Prepared`."""
    from previz.frames.gl.things import lamp_radiance
    from previz.frames.lens import lens_of
    from previz.frames.light import PathLight
    from previz.frames.moving import moving_of
    from previz.frames.sensor import exposure_gain
    from previz.physics.colour import white_rgb

    setup, lighting = ready.setup, ready.lighting
    unlit, facts, shot = setup.unlit, lighting.facts, setup.shot
    gain = exposure_gain(facts.exposure_time, facts.working_f_number, facts.iso)
    exposure = gain / white_rgb(shot.capture.white_balance)
    camera, vehicle = moving_of(setup.scene, shot).at(number, 0.5)
    lens = lens_of(setup.scene, shot, setup.look.size)
    light = PathLight(lighting.stations, float(np.median(lighting.on_set.ground))).at(vehicle.distance)
    meshes: list[tuple[Any, Any, Any, Any, Any]] = []  # corners, triangles, radiance, uv, image
    for mesh, irradiance in zip(unlit.still, lighting.on_set.still, strict=True):
        radiance = (mesh.colours * irradiance / np.pi + np.asarray(mesh.material.glow)) * exposure
        image = None
        if mesh.image is not None:  # an image and light on corners at once is one thing too many: the light's mean
            image = _linear(mesh.image) * radiance.mean(axis=0)
        meshes.append((mesh.vertices, mesh.faces, radiance, mesh.uv, image))
    from PIL import Image

    rows, columns = unlit.painting.shape[:2]
    lux = [np.asarray(Image.fromarray(lighting.on_set.ground[..., k]).resize((columns, rows), 2)) for k in range(3)]
    ground_image = _linear(unlit.painting) * np.stack(lux, axis=2) / np.pi * exposure
    meshes.append((unlit.ground.vertices, unlit.ground.faces, None, unlit.ground.uv, ground_image))
    start, pose = 0, vehicle.world_from_vehicle
    parts = [(mesh, np.zeros(3)) for mesh in unlit.vehicle.body]
    for wheel in unlit.vehicle.wheels:
        parts += [(mesh, np.asarray(wheel.centre)) for mesh in (*wheel.round, *wheel.turning)]
    for mesh, middle in parts:
        lit = light.body[start : start + len(mesh.vertices)]
        start += len(mesh.vertices)
        radiance = (mesh.colours * lit / np.pi + np.asarray(mesh.material.glow)) * exposure
        corners = (mesh.vertices + middle) @ pose[:3, :3].T + pose[:3, 3]
        meshes.append((corners, mesh.faces, radiance, None, None))
    field = lens.field_at_focus(camera.focus_distance)
    values: dict[str, Any] = {
        "size": lens.size, "radius": lens.pupil_radius, "focus": camera.focus_distance, "count": len(meshes),
        "fov": np.degrees(2 * np.arctan(field[0] / 2 / camera.focus_distance)), "eye": camera.position,
        "target": camera.position - camera.world_from_camera[:, 2], "up": camera.world_from_camera[:, 1],
        "room": np.asarray(lighting.on_set.room) * exposure,
        "lamps": np.array([[*lamp.centre, lamp.radius, *(lamp_radiance(lamp) * exposure)] for lamp in unlit.lamps]),
    }  # fmt: skip
    for place, (corners, faces, radiance, uv, image) in enumerate(meshes):
        values |= {f"corners{place}": corners, f"faces{place}": faces}
        if image is not None:
            values |= {f"uv{place}": uv, f"image{place}": image.astype(np.float32)}
        else:
            values[f"radiance{place}"] = radiance
    return values


def _linear(image: Any) -> Any:
    code = image / 255
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def _scene(mi: Any, data: Any, folder: Path) -> Any:
    width, height = (int(side) for side in data["size"])
    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "direct", "emitter_samples": 0, "bsdf_samples": 1},
        "room": {"type": "constant", "radiance": {"type": "rgb", "value": data["room"].tolist()}},
        "sensor": {
            "type": "thinlens", "aperture_radius": float(data["radius"]), "focus_distance": float(data["focus"]),
            "fov": float(data["fov"]), "fov_axis": "x", "near_clip": 0.004, "far_clip": 60.0,
            "to_world": mi.ScalarTransform4f().look_at(
                origin=data["eye"].tolist(), target=data["target"].tolist(), up=data["up"].tolist()
            ),
            "film": {"type": "hdrfilm", "width": width, "height": height, "rfilter": {"type": "box"},
                     "component_format": "float32"},
            "sampler": {"type": "multijitter"},
        },
    }  # fmt: skip
    for place in range(int(data["count"])):
        corners, faces = data[f"corners{place}"], data[f"faces{place}"]
        textured = f"image{place}" in data
        mesh = mi.Mesh(f"m{place}", len(corners), len(faces), has_vertex_texcoords=textured)
        values = mi.traverse(mesh)
        values["vertex_positions"] = corners.astype(np.float32).ravel()
        values["faces"] = faces.astype(np.uint32).ravel()
        if textured:
            uv = data[f"uv{place}"] * [1, -1] + [0, 1]  # Mitsuba counts v from the bottom
            values["vertex_texcoords"] = uv.astype(np.float32).ravel()
            radiance = {"type": "bitmap", "bitmap": mi.Bitmap(data[f"image{place}"]), "raw": True}
        else:
            mesh.add_attribute("vertex_light", 3, np.maximum(data[f"radiance{place}"], 0).astype(np.float32).ravel())
            radiance = {"type": "mesh_attribute", "name": "vertex_light"}
        values.update()
        path = folder / f"m{place}.ply"
        mesh.write_ply(str(path))
        scene[f"shape{place}"] = {
            "type": "ply", "filename": str(path), "face_normals": True,
            "bsdf": {"type": "twosided", "nested": {"type": "diffuse", "reflectance": {"type": "rgb", "value": 0.0}}},
            "emitter": {"type": "area", "radiance": radiance},
        }  # fmt: skip
    for place, lamp in enumerate(data["lamps"].reshape(-1, 7)):
        scene[f"lamp{place}"] = {
            "type": "sphere", "center": lamp[:3].tolist(), "radius": float(lamp[3]),
            "emitter": {"type": "area", "radiance": {"type": "rgb", "value": lamp[4:].tolist()}},
        }  # fmt: skip
    return mi.load_dict(scene)


def _denoiser() -> Any:
    """What denoises a linear picture by its colours alone; None without `pip install pyoidn`."""
    try:
        import pyoidn
    except ImportError:
        return None
    return lambda picture: pyoidn.denoise(np.maximum(picture, 0.0), hdr=True)


if __name__ == "__main__":
    import mitsuba as mi

    variant, shapes, folder = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3])
    mi.set_variant(variant)
    built = _scene(mi, np.load(shapes), folder)
    np.array(mi.render(built, spp=1, seed=99))  # compiles
    costs = []
    denoise = _denoiser()
    # All samples at once would want tens of gigabytes.
    most = max(1, 8_000_000 // int(np.prod(np.load(shapes)["size"])))
    for number, count in enumerate(int(text) for text in sys.argv[4:]):
        wall, cpu = time.perf_counter(), time.process_time()
        total, left, part = np.zeros(1), count, 0
        while left:
            now = min(left, most)
            total = total + now * np.array(mi.render(built, spp=now, seed=number * 1000 + part))
            left, part = left - now, part + 1
        costs.append({"wall": time.perf_counter() - wall, "cpu": time.process_time() - cpu})
        picture = np.ascontiguousarray((total / count)[:, :, :3], dtype=np.float32)
        np.save(folder / f"{number}.npy", picture)
        if denoise is not None:
            denoise(picture)  # makes room for pictures of this size
            wall, cpu = time.perf_counter(), time.process_time()
            np.save(folder / f"{number}-denoised.npy", denoise(picture))
            costs[-1] |= {"more_wall": time.perf_counter() - wall, "more_cpu": time.process_time() - cpu}
    print(json.dumps(costs))
