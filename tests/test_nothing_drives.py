"""A parked vehicle, and a set without one, through every command: checked, drawn as a still and a clip, compared."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import previz
from previz.cli import app
from previz.layout import solids_of
from previz.predictions import view_of

PARKED = """\
title: Yard
scale: 1:50
units: mm
set:
  table: {width: 800, depth: 500}
  ground: {surface: concrete}
  backdrop: {distance: 490, height: 400, colour: "#9aa4ad"}
dressing:
  - {id: stack, piece: container, at: [500, 380]}
vehicle: {body: van, path: [[380, 250], [700, 250]], speed: 0}
lights:
  - {id: key, panel: [400, 300], at: [200, -100, 700], aim: [400, 250, 0], output: 4000 lm}
  - {id: room, ambient: 300 lx}
cameras:
  pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50, modes: [1080p30]}
  phone: {sensor: 1/1.3-type, lens: 6-12 mm, widest: f/1.8, nearest: 60, modes: [1080p30]}
shots:
  - id: slide
    camera: pocket
    focal_length: 12
    f_number: 5.6
    at: [{time: 0 s, at: [380, -60, 60]}, {time: 0.5 s, at: [420, -60, 60]}]
    aim: [400, 250, 25]
    focus: 300
    capture: {rate: 24 fps}
    duration: 0.5 s
"""

NO_VEHICLE = "\n".join(line for line in PARKED.splitlines() if not line.startswith("vehicle:")) + "\n"

SCENES = {"parked": PARKED, "bare": NO_VEHICLE}

pytestmark = pytest.mark.usefixtures("drawn_here")


@pytest.fixture(params=SCENES)
def scene(request: Any, tmp_path: Path) -> Path:
    path = tmp_path / f"{request.param}.yaml"
    path.write_text(SCENES[request.param], encoding="utf-8")
    return path


def run(*arguments: object) -> Any:
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    assert result.exit_code == 0, result.output
    return result


def test_it_is_checked(scene: Path) -> None:
    told = json.loads(run("check", scene, "--json").stdout)
    assert [each["id"] for each in told["findings"] if each["verdict"] == "stop"] == []
    (shot,) = told["shots"]
    assert {"frames", "near_limit", "iso_needed", "angle_of_view"} <= {each["quantity"] for each in shot["figures"]}


def test_light_is_told_of_what_is_there(tmp_path: Path) -> None:
    """A wall before the only lamp: of a set without a vehicle nothing is said of one."""
    wall = "  - {id: screen, piece: wall, at: [200, 20], length: 500, height: 450, thickness: 10}\n"
    dark, lamp = NO_VEHICLE.replace("lights:", f"{wall}lights:"), ("at: [200, -100, 700]", "at: [300, -100, 300]")
    van = next(line for line in PARKED.splitlines() if line.startswith("vehicle:"))
    for name, text, says, never in (
        ("parked", dark.replace("lights:", f"{van}\nlights:"), "the vehicle where the camera sees it", "focused on"),
        ("bare", dark, "what the camera is focused on", "vehicle"),
    ):
        path = tmp_path / f"{name}.yaml"
        path.write_text(text.replace(*lamp), encoding="utf-8")
        result = CliRunner().invoke(app, ["check", str(path), "--json"])
        (hidden,) = [
            each["message"] for each in json.loads(result.stdout)["findings"]
            if each["id"] == "lamps.hidden" and "the picture" not in each["message"] and each["verdict"] != "fine"
        ]  # fmt: skip
        assert says in hidden and never not in hidden


def test_what_a_camera_is_focused_on_is_metered_where_it_is_seen(tmp_path: Path) -> None:
    """A lens is set to the middle of a piece, in which no lamp shines: the light is that on its front.

    E = F cos / (pi d^2) of a small lamp that gives F by Lambert's law, straight before it and 1.9 m off.
    """
    text = NO_VEHICLE.replace("aim: [400, 250, 25]", "aim: stack").replace("focus: 300", "focus: stack")
    text = text.replace("panel: [400, 300], at: [200, -100, 700], aim: [400, 250, 0]", "panel: [10, 10], at: "
                        "[500, -1500, 26], aim: [500, 380, 26]")  # fmt: skip
    text = text.replace("{time: 0 s, at: [380, -60, 60]}, {time: 0.5 s, at: [420, -60, 60]}", "500, -60, 26")
    path = tmp_path / "bare.yaml"
    path.write_text(text, encoding="utf-8")
    told = json.loads(run("check", path, "--json").stdout)
    assert [each["message"] for each in told["findings"] if each["id"] == "lamps.hidden" and each["value"] < 0.9] == []
    scene = previz.read_scene(path)
    view = view_of(scene, scene.shots[0])
    (stack,) = solids_of(scene)
    front = stack.bands[0].outline[:, 1].min() + stack.at[1]
    straight = view.light.vehicle.straight["key"]
    assert straight == pytest.approx(4000 / (np.pi * (front + 1.5) ** 2), rel=0.03)


def test_it_is_drawn_as_a_still(scene: Path, tmp_path: Path) -> None:
    run("still", scene, "--draft", "--size", 160, "--views", 2, "--out", tmp_path / "out")
    (picture,) = (tmp_path / "out").glob("*.png")
    with Image.open(picture) as image:
        codes = np.asarray(image.convert("RGB"), float)
    assert codes.shape == (90, 160, 3)
    assert 20 < codes.mean() < 235 and codes.std() > 5


def test_it_is_drawn_as_a_clip(scene: Path, tmp_path: Path) -> None:
    run("render", scene, "--draft", "--size", 160, "--views", 2, "--slate", "--out", tmp_path / "out")
    assert [each.suffix for each in (tmp_path / "out").iterdir()] == [".mp4"]


def test_cameras_are_compared_on_it(scene: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run("compare", scene, "--draft", "--size", 160, "--views", 2, "--frames", "0:3", "--out", out)
    numbers = json.loads(next(out.rglob("numbers.json")).read_text(encoding="utf-8"))
    assert [panel["name"] for panel in numbers["panels"]] == ["pocket", "phone"]
    assert next(out.rglob("page.html")).stat().st_size > 10_000


def test_a_set_without_a_vehicle_looks_as_with_one_far_out_of_the_picture(tmp_path: Path) -> None:
    """At one ISO; the other one is parked 20 m off, where it hides and shades nothing.

    With a wall in place of the container: what glossy things mirror is the view from where the vehicle is.
    """
    far = PARKED.replace("[[380, 250], [700, 250]]", "[[20000, 0], [21000, 0]]")
    pictures = []
    for name, text in (("bare", NO_VEHICLE), ("far", far)):
        path = tmp_path / f"{name}.yaml"
        text = text.replace("piece: container, at: [500, 380]", "piece: wall, at: [500, 380], length: 200, height: 60")
        path.write_text(text.replace("capture: {rate: 24 fps}", "capture: {rate: 24 fps, iso: 800}"), encoding="utf-8")
        run("still", path, "--draft", "--size", 160, "--views", 64, "--out", tmp_path / name)
        (picture,) = (tmp_path / name).glob("*.png")
        with Image.open(picture) as image:
            pictures.append(np.asarray(image.convert("RGB"), float))
    assert pictures[0].std() > 5
    assert np.array_equal(*pictures)


def test_check_and_picture_take_the_same_iso_of_a_set_without_a_vehicle(tmp_path: Path) -> None:
    """Both by the lamps' light on a card that faces the camera where it is focused."""
    path = tmp_path / "bare.yaml"
    path.write_text(NO_VEHICLE, encoding="utf-8")
    (shot,) = json.loads(run("check", path, "--json").stdout)["shots"]
    wanted = next(each["value"] for each in shot["figures"] if each["quantity"] == "iso_needed")
    drawn = run("still", path, "--draft", "--size", 160, "--views", 2, "--json", "--out", tmp_path / "out")
    assert json.loads(drawn.stdout)["stills"][0]["iso"] == pytest.approx(max(wanted, 100), rel=0.02)
