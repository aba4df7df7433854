"""Framing: what each frame sees past the set, the join, the vehicle in the picture, and whether the camera fits.

Rays through a coarse grid of the picture are cast on the table, the backdrop and the boxes of the pieces; no mesh is
built. Banks of the ground and scattered things are not looked at.
"""

import math

import numpy as np
from numpy.typing import NDArray

from previz.predictions import optics
from previz.predictions.check_path import moved_behind
from previz.predictions.findings import Change, Notes, Verdict, above, below
from previz.predictions.outlines import SEE_THROUGH, Box, boxes, first_hits
from previz.predictions.shot_view import ShotView
from previz.scene import Shot

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: Rays across and down the picture.
GRID = (64, 36)

#: Action and title safe areas of a 16:9 picture, shares of its sides. BKSTS Illustrated Dictionary, 4th ed., app. B.
ACTION_SAFE, TITLE_SAFE = 0.93, 0.90

# Limits. All common practice, no source.
JOIN_BLUR = 0.01  # of the picture's width, over which a join dissolves
SMALLEST = 0.05  # of the picture's width, under which a vehicle is lost in it
HIDDEN = 0.5  # of the vehicle, in the worst frame
FRAMES_USED = 12  # at most so many frames are cast


def check_framing(view: ShotView) -> Notes:
    """Off-set pixels and the backdrop that cures them, the join, the vehicle's place, what hides it, the body."""
    notes = Notes(view.shot.id)
    solids = tuple(box for box in boxes(view.scene) if box.kind not in SEE_THROUGH)
    frames = _frames(view)
    _off_set(view, notes, frames, solids)
    _join(view, notes, frames, solids)
    _vehicle(view, notes)
    _hidden(view, notes, frames, solids)
    _body(view, notes, solids)
    return notes


def _frames(view: ShotView) -> list[int]:
    """Which of the frames looked at are cast: one of a camera that stands still, else a dozen along its move."""
    first = view.cameras[0]
    still = all(
        np.allclose(pose.position, first.position)
        and np.allclose(pose.world_from_camera, first.world_from_camera)
        and math.isclose(pose.focus_distance, first.focus_distance, rel_tol=1e-3)
        for pose in view.cameras
    )
    count = 1 if still else min(FRAMES_USED, len(view.cameras))
    return [int(n) for n in np.unique(np.linspace(0, len(view.cameras) - 1, count).round())]


# --- past the set ---


def off_set(view: ShotView, frame: int, solids: tuple[Box, ...], shot: Shot | None = None) -> float:
    """Share of a frame's rays that meet neither table, backdrop, piece nor vehicle. [-]"""
    across, down = _cells()
    origin, rays = _rays(view, frame, across, down, shot)
    missed = ~_on_set(view, origin, rays)
    if missed.any():
        covering = (*solids, view.vehicle_box(float(view.distances[frame])))
        far = rays[missed] * 1e3
        missed[missed] = ~first_hits(np.broadcast_to(origin, far.shape), far, covering).any(axis=1)
    return float(missed.mean())


def _cells() -> tuple[Array, Array]:
    """Middles of the grid's cells, in shares of the picture."""
    across, down = np.meshgrid((np.arange(GRID[0]) + 0.5) / GRID[0], (np.arange(GRID[1]) + 0.5) / GRID[1])
    return across.ravel(), down.ravel()


def _rays(view: ShotView, frame: int, across: Array, down: Array, shot: Shot | None) -> tuple[Array, Array]:
    """The view's rays, or those of the same camera with another shot's focal length."""
    origin, rays = view.rays(frame, across, down)
    if shot is None:
        return origin, rays
    pose = view.cameras[frame]
    now = optics.image_distance(view.shot.focal_length, pose.focus_distance)
    then = optics.image_distance(shot.focal_length, pose.focus_distance)
    local = rays @ pose.world_from_camera * np.array([now / then, now / then, 1.0])
    return origin, local @ pose.world_from_camera.T


def _on_set(view: ShotView, origin: Array, rays: Array) -> Flags:
    return _on_table(view, origin, rays) | _on_backdrop(view, origin, rays)


def _on_table(view: ShotView, origin: Array, rays: Array) -> Flags:
    table = view.scene.set.table
    falling = rays[:, 2] < -1e-12
    reach = np.where(falling, -origin[2] / np.where(falling, rays[:, 2], -1.0), np.nan)
    x, y = origin[0] + reach * rays[:, 0], origin[1] + reach * rays[:, 1]
    return np.asarray((reach > 0) & (x >= 0) & (x <= table.width) & (y >= 0) & (y <= table.depth))


def _on_backdrop(view: ShotView, origin: Array, rays: Array) -> Flags:
    backdrop = view.scene.set.backdrop
    if backdrop is None:
        return np.zeros(len(rays), dtype=bool)
    x, z = _at_backdrop(origin, rays, backdrop.distance)
    middle = view.scene.set.table.width / 2
    half = (backdrop.width or view.scene.set.table.width) / 2
    return np.asarray((np.abs(x - middle) <= half) & (z >= 0) & (z <= backdrop.height))


def _at_backdrop(origin: Array, rays: Array, distance: float) -> tuple[Array, Array]:
    """Where rays meet the plane of the backdrop, x and z [m]; nan where they never do."""
    going = rays[:, 1] > 1e-12
    reach = np.where(going, (distance - origin[1]) / np.where(going, rays[:, 1], 1.0), np.nan)
    reach = np.where(reach > 0, reach, np.nan)
    return origin[0] + reach * rays[:, 0], origin[2] + reach * rays[:, 2]


def _off_set(view: ShotView, notes: Notes, frames: list[int], solids: tuple[Box, ...]) -> None:
    shares = np.array([off_set(view, frame, solids) for frame in frames])
    pixels = float(shares.max()) * view.size[0] * view.size[1]
    needed = backdrop_needed(view, frames)
    notes.figure("off_set_pixels", pixels)
    if needed is not None:
        notes.figure("backdrop_width_needed", needed[0])
        notes.figure("backdrop_height_needed", needed[1])
    remedy, changes = _cover(view, frames, solids, needed) if pixels > 0 else ("", [])
    notes.finding(
        "framing.off_set",
        "off_set_pixels",
        pixels,
        0.0,
        Verdict.FINE if pixels == 0 else Verdict.STOP if view.scene.set.backdrop else Verdict.WATCH,
        f"Up to {float(shares.max()):.1%} of a frame sees past the set.",
        remedy,
        changes=changes,
        frames=view.numbers[frames][shares > 0],
    )


def backdrop_needed(view: ShotView, frames: list[int]) -> tuple[float, float] | None:
    """Width (about the table's middle) and height of the smallest backdrop that covers what is not table. [m]

    At the distance of the scene's backdrop, or of the table's far edge. None where some ray never gets there, or
    leaves under it: then no backdrop covers.
    """
    backdrop, table = view.scene.set.backdrop, view.scene.set.table
    distance = backdrop.distance if backdrop is not None else table.depth
    across, down = (side.ravel() for side in np.meshgrid(np.linspace(0, 1, 65), np.linspace(0, 1, 37)))
    width = height = 0.0
    for frame in frames:
        origin, rays = view.rays(frame, across, down)
        beyond = ~_on_table(view, origin, rays)
        if not beyond.any():
            continue
        x, z = _at_backdrop(origin, rays[beyond], distance)
        if np.isnan(x).any() or z.min() < 0 or np.abs(x).max() > 100 or z.max() > 100:
            return None
        width = max(width, 2 * float(np.abs(x - table.width / 2).max()))
        height = max(height, float(z.max()))
    return width, height


def _cover(
    view: ShotView, frames: list[int], solids: tuple[Box, ...], needed: tuple[float, float] | None
) -> tuple[str, list[Change]]:
    backdrop, table = view.scene.set.backdrop, view.scene.set.table
    if needed is not None:
        wide, high = (math.ceil(side * 1000 + 1) for side in needed)
        if backdrop is None:
            sheet = {"distance": f"{table.depth * 1000:g} mm", "width": f"{wide} mm", "height": f"{high} mm"}
            return (
                f"Hang a backdrop {wide} mm wide and {high} mm high at the far edge of the table.",
                [Change("set.backdrop", {**sheet, "colour": "#9aa4ad"})],
            )
        wide = max(wide, math.ceil((backdrop.width or table.width) * 1000))
        high = max(high, math.ceil(backdrop.height * 1000))
        return (
            f"Make the backdrop {wide} mm wide and {high} mm high, or frame tighter.",
            [Change("set.backdrop.width", f"{wide} mm"), Change("set.backdrop.height", f"{high} mm")],
        )
    longest = float(view.camera.lens.longest)
    for step in range(1, 60):
        focal = view.shot.focal_length * 1.05**step
        if focal > longest:
            break
        tighter = view.shot.model_copy(update={"focal_length": focal})
        if all(off_set(view, frame, solids, tighter) == 0 for frame in frames):
            return f"Zoom in to {focal * 1000:.1f} mm.", [
                Change(f"shots[{view.index}].focal_length", f"{focal * 1000:.2f} mm")
            ]
    return "No backdrop covers it: it sees past the table's edge. Come nearer, aim more level, or zoom in.", []


# --- the join ---


def _join(view: ShotView, notes: Notes, frames: list[int], solids: tuple[Box, ...]) -> None:
    backdrop, table = view.scene.set.backdrop, view.scene.set.table
    if backdrop is None:
        return
    half = min((backdrop.width or table.width), table.width) / 2
    line = np.linspace(table.width / 2 - half, table.width / 2 + half, 401)
    # A hair in front of the sheet, so that the backdrop does not hide its own foot.
    points = np.stack([line, np.full_like(line, backdrop.distance - 1e-4), np.full_like(line, 1e-4)], axis=1)
    places, depths = view.project(points)
    longest, blur = 0.0, math.nan
    for frame in frames:
        x, y = places[frame].T
        seen = (depths[frame] > 0) & (x >= 0) & (x <= view.size[0]) & (y >= 0) & (y <= view.size[1])
        if seen.any():
            origin = view.cameras[frame].position
            covering = (*solids, view.vehicle_box(float(view.distances[frame])))
            ways = points[seen] - origin
            seen[seen] = ~first_hits(np.broadcast_to(origin, ways.shape), ways, covering).any(axis=1)
        length = float(seen.sum()) * 2 * half / 401
        if length > longest:
            longest = length
            disc = optics.circle_of_confusion(
                view.shot.focal_length, view.shot.f_number, view.focus[frame], depths[frame][seen]
            )
            blur = float(np.min(disc)) / view.area[0]
    notes.figure("join_length", longest)
    if longest == 0:
        return
    notes.figure("join_blur", blur)
    coved = backdrop.join.cove > 0
    radius = max(10 * math.ceil(backdrop.distance * 10), 20)
    notes.finding(
        "framing.join",
        "join_blur",
        blur,
        JOIN_BLUR,
        Verdict.FINE if coved else below(blur, JOIN_BLUR),
        f"{longest * 1000:.0f} mm of the join between ground and backdrop is in view, "
        + ("bent into a cove." if coved else f"blurred over {blur:.2%} of the picture's width."),
        f"Bend the join into a cove of {radius} mm or so, dress something in front of it, or open the lens.",
        changes=[Change("set.backdrop.join", f"cove {radius} mm")],
    )


# --- the vehicle in the picture ---


def _vehicle(view: ShotView, notes: Notes) -> None:
    seen = view.vehicle_in_frame
    share = float(seen.mean())
    notes.figure("vehicle_frames", share)
    notes.figure("time_in_frame", share * view.count / float(view.shot.playback))
    notes.finding(
        "framing.vehicle",
        "vehicle_frames",
        share,
        0.0,
        Verdict.FINE if share > 0 else Verdict.STOP,
        f"The vehicle is in {share:.0%} of the frames.",
        "Aim at the vehicle, or start the shot when it passes.",
        changes=[Change(f"shots[{view.index}].aim", "vehicle")],
    )
    if not seen.any():
        return
    width, height = view.size
    left, top, right, bottom = view.vehicle_frame[seen].T
    middle = int(np.argmin(np.abs(np.flatnonzero(seen) - view.middle)))
    size = float((right - left)[middle]) / width
    notes.figure("vehicle_width", size)
    notes.figure("head_room", float(top[middle]) / height)
    _lead_room(view, notes, np.flatnonzero(seen)[middle])
    inset = [(1 - ACTION_SAFE) / 2 * width, (1 - ACTION_SAFE) / 2 * height]
    safe = (left >= inset[0]) & (right <= width - inset[0]) & (top >= inset[1]) & (bottom <= height - inset[1])
    notes.figure("action_safe", float(safe.mean()))
    longer = view.shot.focal_length * SMALLEST / max(size, 1e-6) * 1.05
    reach = longer <= view.camera.lens.longest
    notes.finding(
        "framing.small",
        "vehicle_width",
        size,
        SMALLEST,
        below(size, SMALLEST),
        f"Mid-shot the vehicle is {size:.1%} of the picture's width.",
        f"Zoom in to {longer * 1000:.0f} mm" + (", or come nearer." if reach else ", past this lens: come nearer."),
        changes=[Change(f"shots[{view.index}].focal_length", f"{longer * 1000:.2f} mm")] if reach else [],
    )


def _lead_room(view: ShotView, notes: Notes, frame: int) -> None:
    """Room in front of the vehicle over room behind it, in the direction it moves across the picture."""
    left, _, right, _ = view.vehicle_frame[frame]
    nose = view.path.at(view.distances[frame] + 0.01)
    ahead = view.project(np.array([[*nose, 0.0], [*view.path.at(view.distances[frame]), 0.0]]))[0][frame]
    rooms = max(left, 0.0), max(view.size[0] - right, 0.0)
    front, back = rooms[::-1] if ahead[0, 0] >= ahead[1, 0] else rooms
    notes.figure("lead_room", front / back if back > 0 else math.inf)


def _hidden(view: ShotView, notes: Notes, frames: list[int], solids: tuple[Box, ...]) -> None:
    """Share of the vehicle's box that pieces stand in front of, worst frame, and which piece does most of it."""
    seen = [
        n for n in np.unique(np.linspace(0, len(view.cameras) - 1, 24).round().astype(int)) if view.vehicle_in_frame[n]
    ]
    if not seen:
        return
    worst, culprit, when = 0.0, "", seen[0]
    for n in seen:
        points = _inside(view.vehicle_corners[n])
        origin = view.cameras[n].position
        ways = points - origin
        hits = first_hits(np.broadcast_to(origin, ways.shape), ways, solids)
        share = float(hits.any(axis=1).mean()) if solids else 0.0
        if share > worst:
            worst, when, culprit = share, n, solids[int(hits.sum(axis=0).argmax())].id
    notes.figure("hidden_share", worst)
    number = next((i for i, piece in enumerate(view.scene.dressing) if piece.id == culprit), None)
    notes.finding(
        "framing.hidden",
        "hidden_share",
        worst,
        HIDDEN,
        above(worst, HIDDEN),
        f"At worst {worst:.0%} of the vehicle is hidden" + (f", mostly by {culprit}." if culprit else "."),
        f"Move {culprit} behind the road, or the camera past it.",
        changes=[] if number is None else moved_behind(view.scene, view.path, number),
        frames=[int(view.numbers[when])],
    )


def _inside(corners: Array) -> Array:
    """Points (75, 3) spread through a box."""
    along, side, up = (np.linspace(0.1, 0.9, count) for count in (5, 3, 5))
    origin = corners[0]
    a, b, c = corners[1] - origin, corners[3] - origin, corners[4] - origin
    grid = np.stack(np.meshgrid(along, side, up), axis=-1).reshape(-1, 3)
    return np.asarray(origin + grid @ np.stack([a, b, c]))


# --- the camera on the set ---


def _body(view: ShotView, notes: Notes, solids: tuple[Box, ...]) -> None:
    """Room under the camera where it stands over the table: its body and lens must not sink into it."""
    camera, table = view.camera, view.scene.set.table
    if camera.body is None and camera.lens_size is None:
        return
    least, at = math.inf, 0
    for n in range(len(view.cameras)):
        points = _outside_of_camera(view, n)
        over = (points[:, 0] >= 0) & (points[:, 0] <= table.width) & (points[:, 1] >= 0) & (points[:, 1] <= table.depth)
        if over.any() and float(points[over, 2].min()) < least:
            least, at = float(points[over, 2].min()), n
    if not math.isfinite(least):
        return
    notes.figure("body_clearance", least)
    lift = max(-least, 0.0) + 0.001
    changes = []
    if isinstance(view.shot.at[0], int | float):
        x, y, z = view.shot.at
        place = [f"{x * 1000:g} mm", f"{y * 1000:g} mm", f"{(z + lift) * 1000:.2f} mm"]
        changes = [Change(f"shots[{view.index}].at", place)]
    notes.finding(
        "framing.body",
        "body_clearance",
        least,
        0.0,
        below(least, 0.0, 0.0),
        f"Between camera and table {least * 1000:.0f} mm are left.",
        f"Raise it by {lift * 1000:.0f} mm, stand it off the table's edge, or use a smaller body.",
        changes=changes,
        frames=[int(view.numbers[at])],
    )


def _outside_of_camera(view: ShotView, frame: int) -> Array:
    """Points on the hull of lens and body (m, 3); the entrance pupil is taken to lie in the middle of the lens. [m]"""
    camera, pose = view.camera, view.cameras[frame]
    diameter, length = camera.lens_size or (0.0, 0.0)
    hulls = [(diameter, diameter, -length / 2, length / 2)]
    if camera.body is not None:
        width, height, depth = camera.body
        hulls.append((width, height, length / 2, length / 2 + depth))
    parts = []
    for width, height, front, back in hulls:
        x, y, z = np.meshgrid(
            np.linspace(-width / 2, width / 2, 5), [-height / 2, height / 2], np.linspace(front, back, 9)
        )
        parts.append(np.stack([x.ravel(), y.ravel(), z.ravel()], axis=1))
    return np.asarray(pose.position + np.concatenate(parts) @ pose.world_from_camera.T)
