"""What a set will come to is told before it is built, near enough to what is built."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from previz.errors import FileFault
from previz.layout import MOST_TRIANGLES, piece_size, refuse_too_much, triangles_about
from previz.predictions import predict
from previz.scene import read_scene
from previz.scene.fields import FileUnits
from previz.scene.pieces import PIECES
from previz.stage.built import _fine
from previz.stage.pieces.kinds import build_piece
from tests.scene.test_budget import SCENE

#: As people build them, on the table: from the smallest to the largest of each size. [m]
SIZES: dict[str, dict[str, tuple[float, float]]] = {
    "container": {"length": (0.03, 0.3)},
    "lamp_post": {"height": (0.03, 0.4)},
    "conifer": {"height": (0.03, 1.0)},
    "broadleaf": {"height": (0.03, 1.0)},
    "bush": {"height": (0.01, 0.2)},
    "hedge": {"length": (0.05, 1.0)},
    "stone": {"size": (0.005, 0.3)},
    "building": {"width": (0.08, 0.8), "depth": (0.06, 0.4)},
    "fence": {"length": (0.1, 2.0)},
    "sign": {"height": (0.02, 0.4)},
    "cone": {"height": (0.005, 0.1)},
    "garland": {"length": (0.1, 2.0)},
    "wall": {"length": (0.1, 2.0)},
    "card": {"width": (0.02, 0.6), "height": (0.02, 0.6)},
    "parked": {"length": (0.03, 0.3)},
    "bounce": {"width": (0.05, 0.6), "height": (0.05, 0.6)},
    "flag": {"width": (0.05, 0.6), "height": (0.05, 0.6)},
}


def _random_piece(rng: np.random.Generator, kind: str, scale: float) -> Any:
    sizes: dict[str, Any] = {key: float(np.exp(rng.uniform(*np.log(ends)))) for key, ends in SIZES[kind].items()}
    if kind == "building":
        sizes |= {"floors": int(rng.integers(1, 7)), "shop": bool(rng.integers(2))}
    if kind == "parked":
        sizes["body"] = str(rng.choice(["lorry", "van", "bus", "saloon", "tractor"]))
    if kind == "container":
        sizes["stack"] = int(rng.integers(1, 5))
    data = {"id": "it", "piece": kind, "at": [1, 1, 0.1] if kind == "garland" else [1, 1], **sizes}
    return PIECES[kind].model_validate(data, context=FileUnits(bare_length=1.0, scale=scale, slowdowns={}))


@pytest.mark.parametrize("kind", SIZES)
def test_about_as_many_triangles_are_built_as_were_reckoned(kind: str) -> None:
    """Within a factor of four for each, of two for most; the limit lies far above any set that is built."""
    rng, ratios = np.random.default_rng([17, list(SIZES).index(kind)]), []
    for _ in range(4):
        scale = float(rng.choice([24, 43, 50, 76, 87]))
        piece = _random_piece(rng, kind, scale)
        built = sum(len(_fine(mesh).faces) for mesh in build_piece(piece, scale, rng))
        ratios.append(triangles_about(piece, scale, piece_size(piece, scale)) / built)
    assert min(ratios) > 0.25 and max(ratios) < 4
    assert 1 / 2 < np.median(ratios) < 2


def test_demo_scenes_come_to_a_fraction_of_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("previz.layout.amount.MOST_TRIANGLES", MOST_TRIANGLES / 5)
    for path in sorted((Path(__file__).parents[2] / "scenes").glob("*.yaml")):
        refuse_too_much(read_scene(path))


@pytest.mark.parametrize(
    ("dressing", "entry"),
    [
        (["id: town, piece: building, floors: 40, at: [700, 500], copies: 400, step: [1, 0, 0]"], 1),
        (["id: hall, piece: building, width: 5 m, depth: 5 m, height: 5 m, floors: 40, shop: true, at: [700, 500]"], 1),
        (["id: wood, scatter: broadleaves, over: [[0, 400], [1400, 640]], count: 20000"], 1),
    ],
)  # fmt: skip
def test_too_much_is_refused_where_it_is_asked_for_and_before_it_is_built(tmp_path, dressing, entry) -> None:
    first = "  - {id: first, piece: cone, at: [100, 500]}\n"
    told = "".join(f"  - {{{each}}}\n" for each in dressing)
    text = SCENE.replace("LAYERS", "").replace(", layers: []", "").replace(first, first + told)
    (tmp_path / "much.yaml").write_text(text, encoding="utf-8")
    scene = read_scene(tmp_path / "much.yaml")
    with pytest.raises(
        FileFault, match=r"what stands on the set comes to some [\d.]+ million triangles; at most 2"
    ) as found:
        predict(scene)
    assert found.value.steps == ("dressing", entry, "id")
