"""The page in a real browser: what it shows is told by its pixels, and nothing leaves it."""

import io
import json
import re
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from comparisons import COLOURS, SCENE, colour_at, comparison_of, films
from PIL import Image

from previz.delivery import TooLarge, deliver_comparison, deliver_page
from previz.delivery.comparison.page import findings_by_panel, stopped_by
from previz.errors import PrevizError
from previz.physics.colour import bt709_encoded

#: Without the network, a profile or anything in the background.
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip

FRAMES, RATE = 12, 24

PATIENCE = 120.0  # for anything, on a machine that has much to do [s]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A comparison of three panels, with its page."""
    folder = tmp_path_factory.mktemp("page")
    comparison = comparison_of(folder, SCENE.replace("title: Kai & <Hafen>", 'title: "Kai </script><b>&amp; Hafen"'))
    deliver_comparison(folder / "out", comparison, films(comparison, FRAMES, 320), 5)
    page = deliver_page(folder / "out")
    assert page == folder / "out" / "page.html"
    return folder / "out"


def comes_true(page: Any, true: Callable[[], Any]) -> bool:
    """Whether it does while the browser goes on, sooner or later."""
    end = time.monotonic() + PATIENCE
    while not (found := true()) and time.monotonic() < end:
        page.wait_for_timeout(25)
    return bool(found)


class Window:
    """A browser window on the page, with what it complained of and asked for."""

    def __init__(self, page: Any) -> None:
        self.page, self.said, self.asked = page, [], []  # type: ignore[var-annotated]
        page.on("console", lambda message: self.said.append(message.text))
        page.on("pageerror", lambda error: self.said.append(str(error)))
        page.on("request", lambda request: self.asked.append(request.url))

    def load(self, page: Path, width: int, height: int) -> None:
        """Anew, whatever was done to it before."""
        self.said.clear()
        self.asked.clear()
        self.page.set_viewport_size({"width": width, "height": height})
        self.page.goto(page.as_uri())
        self.until("document.getElementById('film').readyState >= 2")
        self.settled(5)
        # A browser may say that it has sought before it has the picture; the page draws it when it comes.
        pixel = "document.querySelector('#all canvas').getContext('2d').getImageData(0, 0, 1, 1).data"
        self.until(f"Math.max(...Array.from({pixel}).slice(0, 3)) > 0")

    def until(self, true: str) -> None:
        """Wait until this is true in the page. Asked from outside: the page's own policy forbids asking from within."""
        if not comes_true(self.page, lambda: self.page.evaluate(true)):
            pytest.fail(f"never came true: {true}; it says {self.page.inner_text('#count')}, {self.said}")

    def settled(self, frame: int) -> None:
        """Wait until the page says that it shows this frame, counted from 0."""
        self.until(
            f"document.getElementById('count').textContent.startsWith('frame {frame} of')"
            " && document.getElementById('film').paused && !document.getElementById('film').seeking"
        )

    @property
    def time(self) -> float:
        return float(self.page.evaluate("document.getElementById('film').currentTime"))

    def pixels(self, selector: str) -> np.ndarray:
        """What an element looks like on screen, (h, w, 3)."""
        return looks(self.page.locator(selector).first)

    def panels(self) -> list[np.ndarray]:
        """Mean colour of each panel's middle, all of one picture: a browser takes a while over each."""
        box = "(({x, y, width, height}) => [x, y, width, height])"
        whole, *each = self.page.evaluate(
            "['#all', '#all canvas'].flatMap(known => Array.from(document.querySelectorAll(known)))"
            f".map(found => {box}(found.getBoundingClientRect()))"
        )
        picture = self.pixels("#all")
        across = picture.shape[1] / whole[2]
        found = []
        for left, top, width, height in (np.multiply(places, across) for places in each):
            x, y = round(left - whole[0] * across), round(top - whole[1] * across)
            found.append(middle(picture[y : y + round(height), x : x + round(width)]))
        return found


def spaced(text: str) -> str:
    """Words of a page with plain spaces, which it holds together where a number has its unit."""
    return text.replace("\N{NO-BREAK SPACE}", " ")


def looks(element: Any) -> np.ndarray:
    """On screen, (h, w, 3)."""
    return np.asarray(Image.open(io.BytesIO(element.screenshot())).convert("RGB"))


def middle(picture: np.ndarray) -> np.ndarray:
    height, width, _ = picture.shape
    return picture[height // 3 : height * 2 // 3, width // 3 : width * 2 // 3].reshape(-1, 3).mean(axis=0)


def seen_as(colour: np.ndarray) -> tuple[int, int]:
    """Which panel's which frame has the colour nearest to this; the browser shows BT.709 codes as they are."""
    known = np.array(
        [[np.asarray(bt709_encoded(colour_at(panel, number))) * 255 for number in range(FRAMES)]
         for panel in range(len(COLOURS))]
    )  # fmt: skip
    distance = np.linalg.norm(known - colour, axis=2)
    assert distance.min() < 6, f"{colour} is no panel's colour"
    panel, number = np.unravel_index(distance.argmin(), distance.shape)
    return int(panel), int(number)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """One for all tests; each opens a context of its own, which shares nothing with another."""
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("no chromium here to try the page in; `bash .ci/run` installs it on Debian and Ubuntu")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield found
        found.close()


@pytest.fixture(scope="module")
def on_a_desk(browser: Any) -> Iterator[Window]:
    context = browser.new_context()
    yield Window(context.new_page())
    context.close()


@pytest.fixture(scope="module")
def in_a_hand(browser: Any) -> Iterator[Window]:
    context = browser.new_context(has_touch=True, is_mobile=True, reduced_motion="reduce")
    yield Window(context.new_page())
    context.close()


@pytest.fixture
def desk(on_a_desk: Window, folder: Path) -> Iterator[Window]:
    """On a desk, loaded anew, and without a complaint or request at the end."""
    on_a_desk.load(folder / "page.html", 1280, 900)
    yield on_a_desk
    assert on_a_desk.said == []
    assert [url.partition(":")[0] for url in on_a_desk.asked] == ["file", "blob"]


@pytest.fixture
def phone(in_a_hand: Window, folder: Path) -> Iterator[Window]:
    """In a hand, by touch, with less motion asked for; loaded anew."""
    in_a_hand.load(folder / "page.html", 390, 844)
    yield in_a_hand
    assert in_a_hand.said == []


def test_it_opens_at_the_moment_of_the_sheet_and_does_not_move_by_itself(desk: Window) -> None:
    assert [seen_as(colour) for colour in desk.panels()] == [(0, 5), (1, 5), (2, 5)]
    desk.page.wait_for_timeout(300)
    assert desk.page.inner_text("#count") == "frame 5 of 0 to 11, 0.21 s on screen"
    assert desk.page.inner_text("#play") == "Play"


def test_steps_are_single_frames_in_all_panels_alike(desk: Window) -> None:
    desk.page.click("#on")
    desk.settled(6)
    assert [seen_as(colour) for colour in desk.panels()] == [(0, 6), (1, 6), (2, 6)]
    assert desk.time * RATE == pytest.approx(6.5, abs=0.5)
    desk.page.click("#back")
    desk.page.click("#back")
    desk.settled(4)
    assert [seen_as(colour) for colour in desk.panels()] == [(0, 4), (1, 4), (2, 4)]


def test_every_frame_can_be_reached_by_the_keyboard(desk: Window) -> None:
    desk.page.keyboard.press("Home")
    for number in range(FRAMES):
        desk.settled(number)
        assert seen_as(desk.panels()[1]) == (1, number)
        desk.page.keyboard.press("ArrowRight")
    desk.settled(FRAMES - 1)  # there is none after the last
    desk.page.keyboard.press("Home")
    desk.settled(0)
    desk.page.keyboard.press("End")
    desk.settled(FRAMES - 1)
    desk.page.keyboard.press("Shift+ArrowLeft")
    desk.settled(1)


def test_it_plays_pauses_and_repeats(desk: Window) -> None:
    desk.page.select_option("#speed", "0.25")
    desk.page.keyboard.press("Home")
    desk.settled(0)
    before = desk.time
    desk.page.click("#play")
    desk.until("document.getElementById('play').textContent === 'Pause'")  # which follows the film, not the click
    goes_on = f"document.getElementById('film').currentTime > {before + 2 / RATE}"
    desk.until(f"Number(document.getElementById('scrub').value) >= 3 && {goes_on}")
    desk.page.keyboard.press("Space")
    desk.until("document.getElementById('film').paused && !document.getElementById('film').seeking")
    number = int(desk.page.input_value("#scrub"))
    desk.settled(number)
    assert [seen_as(colour) for colour in desk.panels()] == [(0, number), (1, number), (2, number)]
    assert desk.page.inner_text("#play") == "Play"
    # From the last frame it begins anew, and repeats.
    desk.page.keyboard.press("End")
    desk.settled(FRAMES - 1)
    desk.page.select_option("#speed", "1")
    desk.page.click("#play")
    desk.page.wait_for_timeout(1500)  # three times its length
    assert not desk.page.evaluate("document.getElementById('film').paused")
    desk.page.click("#play")


def test_speeds_are_slower_and_real_time_on_set(desk: Window) -> None:
    words = desk.page.locator("#speed option").all_inner_texts()
    assert words == ["real time, 5 × faster", "as planned", "half", "quarter"]
    desk.page.click("#play")
    for value, rate in (("0.25", 0.25), ("5.0", 5.0), ("1", 1.0)):
        desk.page.select_option("#speed", value)
        assert desk.page.evaluate("document.getElementById('film').playbackRate") == rate


def test_scrubbing_shows_the_frame_under_the_thumb(desk: Window) -> None:
    box = desk.page.locator("#scrub").bounding_box()
    for share, frame in ((0.02, 0), (0.98, 11), (0.5, None)):
        desk.page.mouse.click(box["x"] + box["width"] * share, box["y"] + box["height"] / 2)
        number = int(desk.page.input_value("#scrub"))
        assert frame is None or number == frame
        desk.settled(number)
        assert seen_as(desk.panels()[0]) == (0, number)


def test_a_wipe_lays_one_panel_over_another(desk: Window) -> None:
    desk.page.click("#wipe")
    assert desk.page.is_hidden("#all")
    picture = desk.pixels("#wiped")
    width = picture.shape[1]
    assert seen_as(middle(picture[:, : width // 2 - 20])) == (0, 5)
    assert seen_as(middle(picture[:, width // 2 + 20 :])) == (1, 5)
    desk.page.select_option("#right", "2")
    box = desk.page.locator("#wiped").bounding_box()
    desk.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 40)
    desk.page.mouse.down()
    desk.page.mouse.move(box["x"] + box["width"] * 0.2, box["y"] + 40, steps=4)
    desk.page.mouse.up()
    picture = desk.pixels("#wiped")
    assert seen_as(middle(picture[:, : int(width * 0.2) - 20])) == (0, 5)
    assert seen_as(middle(picture[:, int(width * 0.2) + 20 :])) == (2, 5)
    assert desk.page.get_attribute("#edge", "aria-valuenow") == "20"
    # By keys, while the edge has them; elsewhere they step, in the wipe too.
    desk.page.focus("#edge")
    desk.page.keyboard.press("Shift+ArrowRight")
    assert desk.page.get_attribute("#edge", "aria-valuenow") == "30"
    assert desk.page.inner_text("#count").startswith("frame 5 ")
    desk.page.focus("#wipe")
    desk.page.keyboard.press("ArrowRight")
    desk.settled(6)
    picture = desk.pixels("#wiped")
    assert seen_as(middle(picture[:, : int(width * 0.3) - 20])) == (0, 6)
    desk.page.keyboard.press("w")
    assert desk.page.is_visible("#all") and desk.page.is_hidden("#two")


def test_words_numbers_and_what_was_left_out_are_there_as_they_are(desk: Window) -> None:
    text = spaced(desk.page.inner_text("body"))
    # A stranger's title is text, not markup.
    assert "Kai </script><b>&amp; Hafen" in text
    assert "Left out: stuck frames 4.1 times as wide as the shot at best: its lens has 5 mm" in text
    assert "from the shot's own place it would take a lens of 10.2 mm that focuses from 460 mm." in text
    assert "shot pass, by camera" in desk.page.inner_text("h1")
    captions = [spaced(each) for each in desk.page.locator("figcaption").all_inner_texts()]
    assert "Stands at 700, -160, 60 mm, focused at 460 mm, 1920 × 1080 at 120 fps, slowed 5 times" in captions[0]
    assert "Records 1440 x 1080, the shot 1920 x 1080" in captions[2]
    assert "Same framing from the same place: the focal length follows the sensor." in text
    header = desk.page.locator("table").first.locator("thead th").all_inner_texts()
    assert header == ["inch", "large", "tall"]
    row = desk.page.locator("table").first.locator("tr", has_text="depth of field").first
    numbers = [float(each) for each in row.locator("td").all_inner_texts()[:3]]
    assert numbers[0] > numbers[2] > numbers[1] > 0
    assert "Usual precautions" in text and "mains leads to key" in text.lower()
    assert "watch" in text


def test_every_picture_has_its_words(desk: Window) -> None:
    for number, name in enumerate(("inch", "large", "tall")):
        label = spaced(desk.page.locator("#all canvas").nth(number).get_attribute("aria-label"))
        assert re.match(rf"{name}: the vehicle on the set of .+, at [\d.]+ mm, f/4, .+\. Sharp \d+ to \d+ mm\.", label)
    assert all(
        desk.page.locator("img").nth(each).get_attribute("alt") for each in range(desk.page.locator("img").count())
    )
    desk.page.click("#wipe")
    assert "inch" in desk.page.get_attribute("#wiped", "aria-label")
    names = desk.page.evaluate(
        "[...document.querySelectorAll('button, select, input')]"
        ".map((each) => each.getAttribute('aria-label') || each.textContent || each.labels?.[0]?.textContent)"
    )
    assert all(name and name.strip() for name in names)


def test_a_still_of_the_moment_is_seen_where_the_clip_is_not_decoded(
    browser: Any, folder: Path, tmp_path: Path
) -> None:
    text = (folder / "page.html").read_text(encoding="utf-8")
    cut = re.sub(r'(<script type="text/plain" id="clip">)[^<]*', r"\1", text)
    assert len(cut) < len(text)
    (tmp_path / "page.html").write_text(cut, encoding="utf-8")
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.goto((tmp_path / "page.html").as_uri())
    seen: list[tuple[int, int]] = []
    for number in range(3):
        canvas = page.locator("#all canvas").nth(number)
        assert comes_true(page, lambda canvas=canvas: looks(canvas).max() > 10)
        seen.append(seen_as(middle(looks(canvas))))
    said = page.inner_text("#count")
    context.close()
    assert (seen, said) == ([(0, 5), (1, 5), (2, 5)], "")


def test_a_table_that_goes_on_past_the_screen_has_a_bright_edge(phone: Window) -> None:
    phone.page.set_viewport_size({"width": 260, "height": 844})
    table = phone.page.locator(".table").first
    table.scroll_into_view_if_needed()
    assert table.evaluate("each => each.scrollWidth > each.clientWidth + 20")

    def edge() -> float:
        """Of the rightmost column of pixels, the one that is not a letter's."""
        return float(np.median(looks(table).mean(axis=2)[:, -2]))

    before = edge()
    table.evaluate("each => { each.scrollLeft = each.scrollWidth; }")
    assert comes_true(phone.page, lambda: before > edge() + 30)


def test_its_policy_refuses_what_is_not_in_the_file(browser: Any, folder: Path) -> None:
    context = browser.new_context()
    page, said = context.new_page(), []
    page.on("console", lambda message: said.append(message.text))
    page.goto((folder / "page.html").as_uri())
    page.evaluate("document.body.insertAdjacentHTML('beforeend', '<img src=\"http://127.0.0.1:9/x.png\">')")
    assert comes_true(page, lambda: any("violates the following Content Security Policy" in text for text in said))
    context.close()


def test_a_phone_shows_it_in_one_column_with_targets_for_a_thumb(phone: Window) -> None:
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390
    lefts = [phone.page.locator("#all canvas").nth(each).bounding_box()["x"] for each in range(3)]
    assert len(set(lefts)) == 1
    for selector in ("#play", "#on", "#back", "#wipe", "#speed"):
        box = phone.page.locator(selector).bounding_box()
        assert min(box["width"], box["height"]) >= 44
    # The controls leave most of the screen to the pictures.
    assert phone.page.locator("#controls").bounding_box()["height"] < 844 * 0.24
    sizes = phone.page.evaluate(
        "[...document.querySelectorAll('body *')].filter((each) => each.checkVisibility() "
        "&& each.childElementCount === 0 && each.textContent.trim() "
        "&& !['SCRIPT', 'STYLE', 'OPTION'].includes(each.tagName))"
        ".map((each) => parseFloat(getComputedStyle(each).fontSize))"
    )
    assert min(sizes) >= 14


#: As long as a title and a name may be.
LONG, LONG_NAME = 120 * "W", 40 * "W"


@pytest.fixture(scope="module")
def wordy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A comparison with words too long for a phone, wherever a stranger's words may stand."""
    folder = tmp_path_factory.mktemp("wordy")
    text = SCENE.replace("title: Kai & <Hafen>", f"title: {LONG}").replace("large:", f"{LONG_NAME}:")
    text = re.sub(r"(?m)^(\s+- id: )pass$", rf"\1{LONG_NAME}", text)
    assert LONG in text and text.count(LONG_NAME) >= 2
    comparison = comparison_of(folder, text)
    deliver_comparison(folder / "out", comparison, films(comparison, FRAMES, 320), 5)
    page = deliver_page(folder / "out")
    assert isinstance(page, Path)
    return page


@pytest.mark.parametrize("wipe", [False, True])
def test_no_word_is_too_long_for_a_phone(in_a_hand: Window, wordy: Path, wipe: bool) -> None:
    in_a_hand.load(wordy, 360, 740)
    if wipe:
        in_a_hand.page.tap("#wipe")
    assert in_a_hand.page.evaluate("document.documentElement.scrollWidth") <= 360


def test_without_script_there_is_nothing_that_does_not_answer(browser: Any, folder: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((folder / "page.html").as_uri())
    text = spaced(page.inner_text("body"))
    hidden = [page.locator(each).first.is_hidden() for each in ("#all canvas", "#controls", "#play", "#scrub", "#keys")]
    sheet = page.locator(".sheet img").is_visible()
    context.close()
    assert all(hidden) and sheet
    assert "Playing needs JavaScript" in text and "still sheet below" in text
    assert "Stands at 700, -160, 60 mm" in text  # the words of each panel stay


def test_on_paper_all_is_told_and_nothing_lies_over_it(desk: Window) -> None:
    page = desk.page
    page.evaluate(
        "addEventListener('beforeprint', () => {"
        " window.openToPrint = document.querySelectorAll('details[open]').length })"
    )
    count = page.locator("details").count()
    assert page.pdf()[:4] == b"%PDF"
    assert page.evaluate("window.openToPrint") == count > 0
    desk.until("document.querySelectorAll('details[open]').length === 0")
    page.emulate_media(media="print")
    assert page.is_hidden("#controls")
    ink, paper = (page.evaluate(f"getComputedStyle(document.body).{each}") for each in ("color", "backgroundColor"))
    assert (ink, paper) == ("rgb(0, 0, 0)", "rgb(255, 255, 255)")
    page.emulate_media(media="screen")
    assert page.is_visible("#controls")


def test_its_policy_forbids_another_base_and_sending_forms(browser: Any, folder: Path) -> None:
    context = browser.new_context()
    page, said = context.new_page(), []
    page.on("console", lambda message: said.append(message.text))
    page.goto((folder / "page.html").as_uri())
    page.evaluate("document.head.insertAdjacentHTML('beforeend', '<base href=\"https://127.0.0.1:9/\">')")
    page.evaluate(
        "document.body.insertAdjacentHTML('beforeend', '<form id=f action=\"http://127.0.0.1:9/\"></form>');"
        "document.getElementById('f').submit()"
    )
    for name in ("base-uri", "form-action"):
        assert comes_true(page, lambda name=name: any(name in text for text in said)), name
    assert page.evaluate("document.baseURI").startswith("file:")
    context.close()


def test_by_touch_a_picture_plays_and_the_wipe_is_pulled(phone: Window) -> None:
    phone.page.check("#repeat")  # or it may have come to its end before we look
    phone.page.tap("#all canvas >> nth=0")
    phone.until("!document.getElementById('film').paused")
    phone.page.tap("#all canvas >> nth=0")
    phone.until("document.getElementById('film').paused")
    phone.page.tap("#wipe")
    box = phone.page.locator("#wiped").bounding_box()
    phone.page.touchscreen.tap(box["x"] + box["width"] * 0.75, box["y"] + box["height"] / 2)
    assert phone.page.get_attribute("#edge", "aria-valuenow") == "75"


def test_who_asked_for_less_motion_is_shown_no_loop(phone: Window, desk: Window) -> None:
    assert not phone.page.is_checked("#repeat") and desk.page.is_checked("#repeat")
    phone.page.keyboard.press("Home")
    phone.settled(0)
    phone.page.tap("#play")
    phone.until("document.getElementById('film').ended")
    assert phone.page.inner_text("#play") == "Play"
    durations = phone.page.evaluate("getComputedStyle(document.getElementById('play')).transitionDuration")
    assert durations == "0s"


# --- without a browser ---


def test_a_page_too_large_is_not_written_and_says_by_how_much(folder: Path, tmp_path: Path) -> None:
    copy = shutil.copytree(folder, tmp_path / "copy")
    (copy / "page.html").unlink()
    found = deliver_page(copy, limit=10_000)
    assert isinstance(found, TooLarge)
    assert (found.limit, found.size) == (10_000, (folder / "page.html").stat().st_size)
    assert not (copy / "page.html").exists()
    assert deliver_page(copy, limit=found.size) == copy / "page.html"
    assert deliver_page(copy, purpose="message") == copy / "page.html"
    assert (copy / "page.html").stat().st_size < found.size


@pytest.mark.parametrize("name", ["numbers.json", "side_by_side.mp4"])
def test_a_folder_without_a_comparison_is_told(folder: Path, tmp_path: Path, name: str) -> None:
    copy = shutil.copytree(folder, tmp_path / "copy")
    (copy / name).unlink()
    with pytest.raises(PrevizError, match=r"name a folder that `previz compare` wrote"):
        deliver_page(copy)
    (copy / "numbers.json").write_text("[1]", encoding="utf-8")
    with pytest.raises(PrevizError, match=r"name a folder that `previz compare` wrote"):
        deliver_page(copy)


@pytest.mark.parametrize(
    "change", [{"rate": "fast"}, {"rate": "1/0"}, {"panels": [{}]}, {"telling": 3}, {"rules": None}]
)
def test_numbers_changed_by_hand_are_told_in_a_sentence(folder: Path, tmp_path: Path, change: dict[str, Any]) -> None:
    copy = shutil.copytree(folder, tmp_path / "copy")
    numbers = json.loads((copy / "numbers.json").read_text(encoding="utf-8"))
    (copy / "numbers.json").write_text(json.dumps({**numbers, **change}), encoding="utf-8")
    with pytest.raises(
        PrevizError, match=r"numbers.json is not as `previz compare` wrote it( \(there is no .+\))?; compare again"
    ):
        deliver_page(copy)


@pytest.fixture(scope="module")
def newer(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Another comparison, of other frames; without a page."""
    folder = tmp_path_factory.mktemp("newer")
    comparison = comparison_of(folder)
    deliver_comparison(folder / "out", comparison, films(comparison, FRAMES + 2, 320), 7)
    return folder / "out"


@pytest.mark.parametrize("name", ["side_by_side.mp4", "sheet.png"])
def test_pictures_of_one_comparison_are_not_packed_with_the_numbers_of_another(
    folder: Path, newer: Path, tmp_path: Path, name: str
) -> None:
    """What a comparison that was stopped after its clip, or after its sheet, leaves in the folder of an older one."""
    copy = shutil.copytree(folder, tmp_path / "copy")
    shutil.copy(newer / name, copy / name)
    before = (copy / "page.html").read_bytes()
    for purpose in (None, "message"):
        with pytest.raises(PrevizError, match=rf"{name} is not the one that numbers.json tells of.*compare again"):
            deliver_page(copy, purpose=purpose)
    assert (copy / "page.html").read_bytes() == before


def test_a_page_without_its_sheet_is_still_a_page(folder: Path, tmp_path: Path) -> None:
    copy = shutil.copytree(folder, tmp_path / "copy")
    (copy / "sheet.png").unlink()
    deliver_page(copy)
    assert "<img" not in (copy / "page.html").read_text(encoding="utf-8")


def test_the_page_holds_the_clip_and_no_address(folder: Path) -> None:
    html = (folder / "page.html").read_text(encoding="utf-8")
    assert not re.search(r"(?:src|href)=\"(?!data:)", html)
    assert "http://" not in html and "https://" not in html
    plan = json.loads(re.search(r'id="plan">(.*?)</script>', html)[1])  # type: ignore[index]
    assert plan["frames"] == FRAMES and len(plan["boxes"]) == 3


def test_what_is_told_for_all_cameras_is_true_of_all_of_them() -> None:
    """Both ask for a faster camera, past 120 fps the one and past 60 the other: neither is told with the other's."""

    def panel(name: str, *found: tuple[str, str, str]) -> dict[str, Any]:
        return {"name": name, "findings": [dict(zip(("id", "message", "remedy"), each, strict=True)) for each in found]}

    dim = ("light", "It is dim.", "Light it.")
    first = panel("first", ("rate", "It is slow.", "Past its 120."), dim)
    second = panel("second", ("rate", "It is slow.", "Past its 60."), dim)
    told = {
        group["name"]: [each["remedy"] for each in group["findings"]] for group in findings_by_panel([first, second])
    }
    assert told == {"All of them": ["Light it."], "first": ["Past its 120."], "second": ["Past its 60."]}


def test_what_stops_a_shot_stands_under_its_picture_in_few_words() -> None:
    gists = ("Up to 5.5 % of a frame sees past the set", "ISO 12800 is past this camera's 6400", "It is dim")
    stops = [{"verdict": "stop", "gist": each, "message": f"{each}. And so on."} for each in gists]
    panel = {"findings": [{"verdict": "watch", "gist": "It is slow", "message": "It is slow."}, *stops]}
    expected = ["up to 5.5 % of a frame sees past the set.", "ISO 12800 is past this camera's 6400."]
    assert stopped_by(panel) == [*expected, "and 1 more, below."]
    assert stopped_by({"findings": panel["findings"][:2]}) == expected[:1]
    assert stopped_by({"findings": panel["findings"][:1]}) == []


def test_the_page_tells_under_each_picture_what_stops_it(folder: Path) -> None:
    """As many as `check` has stops of, two a panel at most."""
    numbers = json.loads((folder / "numbers.json").read_text(encoding="utf-8"))
    stops = [[each for each in panel["findings"] if each["verdict"] == "stop"] for panel in numbers["panels"]]
    html = (folder / "page.html").read_text(encoding="utf-8")
    assert html.count('class="stopped"') == sum(min(len(each), 3) for each in stops)


def test_the_page_says_what_to_do_before_a_remedy_that_was_not_tried(folder: Path) -> None:
    html = (folder / "page.html").read_text(encoding="utf-8")
    said = html.partition("What to watch</h2>")[2]
    assert said.index("write that camera with its settings into the shot") < said.index('class="findings"')
