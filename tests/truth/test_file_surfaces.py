"""Surfaces that a glTF file describes, drawn, against the formulas of the glTF 2.0 specification summed by hand.

Appendix B of the specification (Khronos; ISO/IEC 12113:2022; from memory): c_diff = (1 - metal) colour, f0 = 0.04 or
the metal's colour, F = f0 + (1 - f0) (1 - |V.H|)^5, alpha = roughness^2, GGX with Smith's masking for each direction.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from bare import BareStage, bare_scene, picture

from previz.frames.sensor import exposure_gain
from previz.mesh import Material, Mesh, Picture, Surface
from previz.physics.colour import srgb_linear, white_rgb
from previz.physics.exposure import working_f_number
from previz.stage import LitMesh, VehicleModel

SIZE, FOCAL, STOP, FOCUS = (120, 80), 0.050, 16.0, 0.5
EYE = np.array([0.5, 0.0, 0.5])
ROWS, COLUMNS = 32, 64
LIGHT = np.array([1.0, 0.8, 0.6])
FROM_AROUND = 0.3  # of the light on everything


def even(ways: np.ndarray) -> np.ndarray:
    return np.ones(len(ways))


def one_sided(ways: np.ndarray) -> np.ndarray:
    """Brighter to the upper left and towards the camera, as under a large window."""
    return 1.0 + ways @ np.array([-0.35, -0.45, 0.4])


def surround_of(radiance) -> np.ndarray:
    fall, turn = np.meshgrid((np.arange(ROWS) + 0.5) / ROWS * np.pi, (np.arange(COLUMNS) + 0.5) / COLUMNS * 2 * np.pi,
                             indexing="ij")  # fmt: skip
    ways = np.stack([np.sin(fall) * np.cos(turn), np.sin(fall) * np.sin(turn), np.cos(fall)], axis=-1)
    return (radiance(ways.reshape(-1, 3)).reshape(ROWS, COLUMNS, 1) * LIGHT * 20).astype(np.float32)


@dataclass(frozen=True)
class Lit(BareStage):
    """Under a surround, with the light on the vehicle that is given."""

    around: np.ndarray = None  # type: ignore[assignment]

    def stations(self, distances):
        return tuple(replace(each, surround=self.around) for each in super().stations(distances))


def hemisphere(n: np.ndarray, count: int = 300) -> tuple[np.ndarray, np.ndarray]:
    """Ways over a surface and the solid angle that each stands for."""
    rise, turn = np.meshgrid((np.arange(count) + 0.5) / count, (np.arange(count) + 0.5) / count * 2 * np.pi)
    rise, turn = rise.ravel(), turn.ravel()
    side = np.cross(n, [0.3, 0.1, 0.9])
    side /= np.linalg.norm(side)
    flat = np.sqrt(1 - rise**2)
    ways = np.outer(flat * np.cos(turn), side) + np.outer(flat * np.sin(turn), np.cross(n, side)) + np.outer(rise, n)
    return ways, np.full(len(ways), 2 * np.pi / len(ways))


def irradiance(n: np.ndarray, radiance) -> np.ndarray:
    ways, share = hemisphere(n, 200)
    return (radiance(ways) * (ways @ n) * share).sum() * LIGHT * 20


def by_hand(n, eye, colour, metal, rough, radiance) -> np.ndarray:
    """Radiance towards the eye, RGB: the integral of appendix B over the hemisphere."""
    ways, share = hemisphere(n)
    half = ways + eye
    half /= np.linalg.norm(half, axis=1, keepdims=True)
    nl, nv, nh, vh = ways @ n, eye @ n, half @ n, half @ eye
    alpha2 = rough**4
    d = alpha2 / (np.pi * (nh**2 * (alpha2 - 1) + 1) ** 2)
    v = 1 / (nl + np.sqrt(alpha2 + (1 - alpha2) * nl**2)) / (nv + np.sqrt(alpha2 + (1 - alpha2) * nv**2))
    f0 = 0.04 * (1 - metal) + np.asarray(colour) * metal
    f = f0 + (1 - f0) * ((1 - vh) ** 5)[:, None]
    diffuse = (1 - f) * np.asarray(colour) * (1 - metal) / np.pi
    return ((diffuse + f * (d * v)[:, None]) * (radiance(ways) * nl * share)[:, None]).sum(axis=0) * LIGHT * 20


def to_eye(mesh: Mesh) -> np.ndarray:
    way = EYE - mesh.vertices.mean(axis=0)
    return way / np.linalg.norm(way)


def square(middle, n, surface, colour=(1.0, 1.0, 1.0), image=None, material=None, half=0.016) -> Mesh:
    """A square with that normal, its picture upright."""
    right = np.cross([0, 0, 1.0], n)
    right /= np.linalg.norm(right)
    up = np.cross(n, right)
    corners = [middle + half * (a * right + b * up) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    uv = np.array([[0, 1], [1, 1], [1, 0], [0, 0.0]])  # v runs down
    return Mesh(np.array(corners), np.array([[0, 1, 2], [0, 2, 3]]), np.tile(n, (4, 1)), np.tile(colour, (4, 1)),
                material or Material(), uv, image, surface)  # fmt: skip


#: Middles of twelve squares over the picture.
PLACES = [np.array([x, 0.5, z]) for z in (0.44, 0.5, 0.56) for x in (0.38, 0.46, 0.54, 0.62)]


def drawn(tmp_path, meshes, radiance, *, as_vehicle=False) -> list[np.ndarray]:
    """What is seen in the middle of each mesh, in the units of its radiance."""
    share = np.full(4, FROM_AROUND, np.float32)
    lit = [
        LitMesh(mesh, np.tile(irradiance(mesh.normals[0], radiance), (4, 1)).astype(np.float32), share)
        for mesh in meshes
    ]
    around = surround_of(radiance)
    if as_vehicle:
        # At speed 0 it stands where its path begins, at y = 0.5 m, facing +x.
        shifted = tuple(mesh.moved(np.eye(3), np.array([0, -0.5, 0])) for mesh in meshes)
        stage = Lit((), vehicle=VehicleModel(shifted, (), (), 1, 1, 1), around=around, light=np.pi * 20 * LIGHT)
    else:
        stage = Lit(tuple(lit), around=around)
    scene = bare_scene(tmp_path, size=SIZE, focal=50, stop=STOP, speed=0 if as_vehicle else 1)
    gain = exposure_gain(1 / 48, working_f_number(STOP, FOCAL / (FOCUS - FOCAL)), 100)
    found = picture(scene, stage, size=SIZE, views=4) / gain * white_rgb(5600)
    width = 0.036 / FOCAL * FOCUS  # of what the sensor sees at the plane of focus, less what close focus takes
    width *= (FOCUS - FOCAL) / FOCUS
    values = []
    for mesh in meshes:
        x, _, z = mesh.vertices.mean(axis=0) - EYE
        column, row = SIZE[0] * (0.5 + x / width), SIZE[1] / 2 - SIZE[0] * z / width
        patch = found[int(row) - 1 : int(row) + 2, int(column) - 1 : int(column) + 2]
        values.append(patch.mean(axis=(0, 1)))
    return values


def tilted(degrees_round: float, degrees_up: float) -> np.ndarray:
    a, b = np.radians([degrees_round, degrees_up])
    return np.array([np.sin(a) * np.cos(b), -np.cos(a) * np.cos(b), np.sin(b)])


def materials(seed: int):
    rng = np.random.default_rng(seed)
    for number, place in enumerate(PLACES):
        metal = (0.0, 1.0, rng.uniform())[number % 3]
        yield place, tilted(*rng.uniform(-45, 45, 2)), rng.uniform(0.1, 0.9, 3), metal, rng.uniform(0.15, 1.0)


@pytest.mark.parametrize("as_vehicle", [False, True])
def test_metal_roughness_and_colour_are_as_the_formulas_have_them_under_even_light(tmp_path, as_vehicle) -> None:
    cases = list(materials(1))
    meshes = [square(place, n, Surface(metal, rough), colour) for place, n, colour, metal, rough in cases]
    for mesh, seen, case in zip(meshes, drawn(tmp_path, meshes, even, as_vehicle=as_vehicle), cases, strict=True):
        assert seen == pytest.approx(by_hand(case[1], to_eye(mesh), *case[2:], even), rel=0.01)


def test_under_uneven_light_what_is_mirrored_comes_from_where_it_should(tmp_path) -> None:
    cases = list(materials(2))
    meshes = [square(place, n, Surface(metal, rough), colour) for place, n, colour, metal, rough in cases]
    for mesh, seen, case in zip(meshes, drawn(tmp_path, meshes, one_sided), cases, strict=True):
        assert seen == pytest.approx(by_hand(case[1], to_eye(mesh), *case[2:], one_sided), rel=0.01)


def test_a_normal_picture_tilts_red_to_the_right_and_green_up(tmp_path) -> None:
    meshes, expected = [], []
    for number, (place, n, colour, metal, rough) in enumerate(materials(4)):
        codes = np.array([(168, 128, 240), (128, 90, 238), (100, 170, 232), (60, 128, 215)][number % 4], np.uint8)
        surface = Surface(metal, rough, normal=Picture(np.tile(codes, (4, 4, 1))), normal_scale=0.8)
        mesh = square(place, n, surface, colour)
        across, up = mesh.vertices[1] - mesh.vertices[0], mesh.vertices[3] - mesh.vertices[0]
        # The specification's: 2 code / 255 - 1, the first two times the scale, then of length 1.
        x, y, z = (codes / 255 * 2 - 1) * (0.8, 0.8, 1)
        tilt = x * across / np.linalg.norm(across) + y * up / np.linalg.norm(up) + z * n
        meshes.append(mesh)
        expected.append(by_hand(tilt / np.linalg.norm(tilt), to_eye(mesh), colour, metal, rough, one_sided))
    for seen, wanted in zip(drawn(tmp_path, meshes, one_sided), expected, strict=True):
        assert seen == pytest.approx(wanted, rel=0.02)


def test_pictures_multiply_what_they_belong_to(tmp_path) -> None:
    n, place = tilted(0, 0), PLACES
    noise = np.random.default_rng(5)
    codes = noise.integers(60, 250, (6, 3)).astype(np.uint8)
    flat = [Picture(np.tile(each, (4, 4, 1))) for each in codes]
    glow = Material(glow=(3.0, 4.0, 5.0))
    cases = [
        (Surface(0, 1, image=flat[0]), {"image": flat[0].pixels}),
        (Surface(1, 1, metal_roughness=flat[1]), {}),
        (Surface(0, 1, occlusion=flat[2], occlusion_strength=0.5), {}),
        (Surface(0, 1, emission=flat[3]), {"material": glow}),
        (Surface(0, 1), {"material": glow}),
        (Surface(matt=True, image=flat[0]), {"image": flat[0].pixels}),
        (Surface(0, 1, image=flat[0], alpha=np.full((4, 4), 90, np.uint8), cutoff=0.4), {"image": flat[0].pixels}),
    ]
    meshes = [
        square(at, n, surface, (0.5, 0.6, 0.7), **more) for at, (surface, more) in zip(place, cases, strict=False)
    ]
    seen = drawn(tmp_path, meshes, even)

    def wanted(mesh, colour, metal, rough):
        return by_hand(n, to_eye(mesh), colour, metal, rough, even)

    own = np.array([0.5, 0.6, 0.7])
    image = own * srgb_linear(codes[0] / 255)
    assert seen[0] == pytest.approx(wanted(meshes[0], image, 0, 1), rel=0.01)
    # Blue of the picture is metal, green roughness, both linear (specification, 3.9.2).
    assert seen[1] == pytest.approx(wanted(meshes[1], own, codes[1, 2] / 255, codes[1, 1] / 255), rel=0.01)
    # 1 + strength (red - 1) of the light from all round, and none of the light from lamps (specification, 3.9.3).
    left = 1 + FROM_AROUND * 0.5 * (codes[2, 0] / 255 - 1)
    assert seen[2] == pytest.approx(wanted(meshes[2], own, 0, 1) * left, rel=0.01)
    lit = np.array(glow.glow)
    assert seen[3] == pytest.approx(wanted(meshes[3], own, 0, 1) + lit * srgb_linear(codes[3] / 255), rel=0.01)
    assert seen[4] == pytest.approx(wanted(meshes[4], own, 0, 1) + lit, rel=0.01)
    assert seen[5] == pytest.approx(image * LIGHT * 20, rel=0.01)
    assert seen[6] == pytest.approx([0, 0, 0], abs=1e-3)  # 90 / 255 is below 0.4: not there


def test_a_picture_goes_on_past_its_sides_as_its_file_says(tmp_path) -> None:
    halves = np.repeat(np.array([[(250, 20, 20), (20, 20, 250)]], np.uint8), 32, axis=1)
    wraps = {"repeat": 0, "edge": 1, "mirror": 1}
    meshes = []
    for place, wrap in zip(PLACES, wraps, strict=False):
        surface = Surface(matt=True, image=Picture(halves, wrap=(wrap, wrap)))
        mesh = square(place, tilted(0, 0), surface, image=halves)
        meshes.append(replace(mesh, uv=mesh.uv * 0.2 + [1.1, 0.0]))  # its middle at u = 1.2
    for seen, shown in zip(drawn(tmp_path, meshes, even), wraps.values(), strict=True):
        assert seen == pytest.approx(srgb_linear(halves[0, 32 * shown] / 255) * LIGHT * 20, rel=0.02)


#: A bead that is narrower than a pixel, as round edges of a body are: how wide, how far its normals turn to each side.
BEAD, TURN, STEEL = 0.0016, 40, Surface(1.0, 0.2)


def bead() -> Mesh:
    """Upright, leaning over some pixels to the right."""
    places = [
        np.array([0.5 + side * BEAD / 2 + up * 0.0045, 0.5, 0.5 + up * 0.09]) for up in (-1, 1) for side in (-1, 1)
    ]
    normals = [tilted(side * TURN, 0) for _ in (-1, 1) for side in (-1, 1)]
    return Mesh(np.array(places), np.array([[0, 1, 3], [0, 3, 2]]), np.array(normals), np.ones((4, 3)), Material(),
                None, None, STEEL)  # fmt: skip


def along_bead(tmp_path, radiance, views) -> np.ndarray:
    """What all pixels of a row see of it together, row by row, in the units of its radiance times pixels."""
    nothing = np.zeros(4, np.float32)
    lit = LitMesh(bead(), np.tile(irradiance(tilted(0, 0), radiance), (4, 1)).astype(np.float32), nothing)
    scene = bare_scene(tmp_path, size=SIZE, focal=50, stop=STOP, speed=1)
    gain = exposure_gain(1 / 48, working_f_number(STOP, FOCAL / (FOCUS - FOCAL)), 100)
    found = picture(scene, Lit((lit,), around=surround_of(radiance)), size=SIZE, views=views) / gain * white_rgb(5600)
    return found[15:65, 50:70].sum(axis=1)


def test_a_narrow_round_edge_mirrors_what_its_normals_do(tmp_path) -> None:
    """But for what comes of a pixel's turn being counted twice: by the blur, and by where in it views look."""
    pixel = 0.036 / FOCAL * FOCUS * (FOCUS - FOCAL) / FOCUS / SIZE[0]
    left, right = bead().normals[:2]
    between = [left + part * (right - left) for part in np.linspace(0, 1, 41)]
    seen = [
        by_hand(n / np.linalg.norm(n), to_eye(bead()), np.ones(3), STEEL.metal, STEEL.roughness, one_sided)
        for n in between
    ]
    assert along_bead(tmp_path, one_sided, 64).mean(axis=0) == pytest.approx(
        np.mean(seen, axis=0) * BEAD / pixel, rel=0.1
    )


def test_a_lamp_glints_evenly_all_along_a_narrow_round_edge(tmp_path) -> None:
    """Of its 0.6 of a pixel it shows in a tenth, where few of 12 views look."""
    rows = along_bead(tmp_path, lambda ways: 0.02 + 3 * np.exp((-ways[:, 1] - 1) / 0.1**2), 12).sum(axis=1)
    assert rows.std() < 0.15 * rows.mean()
