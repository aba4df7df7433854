"""`previz print` as a person types it: what is written, what is said, and what is refused."""

import json
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from typer.testing import CliRunner

from previz.cli import app
from previz.options import PartName
from previz.paper import ALL_BOUGHT, PARTS
from tests.paper.print_scenes import scene_data, written
from tests.paper.reading import pages_of


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    return written(scene_data(4), tmp_path)


def prints(*options: object) -> Any:
    return CliRunner().invoke(app, ["print", *map(str, options)])


def test_a_print_is_one_pdf_and_says_what_it_takes(scene_file: Path, tmp_path: Path) -> None:
    result = prints(scene_file, "--paper", "letter", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    (file,) = (tmp_path / "out").iterdir()
    assert file.name == "print.pdf"
    pages = pages_of(file.read_bytes())
    assert {tuple(sorted((round(page.width, 1), round(page.height, 1)))) for page in pages} == {(215.9, 279.4)}
    lines = result.stdout.splitlines()
    assert [line.split(":")[0] for line in lines[:4]] == ["ground", "road", "backdrop", "cards"]
    assert lines[4].startswith("to buy, card: 1 ")
    assert lines[5].startswith("to buy, board 3 mm thick (not said, taken): 1 ")
    assert lines[6].startswith(f"{file}: {len(pages)} pages, ")
    assert "print it at 100 %" in result.stderr


def test_what_is_bought_for_one_of_several_setups_is_told_as_that(tmp_path: Path) -> None:
    data = scene_data(4)
    data["shots"].append(
        data["shots"][0] | {"id": "aside", "backdrop": {"side": "left", "distance": 300, "width": 200}}
    )
    result = prints(written(data, tmp_path), "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    lines = [line for line in result.stdout.splitlines() if line.startswith("to buy")]
    assert lines[0].startswith("to buy for this setup alone, card: ")
    assert lines[-1] == f"to buy for all setups: {ALL_BOUGHT}"
    words = " ".join(page.text for page in pages_of((tmp_path / "out" / "print.pdf").read_bytes()))
    assert "To buy for this setup alone: card" in words and f"For all setups: {ALL_BOUGHT}." in words


def test_some_parts_and_every_sheet_as_a_picture_too(scene_file: Path, tmp_path: Path) -> None:
    options = ("--only", "cards", "--only", "road", "--png", "--svg", "--json", "--out", tmp_path / "out")
    result = prints(scene_file, *options)
    assert result.exit_code == 0, result.output
    said = json.loads(result.stdout)
    assert list(said["parts"]) == ["road", "cards"] and said["to_buy"] == {}
    files = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"print.pdf", "print-index-1.png", "print-road-A1.svg", "print-cards-1.png"} <= files
    assert {Path(each["file"]).name for each in said["files"]} == files
    with Image.open(tmp_path / "out" / "print-index-1.png") as image:
        assert image.size == (int(210 / 25.4 * 150), int(297 / 25.4 * 150))


def test_a_straight_way_alone_is_on_some_page(tmp_path: Path) -> None:
    """What has no width could lie just between two pages."""
    file = tmp_path / "first.yaml"
    assert CliRunner().invoke(app, ["new", str(file)]).exit_code == 0
    result = prints(file, "--only", "ground", "--out", tmp_path / "out", "--json")
    assert result.exit_code == 0, result.output
    # A4 is 297 mm long, less margins and the strip that is laid over: 1.4 m of table take six.
    assert json.loads(result.stdout)["parts"]["ground"].startswith("6 pages")


def test_a_poster_has_a_sheet_for_each_part(scene_file: Path, tmp_path: Path) -> None:
    result = prints(scene_file, "--poster", "--only", "ground", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("ground: one sheet, 70 x 100 cm lying")
    assert (tmp_path / "out" / "poster.pdf").exists()


def test_large_cards_of_a_row_have_file_names(tmp_path: Path) -> None:
    data = scene_data(0)
    card = {"id": "wood", "piece": "card", "at": [300, 300], "width": 400, "height": 250}
    data["dressing"] = [card | {"copies": 2, "step": [100, 20, 0]}]
    result = prints(written(data, tmp_path), "--only", "cards", "--svg", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert {"print-wood-A1.svg", "print-wood-2-A1.svg"} <= {path.name for path in (tmp_path / "out").iterdir()}


def test_faults_are_one_message(scene_file: Path, tmp_path: Path) -> None:
    assert prints(tmp_path / "none.yaml").exit_code == 2
    assert "'a9' is not one of" in prints(scene_file, "--paper", "a9").stderr
    assert "'sky' is not one of" in prints(scene_file, "--only", "sky").stderr
    (tmp_path / "taken").write_text("")
    result = prints(scene_file, "--out", tmp_path / "taken")
    assert result.exit_code == 2 and "is a file, not a folder" in result.stderr
    (tmp_path / "tree.png").write_bytes(b"no picture")
    result = prints(scene_file, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "dressing[card_3].image" in result.stderr and not (tmp_path / "out").exists()


def test_the_parts_offered_are_those_there_are() -> None:
    assert tuple(each.value for each in PartName) == PARTS
