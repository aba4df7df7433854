"""`previz advise`."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

import previz
from previz.cli.comparing import comparison_data, side_by_side, tell_comparison
from previz.cli.places import PAGE_SIZE, at_its_line, folder_of, tried
from previz.cli.program import app, examples
from previz.cli.saying import print_json, print_out, say, say_all
from previz.errors import PrevizError
from previz.options import (
    Apply,
    AsJson,
    ComparePlans,
    Draft,
    NewFile,
    OutsideFiles,
    Overwrite,
    Plans,
    Purpose,
    SceneFile,
    ShotId,
)
from previz.takes import (
    Quality,
    bytes_of,
    chosen,
)
from previz.telling import (
    advice_lines,
    at_work,
    plain,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from previz.advice import Advice, Plan
    from previz.delivery import Comparison


@app.command(
    short_help="Say what the best shots are that your kit can make.",
    epilog=examples(
        "previz advise my_shot.yaml",
        "previz advise my_shot.yaml --apply 2 --out better.yaml",
        "previz advise my_shot.yaml --compare --draft",
    ),
)
def advise(
    scene_file: SceneFile,
    shot: ShotId = None,
    plans: Plans = 3,
    apply: Apply = None,
    out: NewFile = None,
    compare_plans: ComparePlans = False,
    draft: Draft = False,
    force: Overwrite = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Say what the best shots are that your kit can make, by what the scene wants and what it says may change.

    Every plan was tried and checked: what to set, what to measure, what comes of it, and what holds it back. Nothing
    is changed unless you ask for a plan with --apply.
    """
    from previz.predictions import require_files

    scene = previz.read_scene(scene_file, outside_files=outside_files)
    shots = chosen(scene, shot)
    if out is not None and apply is None:
        raise PrevizError("--out names the file that --apply writes; say which plan, like --apply 1")
    if (apply or compare_plans) and len(shots) > 1:
        names = ", ".join(each.id for each in shots)
        raise PrevizError(f"plans are for one shot; name it with --shot: the scene has {names}")
    target = _applied_file(scene, scene_file, shot, apply, out, force=force) if apply else None
    if compare_plans:
        tried(_plans_folder(scene_file, scene, shots[0].id), "run it in a folder that you may write to")
    with at_its_line(scene_file):
        require_files(scene)
        found, refused = _advised(scene, shots, plans)
    first_id, first = next(iter(found.items()))
    taken = _plan_of(first, apply) if apply else None
    answer: dict[str, Any] = {"shots": {name: _advice_data(each) for name, each in found.items()}}
    if not as_json:
        lines = [advice_lines(name, each, whole=plans == 1) for name, each in found.items()]
        print_out("\n\n".join(map("\n".join, lines)))
    if target is not None and taken is not None:
        _apply(scene_file, taken, target)
        answer["written"] = str(target)
        if not as_json:
            print_out(f"\n{target}: the scene with plan {apply}")
    if compare_plans:
        if not as_json:
            print_out("")
        answer |= _draw_plans(scene_file, scene, shots[0], first, Quality(draft), as_json)
    if as_json:
        print_json(answer)
    elif target is None and not compare_plans and first.plans:
        name = shlex.quote(str(scene_file)) + (f" --shot {shlex.quote(first_id)}" if shot or len(shots) > 1 else "")
        if first.plans[0].changes:
            say_all([f"previz advise {name} {each}" for each in ("--apply 1", "--compare --draft")])
    if refused is not None:
        with at_its_line(scene_file):
            raise refused
    if any(map(_falls_short, found.values())) or answer.get("page", {"file": ""})["file"] is None:
        raise typer.Exit(1)


def _advised(
    scene: "previz.Scene", shots: "Sequence[previz.Shot]", plans: int
) -> "tuple[dict[str, Advice], PrevizError | None]":
    """What is advised for each shot, and of those for which nothing can be what the first says is wrong.

    Raises that where it is so for all.
    """
    from previz.advice import advise

    found, refused = {}, None
    with at_work(f"advice for {shots[0].id}", say) as tell:
        for shot in shots:
            tell(f"advice for {shot.id}")
            try:
                found[shot.id] = advise(scene, shot, plans)
            except PrevizError as error:
                refused = refused or error
    if refused is not None and not found:
        raise refused
    return found, refused


def _draw_plans(
    scene_file: Path, scene: "previz.Scene", shot: "previz.Shot", advice: "Advice", quality: Quality, as_json: bool
) -> dict[str, Any]:
    """Draw a shot and its plans side by side; returns what was written, as data."""
    comparison = _compared_plans(scene, shot, advice)
    folder = _plans_folder(scene_file, scene, shot.id)
    limit = bytes_of(PAGE_SIZE, "--page-size")
    written, page = side_by_side(scene_file, comparison, folder, quality, purpose=Purpose.POST.value, limit=limit)
    if not as_json:
        tell_comparison(comparison, written, page, as_json=False, purpose=None)
    return comparison_data(written, page)


def _plans_folder(scene_file: Path, scene: "previz.Scene", shot: str) -> Path:
    """Where the plans of a shot are drawn; of several shots each has its own."""
    return folder_of(scene_file, None, f"plans_{shot}" if len(scene.shots) > 1 else "plans")


def _falls_short(advice: "Advice") -> bool:
    """Whether no plan works, or none does all that must be."""
    return not advice.plans or advice.relaxed is not None


def _plan_of(advice: "Advice", number: int) -> "Plan":
    if number > len(advice.plans):
        count = len(advice.plans)
        there = f"there {'is one plan' if count == 1 else f'are {count} plans'}" if count else "there is no plan"
        raise PrevizError(f"--apply {number}: {there} for this shot")
    return advice.plans[number - 1]


def _applied_file(
    scene: "previz.Scene", scene_file: Path, shot: str | None, apply: int, out: Path | None, *, force: bool
) -> Path:
    """The scene file to write, once it is known that nothing is lost by it and what it names is found from there."""
    from previz.starters import named_files

    stem = scene_file.stem + (f"_{shot}" if shot and len(scene.shots) > 1 else "")
    target = out if out is not None else scene_file.with_name(f"{stem}_plan{apply}{scene_file.suffix}")
    if not force and target.exists():
        raise PrevizError(f"{target} is there already; choose another name with --out, or write over it with --force")
    named = named_files(scene)
    if named and target.absolute().parent != scene_file.absolute().parent:
        raise PrevizError(
            f"--out {target}: the scene names {named[0]}, which is looked for beside it; choose a name in "
            f"{scene_file.parent}"
        )
    tried(target.parent)
    return target


def _apply(scene_file: Path, plan: "Plan", target: Path) -> None:
    from previz.delivery import deliver_files
    from previz.scene import edited

    text = scene_file.read_bytes().decode("utf-8")
    try:
        new = edited(text, {change.key: change.value for change in plan.changes})
    except PrevizError as error:
        raise PrevizError(f"{scene_file}: {error}") from None
    deliver_files({target: new.encode("utf-8")})


def _compared_plans(scene: "previz.Scene", shot: "previz.Shot", advice: "Advice") -> "Comparison":
    from previz.delivery import ways_side_by_side
    from previz.predictions import Difference

    if not any(plan.changes for plan in advice.plans):
        raise PrevizError(f"there is no plan for {shot.id} to compare with the shot as it is written")
    ways = [
        (
            f"plan {number}, {plan.shot.camera}",
            plan.scene,
            plan.shot,
            tuple(Difference("want", met.value, f"misses {met.words}: {met.shown}") for met in plan.misses),
        )
        for number, plan in enumerate(advice.plans, start=1)
    ]
    return ways_side_by_side(scene, shot, ways, ("the shot as it is written, and the best that may be made of it",))


def _advice_data(advice: "Advice") -> dict[str, Any]:
    """Advice for other programs, in SI; what is set and measured also as it is told."""
    named = ("changes", "settings", "marks", "meets", "misses", "findings", "binds")

    def data(plan: "Plan") -> dict[str, Any]:
        return {**{name: plain(getattr(plan, name)) for name in named}, "shot": plan.shot.model_dump()}

    plans = [data(plan) for plan in advice.plans]
    nearest = data(advice.nearest) if advice.nearest is not None else None
    return {"plans": plans, "nearest": nearest, "relaxed": plain(advice.relaxed), "lost": plain(advice.lost)}
