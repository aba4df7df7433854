"""Two roads to one number, on drawn pixels: what `check` says of the demo scenes against what `render_frames` draws.

Each demo keeps its own camera, lens, stop, focus, shutter and move; its set is stripped to small glowing or matt plates
where the piece, the backdrop or the vehicle is, so that one thing at a time can be measured. Blur and streaks are
measured by the mean square distance of light from its middle (D^2 / 8 for an even disc, l^2 / 12 for a streak:
elementary calculus), always as the difference of two pictures that are alike but for the pupil or the shutter, so that
plate and pixel drop out.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bare import BareStage, plate, solid
from light_by_hand import illuminance

from previz.frames import Look, render_frames
from previz.layout import solids_of
from previz.layout.emitters import Emitter, bulb_of, emitters_of, post_lamps
from previz.layout.motion import vehicle_on
from previz.light.direct import direct_light
from previz.light.occluders import Occluders
from previz.light.receivers import Receivers
from previz.light.samples import Samples
from previz.light.surroundings import ambient_radiance, look_round
from previz.mesh import Material, Mesh
from previz.physics import exposure
from previz.physics.colour import white_rgb
from previz.predictions import predict
from previz.predictions.checks.motion import shifts
from previz.predictions.shot_view import ShotView, background_middle, view_of
from previz.scene import Scene, Shot, read_scene
from previz.stage import LitMesh, VehicleModel
from previz.stage.vehicles.bodies import build_vehicle

SCENES = Path(__file__).parents[2] / "scenes"
DEMOS = ("quay_lorry", "night_van", "snow_bus")

#: Of every drawn picture; all demos record 16:9. [px]
SIZE = (960, 540)

#: A pupil and a shutter next to nothing.
PINHOLE, INSTANT = 2000.0, 1e-6

#: Luminance of linear Rec. 709 (ITU-R BT.709), as quoted in summaries of it; colour-science 0.4.6 has the same.
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


class Demo:
    """A demo scene's first shot, and what is looked at in it: the frame in the middle."""

    def __init__(self, name: str) -> None:
        scene = read_scene(SCENES / f"{name}.yaml")
        # No camera has the ISO that a pinhole takes; here it only keeps the picture's numbers in a handy range.
        otherwise = {"iso": (1, 10**15), "glare": "none"}  # and glare has its own tests
        cameras = {each: camera.model_copy(update=otherwise) for each, camera in scene.cameras.items()}
        self.scene: Scene = scene.model_copy(update={"cameras": cameras})
        self.view: ShotView = view_of(self.scene, self.scene.shots[0])
        self.shot: Shot = self.scene.shots[0]
        self.at: int = self.view.middle
        self.frame = int(self.view.numbers[self.at])
        self.predicted = predict(self.scene, remedies=False).shots[0]
        self.shrunk = SIZE[0] / self.view.size[0]

    def draw(self, stage, shot: Shot, views: int = 64) -> np.ndarray:
        """The middle frame without noise (540, 960, 3), in shares of saturation."""
        look = Look(size=SIZE, views=views, frames=range(self.frame, self.frame + 1), noise=False)
        (only,) = render_frames(self.scene, stage, shot, look)
        return np.asarray(only.linear, dtype=float)

    def sharp(self, stage) -> np.ndarray:
        """The instant through a pupil next to nothing, all views of which are alike; `iso: auto` makes up for it."""
        return self.draw(stage, self.instant().model_copy(update={"f_number": PINHOLE}), views=16)

    def instant(self) -> Shot:
        """The shot with a shutter next to nothing, in the middle of the planned one."""
        shutter = self.shot.capture.shutter.model_copy(update={"time": INSTANT, "angle": None})
        capture = self.shot.capture.model_copy(update={"shutter": shutter})
        start = self.shot.start + (self.view.exposure_time - INSTANT) / 2
        return self.shot.model_copy(update={"capture": capture, "start": start})

    def square(self, place: np.ndarray, glow, pixels: float = 3.0):
        """A plate at a place, some pixels of the small picture wide."""
        depth = float(self.view.depths(place[None])[self.at, 0])
        side = pixels * depth * self.view.area[0] / SIZE[0] / self._image_distance()
        return plate(place, side, side, glow)

    def _image_distance(self) -> float:
        s, f = float(self.view.focus[self.at]), float(self.shot.focal_length)
        return f * s / (s - f)


@pytest.fixture(params=DEMOS, scope="module")
def demo(request: pytest.FixtureRequest) -> Demo:
    return Demo(request.param)


def spread(light: np.ndarray) -> float:
    """Mean square distance of a channel's light from its middle. [px2]"""
    rows, columns = np.mgrid[: light.shape[0], : light.shape[1]] + 0.5
    share = light / light.sum()
    across, down = (share * columns).sum(), (share * rows).sum()
    return float((share * ((columns - across) ** 2 + (rows - down) ** 2)).sum())


def raised(points: np.ndarray, height: float) -> np.ndarray:
    """Points (..., 3) that much higher. [m]"""
    return points + np.array([0.0, 0.0, height])


def agree(drawn: float, predicted: float) -> bool:
    """Within 2 % or a quarter of a pixel of this small picture: half of one that is 1920 wide."""
    return abs(drawn - predicted) <= max(0.02 * abs(predicted), 0.25)


# --- blur ---


def places_of(demo: Demo) -> dict[str, np.ndarray]:
    """Where `check` measures the blur of pieces and backdrop: what has a figure and falls well inside the picture."""
    known = {solid.id: solid.middle for solid in reversed(solids_of(demo.scene))}
    known["backdrop"] = background_middle(demo.view, demo.at)
    named = {figure.of for figure in demo.predicted.figures if figure.quantity == "blur_pixels"}
    found = {}
    for name in sorted(named & set(known)):
        (pixel,) = demo.view.project(known[name][None])[0][demo.at] * demo.shrunk
        if np.all(pixel > 40) and np.all(pixel < np.array(SIZE) - 40):
            found[name] = known[name]
    return found


def test_the_blur_of_pieces_and_backdrop_is_drawn_as_predicted(demo: Demo) -> None:
    places = places_of(demo)
    assert "backdrop" in places and len(places) >= 2
    # Three plates at a time, one in each colour.
    names = list(places)
    for first in range(0, len(names), 3):
        group = names[first : first + 3]
        glows = np.eye(3)[: len(group)] * 400.0
        stage = BareStage(tuple(demo.square(places[name], glow) for name, glow in zip(group, glows, strict=True)))
        wide, closed = demo.draw(stage, demo.instant()), demo.sharp(stage)
        for channel, name in enumerate(group):
            disc = np.sqrt(8 * max(spread(wide[..., channel]) - spread(closed[..., channel]), 0.0))
            predicted = demo.predicted.value("blur_pixels", name) * demo.shrunk
            assert agree(disc, predicted), (name, disc, predicted)


# --- motion blur ---


def test_motion_blur_of_vehicle_and_background_is_drawn_as_predicted(demo: Demo) -> None:
    view, at = demo.view, demo.at
    vehicle, background = (np.linalg.norm(moved[at]) * demo.shrunk for moved in shifts(view, view.exposure_time))
    mark = BareStage((), vehicle=glowing_mark(demo))
    still = BareStage((demo.square(background_middle(view, at), 400.0),))
    for stage, predicted in ((mark, vehicle), (still, background)):
        count = 64 if predicted else 16  # what stands still needs few to be seen standing
        while_open, instant = demo.draw(stage, demo.shot, count), demo.draw(stage, demo.instant(), count)
        streak = np.sqrt(12 * max(spread(while_open.sum(axis=2)) - spread(instant.sum(axis=2)), 0.0))
        assert agree(streak, predicted), (streak, predicted)


def test_the_predicted_streaks_are_worth_measuring() -> None:
    longest = [max(np.linalg.norm(moved[demo.at]) * demo.shrunk for moved in shifts(demo.view, demo.view.exposure_time))
               for demo in map(Demo, DEMOS)]  # fmt: skip
    assert min(longest) > 2


def glowing_mark(demo: Demo) -> VehicleModel:
    """A vehicle that is one glowing plate in the middle of its box, along its length, a few pixels large."""
    pose = vehicle_on(demo.view.path, float(demo.view.distances[demo.at]))
    middle = raised(pose.position, demo.view.vehicle_solid(0.0).size[2] / 2)
    corners = demo.square(middle, 400.0).mesh.vertices - middle
    mesh = solid(raised(corners, middle[2]), [[0, 1, 2], [0, 2, 3]], 400.0).mesh
    return VehicleModel((mesh,), (), (), 0.1, 0.04, 0.05)


# --- the vehicle in the picture ---


def test_the_vehicles_width_in_the_picture_is_drawn_as_predicted(demo: Demo) -> None:
    """Edges are taken where half of the light is: the middle of whatever blur they have."""
    glowing = whole_vehicle(demo)
    picture = demo.draw(BareStage((), vehicle=glowing), demo.shot).sum(axis=2)
    covered = np.clip(picture / np.quantile(picture[picture > picture.max() / 2], 0.5), 0.0, 1.0)
    edges = np.array([edges_of(row) for row in covered if row.max() > 0.95])
    drawn = edges[:, 1].max() - edges[:, 0].min()
    predicted = demo.predicted.value("vehicle_width") * SIZE[0]
    assert drawn > 100
    assert agree(drawn, predicted), (drawn, predicted)


def edges_of(row: np.ndarray) -> tuple[float, float]:
    """Where a row first rises above a half and last falls below it. [px]"""
    over = np.flatnonzero(row >= 0.5)
    first, last = over[0], over[-1]
    rise = first - (row[first] - 0.5) / (row[first] - row[first - 1]) if first else 0.0
    fall = last + (row[last] - 0.5) / (row[last] - row[last + 1]) if last + 1 < len(row) else len(row) - 1.0
    return rise + 0.5, fall + 0.5


def whole_vehicle(demo: Demo) -> VehicleModel:
    """The demo's vehicle as it is modelled, glowing evenly all over."""

    def glow(mesh: Mesh) -> Mesh:
        return replace(
            mesh,
            colours=np.zeros_like(mesh.colours),
            image=None,
            material=Material(two_sided=True, glow=(50.0, 50.0, 50.0)),
        )

    vehicle = demo.scene.vehicle
    model = build_vehicle(vehicle.body, demo.scene.vehicle_length, (0.5, 0.5, 0.5))
    wheels = tuple(
        replace(wheel, round=tuple(map(glow, wheel.round)), turning=tuple(map(glow, wheel.turning)))
        for wheel in model.wheels
    )
    return replace(model, body=tuple(map(glow, model.body)), wheels=wheels, lamps=())


# --- light ---


def test_a_grey_card_in_the_vehicles_place_is_drawn_as_bright_as_predicted(demo: Demo) -> None:
    """Lamps in closed form and the exposure formula, against baked, drawn and exposed: the sum of the scene's lights
    and lit posts, and that the ISO which `check` asks for under so much light makes an 18 % card mid-grey. Nothing
    stands in the light on either road.
    """
    view = demo.view
    point = view.vehicle_corners[demo.at].mean(axis=0)
    facing = view.cameras[demo.at].position - point
    facing /= np.linalg.norm(facing)
    lux = illuminance(all_emitters(demo.scene), point, facing, LUMINANCE)
    card = grey_card(demo, point, facing)
    capture = demo.shot.capture.model_copy(update={"iso": 400, "exposure": 0.0})
    look = Look(size=SIZE, views=64, frames=range(demo.frame, demo.frame + 1), noise=False)
    (drawn,) = render_frames(demo.scene, BareStage((card,)), demo.shot.model_copy(update={"capture": capture}), look)
    (pixel,) = (view.project(point[None])[0][demo.at] * demo.shrunk).astype(int)
    balanced = drawn.linear[pixel[1] - 1 : pixel[1] + 2, pixel[0] - 1 : pixel[0] + 2].mean(axis=(0, 1))
    level = float(balanced * white_rgb(capture.white_balance) @ LUMINANCE)
    stop = demo.predicted.value("working_f_number")
    expected = exposure.level_of(
        exposure.focal_plane_exposure(exposure.luminance_of(lux), demo.predicted.value("exposure_time"), stop), 400
    )
    assert level == pytest.approx(expected, rel=0.02)
    # The ISO for the card is that for the vehicle's light, in proportion.
    iso = demo.predicted.value("iso_needed") * demo.predicted.value("illuminance_vehicle", "all lamps") / lux
    assert level * iso / 400 == pytest.approx(exposure.GREY_LEVEL, rel=0.02)


def all_emitters(scene: Scene) -> list[Emitter]:
    """The scene's lights and the bulbs of its lit posts."""
    return [*emitters_of(scene)[: len(scene.lights)], *(bulb_of(lamp) for _, lamp in post_lamps(scene))]


def grey_card(demo: Demo, point: np.ndarray, facing: np.ndarray) -> LitMesh:
    """An 18 % card of 40 px, square to the camera, with the light that the stage's bake throws on it."""
    turn = demo.view.cameras[demo.at].world_from_camera
    side = np.ptp(demo.square(point, 1.0, pixels=40).mesh.vertices[:, 0])
    right = np.cross([0.0, 0.0, 1.0], facing)
    right /= np.linalg.norm(right)
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * side / 2
    corners = point + half[:, :1] * right + half[:, 1:] * np.cross(facing, right)
    assert facing @ turn[:, 2] > 0.9
    normals = np.tile(facing, (4, 1))
    nothing = Occluders(np.zeros((0, 3)), np.zeros((0, 3), dtype=int))
    receivers, emitters = Receivers.of(corners, normals), all_emitters(demo.scene)
    sky = look_round(receivers, nothing, Samples().round).sky_light(ambient_radiance(emitters))
    light = direct_light(receivers, emitters, [nothing], Samples()) + sky
    mesh = Mesh(corners, np.array([[0, 1, 2], [0, 2, 3]]), normals, np.full((4, 3), exposure.GREY_CARD))
    return LitMesh(mesh, np.asarray(light, np.float32))
