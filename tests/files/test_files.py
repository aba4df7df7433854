"""Files from strangers: read back to the exact length, or refused with one message that says what to do."""

import json
import struct
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import numpy as np
import pytest
import trimesh
from PIL import Image

from previz import spread
from previz.errors import PrevizError
from previz.files import images, load_image, load_model, meshes, read_files
from previz.files.reading import digest
from previz.mesh import Mesh

SIZE = (0.7, 0.3, 0.2)


def box() -> trimesh.Trimesh:
    made = trimesh.creation.box(SIZE)
    made.apply_translation([5, -3, 2])
    return made


def corners(model: tuple[Mesh, ...]) -> np.ndarray:
    return np.concatenate([mesh.vertices[mesh.faces].reshape(-1, 3) for mesh in model])


def written(tmp_path: Path, suffix: str) -> Path:
    path = tmp_path / f"box.{suffix}"
    if suffix == "gltf":  # several files; trimesh's own writer of them leaves one open
        for name, data in trimesh.exchange.gltf.export_gltf(trimesh.Scene(box())).items():
            (tmp_path / name).write_bytes(data)
        return tmp_path / "model.gltf"
    box().export(path)
    return path


@pytest.mark.parametrize("suffix", ["glb", "gltf", "obj", "stl", "ply"])
@pytest.mark.parametrize("up", [None, "y", "z"])
def test_every_format_comes_back_at_its_length_standing_on_the_ground(tmp_path, suffix: str, up) -> None:
    model = load_model(written(tmp_path, suffix), 0.14, up, None)
    low, high = corners(model).min(axis=0), corners(model).max(axis=0)
    assert (high - low)[:2].max() == pytest.approx(0.14, rel=1e-12)
    assert low[2] == pytest.approx(0, abs=1e-15)
    assert (low + high)[:2] == pytest.approx([0, 0], abs=1e-12)
    file_up = up or ("y" if suffix in ("glb", "gltf") else "z")
    expected = np.array([0.7, 0.2, 0.3] if file_up == "y" else [0.7, 0.3, 0.2]) * 0.2
    assert high - low == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("suffix", ["glb", "obj", "stl", "ply"])
def test_faces_look_outwards_and_normals_agree(tmp_path, suffix: str) -> None:
    for mesh in load_model(written(tmp_path, suffix), 0.14, None, None):
        points = mesh.vertices[mesh.faces]
        across = np.cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0])
        assert (np.einsum("ij,ij->i", across, points.mean(axis=1) - mesh.vertices.mean(axis=0)) > 0).all()
        assert np.linalg.norm(mesh.normals, axis=1) == pytest.approx(1)
        assert (np.einsum("ij,ij->i", across, mesh.normals[mesh.faces[:, 0]]) > 0).all()


def test_normals_made_up_are_sharp_on_a_box_and_smooth_on_a_ball(tmp_path) -> None:
    path = written(tmp_path, "stl")
    (mesh,) = load_model(path, 0.14, None, None)
    assert np.abs(mesh.normals).max(axis=1) == pytest.approx(1)
    trimesh.creation.icosphere(subdivisions=3).export(tmp_path / "ball.stl")
    (ball,) = load_model(tmp_path / "ball.stl", 2.0, None, None)
    outward = ball.vertices - [0, 0, 1]
    # An icosphere of 1280 faces has facets of about 4 deg; a corner's mean lies within a fifth of one.
    assert np.einsum("ij,ij->i", ball.normals, outward).min() > np.cos(np.radians(0.8))


def test_scene_graph_transforms_are_applied(tmp_path) -> None:
    scene = trimesh.Scene()
    scene.add_geometry(trimesh.creation.box((1, 1, 1)), transform=trimesh.transformations.translation_matrix([0, 0, 0]))
    turned = trimesh.transformations.rotation_matrix(np.pi / 2, [0, 1, 0])
    turned[:3, 3] = (3, 0, 0)
    scene.add_geometry(trimesh.creation.box((1, 1, 2)), transform=turned)
    scene.export(tmp_path / "two.glb")
    model = load_model(tmp_path / "two.glb", 0.45, None, None)
    # From -0.5 to 3 + 1 (the second box, 2 long, turned to lie along x) is 4.5 wide.
    assert np.ptp(corners(model), axis=0) == pytest.approx([0.45, 0.1, 0.1])


def test_a_mirroring_transform_keeps_faces_outside(tmp_path) -> None:
    scene = trimesh.Scene()
    scene.add_geometry(box(), transform=np.diag([-1.0, 1, 1, 1]))
    scene.export(tmp_path / "mirrored.glb")
    for mesh in load_model(tmp_path / "mirrored.glb", 0.14, None, None):
        points = mesh.vertices[mesh.faces]
        across = np.cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0])
        assert (np.einsum("ij,ij->i", across, points.mean(axis=1) - mesh.vertices.mean(axis=0)) > 0).all()


def textured(tmp_path: Path, suffix: str) -> Path:
    """A square in the xz plane (upright in a y-up file, lying in a z-up one), its picture's top left quarter red."""
    picture = np.zeros((8, 8, 3), dtype=np.uint8)
    picture[:4, :4] = (255, 0, 0)
    uv = np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])  # trimesh's origin is at the lower left
    material = trimesh.visual.material.PBRMaterial(baseColorTexture=Image.fromarray(picture), roughnessFactor=0.25)
    if suffix == "obj":
        material = trimesh.visual.material.SimpleMaterial(image=Image.fromarray(picture))
    square = trimesh.Trimesh(
        [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]],
        [[0, 1, 2], [0, 2, 3]],
        visual=trimesh.visual.TextureVisuals(uv=uv, material=material),
        process=False,
    )
    path = tmp_path / f"square.{suffix}"
    square.export(path)
    return path


@pytest.mark.parametrize("suffix", ["glb", "obj"])
def test_textures_lie_upright(tmp_path, suffix: str) -> None:
    (mesh,) = load_model(textured(tmp_path, suffix), 1.0, "y", None)
    assert mesh.uv is not None and mesh.image is not None
    assert mesh.image.shape == (8, 8, 3)
    top_left = (mesh.vertices[:, 0] < 0) & (mesh.vertices[:, 2] > 0.5)
    assert top_left.any()
    assert mesh.uv[top_left] == pytest.approx(np.zeros((top_left.sum(), 2)), abs=1e-6)
    assert mesh.image[1, 1].tolist() == [255, 0, 0]
    assert mesh.image[6, 6].tolist() == [0, 0, 0]


def test_material_colours_are_linear_and_roughness_is_the_file_s(tmp_path) -> None:
    made = box()
    made.visual = trimesh.visual.TextureVisuals(
        material=trimesh.visual.material.PBRMaterial(baseColorFactor=[0.2, 0.4, 0.6, 1.0], roughnessFactor=0.25)
    )
    made.export(tmp_path / "box.glb")
    (mesh,) = load_model(tmp_path / "box.glb", 0.14, None, None)
    assert mesh.colours[0] == pytest.approx([0.2, 0.4, 0.6], abs=1 / 255)
    assert mesh.surface is not None and mesh.surface.roughness == pytest.approx(0.25)
    assert mesh.surface.metal == 1.0  # glTF 2.0, 5.22.5: the default of metallicFactor


def test_corner_colours_of_ply_are_srgb(tmp_path) -> None:
    made = box()
    made.visual.vertex_colors = np.tile([188, 128, 64, 255], (len(made.vertices), 1))
    made.export(tmp_path / "box.ply")
    (mesh,) = load_model(tmp_path / "box.ply", 0.14, None, None)
    assert mesh.colours[0] == pytest.approx([0.5029, 0.2159, 0.0513], abs=2e-4)  # IEC 61966-2-1 of those codes


def test_a_given_colour_replaces_the_file_s(tmp_path) -> None:
    (mesh,) = load_model(textured(tmp_path, "glb"), 1.0, None, (0.1, 0.2, 0.3))
    assert mesh.image is None and mesh.uv is None
    assert mesh.colours[0].tolist() == [0.1, 0.2, 0.3]


# --- refusals ---


def refusal(path: Path) -> str:
    with pytest.raises(PrevizError) as caught:
        load_model(path, 0.1, None, None)
    message = str(caught.value)
    assert "\n" not in message
    assert message.startswith(str(path))
    return message


def test_missing_folder_empty_and_unknown(tmp_path) -> None:
    assert "no such file" in refusal(tmp_path / "none.glb")
    (tmp_path / "folder.glb").mkdir()
    assert "a folder found" in refusal(tmp_path / "folder.glb")
    (tmp_path / "empty.stl").touch()
    assert "an empty file" in refusal(tmp_path / "empty.stl")
    (tmp_path / "model.fbx").write_bytes(b"x")
    assert ".fbx found; a mesh file is .glb, .gltf, .obj, .stl, .ply" in refusal(tmp_path / "model.fbx")
    (tmp_path / "model").write_bytes(b"x")
    assert "no suffix found" in refusal(tmp_path / "model")


@pytest.mark.parametrize("suffix", ["glb", "stl", "ply"])
@pytest.mark.parametrize("kept", [0.1, 0.5, 0.9, 0.99])
def test_cut_short(tmp_path, suffix: str, kept: float) -> None:
    path = tmp_path / f"ball.{suffix}"
    trimesh.creation.icosphere(subdivisions=2).export(path)
    data = path.read_bytes()
    path.write_bytes(data[: int(kept * len(data))])
    assert "damaged or cut short" in refusal(path)


def test_cut_short_as_text(tmp_path) -> None:
    whole = trimesh.creation.icosphere(subdivisions=1)
    for suffix, encoding in (("ply", "ascii"), ("stl_ascii", None)):
        text = whole.export(file_type=suffix, **({"encoding": encoding} if encoding else {}))
        data = text if isinstance(text, bytes) else text.encode()
        path = tmp_path / f"ball.{suffix[:3]}"
        path.write_bytes(data)
        load_model(path, 0.1, None, None)
        path.write_bytes(data[: int(0.8 * len(data))])
        assert "damaged or cut short" in refusal(path)


@pytest.mark.parametrize("suffix", ["glb", "gltf", "obj", "stl", "ply"])
def test_other_content_than_the_suffix_says(tmp_path, suffix: str) -> None:
    path = tmp_path / f"noise.{suffix}"
    path.write_bytes(np.random.default_rng(1).integers(0, 256, 5000, dtype=np.uint8).tobytes())
    assert "damaged or cut short" in refusal(path)


def test_a_damaged_file_is_told_without_a_library_s_words(tmp_path) -> None:
    for name, data in (("a.obj", b"v 1 2 3\nf 1 2 9\n"), ("a.glb", b"garbage")):
        (tmp_path / name).write_bytes(data)
        said = refusal(tmp_path / name)
        assert said.endswith(f"the {name[2:]} file is damaged or cut short; export or copy it again")


def test_names_in_latin_1_are_read(tmp_path) -> None:
    (tmp_path / "paint.mtl").write_bytes("newmtl grün\nKd 0.2 0.4 0.6\n".encode("latin-1"))
    lines = "mtllib paint.mtl\nusemtl grün\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"
    (tmp_path / "a.obj").write_bytes(lines.encode("latin-1"))
    (mesh,) = load_model(tmp_path / "a.obj", 0.1, None, None)
    assert mesh.colours[0] == pytest.approx([0.2, 0.4, 0.6], abs=1 / 255)


def test_no_triangles(tmp_path) -> None:
    path = tmp_path / "points.ply"
    trimesh.PointCloud(np.eye(3)).export(path)
    assert "no triangles found" in refusal(path)
    (tmp_path / "points.obj").write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\n")
    assert "no triangles found" in refusal(tmp_path / "points.obj")
    (tmp_path / "nothing.gltf").write_text(json.dumps({"asset": {"version": "2.0"}, "scenes": [{"nodes": []}]}))
    assert "no triangles found" in refusal(tmp_path / "nothing.gltf")


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_corners_that_are_not_numbers(tmp_path, bad: float) -> None:
    made = box()
    facets = made.vertices[made.faces].astype("<f4")
    facets[3, 1, 2] = bad
    rows = b"".join(struct.pack("<12fH", 0, 0, 0, *facet.ravel(), 0) for facet in facets)
    path = tmp_path / "nan.stl"
    path.write_bytes(bytes(80) + struct.pack("<I", len(facets)) + rows)
    assert "not finite" in refusal(path)


def test_a_face_of_very_many_corners_is_refused_unread(tmp_path) -> None:
    path = tmp_path / "fan.obj"
    turns = np.linspace(0, 2 * np.pi, 4001)[:-1]
    corners = "".join(f"v {np.cos(turn):.6f} {np.sin(turn):.6f} 0\n" for turn in turns)
    for joint in (" ", " \\\n"):  # a line may be continued
        path.write_text(corners + "f " + joint.join(f"{k}" for k in range(1, 4001)) + "\n")
        assert "a face with more than 1000 corners" in refusal(path)
    path.write_text(corners + "f " + " ".join(f"{k}" for k in range(1, 4001, 5)) + "\n")
    assert sum(len(mesh.faces) for mesh in load_model(path, 0.1)) == 798


@pytest.mark.parametrize("suffix", ["gltf", "glb"])
def test_very_many_nodes_are_refused_unread(tmp_path, suffix: str) -> None:
    told = {"asset": {"version": "2.0"}, "scenes": [{"nodes": [0]}], "nodes": [{"name": "n"}] * 6000}
    text = json.dumps(told).encode()
    text += b" " * (-len(text) % 4)
    binary = struct.pack("<4sIIII", b"glTF", 2, 20 + len(text), len(text), 0x4E4F534A) + text
    path = tmp_path / f"tree.{suffix}"
    path.write_bytes(text if suffix == "gltf" else binary)
    assert "6000 nodes found; at most 5000" in refusal(path)


def test_textures_count_together(tmp_path, monkeypatch) -> None:
    path = textured(tmp_path, "glb")
    load_model(path, 0.1)
    monkeypatch.setattr(meshes, "MOST_TEXELS", 3)
    assert "megapixels found" in refusal(path)


@pytest.mark.parametrize("far", [1e13, 1e160, 1e300])
def test_corners_too_far_away_to_reckon_with(tmp_path, far: float) -> None:
    path = tmp_path / "far.obj"
    path.write_text(f"v {-far} 0 0\nv {far} 0 0\nv 0 {far} 0\nv 0 0 {far}\nf 1 2 3\nf 1 2 4\n")
    assert "too large to reckon with" in refusal(path)
    scene = trimesh.Scene(box())
    scene.graph.update(scene.graph.nodes_geometry[0], matrix=np.diag([far, far, far, 1.0]))
    scene.export(tmp_path / "far.glb")
    assert "too large to reckon with" in refusal(tmp_path / "far.glb")


def test_corners_too_close_together_to_reckon_with(tmp_path) -> None:
    path = tmp_path / "dust.obj"
    path.write_text("v 0 0 0\nv 1e-200 0 0\nv 0 1e-200 0\nf 1 2 3\n")
    assert "no horizontal extent" in refusal(path)


def test_a_triangle_without_its_corner(tmp_path) -> None:
    path = tmp_path / "torn.obj"
    path.write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n")
    assert "damaged" in refusal(path)


def test_no_horizontal_extent(tmp_path) -> None:
    path = tmp_path / "needle.obj"
    path.write_text("v 0 0 0\nv 0 0 1\nv 0 0 2\nf 1 2 3\n")
    assert "no horizontal extent" in refusal(path)


def test_too_many_triangles_and_too_many_bytes(tmp_path, monkeypatch) -> None:
    path = written(tmp_path, "stl")
    monkeypatch.setattr(meshes, "MOST_TRIANGLES", 11)
    assert "12 triangles found; at most 11" in refusal(path)
    monkeypatch.setattr(meshes, "MOST_BYTES", 100)
    assert "at most 0 MB" in refusal(path)


def test_many_copies_of_one_mesh_count_each(tmp_path, monkeypatch) -> None:
    scene = trimesh.Scene()
    for k in range(5):
        scene.add_geometry(box(), geom_name="box", transform=trimesh.transformations.translation_matrix([k, 0, 0]))
    scene.export(tmp_path / "five.glb")
    assert len(corners(load_model(tmp_path / "five.glb", 0.1, None, None))) == 5 * 12 * 3
    monkeypatch.setattr(meshes, "MOST_TRIANGLES", 59)
    assert "60 triangles found" in refusal(tmp_path / "five.glb")


def with_buffer(tmp_path: Path, uri: str) -> Path:
    """A glTF file whose one buffer is named `uri`; the real buffer lies beside the folder."""
    folder = tmp_path / "inside"
    folder.mkdir(exist_ok=True)
    for name, data in trimesh.exchange.gltf.export_gltf(trimesh.Scene(box())).items():
        (folder / name).write_bytes(data)
    tree = json.loads((folder / "model.gltf").read_text())
    buffer = folder / tree["buffers"][0]["uri"]
    (tmp_path / "buffer.bin").write_bytes(buffer.read_bytes())
    joined = b"".join((folder / part["uri"]).read_bytes() for part in tree["buffers"])
    (tmp_path / "all.bin").write_bytes(joined)
    tree["buffers"][0]["uri"] = uri
    (folder / "model.gltf").write_text(json.dumps(tree))
    return folder / "model.gltf"


@pytest.mark.parametrize(
    "uri", ["../buffer.bin", "%2e%2e/buffer.bin", "..\\buffer.bin", "/etc/hostname", "file:///etc/hostname",
            "http://127.0.0.1/buffer.bin", "sub/../../buffer.bin", "C:\\buffer.bin", ""],
)  # fmt: skip
def test_gltf_references_outside_its_folder_are_refused(tmp_path, uri: str) -> None:
    message = refusal(with_buffer(tmp_path, uri))
    assert "only refer to files in its own folder" in message


def test_links_out_of_the_folder_are_refused(tmp_path) -> None:
    path = with_buffer(tmp_path, "link.bin")
    (path.parent / "link.bin").symlink_to(tmp_path / "buffer.bin")
    assert "not a link to elsewhere" in refusal(path)


def test_gltf_references_in_its_folder_are_followed(tmp_path) -> None:
    path = with_buffer(tmp_path, "plain%20name.bin")
    (path.parent / "plain name.bin").write_bytes((tmp_path / "buffer.bin").read_bytes())
    assert np.ptp(corners(load_model(path, 0.14, None, None))[:, 0]) == pytest.approx(0.14)


@pytest.mark.parametrize("name", ["../paint.mtl", "/etc/hostname", "~/paint.mtl", "missing.mtl"])
def test_obj_material_files_outside_its_folder_are_refused(tmp_path, name: str) -> None:
    (tmp_path / "paint.mtl").write_text("newmtl a\nKd 1 0 0\n")
    folder = tmp_path / "inside"
    folder.mkdir()
    path = folder / "box.obj"
    path.write_text(f"mtllib {name}\nusemtl a\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
    assert "only refer to files in its own folder" in refusal(path)


def test_obj_texture_outside_its_folder_is_refused(tmp_path) -> None:
    Image.new("RGB", (4, 4)).save(tmp_path / "picture.png")
    folder = tmp_path / "inside"
    folder.mkdir()
    (folder / "paint.mtl").write_text("newmtl a\nmap_Kd ../picture.png\n")
    path = folder / "box.obj"
    path.write_text("mtllib paint.mtl\nusemtl a\nv 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\nf 1/1 2/2 3/3\n")
    assert "only refer to files in its own folder" in refusal(path)


def test_a_texture_that_is_not_a_picture_is_refused(tmp_path) -> None:
    path = textured(tmp_path, "obj")
    picture = next(tmp_path.glob("*.png"))
    picture.write_bytes(b"not a picture at all")
    assert "cannot be read" in refusal(path)


def test_a_texture_cut_short_is_refused(tmp_path) -> None:
    path = textured(tmp_path, "obj")
    picture = next(tmp_path.glob("*.png"))
    Image.fromarray(np.random.default_rng(0).integers(0, 255, (64, 64, 3), dtype=np.uint8)).save(picture)
    picture.write_bytes(picture.read_bytes()[:3000])
    assert "texture is damaged" in refusal(path)


def test_a_large_texture_is_refused(tmp_path, monkeypatch) -> None:
    path = textured(tmp_path, "glb")
    monkeypatch.setattr(images, "MOST_PIXELS", 63)
    assert "8 x 8 pixels found" in refusal(path)


def test_circular_nodes_are_refused(tmp_path) -> None:
    path = with_buffer(tmp_path, "a.bin")
    (path.parent / "a.bin").write_bytes((tmp_path / "buffer.bin").read_bytes())
    tree = json.loads(path.read_text())
    tree["nodes"] = [{"children": [1]}, {"children": [0], "mesh": 0}]
    tree["scenes"], tree["scene"] = [{"nodes": [0]}], 0
    path.write_text(json.dumps(tree))
    assert "damaged" in refusal(path)


def test_a_promised_count_without_the_data_is_refused(tmp_path) -> None:
    path = with_buffer(tmp_path, "a.bin")
    (path.parent / "a.bin").write_bytes((tmp_path / "buffer.bin").read_bytes())
    tree = json.loads(path.read_text())
    for accessor in tree["accessors"]:
        accessor["count"] = 10**12
        del accessor["bufferView"]
    path.write_text(json.dumps(tree))
    assert "damaged" in refusal(path)


# --- images ---


def image_refusal(path: Path) -> str:
    with pytest.raises(PrevizError) as caught:
        load_image(path)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith(str(path))
    return str(caught.value)


@pytest.mark.parametrize("suffix", ["png", "webp", "tiff", "bmp"])
def test_images_come_back_as_they_were(tmp_path, suffix: str) -> None:
    picture = np.random.default_rng(2).integers(0, 256, (5, 7, 3), dtype=np.uint8)
    Image.fromarray(picture).save(tmp_path / f"p.{suffix}", **({"lossless": True} if suffix == "webp" else {}))
    assert np.array_equal(load_image(tmp_path / f"p.{suffix}"), picture)


def test_transparency_grey_palette_and_sixteen_bits(tmp_path) -> None:
    clear = np.zeros((3, 4, 4), dtype=np.uint8)
    clear[1, 2] = (9, 8, 7, 128)
    Image.fromarray(clear).save(tmp_path / "clear.png")
    assert np.array_equal(load_image(tmp_path / "clear.png"), clear)
    Image.new("L", (4, 3), 77).save(tmp_path / "grey.png")
    assert load_image(tmp_path / "grey.png").tolist() == [[[77] * 3] * 4] * 3
    Image.new("RGB", (4, 3), (1, 2, 3)).quantize(2).save(tmp_path / "palette.png")
    assert load_image(tmp_path / "palette.png")[0, 0].tolist() == [1, 2, 3]
    deep = np.array([[0, 65535], [32896, 257]], dtype=np.uint16)
    Image.fromarray(deep).save(tmp_path / "deep.png")
    assert load_image(tmp_path / "deep.png")[..., 0].tolist() == [[0, 255], [128, 1]]


def test_a_photograph_taken_upright_is_turned(tmp_path) -> None:
    picture = Image.new("RGB", (6, 4))
    exif = picture.getexif()
    exif[0x0112] = 6  # the camera was turned a quarter
    picture.save(tmp_path / "photo.jpg", exif=exif)
    assert load_image(tmp_path / "photo.jpg").shape == (6, 4, 3)


def test_images_that_are_refused(tmp_path, monkeypatch) -> None:
    assert "no such file" in image_refusal(tmp_path / "none.png")
    assert "a folder found" in image_refusal(tmp_path)
    (tmp_path / "empty.png").touch()
    assert "an empty file" in image_refusal(tmp_path / "empty.png")
    (tmp_path / "text.png").write_text("hello, this is not a picture")
    assert "allowed are PNG, JPEG" in image_refusal(tmp_path / "text.png")
    noise = Image.fromarray(np.random.default_rng(0).integers(0, 255, (64, 64, 3), dtype=np.uint8))
    for suffix in ("png", "jpg"):
        path = tmp_path / f"cut.{suffix}"
        noise.save(path)
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
        assert "damaged or cut short" in image_refusal(path)
    noise.save(tmp_path / "large.png")
    monkeypatch.setattr(images, "MOST_PIXELS", 64 * 64 - 1)
    assert "64 x 64 pixels found" in image_refusal(tmp_path / "large.png")


def test_an_image_of_another_format_is_not_opened_whatever_it_is_called(tmp_path) -> None:
    """A reader that tries all formats would run another program for the first of these."""
    script = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n%%EndComments\n"
    (tmp_path / "script.png").write_bytes(script)
    Image.new("RGB", (8, 8)).save(tmp_path / "rows.png", format="PCX")
    for name in ("script.png", "rows.png"):
        assert "allowed are PNG, JPEG" in image_refusal(tmp_path / name)


def test_a_small_file_that_unfolds_to_a_huge_picture_is_refused_unread(tmp_path) -> None:
    path = tmp_path / "bomb.png"
    Image.new("1", (20000, 20000)).save(path)
    assert path.stat().st_size < 200_000
    assert "megapixels are read; make the image smaller" in image_refusal(path)


# --- which files were read ---


def picture(path, code: int):
    Image.new("RGB", (4, 4), (code, code, code)).save(path)
    return path


def test_each_build_lists_the_files_it_read_itself_though_others_read_at_the_same_time(tmp_path) -> None:
    paths = [picture(tmp_path / f"{code}.png", code) for code in (10, 20)]
    both_listen = Barrier(2, timeout=120)

    def build(path):
        with read_files() as read:
            both_listen.wait()
            load_image(path)
            both_listen.wait()
            return read

    with ThreadPoolExecutor(2) as pool:
        lists = list(pool.map(build, paths))
    assert lists == [{path.resolve(): digest(path)} for path in paths]


def test_what_threads_of_a_build_read_is_on_its_list(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(spread, "cores", lambda: 4)
    paths = [picture(tmp_path / f"{code}.png", code) for code in range(6)]
    with read_files() as read:
        spread.spread(load_image, paths[:4])
        spread.both(lambda: load_image(paths[4]), lambda: load_image(paths[5]))
    load_image(picture(tmp_path / "later.png", 99))
    assert set(read) == {path.resolve() for path in paths}
