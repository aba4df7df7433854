"""What a set is made of is kept one by one: dressed otherwise, it need not be built anew."""

from pathlib import Path

import numpy as np
import pytest
from set_scenes import scene

from previz.files import store
from previz.mesh import Mesh
from previz.scene import Scene
from previz.stage import built
from previz.stage.pieces import models, scattering
from previz.stage.pieces.dressing import dress
from previz.stage.table import ground
from previz.stage.table.ground import TEXEL, build_ground

DRESSING = [
    {"id": "post", "piece": "lamp_post", "at": [60, 220], "lit": "5 lm", "copies": 3, "step": [50, 0, 0]},
    {"id": "stones", "scatter": "stones", "over": [[0, 200], [400, 290]], "count": 3},
    {"id": "bushes", "scatter": "bushes", "over": [[200, 200], [400, 290]], "count": 4, "size": [10, 14]},
]


@pytest.fixture
def made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was built, not read."""
    monkeypatch.setenv(store.FOLDER_VARIABLE, str(tmp_path / "cache"))
    done: list[str] = []

    def counted(module, name):
        real = getattr(module, name)

        def build(spec, *given):
            done.append(spec.id)
            return real(spec, *given)

        monkeypatch.setattr(module, name, build)

    counted(models, "build_piece")
    counted(scattering, "_variant")
    return done


def set_of(**keys: object) -> Scene:
    return scene(dressing=keys.pop("dressing", DRESSING), **keys)


def arrays(meshes: tuple[Mesh, ...]) -> list[tuple[object, ...]]:
    named = ("vertices", "normals", "colours", "faces", "uv")
    values = ([getattr(mesh, name) for name in named] for mesh in meshes)
    return [tuple(None if each is None else each.tobytes() for each in found) for found in values]


def test_another_setup_is_dressed_from_what_is_kept_to_the_same_bits(made: list[str]) -> None:
    kept = models.Models("a builder")
    first = dress(set_of(), kept)
    assert (
        made == ["post"] * 2 + ["stones"] * 3 + ["bushes"] * 4
    )  # posts are of two looks, of whatever there are copies
    moved = [
        {**DRESSING[0], "at": [70, 210], "id": "lamp"},
        {**DRESSING[1], "over": [[0, 210], [400, 290]]},
        DRESSING[2],
    ]
    elsewhere = set_of(dressing=moved, vehicle=None, backdrop={"distance": 290, "height": 200, "colour": "#888888"})
    del made[:]
    again = dress(elsewhere, kept)
    assert not made
    fresh = dress(elsewhere)
    assert arrays(again) == arrays(fresh) != arrays(first)
    # Foam of all bushes has one picture, and so is one mesh.
    assert [mesh.image is None for mesh in again] == [mesh.image is None for mesh in fresh]


@pytest.mark.parametrize(
    ("which", "change"),
    [
        (0, {"height": 70}),
        (0, {"seed": 3}),
        (0, {"scale": "1:43"}),
        (1, {"count": 4}),
        (1, {"seed": 3}),
        (2, {"size": [10, 15]}),
    ],
)
def test_what_is_made_otherwise_is_built_anew(made: list[str], which: int, change: dict[str, object]) -> None:
    kept = models.Models("a builder")
    dress(set_of(dressing=DRESSING[which : which + 1]), kept)
    del made[:]
    dress(set_of(dressing=[{**DRESSING[which], **change}]), kept)
    assert made


def test_another_builder_builds_anew(made: list[str]) -> None:
    for source in ("a builder", "another"):
        dress(set_of(dressing=DRESSING[:1]), models.Models(source))
    assert len(made) == 4


def test_a_small_picture_has_a_ground_in_coarser_texels(made: list[str]) -> None:
    fine, coarse = (build_ground(set_of(), texel) for texel in (TEXEL, 2 * TEXEL))
    assert np.array(fine.image.shape[:2]) == pytest.approx(2 * np.array(coarse.image.shape[:2]), abs=1)
    assert coarse.mesh.vertices == pytest.approx(fine.mesh.vertices, abs=0)
    assert coarse.image.mean() == pytest.approx(fine.image.mean(), rel=0.02)
    assert built.built_set(set_of(), True).key != built.built_set(set_of(), True, texel=2 * TEXEL).key


def test_a_ground_is_painted_once_for_all_setups_that_have_it(made: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    soft = {"surface": "sand", "tracks": True, "seed": 4, "puddles": {"count": 1, "size": [20, 30], "seed": 2}}
    van = {"body": "van", "speed": "0.9 m/s", "path": [[0, 150], [400, 150]]}
    wet = set_of(ground=soft, vehicle=van)
    first, again, fresh = (build_ground(wet, 4 * TEXEL, source) for source in ("a painter", "a painter", None))
    for name in ("image", "film"):
        assert getattr(first, name).tobytes() == getattr(again, name).tobytes() == getattr(fresh, name).tobytes()
    painted: list[Scene] = []

    def paint(scene: Scene, _: float) -> tuple[np.ndarray, None]:
        painted.append(scene)
        return np.zeros((2, 2, 3), np.uint8), None

    monkeypatch.setattr(ground, "_painted_ground", paint)
    dressed = set_of(dressing=[], ground=soft, vehicle={**van, "colour": "#ff0000"})
    build_ground(dressed, 4 * TEXEL, "a painter")
    assert not painted
    others = [
        set_of(ground={**soft, "seed": 5}, vehicle=van),
        set_of(ground=soft, vehicle={**van, "path": [[0, 160], [400, 150]]}),
        set_of(ground=soft, vehicle={**van, "body": "saloon"}),
        set_of(ground={**soft, "puddles": {"count": 1, "size": [20, 30], "seed": 3}}, vehicle=van),
        set_of(ground=soft, vehicle=van, road={"lane": "3 m full size", "centre": [[0, 80], [400, 90]]}),
    ]
    for other in others:
        build_ground(other, 4 * TEXEL, "a painter")
    build_ground(wet, 2 * TEXEL, "a painter")
    build_ground(wet, 4 * TEXEL, "another")
    assert len(painted) == len(others) + 2
