"""The page in a real browser: what it shows of a board, what it asks for, and that nothing else is loaded."""

import io
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from PIL import Image
from running import PATIENCE, WHOLE, Running

from previz.delivery import deliver_clip, png_of
from previz.frames import Facts, Frame
from previz.watching import Board, Wish, served
from previz.watching.board import CareShown, ClipShown, FindingShown, SheetShown, ShotShown, Told

#: Without the network, a profile or anything in the background.
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip

FACTS = Facts(400, 1 / 240, 5.8, 8, 900.0)
RED, GREEN, BLUE = (0.7, 0.05, 0.05), (0.05, 0.5, 0.05), (0.05, 0.05, 0.7)
PLAN = (
    b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20">'
    b'<rect width="40" height="20" style="fill:#0000ff"/></svg>'
)


def planned(board: Board, *sheets: bytes) -> tuple[SheetShown, ...]:
    """Sheets of a plan, hung up."""
    return tuple(
        SheetShown(name, f"Sheet {letter}") for name, letter in zip(board.hang_all(sheets, "svg"), "abc", strict=False)
    )


def frame_of(colour: tuple[float, float, float], size: tuple[int, int] = (640, 360)) -> Frame:
    return Frame(0, Fraction(0), np.full((size[1], size[0], 3), colour, np.float32), FACTS)


@cache
def clip_of(colour: tuple[float, float, float], count: int = 24) -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "clip.mp4"
        deliver_clip(path, [frame_of(colour, (320, 180))] * count, Fraction(24), (320, 180), purpose="message")
        return path.read_bytes()


@dataclass
class Page:
    """A window on a board, with what it complained of and asked for."""

    board: Board
    wishes: list[Wish]
    address: str
    page: Any
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def until(self, true: Callable[[], Any]) -> Any:
        end = time.monotonic() + PATIENCE
        while not (found := true()):
            assert time.monotonic() < end, f"never came true; it complained of {self.said}"
            self.page.wait_for_timeout(20)
        return found

    def colour(self, selector: str = "#frame") -> np.ndarray:
        """What the middle of an element looks like on screen."""
        png = self.page.locator(selector).screenshot()
        pixels = np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(float)
        height, width, _ = pixels.shape
        return pixels[height * 2 // 5 : height * 3 // 5, width * 2 // 5 : width * 3 // 5].mean(axis=(0, 1))

    def shows(self, colour: tuple[float, float, float], selector: str = "#frame") -> bool:
        """Whether that is the strongest of its three primaries there."""
        seen = self.colour(selector)
        return int(seen.argmax()) == int(np.argmax(colour)) and np.sort(seen)[-1] > 100 > np.sort(seen)[-2]

    def text(self, selector: str) -> str:
        return str(self.page.inner_text(selector))

    def playing(self) -> bool:
        return not self.page.evaluate("document.getElementById('film').paused")

    def still(self, colour: tuple[float, float, float], **changes: Any) -> None:
        self.board.show(still=self.board.hang(png_of(frame_of(colour)), "png"), **changes)

    def frame(self) -> int:
        """Which one it says it shows, counted from 1."""
        return int(self.text("#count").rpartition("frame ")[2].partition(" ")[0])

    def clip(self, colour: tuple[float, float, float], flashes: str = "") -> None:
        name = self.board.hang(clip_of(colour), "mp4")
        self.board.show(clip=ClipShown(name, "pass", 1, 24.0, flashes))


SHOTS = (ShotShown("pass", 24, 0.2, 1 / 120), ShotShown("away", 24, 0.1, 1 / 60))


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("no chromium here to try the page in; `bash .ci/run` installs it on Debian and Ubuntu")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield found
        found.close()


@contextmanager
def opened(page: Any) -> Iterator[Page]:
    """A board of its own, in this window."""
    board, wishes = Board(), []  # type: ignore[var-annotated]
    finding = FindingShown("stop", "pass", "One <wheel> is sharp.", "Three are not.", "Stop down to f/8.")
    board.show(title="Pier & <b>lorry</b>", shots=SHOTS, shot="pass", at=12, took=0.84, findings=(finding,), fine=7)
    with served(board, wishes.append) as address:
        found = Page(board, wishes, address, page)
        hears = {
            "console": lambda message: found.said.append(message.text),
            "pageerror": lambda error: found.said.append(str(error)),
            "request": lambda request: found.asked.append(request.url),
        }
        for event, hear in hears.items():
            page.on(event, hear)
        found.still(RED)
        page.goto(address)
        found.until(lambda: found.shows(RED))
        yield found
        for event, hear in hears.items():
            page.remove_listener(event, hear)
        page.goto("about:blank")  # or it would look for who is gone
    assert found.said == []
    assert all(each.startswith((address, f"blob:{address.split('/')[0]}//", "data:,")) for each in found.asked)


@pytest.fixture(scope="module")
def window(browser: Any) -> Iterator[Any]:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    yield context.new_page()
    context.close()


@pytest.fixture
def desk(window: Any) -> Iterator[Page]:
    with opened(window) as found:
        yield found


@pytest.fixture
def phone(browser: Any) -> Iterator[Page]:
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True, reduced_motion="reduce"
    )
    with opened(context.new_page()) as found:
        yield found
    context.close()


def test_it_says_what_will_not_work_and_nothing_a_file_says_is_markup(desk: Page) -> None:
    assert desk.text("#title") == "Pier & <b>lorry</b>"
    assert desk.text("#findings").split("\n") == ["stop One <wheel> is sharp.", "Three are not.", "Stop down to f/8."]
    assert desk.text("#fine") == "7 more looked at and fine."
    assert desk.text("#doing") == "Draft, drawn 0.8 s after the save."
    assert desk.text("#count") == "0.300 s on set, frame 12 of 0 to 23"
    assert not desk.page.is_visible("#care") and not desk.page.is_visible("#above")
    desk.board.show(cautions=(CareShown("small parts", "Keep them out of reach."),), findings=())
    desk.until(lambda: desk.page.is_visible("#care"))
    assert "Keep them out of reach." in desk.text("#cautions")
    assert desk.text("#fine") == "7 looked at, all fine."


def test_what_is_to_watch_unfolds_and_stays_so_when_it_is_told_again(desk: Page) -> None:
    watch = FindingShown("watch", "pass", "Slowed 5 times.", "Falls want 7.07.", "Use a faster camera.")
    desk.board.show(findings=(watch,))
    desk.until(lambda: desk.text("#findings") == "watch Slowed 5 times.")
    desk.page.click("#findings summary")
    assert "Use a faster camera." in desk.text("#findings")
    desk.board.show(findings=(watch,), fine=8)
    desk.until(lambda: desk.text("#fine") == "8 more looked at and fine.")
    assert "Use a faster camera." in desk.text("#findings")


def test_a_new_still_takes_the_place_of_the_last_by_itself(desk: Page) -> None:
    desk.still(GREEN, took=1.26)
    desk.until(lambda: desk.shows(GREEN))
    assert desk.text("#doing") == "Draft, drawn 1.3 s after the save."
    desk.board.show(doing="lighting the set")
    desk.until(lambda: desk.text("#doing") == "Working: lighting the set")
    assert sum(each == desk.address for each in desk.asked) == 1  # it was never loaded anew


def test_a_clip_plays_round_and_round_until_there_is_a_new_still(desk: Page) -> None:
    assert desk.page.is_disabled("#play")
    desk.clip(BLUE)
    desk.until(desk.playing)
    desk.until(lambda: desk.shows(BLUE))
    desk.until(lambda: desk.frame() > 16)
    desk.until(lambda: desk.frame() < 8)  # round
    desk.still(GREEN, clip=None)
    desk.until(lambda: desk.shows(GREEN))
    assert not desk.playing()
    assert desk.text("#count").endswith("frame 12 of 0 to 23")
    desk.clip(RED)  # and the next one plays as well
    desk.until(lambda: desk.playing() and desk.shows(RED))


def test_a_clip_that_flashes_waits_to_be_asked_for(desk: Page) -> None:
    desk.clip(BLUE, flashes="The clip flashes 5 times in one second.")
    desk.until(lambda: desk.page.is_enabled("#play"))
    desk.page.wait_for_timeout(300)
    assert not desk.playing() and desk.shows(RED)
    assert "flashes 5 times" in desk.text("#flashes")
    desk.page.click("#play")
    desk.until(lambda: desk.playing() and desk.shows(BLUE))


def test_faults_stand_over_the_picture_with_their_lines(desk: Page) -> None:
    faults = (Told("line 12", "shots[pass].f_number: f/1 is <wider> than it opens", "f_number: 1"), Told("", "gone"))
    desk.board.show(faults=faults)
    desk.until(lambda: desk.page.is_visible("#faults"))
    assert desk.page.locator("#fault-list li").all_inner_texts() == [
        "line 12: shots[pass].f_number: f/1 is <wider> than it opens\nf_number: 1", "gone"]  # fmt: skip
    over, picture = (desk.page.locator(each).bounding_box() for each in ("#faults", "#still"))
    assert picture["y"] <= over["y"] < picture["y"] + picture["height"]
    assert desk.shows(RED, "#still")  # what of it is not covered
    assert desk.text("#doing") == "The picture is of an earlier save."
    desk.board.show(faults=())
    desk.until(lambda: not desk.page.is_visible("#faults"))


def test_a_time_that_is_scrubbed_to_is_wished_for_and_its_still_shown(desk: Page) -> None:
    desk.clip(BLUE)
    desk.until(lambda: desk.playing())
    desk.page.locator("#time").fill("6")
    desk.until(lambda: desk.wishes)
    assert desk.wishes[-1] == Wish("pass", pytest.approx(0.25))
    assert not desk.playing()
    assert desk.text("#count") == "0.250 s on set, frame 6 of 0 to 23"
    desk.until(lambda: desk.shows(BLUE))  # the small picture of that time, at once
    desk.still(GREEN, at=6)
    desk.until(lambda: desk.shows(GREEN))
    desk.page.focus("#time")
    desk.page.keyboard.press("ArrowRight")
    desk.until(lambda: desk.wishes[-1] == Wish("pass", pytest.approx(0.2 + 7 / 120)))
    desk.still(RED, at=7)
    desk.until(lambda: desk.shows(RED))
    desk.page.click("#play")
    desk.until(lambda: desk.playing() and desk.shows(BLUE))
    desk.page.click("#play")
    desk.until(lambda: not desk.playing())
    assert desk.wishes[-1].shot == "pass"  # the still of where it was stopped


def test_many_moves_of_the_thumb_are_few_wishes_and_the_last_one_counts(desk: Page) -> None:
    desk.page.evaluate(
        "for (let at = 0; at < 24; at++) { const t = document.getElementById('time'); t.value = at;"
        " t.dispatchEvent(new Event('input')); }"
    )
    desk.until(lambda: desk.wishes and desk.wishes[-1] == Wish("pass", pytest.approx(0.2 + 23 / 120)))
    assert len(desk.wishes) <= 3


def test_a_shot_is_chosen_by_its_name(desk: Page) -> None:
    assert desk.page.locator("#shot option").all_inner_texts() == ["pass", "away"]
    desk.page.select_option("#shot", "away")
    desk.until(lambda: desk.wishes == [Wish("away")])
    desk.still(GREEN, shot="away", at=12, clip=None)
    desk.until(lambda: desk.shows(GREEN))
    assert desk.text("#count") == "0.300 s on set, frame 12 of 0 to 23"  # 0.1 s and 12 frames at 60 a second
    desk.board.show(shots=SHOTS[:1], shot="pass")
    desk.until(lambda: not desk.page.is_visible("#choice"))


def test_the_plan_stands_beside_it_and_can_be_made_larger(desk: Page) -> None:
    desk.board.show(plan=planned(desk.board, PLAN))
    desk.until(lambda: desk.page.is_visible("#plan") and desk.shows(BLUE, "#plan"))
    assert not desk.page.is_visible("#sheets")
    small = desk.page.locator("#plan").bounding_box()["width"]
    desk.page.click("#enlarge")
    assert desk.page.locator("#plan").bounding_box()["width"] > small * 1.3
    desk.page.click("#enlarge")
    assert desk.page.locator("#plan").bounding_box()["width"] == pytest.approx(small)


def test_the_other_sheets_of_the_plan_are_turned_to_and_stay_when_the_file_is_saved(desk: Page) -> None:
    side = PLAN.replace(b"#0000ff", b"#008000")
    desk.board.show(plan=planned(desk.board, PLAN, side, PLAN))
    desk.until(lambda: desk.page.is_visible("#sheets") and desk.shows(BLUE, "#plan"))
    assert (desk.text("#above-name"), desk.text("#sheet")) == ("Sheet a", "1 of 3")
    assert desk.page.is_disabled("#sheet-before")
    desk.page.click("#sheet-after")
    desk.until(lambda: desk.shows(GREEN, "#plan"))
    assert (desk.text("#above-name"), desk.text("#sheet")) == ("Sheet b", "2 of 3")
    assert desk.page.get_attribute("#plan", "alt") == "Sheet 2 of the plan: Sheet b"
    # Another save draws all of them anew.
    desk.board.show(plan=planned(desk.board, PLAN, side.replace(b"#008000", b"#c00000")))
    desk.until(lambda: desk.shows(RED, "#plan"))
    assert desk.page.is_disabled("#sheet-after") and desk.text("#sheet") == "2 of 2"
    desk.page.focus("#sheet-before")
    desk.page.keyboard.press("Enter")
    desk.until(lambda: desk.shows(BLUE, "#plan"))
    assert desk.said == []


def test_it_says_when_previz_has_ended(desk: Page) -> None:
    desk.board.take_down()
    desk.until(lambda: desk.page.is_visible("#ended"))
    assert desk.text("#ended") == "previz has ended. This is how it was last."
    assert desk.text("#doing") == ""
    assert desk.shows(RED)


def test_on_a_phone_it_fits_can_be_touched_and_does_not_move_by_itself(phone: Page) -> None:
    phone.board.show(
        faults=(Told("line 3", "a" * 200, "b" * 200),), plan=planned(phone.board, PLAN, PLAN),
        findings=(FindingShown("stop", "", "c" * 200, "d" * 200, "e" * 200),),
    )  # fmt: skip
    phone.clip(BLUE)
    phone.until(lambda: phone.page.is_enabled("#play") and phone.page.is_visible("#faults"))
    assert phone.page.evaluate("document.documentElement.scrollWidth") == 390
    for each in ("#play", "#time", "#shot"):
        assert phone.page.locator(each).bounding_box()["height"] >= 44  # CSS px: WCAG 2.2, 2.5.5 (from memory)
    phone.page.wait_for_timeout(300)
    assert not phone.playing()
    phone.board.show(faults=())
    phone.page.tap("#play")
    phone.until(lambda: phone.playing() and phone.shows(BLUE))


def test_a_save_shows_in_the_page_of_the_program_itself(browser: Any, tmp_path: Path) -> None:
    with Running(tmp_path, "--size", "320", start=WHOLE) as running:
        context = browser.new_context()
        page, said = context.new_page(), []
        page.on("console", lambda message: said.append(message.text))
        page.goto(running.address)

        def until(script: str) -> Any:
            return running.until(lambda: page.evaluate(script))

        source = "document.getElementById('still').getAttribute('src')"
        first = until(source)
        until("document.getElementById('plan').naturalWidth > 0")
        until("!document.getElementById('film').paused")
        running.write("[300, -150, 45]", "[320, -150, 45]")
        until(f"{source} !== '{first}'")
        running.write("f_number: 5.6", "f_number: 1.2")
        until("document.getElementById('faults').innerText.includes('is wider than pocket opens')")
        assert running.interrupt() == 0
        end = time.monotonic() + PATIENCE
        while not page.is_visible("#ended") and time.monotonic() < end:
            page.wait_for_timeout(25)
        assert "previz has ended" in page.inner_text("#ended")
        assert [each for each in said if "ERR_" not in each] == []
        context.close()
