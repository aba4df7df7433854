"""What happens on a save: read, predict, build, draw; and while nothing changes, a clip.

All work is done by the thread that calls `watch_scene`, one piece after another. Before each piece it looks whether
there is something newer, and then leaves off.
"""

import signal
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from types import FrameType
from typing import NoReturn

from previz.delivery import png_of
from previz.errors import FileFault, PrevizError, SceneErrors, ShotFault
from previz.files import read_files
from previz.frames import Crew, Frame
from previz.layout import frame_times
from previz.paper import plan_sheets, svg_of
from previz.predictions import Finding, Predictions, Verdict, in_two, predict, to_mend_and_watch
from previz.scene import Scene, Shot, as_set_up, at_its_line, files_named, read_scene
from previz.takes import Quality, take_of
from previz.watching.board import Board, CareShown, ClipShown, FindingShown, SheetShown, ShotShown, Told
from previz.watching.drawing import Clip, Staged, staged, staged_again, still_of
from previz.watching.files import Watcher
from previz.watching.inbox import Inbox, News, Wish
from previz.watching.picture_file import PictureFile
from previz.watching.server import served

#: A fault is told once nothing more was saved for so long: a save may come in several pieces. [s]
_PATIENCE = 0.3

#: What the sheets of a plan are called on the page, by what their names begin with.
_SHEETS = {"plan": "From above", "side": "From the side", "card": "Setup card", "lists": "Lists", "takes": "Take log"}
#: A clip is begun once nothing happened for so long. [s]
_QUIET = 0.3

#: How often it is seen to that there is a process to draw. [s]
_ROUND = 0.5


@dataclass(frozen=True)
class Asked:
    """What is to be watched.

    Parameters
    ----------
    wish : Wish
        What is seen at first.
    out : Path or None
        The picture file to write; None shows a page.
    """

    scene_file: Path
    wish: Wish = field(default_factory=Wish)
    quality: Quality = field(default_factory=lambda: Quality(draft=True))
    out: Path | None = None
    outside_files: bool = False


class _Newer(Exception):
    """There is something newer to do."""


def watch_scene(asked: Asked, say: Callable[[str], None]) -> NoReturn:
    """Show a shot anew at every save, until interrupted.

    say: is told what happens, a line at a time; first the address of the page.

    Raises
    ------
    PrevizError
        There is no such scene file at the start, or the picture cannot be written.
    """
    if not asked.scene_file.is_file():
        read_scene(asked.scene_file)  # says why not
    board, inbox = Board(), Inbox()
    with ExitStack() as until_done:
        crew = until_done.enter_context(Crew(1, apart=True))
        watcher = until_done.enter_context(Watcher([asked.scene_file], inbox.saved))
        file = PictureFile(asked.out) if asked.out is not None else None
        if file is None:
            say(until_done.enter_context(served(board, inbox.wish)))
            say("open that address in a browser beside your editor: every save is shown there. Ctrl-C ends it")
        looking = Looking(asked, board, inbox, crew, watcher.follow, file, say)
        looking.turn(News(saved=time.time()))
        while True:
            looking.turn(inbox.take(looking.leisure))


class Looking:
    """What is seen of a scene file: each turn brings it nearer to how the file is now."""

    def __init__(
        self, asked: Asked, board: Board, inbox: Inbox, crew: Crew, follow: Callable[[set[Path]], None],
        file: PictureFile | None, say: Callable[[str], None],
    ) -> None:  # fmt: skip
        self._asked, self._board, self._inbox, self._crew = asked, board, inbox, crew
        self._follow, self._file, self._say = follow, file, say
        self._wish, self._files = asked.wish, {asked.scene_file}
        self._staged: Staged | None = None
        self._predicted: tuple[Scene, Predictions] | None = None
        self._check_read: set[Path] = set()  # files that were read for that
        self._clip: Clip | None = None
        self._planned: tuple[Staged, Shot] | None = None  # what the plan, and the clip, on the board are of
        self._clipped: tuple[Staged, Shot] | None = None
        self._saved: float | None = None  # of a save whose picture is still to come [s since the epoch]
        self._build_due = self._still_due = self._plan_due = self._clip_due = False
        self._told = ""  # what it does, said last

    @property
    def leisure(self) -> float:
        """How long may be waited for news before the next turn. [s]"""
        if self._build_due or self._still_due or self._plan_due:
            return 0.0
        return _QUIET if self._clip_due else _ROUND

    def turn(self, news: News) -> None:
        """Take in what came, and do the next that is due."""
        if news.saved is not None:
            self._build_due, self._saved = True, news.saved
        if news.wish is not None:
            self._wish, self._still_due = news.wish, self._staged is not None
        try:
            if self._build_due:
                self._build()
            elif self._still_due:
                self._draw_still()
            elif self._plan_due:
                self._draw_plan()
            elif self._clip_due and news == News():
                self._draw_clip()
        except _Newer:
            pass
        except PrevizError as fault:
            self._build_due = self._still_due = self._plan_due = self._clip_due = False
            self._tell(fault)

    # --- on a save ---

    def _build(self) -> None:
        """Read the file as it is now; then its set and its light, and a picture.

        Where the set and its light are as they were, what `check` finds is found out while the picture is drawn.
        """
        path, outside = self._asked.scene_file, self._asked.outside_files
        named = {path, *files_named(path, outside_files=outside)}
        self._look_after(self._files | named)
        with read_files() as read:
            scene = read_scene(path, outside_files=outside)
            self._board.show(faults=())  # it can be read: what is wrong from here on is told by itself
            with self._finding_anyway(scene):
                self._stage(scene)
        self._look_after(named | set(read) | self._check_read)
        self._build_due, self._still_due, self._clip = False, True, None
        self._draw_still()

    def _find(self, scene: Scene) -> Predictions:
        """What `check` finds in a scene, shown as soon as it is known."""
        if self._predicted is None or self._predicted[0] is not scene:
            with read_files() as read:
                self._predicted = scene, predict(scene)
            self._check_read = set(read)
            self._look_after(self._files | self._check_read)
            self._board.show(faults=())
            self._show_findings(scene, self._predicted[1])
        return self._predicted[1]

    @contextmanager
    def _finding_anyway(self, scene: Scene) -> Iterator[None]:
        """Where there will be no picture, what `check` finds is shown all the same."""
        try:
            yield
        except PrevizError:
            self._find(scene)
            raise

    def _stage(self, scene: Scene) -> Staged:
        """Build and light the set as it is for the shot that is wished for; what `check` finds comes before that."""
        self._go_on("building the set")
        shot, number = self._chosen(scene)
        take = take_of(scene, shot, self._asked.quality, f"{number}:{number + 1}", kind="png")
        if self._staged is not None and self._staged.serves(take.scene):
            self._staged = staged_again(self._staged, scene, take, self._crew)
        else:
            self._find(scene)
            self._staged = staged(scene, take, self._crew, self._go_on)
        return self._staged

    def _look_after(self, files: set[Path]) -> None:
        self._files = files
        self._follow(files)

    def _show_findings(self, scene: Scene, predictions: Predictions) -> None:
        shot, _ = self._chosen(scene)
        ours = [each for each in predictions.told if each.concerns((shot.id,))]
        bad = [_finding(each, shot) for each in ours if each.verdict is not Verdict.FINE]
        self._board.show(
            title=scene.title,
            shots=tuple(_shown(scene, each) for each in scene.shots),
            findings=tuple(bad),
            fine=len(ours) - len(bad),
            cautions=tuple(CareShown(each.because, each.precaution) for each in predictions.cautions),
        )

    def _chosen(self, scene: Scene) -> tuple[Shot, int]:
        """The shot that is wished for, as it is set up, and the number of its frame; as near as there is."""
        shots = {shot.id: shot for shot in scene.shots}
        shot = shots.get(self._wish.shot or "", scene.shots[0])
        scene = as_set_up(scene, shot)
        shot = scene.shot(shot.id)
        times = frame_times(scene, shot)
        if self._wish.time is None:
            return shot, times.count // 2
        number = round((Fraction(self._wish.time) - times.start) * times.rate)
        return shot, min(max(number, 0), times.count - 1)

    # --- pictures ---

    def _draw_still(self) -> None:
        on = self._staged
        assert on is not None  # a still is due only of what is built
        if self._chosen(on.whole)[0].id not in {
            shot.id for shot in on.scene.shots
        }:  # before it the set is dressed anew
            with read_files() as read:
                on, self._clip = self._stage(on.whole), None
            self._look_after(self._files | set(read))
        self._go_on("drawing")
        shot, number = self._chosen(on.scene)
        with self._finding_anyway(on.whole):
            take = take_of(on.scene, shot, self._asked.quality, f"{number}:{number + 1}", kind="png")
            frame = still_of(on, take, self._crew, meanwhile=lambda: self._find(on.whole))
        self._still_due = False
        self._show_still(on, shot, frame)

    def _show_still(self, on: Staged, shot: Shot, frame: Frame) -> None:
        if self._file is not None:
            self._file.show(frame)
        else:
            self._plan_due = self._planned != (on, shot)
            self._clip_due = self._clipped != (on, shot)
        shown = self._board.shown
        self._show_findings(on.whole, self._find(on.whole))
        self._board.show(
            still=self._board.hang(png_of(frame), "png"),
            shot=shot.id,
            at=frame.number,
            took=time.time() - self._saved if self._saved is not None else None,
            plan=() if self._plan_due else shown.plan,
            clip=None if self._clip_due else shown.clip,
            doing="",
        )
        if self._saved is not None:
            self._saved = None
            self._say(self._told_of_still(shot, frame))

    def _told_of_still(self, shot: Shot, frame: Frame) -> str:
        shown = self._board.shown
        found = self._find(self._staged.whole).told if self._staged is not None else ()
        counts = {name: to_mend_and_watch(found, each) for name, each in ((shot.id, shot.id), ("the set", ""))}
        said = [f"{name} {stops} to mend, {watches} to watch" for name, (stops, watches) in counts.items()
                if name == shot.id or stops or watches]  # fmt: skip
        return f"{shot.id} at {float(frame.time):.3f} s on set: {shown.took:.1f} s after the save; {'; '.join(said)}"

    def _draw_plan(self) -> None:
        """All its sheets, the set from above with the shot's camera and what it sees first."""
        on = self._staged
        assert on is not None
        shot, _ = self._chosen(on.scene)
        self._go_on("the plan")
        with _undisturbed():  # what draws it is loaded here, and broken off in that it can take Python with it
            sheets = plan_sheets(on.whole, self._find(on.whole), [shot], file=self._asked.scene_file.name)
            drawn = [svg_of(sheet) for sheet in sheets]
        names = self._board.hang_all(drawn, "svg")
        says = [_SHEETS.get(sheet.name.partition("-")[0], sheet.name) for sheet in sheets]
        self._plan_due, self._planned = False, (on, shot)
        self._board.show(plan=tuple(map(SheetShown, names, says)), doing="")

    def _draw_clip(self) -> None:
        on = self._staged
        assert on is not None
        shot, _ = self._chosen(on.scene)
        if self._clip is None or self._clip.on is not on or self._clip.take.shot is not shot:
            self._clip = Clip.of(on, shot)
        clip, total = self._clip, len(self._clip.take.numbers)

        def leave_off(done: int) -> None:
            if self._inbox.expect(0):
                self._board.show(doing="")
                raise _Newer
            self._board.show(doing=f"clip: {done} of {total} pictures")

        clip.draw(self._crew, leave_off)
        name = self._board.hang(clip.encoded(), "mp4")
        shown = ClipShown(name, shot.id, clip.step, float(clip.rate), clip.flashes())
        self._clip_due, self._clipped = False, (on, shot)
        self._board.show(clip=shown, doing="")

    def _go_on(self, doing: str) -> None:
        """Say what comes next, unless the file was saved meanwhile."""
        if self._inbox.saved_meanwhile:
            raise _Newer
        self._board.show(doing=doing)
        if self._file is not None and not self._board.shown.still and doing != self._told:
            self._told = doing
            self._say(doing)  # who waits for the first picture has nothing to look at

    # --- faults ---

    def _tell(self, fault: PrevizError) -> None:
        """Over the picture that is there, with its line; not if more is saved in a moment."""
        if self._inbox.expect(_PATIENCE) and self._inbox.saved_meanwhile:
            return
        if isinstance(fault, FileFault | ShotFault):
            try:
                fault = at_its_line(self._asked.scene_file, fault)
            except PrevizError as other:
                fault = other
        faults = told(fault, self._asked.scene_file)
        self._board.show(faults=faults, doing="")
        if self._file is not None:
            self._file.tell(faults)
        for line in str(fault).splitlines():
            self._say(line)


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Ctrl-C is heard at the end of this."""
    came: list[tuple[int, FrameType | None]] = []
    before = signal.signal(signal.SIGINT, lambda *heard: came.append(heard))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        if came and callable(before):
            before(*came[0])


def told(fault: PrevizError, scene_file: Path) -> tuple[Told, ...]:
    """A fault as it is shown: for each thing wrong its line, and what stands there."""
    if not isinstance(fault, SceneErrors):
        return (Told("", str(fault)),)
    lines = _lines(fault.path)
    other = "" if fault.path.name == scene_file.name else f"{fault.path.name}, "
    found = []
    for each in fault.faults:
        source = lines[each.line - 1].strip()[:160] if each.line and each.line <= len(lines) else ""
        place = f"{other}line {each.line}" if each.line else other.removesuffix(", ")
        found.append(Told(place, f"{each.key}: {each.message}" if each.key else each.message, source))
    return tuple(found)


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return []


def _finding(finding: Finding, shot: Shot) -> FindingShown:
    """As it is shown beside that shot, which it concerns."""
    return FindingShown(str(finding.verdict), finding.shot and shot.id, *in_two(finding.message), finding.remedy)


def _shown(scene: Scene, shot: Shot) -> ShotShown:
    then = as_set_up(scene, shot)
    times = frame_times(then, then.shot(shot.id))
    return ShotShown(shot.id, times.count, float(times.start), float(1 / times.rate))
