"""glTF materials and nodes as the specification gives them (glTF 2.0; Khronos, ISO/IEC 12113:2022; from memory)."""

import copy
import functools
import json
import random
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from small_gltf import FACES, SQUARE, picture, told, written

from previz.errors import PrevizError
from previz.files import load_model, load_parts, meshes
from previz.mesh import Mesh


def loaded(folder: Path, *args: Any, **more: Any) -> Mesh:
    (mesh,) = load_model(written(folder, told(*args, **more)), 1.0)
    return mesh


def refused(folder: Path, tree: dict[str, Any], **more: Any) -> str:
    with pytest.raises(PrevizError) as caught:
        load_model(written(folder, tree), 1.0, **more)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_what_is_left_out_has_the_default_of_the_specification(tmp_path) -> None:
    mesh = loaded(tmp_path, {})
    assert mesh.surface is not None
    # 5.22.2, 5.22.5, 5.22.6: colour 1, metallicFactor 1, roughnessFactor 1; 5.19.7, 5.19.11: no emission, one side.
    assert (mesh.colours == 1).all() and (mesh.surface.metal, mesh.surface.roughness) == (1, 1)
    assert mesh.material.glow == (0, 0, 0) and not mesh.material.two_sided


def test_a_part_without_a_material_is_matt_and_grey_or_of_its_corners_colours(tmp_path) -> None:
    plain = loaded(tmp_path, None)
    assert plain.surface is None and np.ptp(plain.colours) == 0
    codes = np.tile([51, 102, 153, 255], (4, 1)).astype(np.uint8)
    mesh = loaded(tmp_path, None, attributes={"COLOR_0": codes})
    assert mesh.surface is None and mesh.colours[0] == pytest.approx([0.2, 0.4, 0.6])  # linear: 3.7.2.1


def test_factors_and_corner_colours_multiply_linear(tmp_path) -> None:
    colours = np.tile([0.5, 0.25, 1.0], (4, 1)).astype(np.float32)
    told_so = {
        "pbrMetallicRoughness": {
            "baseColorFactor": [0.2, 0.4, 0.123, 1],
            "metallicFactor": 0.3,
            "roughnessFactor": 0.7,
        },
        "doubleSided": True,
    }
    mesh = loaded(tmp_path, told_so, attributes={"COLOR_0": colours})
    assert mesh.colours[0] == pytest.approx([0.1, 0.1, 0.123])
    assert mesh.surface is not None and (mesh.surface.metal, mesh.surface.roughness) == pytest.approx((0.3, 0.7))
    assert mesh.material.two_sided


def test_emission_is_in_candelas_per_square_metre_by_its_strength(tmp_path) -> None:
    material = {
        "emissiveFactor": [1.0, 0.5, 0.25],
        "extensions": {"KHR_materials_emissive_strength": {"emissiveStrength": 400.0}},
    }
    assert loaded(tmp_path, material).material.glow == pytest.approx((400, 200, 100))
    path = written(tmp_path, told({"emissiveFactor": [1.0, 0.5, 0.25]}))
    assert load_model(path, 1.0)[0].material.glow == pytest.approx((1, 0.5, 0.25))
    assert load_model(path, 1.0, glow=60.0)[0].material.glow == pytest.approx((60, 30, 15))
    # A scene's own colour takes the place of what shines, too.
    assert load_model(path, 1.0, colour=(0.1, 0.2, 0.3))[0].material.glow == (0, 0, 0)


def test_every_texture_is_found_with_what_is_said_of_it(tmp_path) -> None:
    shades = [(10, 20, 30), (40, 50, 60), (70, 80, 90), (100, 110, 120), (130, 140, 150)]
    material = {
        "pbrMetallicRoughness": {"baseColorTexture": {"index": 0}, "metallicRoughnessTexture": {"index": 1}},
        "normalTexture": {"index": 2, "scale": 0.6},
        "occlusionTexture": {"index": 3, "strength": 0.4},
        "emissiveTexture": {"index": 4},
    }
    tree = told(material, [picture(shade) for shade in shades])
    tree["samplers"] = [{"wrapS": 33071, "wrapT": 33648}]
    tree["textures"][2]["sampler"] = 0
    (mesh,) = load_model(written(tmp_path, tree), 1.0)
    surface = mesh.surface
    assert surface is not None and mesh.image is not None
    found = [surface.image, surface.metal_roughness, surface.normal, surface.occlusion, surface.emission]
    assert [tuple(each.pixels[0, 0]) for each in found if each is not None] == shades
    assert tuple(mesh.image[0, 0]) == shades[0]
    assert (surface.normal_scale, surface.occlusion_strength) == (0.6, 0.4)
    # 5.26: 10497 repeats, which is the default; 33071 clamps to the edge, 33648 mirrors.
    assert found[0].wrap == ("repeat", "repeat") and found[2].wrap == ("edge", "mirror")
    assert mesh.uv is not None and mesh.uv.shape[1] == 2


def test_textures_lie_by_their_own_coordinates_and_transforms(tmp_path) -> None:
    turned = {"KHR_texture_transform": {"offset": [0.25, 0.5], "rotation": np.pi / 2, "scale": [2.0, 3.0]}}
    material = {
        "pbrMetallicRoughness": {"baseColorTexture": {"index": 0, "extensions": turned}},
        "occlusionTexture": {"index": 1, "texCoord": 1},
    }
    other = (np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * 65535).astype(np.uint16)  # whole numbers are shares (3.11)
    mesh = loaded(tmp_path, material, [picture((9, 9, 9)), picture((5, 5, 5))], {"TEXCOORD_1": other})
    assert mesh.uv is not None and mesh.uv.shape[1] == 4
    corner = [int(np.argmin(np.linalg.norm(mesh.vertices[:, :2] - at, axis=1))) for at in ([0.5, -0.5], [0.5, 0.5])]
    # Scaled, turned counter-clockwise as the picture is seen with v down, moved: (u, v) goes to (3 v, -2 u) + offset.
    assert mesh.uv[corner, :2] == pytest.approx(np.array([[3.25, -1.5], [0.25, -1.5]]))
    assert mesh.uv[corner, 2:] == pytest.approx(np.array([[1, 0], [1, 1]]))
    assert mesh.surface is not None and mesh.surface.occlusion is not None and mesh.surface.occlusion.way == 1


def test_more_ways_to_lie_than_are_drawn_are_told(tmp_path) -> None:
    def moved(by: float, index: int) -> dict[str, Any]:
        return {"index": index, "extensions": {"KHR_texture_transform": {"offset": [by, 0]}}}

    material = {
        "pbrMetallicRoughness": {"baseColorTexture": moved(0.1, 0)},
        "normalTexture": moved(0.2, 0),
        "occlusionTexture": moved(0.3, 0),
    }
    assert "3 different ways found; at most 2" in refused(tmp_path, told(material, [picture((9, 9, 9))]))


def test_what_can_be_seen_through_is_cut_out_or_dark(tmp_path) -> None:
    base = {"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}, "baseColorFactor": [1, 1, 1, 0.5]}}
    half = [picture((200, 100, 50, 200))]
    opaque = loaded(tmp_path, base, half)
    assert opaque.surface is not None and opaque.surface.alpha is None  # 3.9.4: alpha is ignored
    masked = loaded(tmp_path, {**base, "alphaMode": "MASK", "alphaCutoff": 0.3}, half)
    assert masked.surface is not None and masked.surface.alpha is not None
    # Texture times factor is held against the cutoff.
    assert masked.surface.cutoff == pytest.approx(0.6) and masked.surface.alpha[0, 0] == 200
    blended = loaded(tmp_path, {**base, "alphaMode": "BLEND"}, half)
    assert blended.surface is not None and blended.surface.alpha is not None and blended.surface.cutoff == 0.5
    assert blended.colours[0] == pytest.approx([0.5, 0.5, 0.5])
    glass = loaded(tmp_path, {**base, "alphaMode": "BLEND"}, [picture((200, 100, 50, 90))])
    assert glass.surface is not None and glass.surface.alpha is None


def test_binary_files_say_the_same_as_those_in_text(tmp_path) -> None:
    made = trimesh.creation.box((1, 1, 1))
    look = trimesh.visual.material.PBRMaterial(
        baseColorFactor=[0.25, 0.5, 0.75, 1.0], metallicFactor=0.4, roughnessFactor=0.6, emissiveFactor=[0.5, 0.5, 0.5]
    )
    made.visual = trimesh.visual.TextureVisuals(material=look)
    made.export(tmp_path / "box.glb")
    (mesh,) = load_model(tmp_path / "box.glb", 1.0)
    assert mesh.surface is not None and (mesh.surface.metal, mesh.surface.roughness) == pytest.approx((0.4, 0.6))
    assert mesh.material.glow == pytest.approx((0.5, 0.5, 0.5))
    assert mesh.colours[0] == pytest.approx([0.25, 0.5, 0.75], abs=1 / 255)  # written by trimesh in eight bits


# --- strangers' files ---


@pytest.mark.parametrize(
    "material",
    [
        {"pbrMetallicRoughness": {"metallicFactor": float("nan")}},
        {"pbrMetallicRoughness": {"roughnessFactor": "rough"}},
        {"pbrMetallicRoughness": {"baseColorFactor": [1, 1]}},
        {"emissiveFactor": 3},
        {"occlusionTexture": {"index": 0, "strength": None}},
        {"normalTexture": {"index": 0, "extensions": {"KHR_texture_transform": {"offset": [float("inf"), 0]}}}},
    ],
)
def test_numbers_that_mean_nothing_are_refused(tmp_path, material) -> None:
    message = refused(tmp_path, told(material, [picture((9, 9, 9))]))
    assert "of a material is not" in message or "damaged" in message


def test_numbers_out_of_range_are_brought_into_it(tmp_path) -> None:
    material = {"pbrMetallicRoughness": {"metallicFactor": 7, "roughnessFactor": -2}, "emissiveFactor": [1e30, 0, 0]}
    mesh = loaded(tmp_path, material)
    assert mesh.surface is not None and (mesh.surface.metal, mesh.surface.roughness) == (1, 0)
    assert mesh.material.glow == (1, 0, 0)


@pytest.mark.parametrize("slot", ["normalTexture", "occlusionTexture", "emissiveTexture"])
def test_bounds_hold_for_every_texture(tmp_path, monkeypatch, slot) -> None:
    material = {"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}}, slot: {"index": 1}}
    tree = told(material, [picture((9, 9, 9), 8), picture((9, 9, 8), 8)])
    load_model(written(tmp_path, tree), 1.0)
    monkeypatch.setattr(meshes, "MOST_TEXELS", 127)
    assert "megapixels found" in refused(tmp_path, tree)
    monkeypatch.undo()
    (tmp_path / "secret.png").write_bytes(b"")
    (tmp_path / "inside").mkdir()
    tree["images"][1]["uri"] = "../secret.png"
    assert "only refer to files in its own folder" in refused(tmp_path / "inside", tree)


def test_textures_of_other_kinds_are_not_even_opened(tmp_path) -> None:
    """Pillow hands a picture of some kinds to other programs; one may call itself what it likes."""
    page = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 4 4\n%%EndComments\nshowpage\n%%EOF\n"
    (tmp_path / "page.png").write_bytes(page)
    tree = told({"normalTexture": {"index": 0}}, ["page.png"])
    assert "a texture is EPS" in refused(tmp_path, tree)


def test_what_cannot_be_read_is_named(tmp_path) -> None:
    tree = told({})
    tree["extensionsRequired"] = ["EXT_meshopt_compression"]
    assert "'EXT_meshopt_compression'" in refused(tmp_path, tree)
    tree = told({})
    tree["accessors"][0]["sparse"] = {"count": 1}
    assert "sparse" in refused(tmp_path, tree)
    bad = np.full((4, 2), np.nan, np.float32)
    tree = told({"occlusionTexture": {"index": 0}}, [picture((9, 9, 9))], {"TEXCOORD_0": bad})
    assert "not finite" in refused(tmp_path, tree)
    for broken in ({"materials": [5]}, {"materials": "paint"}, {"textures": 3}, {"nodes": [{"name": 4, "mesh": 0}]}):
        tree = {**told({"normalTexture": {"index": 0}}, [picture((9, 9, 9))]), **broken}
        (tmp_path / "model.gltf").write_text(json.dumps(tree))
        try:  # read as far as it says something, or told in one line: no other fault comes out
            load_model(tmp_path / "model.gltf", 1.0)
        except PrevizError as fault:
            assert "\n" not in str(fault)


def spots(tree: Any, steps: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Where all that is told stands."""
    inside = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    return [each for key, value in inside for each in ((*steps, key), *spots(value, (*steps, key)))]


def test_damaged_files_are_read_or_refused_in_one_line(tmp_path) -> None:
    """From a seed; 4000 of them were tried when this was written."""
    slots = ("baseColorTexture", "metallicRoughnessTexture", "normalTexture", "occlusionTexture", "emissiveTexture")
    moved = {"KHR_texture_transform": {"offset": [0.1, 0.2], "rotation": 0.3, "scale": [1, 2]}}
    textures = {slot: {"index": k, "texCoord": k // 4, "extensions": moved} for k, slot in enumerate(slots)}
    pbr = {slot: textures.pop(slot) for slot in slots[:2]} | {"metallicFactor": 0.5, "baseColorFactor": [1, 1, 1, 0.5]}
    strength = {"KHR_materials_emissive_strength": {"emissiveStrength": 3}}
    material = {"pbrMetallicRoughness": pbr, **textures, "emissiveFactor": [1, 1, 1], "alphaMode": "MASK",
                "extensions": strength}  # fmt: skip
    attributes = {"TEXCOORD_1": SQUARE[:, :2].copy(), "COLOR_0": np.full((4, 4), 128, np.uint8)}
    whole = told(material, [picture((9 * k, 9, 9, 200)) for k in range(5)], attributes)
    whole["samplers"] = [{"wrapS": 33071}]
    whole["textures"][1]["sampler"] = 0
    others = [None, -1, 0, 1, 10**9, 1e300, float("nan"), "", "x", [], {}, [1], [None] * 3, True, {"a": 1}, "../x.png"]
    places, outcomes = spots(whole), [0, 0]
    for seed in range(120):
        rng, tree = random.Random(seed), copy.deepcopy(whole)
        for _ in range(rng.choice([1, 1, 1, 2])):
            *steps, last = rng.choice(places)
            with suppress(Exception):  # what stood there may be gone already
                group = functools.reduce(lambda inside, key: inside[key], steps, tree)
                group[last] = copy.deepcopy(rng.choice(others))
        try:
            load_parts(written(tmp_path, tree), 1.0, apart=rng.choice([[], ["square"]]))
            outcomes[0] += 1
        except PrevizError as fault:
            assert "\n" not in str(fault) and len(str(fault)) < 600, seed
            outcomes[1] += 1
    assert min(outcomes) > 10  # or nothing was tried


# --- nodes ---


def two_cars(folder: Path) -> Path:
    """Two bodies, one 4 m and one 2 m long, each with a wheel below it, in one file."""
    tree = told({})
    tree["nodes"] = [
        {"name": "long", "children": [1, 2], "translation": [10, 0, 0]},
        {"name": "long_body", "mesh": 0, "scale": [4, 1, 1]},
        {"name": "wheel", "mesh": 0, "translation": [1, 0, 0]},
        {"name": "short", "mesh": 0, "scale": [2, 1, 1], "translation": [-10, 0, 3]},
        {"name": "twice"},
        {"name": "twice"},
    ]
    tree["scenes"] = [{"nodes": [0, 3, 4, 5]}]
    return written(folder, tree)


def test_a_node_alone_is_brought_to_its_length(tmp_path) -> None:
    path = two_cars(tmp_path)
    for node, wide in (("long", 0.25), ("short", 0.5)):
        model = load_model(path, 1.0, node=node)
        points = np.concatenate([mesh.vertices for mesh in model])
        assert np.ptp(points, axis=0) == pytest.approx([1, wide, 0], abs=1e-6)
        assert (points.min(axis=0) + points.max(axis=0))[:2] == pytest.approx([0, 0], abs=1e-6)
    assert sum(len(mesh.faces) for mesh in load_model(path, 1.0, node="long")) == 4


def test_nodes_apart_are_where_they_were(tmp_path) -> None:
    parts = load_parts(two_cars(tmp_path), 4.0, node="long", apart=["wheel"])
    (body,), (wheel,) = parts.body, parts.named["wheel"]
    assert (body.vertices[:, 0].min(), body.vertices[:, 0].max()) == pytest.approx((-2, 2))
    assert (wheel.vertices[:, 0].min(), wheel.vertices[:, 0].max()) == pytest.approx((0.5, 1.5))


def test_a_name_that_is_not_there_or_twice_is_told_with_those_that_are(tmp_path) -> None:
    path = two_cars(tmp_path)
    for name, said in (
        ("weel", "no node is called 'weel'; the file has 'long', 'long_body', 'short', 'twice', 'wheel'"),
        ("twice", "2 nodes are called 'twice'"),
    ):
        with pytest.raises(PrevizError, match=said):
            load_parts(path, 1.0, apart=[name])
    with pytest.raises(PrevizError, match="the node 'wheel' has no triangles below 'short'"):
        load_parts(path, 1.0, node="short", apart=["wheel"])
    trimesh.Trimesh(SQUARE, FACES).export(tmp_path / "plain.stl")
    with pytest.raises(PrevizError, match="only glTF files have parts by name"):
        load_model(tmp_path / "plain.stl", 1.0, node="wheel")
