"""What is of a scale of its own is told on paper with that scale, and its real size by it."""

from pathlib import Path

from previz.paper.plan.lists import build_list
from previz.paper.prints.ground import ground_plan
from previz.paper.sheet import Box, Sheet, View
from tests.scene.test_own_scale import read


def test_lists_tell_the_real_size_at_its_own_scale_and_footprints_name_that(tmp_path: Path) -> None:
    barn = {
        "id": "barn",
        "piece": "building",
        "scale": "1:100",
        "width": 80,
        "depth": 50,
        "height": 60,
        "at": [400, 900],
    }
    shed = {**barn, "id": "shed", "at": [800, 900]}
    del shed["scale"]
    small = {"body": "saloon", "scale": "1:100", "length": 45, "speed": 0, "path": [[300, 600], [500, 600]]}
    scene = read(tmp_path, dressing=[barn, shed], vehicles={"small": small})
    rows = {row[0]: row for row in build_list(scene).rows}
    assert rows["barn"][1:5] == ("building, 1:100", "1", "80 × 50 × 60", "8.00 × 5.00 × 6.00")
    assert rows["shed"][1:5] == ("building", "1", "80 × 50 × 60", "3.44 × 2.15 × 2.58")
    assert rows["small"][1] == "saloon, 1:100" and rows["small"][4].startswith("4.50 × ")
    part = ground_plan(scene)
    assert part is not None
    page = Box(0, 0, 2000, 1200)
    lines = {label.lines for label in part.labels(View(Sheet(2000, 1200, "ground"), page, 1.0, (0.0, 0.0)))}
    assert {("barn", "1:100"), ("shed",)} <= lines
