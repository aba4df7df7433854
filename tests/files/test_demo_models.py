"""The models of the demo scene `country_garage`: what is told of them, in the script's own sizes, and small."""

import io
import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from previz.layout import vehicle_axles
from previz.scene import read_scene
from previz.starters import files_of
from tests.benchmarks.demo_cars import FILES, KINDS, WHEEL, post

SCENES = Path(__file__).parents[2] / "scenes"
MODELS = SCENES / "models"
POST = MODELS / "post.glb"


def test_the_wheels_of_the_saloon_are_found_where_the_script_puts_them() -> None:
    """Their radius by the wheelbase, both the script's own numbers; nothing of them is written in the scene."""
    axles = vehicle_axles(read_scene(SCENES / "country_garage.yaml"))
    front, rear = (np.mean([axle.centre[0] for axle in pair]) for pair in (axles[:2], axles[2:]))
    base = np.ptp(KINDS["saloon"]().axles)
    for axle in axles:
        assert axle.radius / (front - rear) == pytest.approx(WHEEL / base, rel=0.005)
        assert abs(axle.way[1]) > 0.9999
    assert axles[0].centre[1] == pytest.approx(-axles[1].centre[1], abs=1e-4)


def test_the_files_hold_what_is_said_of_them_and_liveries_share_their_triangles() -> None:
    """Read as the format has it (glTF 2.0, 4.4), without a library; numbers against the table beside the files."""
    told = (MODELS / "README.md").read_text(encoding="utf-8")
    for name, (_, _, _, liveries) in FILES.items():
        data = (MODELS / f"{name}.glb").read_bytes()
        tree = json.loads(data[20 : 20 + int.from_bytes(data[12:16], "little")])
        nodes = [livery[0] for livery in liveries]
        wheels = [f"{node}_wheel_{which}" for node in nodes for which in ("fl", "fr", "rl", "rr")]
        assert sorted(each["name"] for each in tree["nodes"]) == sorted([*nodes, *wheels])
        first = [each for each in tree["meshes"] if each["name"].startswith(nodes[0])]
        shapes = [shape["indices"] for mesh in first for shape in mesh["primitives"]]
        triangles = sum(tree["accessors"][each]["count"] for each in shapes) // 3
        listed = ", ".join(f"`{node}`" for node in nodes)
        assert f"| `{name}.glb` | {listed} | {triangles // 1000} {triangles % 1000:03} |" in told
        assert {shape["indices"] for mesh in tree["meshes"] for shape in mesh["primitives"]} == set(shapes)


def test_the_script_writes_the_post_that_is_there() -> None:
    """The cars take it longer: `python tests/benchmarks/demo_cars.py`."""
    made, kept = (trimesh.load_mesh(io.BytesIO(each), file_type="glb") for each in (post(), POST.read_bytes()))
    assert kept.vertices == pytest.approx(made.vertices, abs=0.001) and np.array_equal(kept.faces, made.faces)


def test_a_copy_of_the_scene_takes_its_models_and_all_are_small(tmp_path: Path) -> None:
    """At most 1.5 MB, for who clones."""
    needed = files_of(SCENES / "country_garage.yaml")
    names = {path.as_posix() for path in needed if path.suffix == ".glb"}
    assert names == {f"models/{name}.glb" for name in ("saloon", "pickup", "estate", "post")}
    assert sum((SCENES / name).stat().st_size for name in names) < 1.5e6
