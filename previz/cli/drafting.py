"""`previz plan` and `previz print`."""

from collections.abc import Callable, Mapping, Sequence
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import previz
from previz.cli.drawing import most_workers
from previz.cli.places import at_its_line, folder_of, tried
from previz.cli.program import app, examples
from previz.cli.saying import print_json, print_out, say, say_folded
from previz.errors import MachineError, ShotFault
from previz.options import (
    AlsoPng,
    AlsoSvg,
    AsJson,
    AsPoster,
    OnlyParts,
    OnPaper,
    Out,
    OutsideFiles,
    PaperName,
    SceneFile,
    ShotId,
    TilePaper,
    WithoutStills,
)
from previz.takes import (
    CARD_WIDTH,
    Quality,
    Take,
    chosen,
    frame_at,
    take_of,
)
from previz.telling import at_work

if TYPE_CHECKING:
    from previz.paper import Paper, Prints, Sheet


@app.command(
    short_help="Draw the plan to build and shoot by: views to scale, setup cards, lists.",
    epilog=examples("previz plan scenes/quay_lorry.yaml", "previz plan scenes/quay_lorry.yaml --paper letter --png"),
)
def plan(
    scene_file: SceneFile,
    shot: ShotId = None,
    paper: OnPaper = None,
    out: Out = None,
    png: AlsoPng = False,
    svg: AlsoSvg = False,
    no_stills: WithoutStills = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Draw what hangs beside the table, as one PDF at true scale: for each shot the plan from above, the side view and
    its setup card; then what to build, the lamps, what to take care of, and a log of takes.

    Places are from the table's front left corner, in the unit that most of the scene is written in.
    """
    with _CardStills(wanted=not no_stills) as stills:  # others draw, while the sheets are laid out here
        from previz.delivery import deliver_files
        from previz.paper import ARMS_LENGTH, pdf_of, plan_sheets, png_of, svg_of
        from previz.predictions import require_files

        scene = previz.read_scene(scene_file, outside_files=outside_files)
        shots = chosen(scene, shot)
        stills.expect(scene, shots)
        folder = tried(folder_of(scene_file, out))
        with at_its_line(scene_file), at_work("plan: what check finds", say) as tell:
            require_files(scene)
            stills.begin(scene, shots)
            predictions = previz.predict(scene)
            tell("plan: its sheets")
            sheets = plan_sheets(
                scene, predictions, shots, paper=_paper(paper, scene), stills=stills.room, file=scene_file.name
            )
            tell("plan: its file, and the pictures of its cards")
            files = {folder / "plan.pdf": pdf_of(sheets, scene.title, ARMS_LENGTH, stills.come)}
    for kind, wanted, written in (("png", png, png_of), ("svg", svg, svg_of)):
        files |= {folder / f"{each.name}.{kind}": written(each) for each in sheets if wanted}
    deliver_files(files)
    _tell_plan(files, sheets, as_json)


def _paper(named: PaperName | None, scene: "previz.Scene") -> "Paper":
    from previz.paper import PAPERS, usual_paper

    return usual_paper(scene.tape) if named is None else PAPERS[named.value]


def _card_takes(scene: "previz.Scene", shots: "tuple[previz.Shot, ...]") -> list[Take]:
    """The middle frame of each shot, small, for its card; of one that cannot be drawn none, and why is said."""
    quality, takes = Quality(draft=True, size=CARD_WIDTH), []
    for each in shots:
        number = frame_at(scene, each, None)
        try:
            takes.append(take_of(scene, each, quality, f"{number}:{number + 1}", kind="png"))
        except (ShotFault, MachineError) as error:
            say(f"{each.id}: no picture on its card: {error}")
    return takes


class _CardStills:
    """The pictures of the cards, drawn setup by setup by other processes; a context, at whose end those end.

    The first of them gets ready while the scene is read. Sheets are laid out and written with `room`, which is black
    until they `come`.
    """

    def __init__(self, *, wanted: bool) -> None:
        from previz.frames import Crew

        self.room: dict[str, Any] = {}
        self._drawn: dict[str, Callable[[], None]] = {}
        self._crew = Crew(most_workers(), at_once=1, apart=True) if wanted else None

    def expect(self, scene: "previz.Scene", shots: "tuple[previz.Shot, ...]") -> None:
        """As many processes get ready as there are setups, if there is a core for each."""
        from previz.scene import as_set_up

        if self._crew is not None:
            self._crew.expect(len({id(as_set_up(scene, shot)) for shot in shots}))

    def begin(self, scene: "previz.Scene", shots: "tuple[previz.Shot, ...]") -> None:
        """Have them draw."""
        from previz.delivery import black_picture

        if self._crew is None:
            return
        setups: dict[int, list[Take]] = {}
        for take in _card_takes(scene, shots):
            self.room[take.shot.id] = black_picture(take.look.size)
            setups.setdefault(id(take.scene), []).append(take)
        for together in sorted(setups.values(), key=len, reverse=True):  # the longest work first
            self._begin(together)

    def _begin(self, takes: list[Take]) -> None:
        """All pictures of one setup."""
        from previz.delivery import still_picture
        from previz.frames import frames_of

        assert self._crew is not None
        shots = [take.shot.id for take in takes]
        asked = [(take.shot.id, take.look) for take in takes]
        frames = self._crew.begin(
            f"the picture of shot {shots[0]!r}", partial(frames_of, takes[0].scene, asked, "small")
        )

        @cache
        def put_in() -> None:
            for shot, frame in zip(shots, frames(), strict=True):
                self.room[shot][:] = still_picture(frame)

        self._drawn |= dict.fromkeys(shots, put_in)

    def come(self) -> None:
        """Wait for all of them, and put each into its room."""
        for put_in in self._drawn.values():
            put_in()

    def __enter__(self) -> "_CardStills":
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if self._crew is not None:
            self._crew.close(at_once=kind is not None)


@app.command(
    "print",
    short_help="Print parts of the set at life size, on pages to join or large sheets.",
    epilog=examples(
        "previz print scenes/quay_lorry.yaml",
        "previz print scenes/quay_lorry.yaml --paper letter --only road --only cards",
    ),
)
def print_at_life_size(
    scene_file: SceneFile,
    shot: ShotId = None,
    paper: TilePaper = None,
    only: OnlyParts = None,
    poster: AsPoster = False,
    out: Out = None,
    png: AlsoPng = False,
    svg: AlsoSvg = False,
    outside_files: OutsideFiles = False,
    as_json: AsJson = False,
) -> None:
    """Print parts of the set at life size, as one PDF: the ground plan to lay on the table, the road surface to cut, a
    painting guide of the backdrop, faces of signs, cards and house fronts; an index in front, and which sheets of card
    to buy.

    Print it at 100 %, not fitted to the page, and measure the line that is on every page before you cut. Where shots
    change the set, it is printed as it stands for the first, or for --shot.
    """
    from previz.delivery import deliver_files
    from previz.paper import pdf_of, png_of, prints_of, svg_of
    from previz.predictions import require_files
    from previz.scene import as_set_up

    whole = previz.read_scene(scene_file, outside_files=outside_files)
    scene = as_set_up(whole, chosen(whole, shot)[0])
    folder = tried(folder_of(scene_file, out))
    alone = len(scene.shots) < len(whole.shots)
    if alone:
        say_folded(f"as it is set up for {', '.join(each.id for each in scene.shots)}; --shot prints another setup")
    with at_its_line(scene_file):
        require_files(whole)
        prints = prints_of(scene, _paper(paper, scene), [each.value for each in only or ()], poster=poster, alone=alone)
    name = "poster" if poster else "print"
    files = {folder / f"{name}.pdf": pdf_of(prints.sheets, scene.title)}
    for kind, wanted, written in (("png", png, png_of), ("svg", svg, svg_of)):
        files |= {folder / f"{name}-{_file_name(each.name)}.{kind}": written(each) for each in prints.sheets if wanted}
    deliver_files(files)
    _tell_prints(files, prints, alone, as_json)


def _file_name(sheet: str) -> str:
    """A sheet's name without what a file's cannot have: `hoarding/2 A1`."""
    return sheet.replace("/", "-").replace(" ", "-")


def _tell_prints(files: Mapping[Path, bytes], prints: "Prints", alone: bool, as_json: bool) -> None:
    """alone: of one of several setups."""
    from previz.paper import ALL_BOUGHT

    bought = {ways[0].material: ways[0] for ways in prints.stocks}
    if as_json:
        written = [{"file": str(path), "bytes": len(data)} for path, data in files.items()]
        to_buy = {
            material: {"sheet": stock.sheet, "count": stock.count, "joins": len(stock.joins), "left_over": stock.waste}
            for material, stock in bought.items()
        }
        print_json({"files": written, "parts": dict(prints.told), "to_buy": to_buy, "of_one_setup_alone": alone})
        return
    for part, what in prints.told:
        print_out(f"{part}: {what}")
    for material, stock in bought.items():
        print_out(f"to buy{' for this setup alone' if alone else ''}, {material}: {stock.words}")
    if alone and bought:
        print_out(f"to buy for all setups: {ALL_BOUGHT}")
    _tell_plan(files, prints.sheets, as_json)
    say("print it at 100 %, and measure the line that is on a page before you cut")


def _tell_plan(files: Mapping[Path, bytes], sheets: "Sequence[Sheet]", as_json: bool) -> None:
    from previz.doctor import size_text

    if as_json:
        written = [{"file": str(path), "bytes": len(data)} for path, data in files.items()]
        print_json({"files": written, "sheets": [sheet.name for sheet in sheets]})
        return
    for path, data in files.items():
        pages = f"{len(sheets)} pages, " if path.suffix == ".pdf" else ""
        print_out(f"{path}: {pages}{size_text(len(data))}")
