"""What is behind: pixels that see past the set, the backdrop that covers them, and its join with the ground.

The picture is covered by the table, the backdrop and the solids of the pieces, as far as they go; no mesh is built.
Banks of the ground and scattered things are not looked at.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    SEE_THROUGH,
    BackPlane,
    Solid,
    back_plane,
    backdrop_plane,
    faced_side,
    hits,
    solids_of,
    table_edge_plane,
)
from previz.physics import optics
from previz.predictions.checks.time import SCREEN_TIME, filmed_from, filmed_while
from previz.predictions.covering import table_and_backdrop
from previz.predictions.findings import Change, Notes, Verdict, Way, below
from previz.predictions.gaps import LINES, Faces, Gaps, Picture, faces_of, lines
from previz.predictions.reframing import aimed, nudged, reframed, zoomed
from previz.predictions.rounding import small_percent
from previz.predictions.sheets import covers
from previz.predictions.shot_view import ShotView
from previz.scene import Shot, listed
from previz.units import percent

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: What an edge of the table is called by who stands before it.
_EDGES = {"back": "far", "front": "front", "left": "left", "right": "right"}

#: Points along each stretch of a line that sees past the set, at which it is asked which side of the set it passes.
_ASKED = 16

# Limits. Common practice, no source.
JOIN_BLUR = 0.01  # of the picture's width, over which a join dissolves
SHEETS_SHOWN = 3  # kinds of sheet, those that take the fewest
FRAMES_USED = 12  # at most so many frames are cast
_ALONG_AN_EDGE = 400  # so many places of a picture's edge are looked at, for how much ground covers it
LEAST_TOLD = 0.001  # of a frame: less is told as a strip, by its height and width
_A_GAP = 1e-4  # between the table's edge and the backdrop, less is none [m]
_ASLANT = math.radians(20)  # off the nearer side by more than this, a camera looks at a corner of the table
_WIDEST = 2.0  # times the table's longer side: a wider backdrop is not stood up for one shot
_MOST_GROUND = 4.0  # more at one edge of a table is past any room [m]

#: Where no backdrop, zoom or other look that was tried keeps what is past the set out of the picture.
PAST_IT = "What it sees there needs a backdrop of its own, or has to stay out of the picture."

#: The same where all of it is below the picture's other edges: no backdrop hangs before a table.
BEFORE_IT = "That is what lies before the table: aim higher, stand nearer to its edge, or lay ground out to the lens."


def check_backdrop(view: ShotView) -> Notes:
    """Off-set pixels, the smallest backdrop that cures them and its sheets, the join."""
    notes = Notes(view.shot.id)
    solids = _solids(view)
    frames = _frames(view)
    _off_set(view, notes, frames, view.once("faces", lambda: faces_of(solids)))
    _join(view, notes, frames, solids)
    return notes


def _solids(view: ShotView) -> tuple[Solid, ...]:
    """The pieces that nothing is seen through."""
    return tuple(solid for solid in solids_of(view.scene) if solid.kind not in SEE_THROUGH)


def check_join(view: ShotView) -> Notes:
    """The join alone: all of this that the stop has a part in."""
    notes = Notes(view.shot.id)
    _join(view, notes, _frames(view), _solids(view))
    return notes


def _frames(view: ShotView) -> list[int]:
    """Which of the frames looked at are cast: one of a camera that stands still, else a dozen along its move."""
    count = 1 if view.stands_still else min(FRAMES_USED, len(view.cameras))
    return [int(n) for n in np.unique(np.linspace(0, len(view.cameras) - 1, count).round())]


# --- past the set ---


def off_set(view: ShotView, frame: int, standing: Faces, shot: Shot | None = None) -> float:
    """Share of a frame that sees neither table, backdrop, piece nor vehicle. [-]

    standing: of the pieces. shot: the same camera with another focal length.
    """
    return gaps_in(view, frame, standing, shot).share


def gaps_in(view: ShotView, frame: int, standing: Faces, shot: Shot | None = None) -> Gaps:
    """What of a frame sees neither table, backdrop, piece nor vehicle."""
    across = lines()
    eye, starts = _rays(view, frame, across, np.zeros_like(across), shot)
    _, (end,) = _rays(view, frame, across[:1], np.ones(1), shot)
    picture = Picture(eye, across, starts, end - starts[0], starts[0], starts[-1] - starts[0])
    return picture.gaps(table_and_backdrop(view.scene), standing + faces_of(view.vehicle_solids(frame)))


def past_which_side(view: ShotView, frame: int, gaps: Gaps) -> dict[str, float]:
    """How much of a frame with such gaps passes the set on which side of the picture: left, right, above, below. [-]

    What passes a corner counts for both of its sides, and only where nothing passes a side alone. What never comes to
    the backdrop or the table's level counts for the half of the picture that it is in.
    """
    parts = (np.arange(_ASKED) + 0.5) / _ASKED
    across = np.repeat(gaps.across, _ASKED)
    down = (gaps.begins[:, None] + (gaps.ends - gaps.begins)[:, None] * parts).ravel()
    weights = np.repeat(gaps.weights * (gaps.ends - gaps.begins), _ASKED) / _ASKED
    origin, rays = _rays(view, frame, across, down, None)
    plane = _hung(view)
    x, z = plane.met(origin, rays)
    # Under the plane's foot a ray has passed the table, where it came to its level.
    under = z < 0
    fall = np.where(under, -origin[2] / np.where(under, rays[:, 2], -1.0), 0.0)
    x = np.where(under, plane.across(origin + fall[:, None] * rays), x)
    half = np.where(under, plane.wide / 2, plane.half)
    left = np.where(np.isnan(x), across < 0.5, x < -half)
    right = np.where(np.isnan(x), across >= 0.5, x > half)
    above, below = z > plane.height, under & ~left & ~right
    alone = {"left": left & ~above, "right": right & ~above, "above": above & ~left & ~right, "below": below}
    if not any(each.any() for each in alone.values()):
        alone = {"left": left, "right": right, "above": above}
    return {side: float(weights[each].sum()) for side, each in alone.items() if each.any()}


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


def _on_table(view: ShotView, origin: Array, rays: Array) -> Flags:
    table = view.scene.set.table
    falling = rays[:, 2] < -1e-12
    reach = np.where(falling, -origin[2] / np.where(falling, rays[:, 2], -1.0), np.nan)
    x, y = origin[0] + reach * rays[:, 0], origin[1] + reach * rays[:, 1]
    return np.asarray((reach > 0) & (x >= 0) & (x <= table.width) & (y >= 0) & (y <= table.depth))


def _off_set(view: ShotView, notes: Notes, frames: list[int], standing: Faces) -> None:
    gaps = view.once("gaps", lambda: [gaps_in(view, frame, standing) for frame in frames])
    shares = np.array([each.share for each in gaps])
    seen = view.once("frames past the set", lambda: _seen_in(view, frames, shares, standing))
    pixels = float(shares.max()) * view.size[0] * view.size[1]
    plane = _hung(view)
    passed = view.once("sides past the set", lambda: _passed(view, frames, gaps))
    behind = view.once("gap at the edge", lambda: _gap_at_the_edge(view, frames, standing, passed))
    needed = view.once("backdrop needed", lambda: backdrop_needed(view, frames, plane))
    notes.figure("off_set_pixels", pixels)
    if needed is not None:
        notes.figure("backdrop_width_needed", needed[0])
        notes.figure("backdrop_height_needed", needed[1])
        for cover in covers(*needed, metric=view.scene.tape.metric)[:SHEETS_SHOWN] if needed[1] > 0 else ():
            notes.figure("sheets", cover.count, cover.laid)
    notes.finding(
        "backdrop.off_set",
        "off_set_share",
        float(shares.max()),
        0.0,
        Verdict.FINE if pixels == 0 else Verdict.STOP if view.scene.set.backdrop else Verdict.WATCH,
        f"Up to {_told(gaps[int(shares.argmax())])} past the set{_where(passed)}{_when(view, seen)}."
        + (f" It is the gap of {view.scene.tape(behind)} between the table's edge and the backdrop." if behind else "")
        + _sheet_that_covers(view, plane, needed)
        if pixels > 0
        else "No frame sees past the set.",
        ways=lambda: chain(
            [_at_the_edge(view)] if behind else [], _cover(view, frames, standing, plane, needed, passed, seen)
        ),
        otherwise=_past(view, frames, gaps, passed, plane, needed is not None) if pixels > 0 else "",
        frames=view.numbers[list(seen)] if seen else None,
    )


def _told(gaps: Gaps) -> str:
    """How much of a frame that sees nothing of the set; of a thin strip how high and wide it is, in per cent of the
    picture's height and width, so that what is judged by nothing at all is never told as nothing.

    >>> _told(Gaps(np.linspace(0, 1, 121), np.zeros(121), np.full(121, 0.02)))
    '1.0 % of a frame sees'
    >>> _told(Gaps(np.linspace(0, 1, 25), np.zeros(25), np.full(25, 0.004)))
    "0.4 % of the picture's height, over 10 % of its width, sees"
    """
    if gaps.share >= LEAST_TOLD:
        return f"{percent(gaps.share, 1)} of a frame sees"
    lines_seen, which = np.unique(gaps.across, return_inverse=True)
    high = float(np.bincount(which, gaps.ends - gaps.begins).max())
    wide = max(len(lines_seen) / LINES, 0.01)
    return f"{small_percent(high)} of the picture's height, over {percent(wide)} of its width, sees"


def _gap_at_the_edge(view: ShotView, frames: list[int], standing: Faces, passed: dict[str, float]) -> float:
    """How far behind the table's edge the backdrop hangs, where it is that gap that is seen below; else 0. [m]"""
    backdrop, plane = view.scene.set.backdrop, backdrop_plane(view.scene)
    if backdrop is None or plane is None or "below" not in passed or plane.distance - plane.long < _A_GAP:
        return 0.0
    nearer = backdrop.model_copy(update={"distance": plane.long})
    stage = view.scene.set.model_copy(update={"backdrop": nearer})
    closed = replace(view, scene=view.scene.model_copy(update={"set": stage}))
    after = _passed(closed, frames, [gaps_in(closed, frame, standing) for frame in frames])
    return plane.distance - plane.long if "below" not in after else 0.0


def _at_the_edge(view: ShotView) -> Way:
    plane = back_plane(view.scene)
    words = f"Hang the backdrop at the table's {_EDGES[plane.side]} edge (distance: {view.scene.tape(plane.long)})."
    return Way(words, (Change("set.backdrop.distance", view.scene.tape.written(plane.long)),))


def _seen_in(view: ShotView, frames: list[int], shares: Array, standing: Faces) -> tuple[int, int] | None:
    """The first and the last of the frames looked at that see past the set; None where all of those cast do."""
    bad = np.flatnonzero(shares > 0)
    if len(bad) in (0, len(frames)):
        return None

    def edge(number: int, step: int) -> int:
        """Between a frame cast that sees past the set and the one beside it that does not, the last that does."""
        sees = frames[number]
        if not 0 <= number + step < len(frames):
            return sees
        not_any_more = frames[number + step]
        while abs(not_any_more - sees) > 1:
            middle = (sees + not_any_more) // 2
            if off_set(view, middle, standing) > 0:
                sees = middle
            else:
                not_any_more = middle
        return sees

    return edge(int(bad[0]), -1), edge(int(bad[-1]), 1)


def _sheet_that_covers(view: ShotView, plane: BackPlane, needed: tuple[float, float] | None) -> str:
    """Of a scene that no file stands behind, in which no remedy is tried: the backdrop that covers it, if one does."""
    if view.scene.written is not None or needed is None:
        return ""
    wide, high = (_sheet(side) / 1000 for side in needed)
    sides = [f"{view.scene.tape(high)} high"] if high > plane.height or wide <= plane.width else []
    sides += [f"{view.scene.tape(wide)} wide"] if wide > plane.width else []
    return f" A backdrop {listed(sides, 'and')} covers it."


def _past(
    view: ShotView, frames: list[int], gaps: list[Gaps], passed: dict[str, float], plane: BackPlane, covered: bool
) -> str:
    """What else there is to do about what is past the set. covered: a backdrop in that plane would cover it."""
    if covered:
        return PAST_IT if view.scene.written is not None else ""
    if [*passed] == ["below"] and all(
        _before_table(view, frame) for frame, each in zip(frames, gaps, strict=True) if each.share > 0
    ):
        return BEFORE_IT
    more = _with_ground(view, frames, plane)
    if more:
        return f"No backdrop alone covers it. {more} Else it has to stay out of the picture."
    return f"No backdrop at the {plane.side} of the set covers it. {PAST_IT}"


def past_the_set(view: ShotView) -> float:
    """Share of a picture that sees past the set, in the worst of the frames that are cast. [-]"""
    standing = faces_of(_solids(view))
    return max(off_set(view, frame, standing) for frame in _frames(view))


def what_covers(view: ShotView) -> str:
    """In a sentence, how much ground beside the table, and which backdrop, cover what is past the set; "" where none
    does."""
    return _with_ground(view, _frames(view), _hung(view))


def _with_ground(view: ShotView, frames: list[int], plane: BackPlane) -> str:
    """In words, how much ground beside the table, and which backdrop, cover what is past the set; "" where none does.

    Ground is laid out where rays come to the table's level before they come to the backdrop.
    """
    table = view.scene.set.table
    size = np.array([table.width, table.depth])
    low, high, ends, height = np.zeros(2), size.copy(), np.zeros(0), 0.0
    across, down = _all_over()
    for frame in frames:
        origin, rays = view.rays(frame, across, down)
        rays = rays[~_on_table(view, origin, rays)]
        reach = plane.reach(origin, rays)
        falls = (rays[:, 2] < -1e-12) & (origin[2] > 0)
        level = np.where(falls, -origin[2] / np.where(falls, rays[:, 2], -1.0), np.inf)
        on_ground = ~(level >= reach)
        if not np.isfinite(level[on_ground]).all():
            return ""  # it never comes down, nor to the backdrop
        landed = origin[:2] + level[on_ground, None] * rays[on_ground, :2]
        low, high = np.minimum(low, landed.min(axis=0, initial=0.0)), np.maximum(high, landed.max(axis=0, initial=0.0))
        met = origin + reach[~on_ground, None] * rays[~on_ground]
        ends = np.concatenate([ends, met[:, 1 - plane.axis]])
        height = max(height, float(met[:, 2].max(initial=0.0)))
    more = dict(zip(("left", "front", "right", "back"), (*-low, *(high - size)), strict=True))
    sides = {side: _whole(by) for side, by in more.items() if by > 1e-6}
    if not sides or max(sides.values()) > _MOST_GROUND:
        return ""
    laid = listed((f"{view.scene.tape(by)} at its {_EDGES[side]} edge" for side, by in sides.items()), "and")
    # Its middle is then that of the longer table.
    axis = 1 - plane.axis
    begins, ends_at = -sides.get(("left", "front")[axis], 0.0), size[axis] + sides.get(("right", "back")[axis], 0.0)
    wide = 2 * float(np.abs(ends - (begins + ends_at) / 2).max(initial=0.0))
    wide, high_ = (_whole(max(pair)) for pair in ((wide, plane.width), (height, plane.height)))
    sheet = f"{view.scene.tape(wide)} wide and {view.scene.tape(high_)} high"
    return f"It takes more ground, laid out level with the table: {laid}; and a backdrop {sheet} behind all of it."


def _all_over() -> tuple[Array, Array]:
    """Places all over a picture, and many along its edges: there is what lies furthest out. In shares of its sides."""
    across, down = (side.ravel() for side in np.meshgrid(np.linspace(0, 1, 65), np.linspace(0, 1, 37)))
    along = np.linspace(0, 1, _ALONG_AN_EDGE)
    none, all_ = np.zeros_like(along), np.ones_like(along)
    return np.concatenate([across, along, along, none, all_]), np.concatenate([down, none, all_, along, along])


def _whole(length: float) -> float:
    """In whole centimetres, no less. [m]"""
    return math.ceil(length * 100 + 0.1) / 100


def _before_table(view: ShotView, frame: int) -> bool:
    """Whether the lens stands off the table, and its picture begins before the table does."""
    table = view.scene.set.table
    origin, rays = view.rays(frame, np.array([0.5]), np.array([1.0]))
    over = 0 <= origin[0] <= table.width and 0 <= origin[1] <= table.depth
    return not over and not _on_table(view, origin, rays).any()


def _passed(view: ShotView, frames: list[int], gaps: list[Gaps]) -> dict[str, float]:
    """How much is seen past each side of the picture, of the sides past which anything is."""
    passed: dict[str, float] = {}
    for frame, each in zip(frames, gaps, strict=True):
        for side, passes in past_which_side(view, frame, each).items() if each.share > 0 else ():
            passed[side] = passed.get(side, 0.0) + passes
    return passed


def _where(passed: dict[str, float]) -> str:
    """On which sides of the picture, those where most is seen first."""
    return f": {listed(sorted(passed, key=lambda side: -passed[side]), 'and')}"


def _when(view: ShotView, seen: tuple[int, int] | None) -> str:
    """In which frames, and when that is on set."""
    if seen is None:
        return ", throughout the shot"
    (first, last), (begins, ends) = view.numbers[list(seen)], view.times[list(seen)]
    if first == last:
        return f", in frame {first} (at {begins:.2f} s on set)"
    return f", in frames {first} to {last} ({begins:.2f} to {ends:.2f} s on set)"


def backdrop_needed(view: ShotView, frames: list[int], plane: BackPlane) -> tuple[float, float] | None:
    """Width (about its middle) and height of the smallest backdrop in that plane that covers what is not table. [m]

    None where some ray never gets there, or leaves under it: then no backdrop covers.
    """
    across, down = (side.ravel() for side in np.meshgrid(np.linspace(0, 1, 65), np.linspace(0, 1, 37)))
    width = height = 0.0
    for frame in frames:
        origin, rays = view.rays(frame, across, down)
        beyond = ~_on_table(view, origin, rays)
        if not beyond.any():
            continue
        x, z = plane.met(origin, rays[beyond])
        if np.isnan(x).any() or z.min() < 0 or np.abs(x).max() > 100 or z.max() > 100:
            return None
        width = max(width, 2 * float(np.abs(x).max()))
        height = max(height, float(z.max()))
    return width, height


def _hung(view: ShotView) -> BackPlane:
    """Where the backdrop stands; where there is none, the edge of the table that the camera looks at, mid-shot."""
    return back_plane(view.scene, _looking(view))


def _looking(view: ShotView) -> Array:
    """The direction (3,) of the camera mid-shot."""
    return np.asarray(-view.cameras[view.middle].world_from_camera[:, 2])


def _cover(
    view: ShotView,
    frames: list[int],
    standing: Faces,
    plane: BackPlane,
    needed: tuple[float, float] | None,
    sides: Iterable[str],
    seen: tuple[int, int] | None,
) -> Iterator[Way]:
    """A backdrop large enough, a little another aim or place, the part of the shot without it, a backdrop turned to
    where the camera looks, a tighter frame, else another way to look: what changes least comes first."""
    if needed is not None:
        yield _larger_backdrop(view, plane, *needed)
    yield from aimed(view, frames, sides)
    yield from nudged(view, frames)
    yield from _without(view, seen)
    if view.scene.set.backdrop is not None:
        for side in _faced(view):
            if side != plane.side:
                yield from _turned(view, frames, table_edge_plane(view.scene.set.table, side))
    longest = float(view.camera.lens.longest)
    for step in range(1, 60):
        focal = view.shot.focal_length * 1.05**step
        if focal > longest:
            break
        tighter = view.shot.model_copy(update={"focal_length": focal})
        if all(off_set(view, frame, standing, tighter) == 0 for frame in frames):
            words, changes = zoomed(view, focal)
            yield Way(f"{words}.", tuple(changes))
            break
    yield from reframed(view)


def _without(view: ShotView, seen: tuple[int, int] | None) -> Iterator[Way]:
    """The longer part of the shot, before or after the frames that see past the set, if it lasts as long as a shot
    needs that is to read."""
    if seen is None:
        return
    begun, ended = view.numbers[: seen[0]], view.numbers[seen[1] + 1 :]
    part = max((begun, ended), key=len)
    if not len(part):  # at both of its ends
        return
    rate, count = float(view.shot.capture.rate), int(part[-1] - part[0]) + 1
    if count / float(view.shot.playback) >= SCREEN_TIME:
        starts = float(view.shot.start) + int(part[0]) / rate
        yield filmed_while(view, "it sees none of that", *filmed_from(starts, count / rate))


def _faced(view: ShotView) -> list[str]:
    """The side of the table that the camera looks at, mid-shot; of one that looks at a corner both."""
    x, y, _ = _looking(view).tolist()
    found = [faced_side((x, y, 0.0))]
    if min(abs(x), abs(y)) > math.tan(_ASLANT) * max(abs(x), abs(y)):
        found.append(faced_side((x, 0.0, 0.0) if abs(x) < abs(y) else (0.0, y, 0.0)))
    return found


def _turned(view: ShotView, frames: list[int], edge: BackPlane) -> Iterator[Way]:
    """The backdrop at the side of the table that the camera looks at, as large as it is or has to be."""
    needed, now = backdrop_needed(view, frames, edge), back_plane(view.scene)
    if needed is None:
        return
    wide, high = (_sheet(max(pair)) for pair in zip((now.width, now.height), needed, strict=True))
    if wide / 1000 > _WIDEST * max(view.scene.set.table.width, view.scene.set.table.depth):
        return
    yield Way(
        f"Stand the backdrop along the {edge.side} side of the table, {view.scene.tape(edge.distance)} from its "
        f"{edge.opposite} edge, {view.scene.tape(wide / 1000)} wide and {view.scene.tape(high / 1000)} high.",
        (
            Change("set.backdrop.side", edge.side),
            Change("set.backdrop.distance", view.scene.tape.written(edge.distance)),
            Change("set.backdrop.width", _written(view, wide / 1000)),
            Change("set.backdrop.height", _written(view, high / 1000)),
        ),
    )


def _larger_backdrop(view: ShotView, plane: BackPlane, width: float, height: float) -> Way:
    wide, high = _sheet(width), _sheet(height)
    if view.scene.set.backdrop is None:
        cove = min(usual_cove(plane.long), math.floor(high / 20) / 100)  # a bend as high as half the sheet at most
        sheet = {"side": plane.side} if plane.side != "back" else {}
        sheet |= {"distance": f"{plane.long * 1000:g} mm"}  # where the table ends, which is not measured
        sheet |= {"width": _written(view, wide / 1000), "height": _written(view, high / 1000)}
        sheet["join"] = f"cove {_written(view, cove)}"
        return Way(
            f"Hang a backdrop {_in_words(view, wide, high)} at the table's {_EDGES[plane.side]} edge, its foot bent "
            f"into a cove of {view.scene.tape(cove)}.",
            (Change("set.backdrop", {**sheet, "colour": "#9aa4ad"}),),
        )
    wide = max(wide, math.ceil(plane.width * 1000))
    high = max(high, math.ceil(plane.height * 1000))
    return Way(
        f"Make the backdrop {_in_words(view, wide, high)}.",
        (
            Change("set.backdrop.width", _written(view, wide / 1000)),
            Change("set.backdrop.height", _written(view, high / 1000)),
        ),
    )


def _sheet(needed: float) -> int:
    """A side of a backdrop that covers so much [m], in whole millimetres and one to spare. [mm]"""
    return math.ceil(needed * 1000 + 1)


def _written(view: ShotView, length: float) -> str:
    """A length of the sheet [m] as a remedy writes it."""
    return view.scene.tape.written(length, 0)


def _in_words(view: ShotView, wide: int, high: int) -> str:
    """A backdrop's size [mm], and what to buy for it."""
    width, height = wide / 1000, high / 1000
    best, second = covers(width, height, metric=view.scene.tape.metric)[:2]
    return f"{view.scene.tape(width)} wide and {view.scene.tape(height)} high ({best}; or {second})"


# --- the join ---


def _join(view: ShotView, notes: Notes, frames: list[int], solids: tuple[Solid, ...]) -> None:
    backdrop, plane = view.scene.set.backdrop, backdrop_plane(view.scene)
    if backdrop is None or plane is None:
        return
    longest, frame, depths = view.once("join", lambda: _join_in_view(view, plane, frames, solids))
    notes.figure("join_length", longest)
    if longest == 0:
        return
    disc = optics.circle_of_confusion(view.shot.focal_length, view.shot.f_number, view.focus[frame], depths)
    blur = float(np.min(disc)) / view.area[0]
    notes.figure("join_blur", blur)
    coved = backdrop.join.cove > 0
    radius = usual_cove(backdrop.distance)
    notes.finding(
        "backdrop.join",
        "join_blur",
        blur,
        JOIN_BLUR,
        Verdict.FINE if coved else below(blur, JOIN_BLUR),
        f"{view.scene.tape(longest)} of the join between ground and backdrop is in view, "
        + ("bent into a cove." if coved else f"blurred over {percent(blur, 2)} of the picture's width."),
        f"Bend the join into a cove of {view.scene.tape(radius)} or so.",
        changes=[Change("set.backdrop.join", f"cove {_written(view, radius)}")],
        otherwise="Dress something in front of it, or open the lens.",
    )


def _join_in_view(
    view: ShotView, plane: BackPlane, frames: list[int], solids: tuple[Solid, ...]
) -> tuple[float, int, Array]:
    """How much of the join is in view where most is, in which frame, and the depths (k,) of what is seen of it. [m]"""
    half = min(plane.width, plane.wide) / 2
    # A hair in front of the sheet, so that the backdrop does not hide its own foot.
    points = plane.placed(np.linspace(-half, half, 401), plane.distance - 1e-4, 1e-4)
    places, depths = view.project(points)
    found = 0.0, 0, np.zeros(0)
    for frame in frames:
        x, y = places[frame].T
        seen = (depths[frame] > 0) & (x >= 0) & (x <= view.size[0]) & (y >= 0) & (y <= view.size[1])
        if seen.any():
            origin = view.cameras[frame].position
            covering = (*solids, *view.vehicle_solids(frame))
            ways = points[seen] - origin
            seen[seen] = ~hits(np.broadcast_to(origin, ways.shape), ways, covering).any(axis=1)
        length = float(seen.sum()) * 2 * half / 401
        if length > found[0]:
            found = length, frame, depths[frame][seen]
    return found


def usual_cove(distance: float) -> float:
    """A radius that looks right for a backdrop that far off: a tenth, in whole centimetres. Common practice. [m]"""
    return max(math.ceil(distance * 10) / 100, 0.02)
