"""A camera locked off: what is drawn again is, to the bit, what drawing everything gives."""

import shutil
import subprocess
import sys
import tempfile
from dataclasses import replace
from importlib import import_module
from multiprocessing import active_children
from pathlib import Path

import numpy as np
import pytest
from bare import BareStage, bare_scene, plate

from previz.errors import MachineError
from previz.frames import Crew, Look, render_frames, studio
from previz.layout import Lamp
from previz.mesh import Material, Mesh
from previz.stage import LitGround, Unlit, VehicleModel, Wheel

SIZE = (320, 180)


def ground():
    """A table top of squares with a checked painting, with light enough to see the vehicle's shadow."""
    steps = np.linspace(0, 1, 21)
    x, y = (axis.ravel() for axis in np.meshgrid(steps, steps))
    corners = np.stack([x, y, np.zeros(len(x))], axis=1)
    first = np.arange(20 * 21).reshape(20, 21)[:, :20].ravel()
    faces = np.concatenate(
        [np.stack([first, first + 1, first + 22], axis=1), np.stack([first, first + 22, first + 21], axis=1)]
    )
    painting = ((np.indices((64, 64)).sum(axis=0) % 2) * 120 + 60).astype(np.uint8)
    upward, white = np.tile([0, 0, 1.0], (len(x), 1)), np.ones((len(x), 3))
    mesh = Mesh(corners, faces, upward, white, uv=np.stack([x, 1 - y], axis=1))
    return LitGround(mesh, np.repeat(painting[..., None], 3, axis=2), np.full((4, 4, 3), 400.0, np.float32))


def box(x, z, width, height, glow):
    corners = np.array([[-width, 0, -height], [width, 0, -height], [width, 0, height], [-width, 0, height]]) / 2
    return Mesh(
        corners + np.array([x, 0, z]), np.array([[0, 1, 2], [0, 2, 3]]), np.tile([0.0, -1, 0], (4, 1)),
        np.full((4, 3), 0.4), Material(two_sided=True, gloss=0.8, glow=(glow, glow, glow)),
    )  # fmt: skip


class ShadedStage(BareStage):
    """The vehicle darkens the ground around it."""

    def stations(self, distances):
        shadow = np.full((6, 8, 3), 0.5, np.float32)
        shadow[[0, -1]] = shadow[:, [0, -1]] = 1.0
        sky = np.linspace(0, 60, 4 * 8 * 3, dtype=np.float32).reshape(4, 8, 3)
        return tuple(replace(station, shadow=shadow, surround=sky) for station in super().stations(distances))


def stage():
    vehicle = VehicleModel(
        (box(0, 0.04, 0.08, 0.03, 6.0),),
        (Wheel((0.02, -0.001, 0.012), 0.012, (), (box(0, 0.008, 0.004, 0.004, 60.0),)),),
        (Lamp((0.04, -0.002, 0.04), 0.001, 0.2, (1.0, 1.0, 1.0)),),
        0.08, 0.03, 0.055,
    )  # fmt: skip
    still = (plate((0.45, 0.9, 0.1), 0.1, 0.2, 20), plate((0.6, 0.25, 0.03), 0.02, 0.06, 9))
    still += (plate((0.5, 2, 0), 9, 9, 4),)
    lamps = tuple(Lamp((x, 0.8, 0.05), 0.001, 0.3, (1.0, 0.8, 0.5)) for x in (0.35, 0.5, 0.65))
    return ShadedStage(still, lamps=lamps, vehicle=vehicle, ground=ground())


def shot_of(folder, stop):
    scene = bare_scene(folder, sensor=(36, 20.25), stop=stop, focus=500, size=SIZE, speed=0.6, aim="[500, 500, 20]")
    shot = scene.shots[0].model_copy(update={"at": (0.5, 0.0, 0.12), "start": 0.4})
    return scene, shot


@pytest.mark.parametrize("stop", [1.4, 16])
@pytest.mark.parametrize("filtered", [True, False])
def test_redrawing_what_moves_gives_the_bits_of_redrawing_everything(tmp_path, stop, filtered):
    scene, shot = shot_of(tmp_path, stop)
    frames, whole = range(2, 7), stage()
    look = Look(size=SIZE, views=20, noise=False, filtered=filtered)
    together = [frame.linear for frame in render_frames(scene, whole, shot, replace(look, frames=frames))]
    for number, drawn in zip(frames, together, strict=True):
        # Alone a frame has none before it to take anything from.
        (alone,) = render_frames(scene, whole, shot, replace(look, frames=range(number, number + 1)))
        assert np.array_equal(alone.linear, drawn), number
    assert not np.array_equal(together[0], together[-1])


def test_where_the_set_is_kept_of_some_views_only_the_bits_are_the_same(tmp_path, monkeypatch):
    scene, shot = shot_of(tmp_path, 1.4)
    look, whole = Look(size=SIZE, views=5, frames=range(2, 5), noise=False), stage()
    everything = [frame.linear for frame in render_frames(scene, whole, shot, look)]
    module = import_module("previz.frames.gl.kept")  # only now: it imports OpenGL
    for most in (3, 0):
        monkeypatch.setattr(module, "_MOST", module._A_PIXEL * SIZE[0] * SIZE[1] * (most + 0.5))
        drawn = [frame.linear for frame in render_frames(scene, whole, shot, look)]
        assert all(np.array_equal(one, other) for one, other in zip(everything, drawn, strict=True))


@pytest.mark.parametrize("filtered", [True, False])
def test_views_drawn_by_one_call_are_the_views_drawn_one_by_one(tmp_path, monkeypatch, filtered):
    scene, shot = shot_of(tmp_path, 1.4)
    look, whole = Look(size=SIZE, views=36, frames=range(2, 4), noise=False, filtered=filtered), stage()
    one_by_one = [frame.linear for frame in render_frames(scene, whole, shot, look)]
    module = import_module("previz.frames.gl.at_once")  # only now: it imports OpenGL
    if not module.layering_of_hardware():
        pytest.skip("this renderer's vertex shaders cannot choose a layer")
    monkeypatch.setattr(module, "layering", module.layering_of_hardware)
    at_once = [frame.linear for frame in render_frames(scene, whole, shot, look)]
    assert all(np.array_equal(one, other) for one, other in zip(one_by_one, at_once, strict=True))


class BeamingStage(ShadedStage):
    """Its vehicle's lamps light the ground too."""

    def stations(self, distances):
        beam = np.zeros((6, 8, 3), np.float32)
        beam[1:5, 4:7] = (300.0, 200.0, 100.0)
        return tuple(replace(station, beam=beam) for station in super().stations(distances))


class ClearStage(ShadedStage):
    """Its vehicle leaves the ground as it is."""

    def stations(self, distances):
        return tuple(replace(station, shadow=np.ones_like(station.shadow)) for station in super().stations(distances))


def test_what_is_cast_on_the_ground_is_the_same_however_it_gets_there(tmp_path, monkeypatch):
    scene, shot = shot_of(tmp_path, 4)
    look, built = Look(size=SIZE, views=8, frames=range(8, 9), noise=False), stage()
    uneven = replace(built.ground, light=np.linspace(100, 700, 48, dtype=np.float32).reshape(4, 4, 3))

    def drawn(kind):
        made = kind(built.still, lamps=built.lamps, vehicle=built.vehicle, ground=uneven)
        return next(iter(render_frames(scene, made, shot, look))).linear

    without, afterwards = drawn(ClearStage), drawn(BeamingStage)  # one picture, by which the ground is multiplied
    monkeypatch.setattr(import_module("previz.frames.gl.states").FrameState, "locked_off", False)
    in_one = drawn(BeamingStage)
    monkeypatch.setattr(import_module("previz.frames.gl.things"), "Cast", lambda *_: None)
    looked_up_apart = drawn(BeamingStage)
    # Pictures are of half floats, of 11 bits.
    assert np.allclose(afterwards, in_one, rtol=2e-3, atol=1e-6)
    # Between cells, here of 25 mm in light that rises sevenfold over the table, a quotient is blended, not its parts.
    assert np.allclose(afterwards, looked_up_apart, rtol=0.015, atol=1e-6)
    assert (afterwards < 0.7 * without).mean() > 0.005 < (afterwards > 1.2 * without).mean()


class LampsOnly(BeamingStage):
    """Its vehicle takes no light from the ground and adds some."""

    def stations(self, distances):
        return tuple(replace(station, shadow=np.ones_like(station.shadow)) for station in super().stations(distances))


@pytest.mark.parametrize("one_picture", [True, False])
def test_what_lamps_add_to_the_ground_is_the_same_in_the_dark(tmp_path, monkeypatch, one_picture):
    """Light adds up: what a beam adds to dark ground is what it adds to ground that is lit."""
    scene, shot = shot_of(tmp_path, 4)
    look, built = Look(size=(160, 90), views=4, frames=range(8, 9), noise=False), stage()
    if not one_picture:
        monkeypatch.setattr(import_module("previz.frames.gl.things"), "Cast", lambda *_: None)

    def added(light):
        ground = replace(built.ground, light=np.full((4, 4, 3), light, np.float32))
        beaming, clear = (
            next(iter(render_frames(scene, kind(built.still, vehicle=built.vehicle, ground=ground), shot, look))).linear
            for kind in (LampsOnly, ClearStage)
        )
        return beaming - clear

    dark, lit = added(0.0), added(400.0)
    # Pictures are of half floats, of 11 bits; what is added is a few times what was there.
    assert lit.max() > 0.01 and np.allclose(dark, lit, rtol=5e-3, atol=2e-3 * lit.max())


@pytest.mark.parametrize("workers", [2, 3])
def test_any_number_of_workers_gives_the_same_pixels(tmp_path, workers):
    scene, shot = shot_of(tmp_path, 1.4)
    look, whole = Look(size=SIZE, views=8, frames=range(2, 7), seed=3), stage()
    alone = list(render_frames(scene, whole, shot, look))
    shared = list(render_frames(scene, whole, shot, look, workers=workers))
    assert [frame.number for frame in shared] == [frame.number for frame in alone]
    assert all(np.array_equal(a.linear, b.linear) and a.facts == b.facts for a, b in zip(alone, shared, strict=True))


def test_processes_that_are_killed_while_they_draw_cost_no_frame_and_change_no_pixel(tmp_path):
    scene, shot = shot_of(tmp_path, 16)
    look, whole = Look(size=SIZE, views=8, frames=range(6), seed=3), stage()
    alone = [frame.linear for frame in render_frames(scene, whole, shot, look)]
    with Crew(2) as crew:
        frames = render_frames(scene, whole, shot, look, crew)
        drawn = [next(frames).linear]
        for process in active_children():
            process.kill()
        drawn += [frame.linear for frame in frames]
    assert len(drawn) == 6 and all(np.array_equal(a, b) for a, b in zip(alone, drawn, strict=True))


def resets_graphics() -> None:
    """From now on, in this process, OpenGL says what it says after the driver was reset: GL_CONTEXT_LOST, 0x0507."""
    import_module("previz.frames.gl.context").platform_class()  # PyOpenGL is told its platform first
    import_module("OpenGL.GL").glGetError = lambda: 0x0507


def test_a_driver_that_is_reset_costs_no_frame_and_changes_no_pixel(tmp_path, monkeypatch):
    scene, shot = shot_of(tmp_path, 16)
    look, whole = Look(size=SIZE, views=8, frames=range(2), seed=3), stage()
    alone = [frame.linear for frame in render_frames(scene, whole, shot, look)]
    with Crew(1, apart=True) as crew:
        (before,) = active_children()
        crew.do(resets_graphics)
        drawn = [frame.linear for frame in render_frames(scene, whole, shot, look, crew)]
        assert active_children() != [before]
    assert all(np.array_equal(a, b) for a, b in zip(alone, drawn, strict=True))
    # Without a process that could be replaced it is told.
    monkeypatch.setattr("OpenGL.GL.glGetError", lambda: 0x0507)
    with pytest.raises(MachineError, match="the graphics driver was reset while a frame was drawn; try again"):
        list(render_frames(scene, whole, shot, look))


@pytest.mark.parametrize(("who", "uploads"), [({"apart": True}, 0), ({"keeps": True}, 2)])
def test_a_crew_goes_on_to_the_next_shot(tmp_path, monkeypatch, who, uploads):
    scene, shot = shot_of(tmp_path, 1.4)
    look, stages = Look(size=SIZE, views=8, frames=range(2, 4), noise=False), (stage(), stage())
    other = shot.model_copy(update={"f_number": 16.0})
    films = [(stages[0], shot), (stages[0], other), (stages[0], shot), (stages[1], shot)]
    alone = [list(render_frames(scene, *film, look)) for film in films[:2]]
    opened, open_raster = [], studio.open_raster
    monkeypatch.setattr(studio, "open_raster", lambda *given: opened.append(given) or open_raster(*given))
    with Crew(1, **who) as crew:
        drawn = [list(render_frames(scene, *film, look, crew)) for film in films]
    for ours, theirs in zip(drawn, (*alone, alone[0], alone[0]), strict=True):
        assert all(np.array_equal(a.linear, b.linear) for a, b in zip(ours, theirs, strict=True))
    assert len(opened) == uploads  # here: one for each stage
    assert not active_children()


@pytest.mark.parametrize("views", [None])
def test_a_crew_that_got_ready_before_there_was_light_draws_the_same_pixels(tmp_path, views):
    scene, shot = shot_of(tmp_path, 1.4)
    look, whole = Look(size=SIZE, views=views, frames=range(2, 4), noise=False), stage()
    other = shot.model_copy(update={"f_number": 16.0})
    alone = list(render_frames(scene, whole, shot, look))
    for ready in (shot, other):  # for the very shot, or in vain
        with Crew(2) as crew:
            crew.get_ready(scene, ready, look, Unlit.of(whole))
            drawn = list(render_frames(scene, whole, shot, look, crew))
        assert [frame.facts.views for frame in drawn] == [frame.facts.views for frame in alone]
        assert all(np.array_equal(a.linear, b.linear) for a, b in zip(drawn, alone, strict=True))


def test_a_crew_films_a_shot_again_after_it_was_broken_off_or_done(tmp_path):
    scene, shot = shot_of(tmp_path, 1.4)
    look, whole = Look(size=SIZE, views=8, frames=range(2, 7), noise=False), stage()
    alone = [frame.linear for frame in render_frames(scene, whole, shot, look)]
    with Crew(1, apart=True) as crew:
        crew.get_ready(scene, shot, look, Unlit.of(whole))
        broken_off = render_frames(scene, whole, shot, look, crew)
        next(broken_off)
        broken_off.close()
        for _ in range(2):
            drawn = [frame.linear for frame in render_frames(scene, whole, shot, look, crew)]
            assert all(np.array_equal(a, b) for a, b in zip(drawn, alone, strict=True))


@pytest.mark.parametrize("who", [{}, {"keeps": True}, {"apart": True}])
def test_two_films_are_drawn_in_turn(tmp_path, who):
    """Also where the caller draws both: each has names of its own for what it uploaded."""
    scene, shot = shot_of(tmp_path, 1.4)
    look = Look(size=SIZE, views=4, frames=range(2, 6), noise=False)
    shots = (shot, shot.model_copy(update={"f_number": 16.0}))
    films = (stage(), shots[0], look), (BareStage(()), shots[1], replace(look, size=(64, 36)))
    alone = [[frame.linear for frame in render_frames(scene, *film)] for film in films]
    with Crew(1, **who) as crew:
        drawn = [render_frames(scene, *film, crew) for film in films]
        for number, frames in enumerate(zip(*drawn, strict=True)):
            assert all(np.array_equal(frame.linear, alone[film][number]) for film, frame in enumerate(frames))


def test_a_film_that_is_given_up_at_any_time_leaves_another_as_it_is(tmp_path):
    scene, shot = shot_of(tmp_path, 1.4)
    look, whole = Look(size=SIZE, views=4, frames=range(2, 5), noise=False), stage()
    alone = [frame.linear for frame in render_frames(scene, whole, shot, look)]
    given_up, other = render_frames(scene, whole, shot, look), render_frames(scene, whole, shot, look)
    drawn = [next(given_up).linear, next(other).linear]
    given_up.close()
    drawn += [frame.linear for frame in other]
    assert all(np.array_equal(a, b) for a, b in zip(drawn, [alone[0], *alone], strict=True))


def test_a_film_that_is_not_seen_to_its_end_ends_with_the_program_without_a_word(tmp_path):
    begun = (
        f"import pathlib, sys; sys.path.insert(0, {str(Path(__file__).parent)!r}); import {Path(__file__).stem} as t; "
        f"scene, shot = t.shot_of(pathlib.Path({str(tmp_path)!r}), 16); "
        "frames = t.render_frames(scene, t.stage(), shot, t.Look(size=t.SIZE, views=4, frames=range(2))); next(frames)"
    )
    ended = subprocess.run([sys.executable, "-c", begun], capture_output=True, text=True)
    assert (ended.stdout, ended.stderr) == ("", "")


def test_a_stage_that_got_ready_is_not_taken_for_one_with_other_lamps(tmp_path):
    scene, shot = shot_of(tmp_path, 1.4)
    look, whole = Look(size=SIZE, views=8, frames=range(2, 3), noise=False), stage()
    dark = replace(whole, lamps=())
    (alone,) = render_frames(scene, dark, shot, look)
    with Crew(1, apart=True) as crew:
        crew.get_ready(scene, shot, look, Unlit.of(whole))
        (drawn,) = render_frames(scene, dark, shot, look, crew)
    assert np.array_equal(drawn.linear, alone.linear)


def test_workers_end_when_nobody_wants_more_frames(tmp_path):
    scene, shot = shot_of(tmp_path, 16)
    frames = render_frames(scene, stage(), shot, Look(size=SIZE, views=8, frames=range(6)), workers=2)
    assert next(frames).number == 0
    frames.close()
    assert not active_children()


def test_a_folder_for_pictures_that_is_gone_is_told_without_a_traceback(tmp_path, monkeypatch):
    scene, shot = shot_of(tmp_path, 16)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with Crew(1, apart=True) as crew:
        for folder in tmp_path.glob("previz-*"):
            shutil.rmtree(folder)
        with pytest.raises(MachineError, match="No such file or directory; free some space"):
            list(render_frames(scene, stage(), shot, Look(size=SIZE, views=8, frames=range(1)), crew))
