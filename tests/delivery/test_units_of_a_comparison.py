"""A comparison's words, page, sheet and table are in the unit of the maker's tape; its data are in SI."""

import csv
import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from comparisons import SCENE, comparison_of, films
from ruamel.yaml import YAML

from previz.cli.comparing import _warn_before_comparing
from previz.delivery import deliver_comparison, deliver_page
from previz.delivery.comparison import sheet
from previz.predictions import GLOSSARY, predict
from previz.scene import read_scene

#: Tapes with the length of one unit. [m]
TAPES = {"in": 0.0254, "cm": 0.01, "mm": 0.001}


def rewritten(data: Any, unit: str, key: str = "") -> Any:
    """The same scene with its lengths on the set in another unit, and those off a data sheet in millimetres."""
    if isinstance(data, dict):
        return {name: rewritten(each, unit, name) for name, each in data.items()}
    if isinstance(data, list):
        return [rewritten(each, unit, key) for each in data]
    if key in ("sensor", "nearest", "focal_length") and isinstance(data, int):
        return f"{data} mm"
    return data * 0.001 / TAPES[unit] if type(data) is int and key != "f_number" else data


def in_unit(unit: str) -> str:
    """As JSON, which is YAML too."""
    return json.dumps({**rewritten(YAML(typ="safe", pure=True).load(SCENE), unit), "units": unit})


def read_off(length: float, unit: str) -> str:
    """A length [m] to the nearest mark of a tape: whole inches and what is left in sixteenths, in lowest terms."""
    if unit != "in":
        return f"{length / TAPES[unit]:.{0 if unit == 'mm' else 1}f}"
    whole, left = divmod(round(length / TAPES[unit] * 16), 16)
    return f"{whole} {Fraction(left, 16)}" if left else str(whole)


@pytest.mark.parametrize("unit", TAPES)
def test_all_that_people_read_is_in_the_unit_of_the_file(unit: str, tmp_path: Path, monkeypatch: Any) -> None:
    comparison = comparison_of(tmp_path, in_unit(unit), cameras=["inch", "large"])
    assert comparison.scene.tape_unit == unit
    depths = [panel.figure("depth_of_field") for panel in comparison.panels]
    near, far = (comparison.panels[0].figure(name) for name in ("near_limit", "far_limit"))
    assert near is not None and far is not None

    words: list[str] = []
    laid_out = sheet._laid_out
    monkeypatch.setattr(
        sheet,
        "_laid_out",
        lambda comparison, cards, *rest: (
            words.extend(cards[0].caption.outcomes),
            laid_out(comparison, cards, *rest),
        )[1],
    )
    written = deliver_comparison(tmp_path / "out", comparison, films(comparison, 2), 0)
    page = deliver_page(tmp_path / "out")
    assert isinstance(page, Path)

    # In one line and in the sheet's captions: limits to the tape's last mark, focal length in millimetres.
    sharp = f"sharp {' to '.join(read_off(each, unit) for each in (near, far))} {unit}"
    assert comparison.panels[0].summary.startswith(f"20 mm, f/4, {sharp}")
    assert any(sharp in each for each in words)
    html = page.read_text(encoding="utf-8")
    assert sharp.capitalize() in html  # what a picture shows, for who does not see it

    with written["table"].open(encoding="utf-8", newline="") as file:
        rows = {(row[1], row[2]): row for row in csv.reader(file)}
    row = rows["depth of field", ""]
    assert row[3] == unit
    assert row[4:] == [f"{depth / TAPES[unit]:{'.4g' if unit == 'in' else '.3g'}}" for depth in depths]
    assert rows["focal length", ""][3] == rows["opening of the lens, across", ""][3] == "mm"
    assert f"depth of field <span>[{unit}]</span>" in html

    # For programs all is as it is without a tape.
    numbers = json.loads(written["numbers"].read_text(encoding="utf-8"))
    # A spreadsheet reads decimals, and people read marks.
    columns = {each["label"]: each["values"] for each in numbers["table"]}
    assert unit != "in" or columns["sharp to"][0] == read_off(far, unit)
    for told, depth in zip(numbers["panels"], depths, strict=True):
        figures = {(each["quantity"], each["of"]): each for each in told["figures"]}
        assert figures["depth_of_field", ""]["value"] == depth
        assert all(each["unit"] == GLOSSARY[each["quantity"]].unit for each in told["figures"])


def test_a_value_in_another_unit_does_not_change_the_tape(tmp_path: Path) -> None:
    """The file's lengths decide: panels are told in one unit, and one set is built for all."""
    half = SCENE
    for found, written in (
        ("width: 1400, depth: 700", "width: 55.1 in, depth: 27.5 in"),
        ("distance: 690, height: 500", "distance: 27.2 in, height: 19.7 in"),
        ("[300, 200], at: [300, -200, 900], aim: [700, 300, 0]",
         "[12 in, 8 in], at: [12 in, -8 in, 35 in], aim: [27.5 in, 12 in, 0]"),
    ):  # fmt: skip
        half = half.replace(found, written)
    # Eleven lengths in inches and eleven in millimetres: one more in inches, and most are.
    comparison = comparison_of(tmp_path, half, vary=["focus=18 in,460 mm"])
    assert comparison.scene.tape_unit == "mm"
    assert [panel.scene.tape_unit for panel in comparison.panels] == ["mm", "mm"]
    assert comparison.stage_numbers == (0, 0)


def test_where_diffraction_blurs_all_a_panel_says_that_nothing_is_sharp(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, vary=["f_number=4,32"])
    assert comparison.panels[1].sharp == "nothing sharp"
    assert comparison.panels[1].summary.startswith("20 mm, f/32, nothing sharp")
    written = deliver_comparison(tmp_path / "out", comparison, films(comparison, 2), 0)
    page = deliver_page(tmp_path / "out")
    assert isinstance(page, Path) and "Nothing sharp." in page.read_text(encoding="utf-8")
    with written["table"].open(encoding="utf-8", newline="") as file:
        rows = {(row[1], row[2]): row for row in csv.reader(file)}
    assert rows["sharp from", ""][5] == ""


def test_a_panel_that_will_not_work_says_what_to_write_so_that_check_tries_what_mends_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = SCENE.replace("focus: 460", "focus: 300").replace("duration: 0.4 s", "duration: 0.05 s")
    comparison = comparison_of(tmp_path, text, cameras=["inch", "large"])
    _warn_before_comparing(comparison)
    told = " ".join(capsys.readouterr().err.split())
    panel = comparison.panels[1]
    assert "stop: large: Nothing of the vehicle is sharp" in told
    assert f"Write {panel.as_a_shot} into shot pass, and previz check tries what mends it" in told
    # Written so, the shot is that of the panel, but for what the millimetres of a tape leave out.
    written = YAML(typ="safe", pure=True).load(f"{{{panel.as_a_shot}}}")
    scene = read_scene(tmp_path / "scene.yaml", changes={f"shots[0].{key}": value for key, value in written.items()})
    figures = predict(scene, remedies=False).shots[0]
    for quantity in ("focus_distance", "magnification", "depth_of_field", "frames"):
        assert figures.value(quantity) == pytest.approx(panel.figure(quantity), rel=1e-3)
