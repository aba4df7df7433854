"""What was built is kept, and used again only while it would come out the same."""

import shutil
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest
from set_scenes import STRAIGHT, scene

from previz.files import store
from previz.mesh import Mesh
from previz.scene import Scene
from previz.stage import built

DRESSING = [
    {"id": "box", "piece": "container", "at": [300, 250], "length": 60},
    {"id": "lamp", "piece": "lamp_post", "at": [60, 220], "lit": "5 lm"},
    {"id": "stones", "scatter": "stones", "over": [[0, 200], [400, 290]], "count": 5},
]


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(store.FOLDER_VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def builds(monkeypatch):
    """How often something was built."""
    done: list[str] = []

    def counted(name):
        real = getattr(built, name)

        def build(*asked):
            done.append(name)
            return real(*asked)

        monkeypatch.setattr(built, name, build)

    counted("_build_set")
    counted("_build_vehicle")
    return done


def set_scene(folder=None, **keys) -> Scene:
    return scene(folder=folder, road=STRAIGHT, dressing=keys.pop("dressing", DRESSING), **keys)


def same(one: Mesh, other: Mesh) -> bool:
    parts = ("vertices", "faces", "normals", "colours", "uv", "image")
    return one.material == other.material and all(
        np.array_equal(getattr(one, part), getattr(other, part))
        if getattr(one, part) is not None
        else getattr(other, part) is None
        for part in parts
    )


def test_kept_sets_and_vehicles_are_the_ones_that_were_built(home, builds):
    made = set_scene()
    first, again = (built.built_set(made, cache=True) for _ in range(2))
    assert builds == ["_build_set"]
    for one, other in zip((*first.standing, *first.around), (*again.standing, *again.around), strict=True):
        assert same(one, other)
    assert same(first.ground.mesh, again.ground.mesh)
    assert first.ground.mesh.image is first.ground.image
    vehicle, other = (built.built_vehicle(made, cache=True) for _ in range(2))
    assert builds == ["_build_set", "_build_vehicle"]
    assert vehicle.lamps == other.lamps and len(vehicle.wheels) == len(other.wheels) > 0
    assert all(same(a, b) for a, b in zip(vehicle.body, other.body, strict=True))
    assert (vehicle.length, vehicle.width, vehicle.height) == (other.length, other.width, other.height)


def test_what_is_kept_is_as_good_as_what_was_built(home):
    made = set_scene()
    kept, fresh = built.built_set(made, cache=True), built.built_set(made, cache=False)
    assert all(same(one, other) for one, other in zip(kept.standing, fresh.standing, strict=True))
    assert kept.key == fresh.key
    model, vehicle = built.vehicle_model(made), built.built_vehicle(made, cache=False)
    assert vehicle.body[0].vertices == pytest.approx(model.body[0].vertices, abs=1e-7)


@pytest.mark.parametrize(
    "change",
    [
        {"dressing": [{**DRESSING[0], "colour": "#102030"}, *DRESSING[1:]]},
        {"dressing": DRESSING[1:]},
        {"ground": {"surface": "grass"}},
        {"vehicle": {"body": "van", "speed": "0.9 m/s", "path": "road"}},  # sweeps less
    ],
)
def test_another_set_is_built_anew(home, builds, change):
    built.built_set(set_scene(), cache=True)
    built.built_set(set_scene(**change), cache=True)
    assert builds == ["_build_set", "_build_set"]


def test_a_colour_written_differs_from_one_left_out(home, builds):
    """A guard rail is galvanised unless its colour is written, be it the default one."""
    rail = {"id": "rail", "piece": "fence", "style": "guard_rail", "at": [200, 250], "length": 100}
    plain = set_scene(dressing=[rail])
    (spec,) = plain.dressing
    written = plain.model_copy(update={"dressing": (spec.model_copy(update={"colour": spec.colour}),)})
    one, other = (built.built_set(each, cache=True) for each in (plain, written))
    assert one.key != other.key


def test_speed_and_lights_do_not_touch_the_set(home, builds):
    built.built_set(set_scene(), cache=True)
    vehicle = {"body": "lorry", "speed": "0.3 m/s", "colour": "#ffffff", "headlamps": "3 lm", "path": "road"}
    built.built_set(set_scene(vehicle=vehicle), cache=True)
    built.built_set(set_scene(lights=[{"id": "other", "ambient": "500 lx"}]), cache=True)
    assert builds == ["_build_set"]


def test_a_vehicle_that_goes_otherwise_is_the_same_vehicle(home, builds):
    made = set_scene()
    slower = made.vehicle.model_copy(update={"speed": 0.1, "length": made.vehicle.length})  # its default, written
    one, other = (built.built_vehicle(each, True) for each in (made, made.model_copy(update={"vehicle": slower})))
    assert builds == ["_build_vehicle"] and one.length == other.length


def test_changed_source_builds_anew(home, builds, monkeypatch):
    built.built_set(set_scene(), cache=True)
    monkeypatch.setattr(built, "source_key", lambda: "another builder")
    built.built_set(set_scene(), cache=True)
    assert builds == ["_build_set", "_build_set"]


def test_changed_files_are_noticed(home, builds, tmp_path):
    from PIL import Image

    Image.new("RGB", (8, 8), (200, 10, 10)).save(tmp_path / "tile.png")
    made = set_scene(tmp_path, ground={"image": "tile.png", "tile": 100})
    first = built.built_set(made, cache=True)
    assert built.built_set(made, cache=True).key == first.key
    assert len(builds) == 1
    Image.new("RGB", (8, 8), (10, 200, 10)).save(tmp_path / "tile.png")
    second = built.built_set(made, cache=True)
    assert len(builds) == 2
    assert second.ground.image[0].mean(axis=0) == pytest.approx((10, 200, 10), abs=3)


def test_what_another_process_builds_is_the_same_and_the_files_it_reads_count(home, builds, tmp_path):
    from PIL import Image

    Image.new("RGB", (8, 8), (200, 10, 10)).save(tmp_path / "tile.png")
    made = set_scene(tmp_path, ground={"image": "tile.png", "tile": 100})
    with ProcessPoolExecutor(1, get_context("spawn")) as pool:
        apart = built.built_set(made, cache=True, elsewhere=lambda work: pool.submit(work).result())
    assert built.built_set(made, cache=True).key == apart.key == built.built_set(made, cache=False).key
    assert len(builds) == 2  # there, and anew where nothing is kept
    Image.new("RGB", (8, 8), (10, 200, 10)).save(tmp_path / "tile.png")
    assert built.built_set(made, cache=True).key != apart.key


def _coloured_file(folder) -> None:
    """A wedge whose material is a file of its own."""
    (folder / "paint.mtl").write_text("newmtl p\nKd 0.1 0.6 0.2\n")
    (folder / "wedge.obj").write_text(
        "mtllib paint.mtl\nusemtl p\nv 0 0 0\nv 2 0 0\nv 0 1 0\nv 0 0 1\nvt 0 0\n"
        "f 1/1 3/1 2/1\nf 1/1 2/1 4/1\nf 2/1 3/1 4/1\nf 3/1 1/1 4/1\n"
    )


MESH = {"mesh": "wedge.obj", "length": 80, "speed": "0.9 m/s", "path": [[0, 150], [400, 150]]}


def test_a_mesh_file_keeps_its_colours_unless_the_scene_names_one(home, tmp_path):
    _coloured_file(tmp_path)
    own = built.built_vehicle(scene(folder=tmp_path, vehicle=MESH), cache=True)
    assert own.body[0].colours == pytest.approx(np.tile((0.1, 0.6, 0.2), (len(own.body[0].colours), 1)), abs=0.01)
    red = built.built_vehicle(scene(folder=tmp_path, vehicle={**MESH, "colour": "#ff0000"}), cache=True)
    assert red.body[0].colours == pytest.approx(np.tile((1.0, 0.0, 0.0), (len(red.body[0].colours), 1)))


def test_a_file_that_a_mesh_refers_to_counts_too(home, builds, tmp_path):
    _coloured_file(tmp_path)
    made = scene(folder=tmp_path, vehicle=MESH)
    built.built_vehicle(made, cache=True)
    (tmp_path / "paint.mtl").write_text("newmtl p\nKd 0.7 0.1 0.1\n")
    again = built.built_vehicle(made, cache=True)
    assert builds == ["_build_vehicle"] * 2
    assert again.body[0].colours[0] == pytest.approx((0.7, 0.1, 0.1), abs=0.01)


def test_a_reworded_message_builds_nothing_anew(monkeypatch, tmp_path):
    """What is kept goes by the text of the rooms that build and light, not by that of scenes and findings."""
    package = tmp_path / "previz"
    shutil.copytree(Path(built.__file__).parents[1], package)
    monkeypatch.setattr(built, "__file__", str(package / "stage" / "built.py"))

    def key_after(room: str) -> str:
        file = package / room
        file.write_text(file.read_text(encoding="utf-8") + "# reworded\n", encoding="utf-8")
        built.source_key.cache_clear()
        return built.source_key()

    built.source_key.cache_clear()
    before = built.source_key()
    assert key_after("predictions/checks/focus.py") == key_after("scene/fields.py") == before
    for room in (
        "layout/sizes.py",
        "physics/colour.py",
        "stage/light/bake.py",
        "mesh.py",
        "files/meshes.py",
        "scene/real_sizes.py",
    ):
        after = key_after(room)
        assert after != before
        before = after
    built.source_key.cache_clear()


def test_a_higher_vehicle_file_lays_the_stones_anew(home, tmp_path):
    """What is scattered keeps clear of what stands below the vehicle's roof."""
    import trimesh

    def key(height: float, *, cache: bool) -> str:
        trimesh.creation.box((200, 80, height)).export(tmp_path / "car.stl")
        vehicle = {"mesh": "car.stl", "length": 100, "speed": "0.9 m/s", "path": [[0, 150], [400, 150]]}
        hanging = {"id": "box", "piece": "container", "at": [300, 240, 40], "length": 60}
        stones = {"id": "stones", "scatter": "stones", "over": [[200, 200], [400, 290]], "count": 40}
        made = scene(folder=tmp_path, vehicle=vehicle, dressing=[hanging, stones])
        return built.built_set(made, cache=cache).key

    assert key(150, cache=True) == key(150, cache=False) != key(30, cache=False) == key(30, cache=True)
