"""The bodies of our own kit's cameras on the set."""

from pathlib import Path

import pytest
from broken_scenes import broken, changed, found, looked, read

from previz.predictions import Verdict, brief_of_shot, predict
from previz.predictions.checks.framing import check_framing
from previz.predictions.shot_view import view_of
from previz.scene import read_kit

KIT = Path(__file__).parents[2] / "scenes" / "kits" / "tabletop.yaml"


def test_a_body_in_the_kit_stands_as_its_picture_does() -> None:
    """A picture wider than high comes from a camera that is held wider than high (common practice, no source)."""
    for name, camera in read_kit(KIT).items():
        (wide, high), (body_wide, body_high, _) = camera.sensor, camera.body
        assert (wide > high) == (body_wide > body_high), name


@pytest.mark.parametrize(("height", "left"), [(40.0, 1.0), (39.0, 0.0), (38.0, -1.0)])
def test_a_phone_on_its_side_stands_low_over_the_table(height: float, left: float, tmp_path: Path) -> None:
    """Level, 78 mm high and held in the middle: 39 mm of it are under the entrance pupil. Worked by hand."""
    body = [f"{side * 1000:g} mm" for side in read_kit(KIT)["phone"].body]
    scene = read(
        broken(
            ("cameras.small.body", body),
            ("cameras.small.lens_size", ["12 mm", "2 mm"]),
            ("shots[0].at", [1500, 60, height]),
            ("shots[0].aim", [1500, 400, height]),
        ),
        tmp_path,
    )
    predictions = predict(scene, remedies=False)
    assert predictions.shots[0].value("body_clearance") == pytest.approx(left / 1000, abs=1e-12)
    assert found(predictions, "framing.body").verdict is (Verdict.FINE if left >= 0 else Verdict.STOP)


@pytest.mark.parametrize(("y", "moved"), [(-0.5, "2 mm back"), (30.0, "32 mm back"), (200.0, None)])
def test_a_camera_that_is_too_low_goes_back_at_its_height_where_the_shot_stays_alike(
    y: float, moved: str | None, tmp_path: Path
) -> None:
    """Level, its lens 2 mm long: all of it is before the table, and so free, 1 mm behind the edge. Worked by hand.

    From 200 mm on the table that is further back than leaves the picture alike: it is raised by the 1 mm that it is
    too low and one to spare.
    """
    data = broken(
        ("cameras.small.body", [150, 78, 9]),
        ("cameras.small.lens_size", [78, 2]),
        ("shots[0].at", [1500, y, 38]),
        ("shots[0].aim", [1500, 400, 38]),
    )
    before = read(data, tmp_path)
    (notes,) = [check_framing(view_of(before, before.shots[0]))]
    number = next(n for n, each in enumerate(notes.findings) if each.id == "framing.body")
    assert "1 mm inside the table" in notes.findings[number].message
    first, *others = notes.ways[number]()
    assert (f"Move it {moved}" if moved else "Raise it by 2 mm") in first.words
    place = [float(each.removesuffix(" mm")) for each in first.changes[0].value]
    assert (place[2] == 38 and place[0] == pytest.approx(1500)) if moved else place == [1500, y, 40]
    for way in (first, *others):
        after = read(changed(data, way.changes), tmp_path)
        left = check_framing(view_of(after, after.shots[0])).findings
        assert not [each for each in left if each.id == "framing.body" and each.verdict is not Verdict.FINE], way.words


BESIDE = {"id": "tree", "piece": "wall", "at": [1590, 60], "length": 40, "height": 200, "thickness": 200}


@pytest.mark.parametrize(
    ("changes", "inside"),
    [
        # A phone on its side, 72 mm high and held in the middle, has 36 mm under its lens. By hand.
        ([("shots[0].at", [1500, 60, 30]), ("shots[0].aim", [1500, 400, 30])], ("the table", 0.006)),
        ([("shots[0].at", [1500, 60, 37]), ("shots[0].aim", [1500, 400, 37])], None),
        ([("shots[0].at", [1500, -150, 30]), ("shots[0].aim", [1500, 400, 30])], None),  # before the table's edge
        # It is 150 mm wide: a wall that begins 70 mm beside the lens is 5 mm in it.
        ([("shots[0].at", [1500, 60, 70]), ("dressing[0]", BESIDE)], ("tree", 0.005)),
        ([("shots[0].at", [1500, 60, 30]), ("cameras.small.body", [60, 40, 20])], None),
    ],
    ids=["low", "high enough", "before the table", "beside a piece", "its own is known"],
)  # fmt: skip
def test_of_a_camera_without_a_body_it_is_told_where_a_usual_one_would_not_fit(
    changes: list[tuple[str, object]], inside: tuple[str, float] | None, tmp_path: Path
) -> None:
    data = broken(*changes)
    scene, (shot,) = read(data, tmp_path), looked(data, tmp_path).shots
    told = [(each.of, each.value) for each in shot.figures if each.quantity == "usual_body_inside"]
    assert told == ([] if inside is None else [(inside[0], pytest.approx(inside[1], abs=1e-6))])
    said = [text for label, text in brief_of_shot(scene, scene.shots[0], shot.figures) if label == "body"]
    assert len(said) == len(told)
    if inside is not None:
        assert said[0].endswith(f"{inside[1] * 1000:.0f} mm in {inside[0]}") and len(said[0]) < 140


def test_a_camera_that_is_raised_is_raised_over_the_kerb_as_well(tmp_path: Path) -> None:
    """Level, 78 mm high: at 38 mm it is 1 mm in the table and so 6 mm in a slab 5 mm thick, and 2 mm up still 4 mm."""
    slab = {"id": "slab", "piece": "wall", "at": [1500, 200], "length": 300, "height": 5, "thickness": 300}
    data = broken(
        ("cameras.small.body", [150, 78, 9]),
        ("cameras.small.lens_size", [78, 2]),
        ("shots[0].at", [1500, 200, 38]),
        ("shots[0].aim", [1500, 400, 38]),
        ("dressing[0]", slab),
    )
    before = read(data, tmp_path)
    notes = check_framing(view_of(before, before.shots[0]))
    number = next(n for n, each in enumerate(notes.findings) if each.id == "framing.body")
    (way,) = notes.ways[number]()
    assert way.words.startswith("Raise it by 8 mm")
    after = looked(changed(data, way.changes), tmp_path)
    assert [found(after, each).verdict for each in ("framing.body", "gear.camera")] == [Verdict.FINE] * 2
