"""However a scene asks for triangles, no more are built than a machine has room for."""

import pytest
import trimesh
from set_scenes import scene

from previz.errors import PrevizError
from previz.stage.pieces import dressing, scattering
from previz.stage.pieces.dressing import dress
from previz.stage.shapes import finish, solids
from previz.stage.shapes.finish import subdivided


@pytest.fixture
def few(monkeypatch) -> int:
    for module in (dressing, finish, scattering):
        monkeypatch.setattr(module, "MOST_TRIANGLES", 3000)
    return 3000


def test_copies_of_a_piece_count_each(few: int) -> None:
    def with_copies(count: int) -> dict[str, object]:
        return {"id": "c", "piece": "cone", "at": [50, 50], "copies": count, "step": [1, 0, 0]}

    one = sum(len(mesh.faces) for mesh in dress(scene(dressing=[with_copies(1)])))
    most = few // one
    assert sum(len(mesh.faces) for mesh in dress(scene(dressing=[with_copies(most)]))) <= few
    with pytest.raises(PrevizError, match=rf"with c/{most + 1} all that stands has \d+ triangles, and at most {few}"):
        dress(scene(dressing=[with_copies(most + 1)]))


def test_scattered_things_count_with_what_stands(few: int) -> None:
    stones = {"id": "s", "scatter": "stones", "over": [[0, 200], [400, 290]], "count": 200, "size": [0.5, 1]}
    with pytest.raises(PrevizError, match=r"with s all that stands has \d+ triangles"):
        dress(scene(dressing=[stones]))


def test_a_surface_is_not_cut_without_end(few: int) -> None:
    wide = solids.box((5.0, 5.0, 0.1))
    with pytest.raises(PrevizError, match=r"cut for its light in pieces of 25 mm, a surface has \d+ triangles"):
        subdivided(wide, 0.025)


def test_copies_of_a_mesh_from_a_file_count_each(few: int, tmp_path) -> None:
    trimesh.creation.icosphere(subdivisions=3).export(tmp_path / "ball.stl")  # of 1280 triangles
    piece = {"id": "m", "mesh": "ball.stl", "length": 20, "at": [100, 200], "copies": 3, "step": [30, 0, 0]}
    written = scene(dressing=[piece]).model_copy(update={"folder": tmp_path})
    with pytest.raises(PrevizError, match="with m/3 all that stands has 3840 triangles"):
        dress(written)
