"""`previz compare` and `previz page`."""

import json
import math
import re
import shlex
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from contextlib import ExitStack, nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

import previz
from previz.cli.drawing import going_on, part_of, reel_of
from previz.cli.places import at_its_line, folder_of, tried
from previz.cli.program import app, examples
from previz.cli.saying import print_json, print_out, say, say_folded
from previz.errors import PrevizError
from previz.options import (
    AsJson,
    At,
    ByFraming,
    ByStop,
    Cameras,
    Draft,
    For,
    FrameRange,
    Framing,
    Fresh,
    HowFine,
    OneShot,
    Out,
    OutsideFiles,
    PageSize,
    Purpose,
    SceneFile,
    Seed,
    Size,
    Stop,
    Vary,
    Views,
)
from previz.takes import (
    Quality,
    Take,
    bytes_of,
    kept_frame,
    take_of,
)
from previz.telling import (
    building,
    progress,
)
from previz.units import wrapped

if TYPE_CHECKING:
    from previz.delivery import Comparison, Panel, Reel, TooLarge
    from previz.frames import Frame
    from previz.stage import Stage


@app.command(
    short_help="Put cameras, or one thing varied, side by side.",
    epilog=examples(
        "previz compare my_shot.yaml --cameras pocket,phone --draft",
        "previz compare my_shot.yaml --vary f_number=2.8,5.6,11 --draft",
    ),
)
def compare(
    scene_file: SceneFile,
    shot: OneShot = None,
    cameras: Cameras = None,
    vary: Vary = None,
    framing: ByFraming = Framing.PLACE,
    stop: ByStop = Stop.SAME,
    at: At = None,
    out: Out = None,
    draft: Draft = False,
    level: HowFine = None,
    size: Size = None,
    views: Views = None,
    frames: FrameRange = None,
    seed: Seed = 0,
    purpose: For = None,
    page_size: PageSize = "25 MB",
    fresh: Fresh = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Put cameras, or one thing varied, side by side: a clip, a still sheet, the numbers, and a page to send.

    The light is baked once. Each camera comes as near to the shot as it can, and its panel says where that differs.
    One that can do nothing near is left out, and you are told what would make it possible. Of several shots it is the
    first; --shot names another, and the folder goes by its name.
    """
    limit = bytes_of(page_size, "--page-size")
    with at_its_line(scene_file):
        comparison = previz.compared(
            scene_file, shot, cameras=[name.strip() for name in cameras.split(",")] if cameras else None,
            vary=vary or (), framing=framing.value, stop=stop.value, outside_files=outside_files,
        )  # fmt: skip
    left_out = comparison.others if shot is None else ()
    if left_out:
        say_folded(
            f"{scene_file.name} has {1 + len(left_out)} shots: this compares {comparison.shot.id}, the first; "
            f"name another with --shot: {', '.join(left_out)}"
        )
    folder = folder_of(scene_file, out, _named_for(comparison, framing, stop))
    quality = Quality(draft, size, views, seed, level and level.value)
    written, page = side_by_side(
        scene_file, comparison, folder, quality, frames, at,
        purpose=(purpose or Purpose.POST).value, limit=limit, fresh=fresh,
    )  # fmt: skip
    tell_comparison(comparison, written, page, as_json, purpose, left_out)


def _named_for(comparison: "Comparison", framing: Framing, stop: Stop) -> str:
    """The folder's name: one for each shot of several, thing varied and rule, so that none writes over another.

    Of one shot's cameras by the usual rules it is `side_by_side`.
    """
    said = [comparison.shot.id] if comparison.others else []
    said += [each.words for each in comparison.varied]
    said += [rule.value for rule, usual in ((framing, Framing.PLACE), (stop, Stop.SAME)) if rule is not usual]
    return "_".join(["side_by_side", *(re.sub(r"[^\w-]+", "_", each) for each in said)])


def side_by_side(
    scene_file: Path,
    comparison: "Comparison",
    folder: Path,
    quality: Quality,
    frames: str | None = None,
    at: str | None = None,
    *,
    purpose: str,
    limit: int,
    fresh: bool = False,
) -> "tuple[dict[str, Path], Path | TooLarge]":
    """Draw a comparison's panels and write all there is of it into a folder."""
    takes = [
        take_of(panel.scene, panel.shot, quality, frames, counted_at=comparison.shot.capture.rate)
        for panel in comparison.panels
    ]
    moment = kept_frame(takes[0].scene, takes[0], at)
    from previz.delivery import CLIP_NAME, claimed_file
    from previz.frames import gl_description

    with claimed_file(tried(folder) / CLIP_NAME) as home:
        drawn_by, panels = gl_description(), comparison.panels
        reels = [reel_of(home, take, None, drawn_by, fresh, len(takes)) for take in takes]
        with going_on([panel.name for panel in panels], takes, reels):
            _warn_before_comparing(comparison)
            stages: list[Stage] = []
            if any(reel.missing for reel in reels):
                with building(say) as tell:
                    for panel in comparison.staged:
                        with at_its_line(scene_file, panel.scene):
                            stages.append(previz.build_stage(panel.scene, quality.effort, progress=tell))
            with progress("side by side", max(len(take.numbers) for take in takes), say) as advance:
                films = _films(comparison, stages, takes, reels, advance)
                above = _from_above(comparison)
                counts = [len(take.numbers) for take in takes]
                written = previz.deliver_comparison(folder, comparison, films, moment, purpose, above, counts)
            for reel in reels:
                reel.finish()
        return written, previz.deliver_page(folder, limit=limit)


def _from_above(comparison: "Comparison") -> bytes | None:
    """The set with every panel's camera, as a PNG for the page."""
    from previz.paper import figure_of, png_of

    drawing = figure_of([(each.name, each.scene, each.shot, each.predictions) for each in comparison.panels])
    return png_of(drawing) if drawing is not None else None


@app.command(
    short_help="Write a comparison's page once more, smaller or larger.",
    epilog=examples(
        "previz page outputs/my_shot/side_by_side --for message",
        "previz page outputs/my_shot/side_by_side --page-size 40MB",
    ),
)
def page(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where `previz compare` wrote.")],
    purpose: Annotated[
        Purpose | None, typer.Option("--for", help="Encode the page's clip for this; as it is unless given.")
    ] = None,
    page_size: PageSize = "25 MB",
    as_json: AsJson = False,
) -> None:
    """Write a comparison's page once more from what lies in its folder. Nothing is rendered."""
    from previz.delivery import CLIP_NAME, claimed_file

    if folder.suffix in (".yaml", ".yml"):
        wrote = folder_of(folder, None, "side_by_side")
        raise PrevizError(
            f"{folder} is a scene; name the folder of its comparison, {wrote} unless --out named another. "
            f"previz compare {shlex.quote(str(folder))} makes it"
        )
    limit = bytes_of(page_size, "--page-size")
    with claimed_file(folder / CLIP_NAME) if folder.is_dir() else nullcontext():
        found = previz.deliver_page(folder, limit=limit, purpose=purpose.value if purpose else None)
    if as_json:
        print_json({"page": page_data(found)})
    _tell_page(folder, found, as_json, purpose)


def _films(
    comparison: "Comparison",
    stages: "list[Stage]",
    takes: list[Take],
    reels: "list[Reel]",
    advance: Callable[[int], None],
) -> "list[Iterator[Frame]]":
    """Each panel's frames, drawn when asked for unless they are there; the one with most of them counts.

    Without stages where all are there.
    """

    def drawn(panel: "Panel", at: int, take: Take, numbers: range) -> "Iterator[Frame]":
        return previz.render_frames(panel.scene, stages[at], panel.shot, part_of(take, numbers).look)

    by_panel = zip(comparison.panels, comparison.stage_numbers, takes, reels, strict=True)
    films = [reel.film(partial(drawn, panel, at, take)) for panel, at, take, reel in by_panel]
    longest = max(range(len(takes)), key=lambda number: len(takes[number].numbers))
    films[longest] = _counted(films[longest], advance)
    return films


def _counted(frames: "Iterator[Frame]", advance: Callable[[int], None]) -> "Iterator[Frame]":
    with ExitStack() as until_done:
        if isinstance(frames, Generator):
            until_done.callback(frames.close)
        for count, frame in enumerate(frames, start=1):
            yield frame
            advance(count)


def _warn_before_comparing(comparison: "Comparison") -> None:
    """Before any waiting: what will not be shown, what is not quite as asked, and what of it will not work."""
    for each in comparison.left_out:
        say_folded(f"left out: {each.sentence}")
    for panel in comparison.panels:
        for difference in panel.differences:
            say_folded(f"{panel.name}: {difference.words}")
    stopped = [(each, finding) for each in comparison.panels for finding in each.predictions.told]
    stopped = [(each, finding) for each, finding in stopped if finding.verdict == "stop"]
    for panel, finding in stopped:
        say_folded(f"stop: {panel.name}: {finding.message}")
    for name in dict.fromkeys(panel.name for panel, _ in stopped):
        say_folded(
            f"(what mends {name} is its own, and was not tried here. {_how_to_try(comparison, name)}, and previz check "
            "tries what mends it)"
        )


def _how_to_try(comparison: "Comparison", name: str) -> str:
    """What to write into the shot so that it is that of a panel."""
    from previz.scene import listed

    panel = next(each for each in comparison.panels if each.name == name)
    told = panel.as_a_shot
    further = [each.key for each in comparison.varied if f"{each.key.removeprefix('capture.')}: " not in told]
    varied = f" and {listed(further, 'and')} as in {name}" if further else ""
    return f"Write {told}{varied} into shot {comparison.shot.id}"


def tell_comparison(
    comparison: "Comparison",
    written: dict[str, Path],
    page: "Path | TooLarge",
    as_json: bool,
    purpose: Purpose | None,
    left_out: Sequence[str] = (),
) -> None:
    """Name what was written, and the scene's shots that were left out unasked; a page that was not is told last."""
    from previz.delivery import width_note
    from previz.doctor import size_text
    from previz.scene import listed

    if as_json:
        numbers = json.loads(written["numbers"].read_text(encoding="utf-8"))
        print_json({**comparison_data(written, page), "left_out": [*left_out], **numbers})
    else:
        width = max(len(panel.name) for panel in comparison.panels)
        for panel in comparison.panels:
            for name, text in ((panel.name, panel.summary), ("", panel.stands)):
                first, further = f"{name:{width}}  ", " " * (width + 2)
                print_out("\n".join(wrapped(text, 80, initial_indent=first, subsequent_indent=further)))
        if left_out:
            said = f"only {comparison.shot.id} is compared, not {listed(left_out)}: --shot names another"
            print_out("\n".join(wrapped(said, 80)))
        for path in written.values():
            print_out(f"{path}: {size_text(path.stat().st_size)}")
        if note := width_note(written["clip"].parent):
            say(note)
    _tell_page(written["clip"].parent, page, as_json, purpose)


def comparison_data(written: Mapping[str, Path], page: "Path | TooLarge") -> dict[str, Any]:
    """What was written of a comparison, for other programs."""
    files = {kind: {"file": str(path), "bytes": path.stat().st_size} for kind, path in written.items()}
    return {"files": files, "page": page_data(page)}


def page_data(found: "Path | TooLarge") -> dict[str, Any]:
    """A page for other programs: where it is, or how much too large it would be [bytes]."""
    if isinstance(found, Path):
        return {"file": str(found), "bytes": found.stat().st_size}
    return {"file": None, "bytes": found.size, "limit": found.limit}


def _tell_page(folder: Path, found: "Path | TooLarge", as_json: bool, purpose: Purpose | None) -> None:
    """Name the page, or say what can be done; ends with 1 where it was not written."""
    from previz.doctor import size_text

    if isinstance(found, Path):
        if not as_json:
            print_out(f"{found}: {size_text(found.stat().st_size)}, opens in any browser")
        return
    name = shlex.quote(str(folder))
    kept = f" --for {purpose.value}" if purpose is not None else ""
    smaller = f"\n  previz page {name} --for message   (a smaller clip)" if purpose is not Purpose.MESSAGE else ""
    say(
        f"no page: it would be {size_text(found.size)}, more than {size_text(found.limit)}. Without rendering again:"
        f"{smaller}\n  previz page {name}{kept} --page-size {math.ceil(found.size / 1e6)}MB   (a larger page)"
    )
    raise typer.Exit(1)
