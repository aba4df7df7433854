"""The figure of a comparison's page: each camera where it stands, alike ones named together."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from previz.paper import figure_of, pdf_of
from previz.predictions import predict
from previz.scene import read_scene
from tests.paper.reading import pages_of
from tests.paper.test_plan import LEVEL, _closed, _marks


def test_cameras_stand_to_scale_and_those_alike_are_named_together(tmp_path: Path) -> None:
    file, panels = tmp_path / "scene.yaml", []
    for name, y in (("one", -200), ("two", -200), ("near", 100)):
        file.write_text(LEVEL.replace("-200 mm, 40 mm", f"{y} mm, 40 mm").replace("focus: 500", "focus: 400"))
        scene = read_scene(file)
        panels.append((name, scene, scene.shots[0], predict(scene, remedies=False)))
    sheet = figure_of(panels)
    assert sheet is not None
    words = [each.text for each in sheet.lettering]
    assert "one, two" in words
    assert "near" in words
    (page,) = pages_of(pdf_of([sheet], "figure"))
    (table,) = _closed(page, 0.7)[:1]
    scale = 1000 / np.ptp(table[:, 0])
    # A pupil, and a sensor's mark v = 50 * 400 / 350 = 57.143 mm behind it (by hand).
    found = sorted(tuple(((mark - table.min(axis=0)) * scale).tolist()) for mark in _marks(page)[:4])
    assert np.array(found) == pytest.approx(
        np.array([(500, -257.143), (500, -200), (500, 42.857), (500, 100)]), abs=0.1 * scale
    )
    assert all(each.box.within(dataclasses.replace(sheet).page) for each in sheet.lettering)


def test_other_vehicles_are_where_they_are_mid_shot(tmp_path: Path) -> None:
    file = tmp_path / "scene.yaml"
    file.write_text(LEVEL + "vehicles: {cab: {body: saloon, path: [[100 mm, 420 mm], [900 mm, 420 mm]], speed: 0}}\n")
    scene = read_scene(file)
    sheet = figure_of([("one", scene, scene.shots[0], predict(scene, remedies=False))])
    assert sheet is not None and any(each.text.startswith("cab") for each in sheet.lettering)
