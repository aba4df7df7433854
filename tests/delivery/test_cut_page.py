"""The page of a cut in a real browser: it plays from any shot, is escaped, and asks for nothing outside itself."""

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from previz.delivery import TooLarge
from previz.predictions import Finding, Predictions, Verdict
from tests.delivery.test_cut import ORDER, made
from tests.delivery.test_page import FLAGS, comes_true

TITLE = 'Kai </script><b id="broken">&amp; Hafen'
FOUND = Finding(
    "focus.sharp", "vehicle_sharp_share", 0.0, 1.0, "-", Verdict.STOP, "It is <i>soft</i>.", "Stop down.", "near"
)  # fmt: skip
APART = replace(FOUND, id="between.size", verdict=Verdict.WATCH, message="It <b>jumps</b> in size.", remedy="Zoom.")


def test_the_page_plays_from_a_shot_and_says_what_was_found(tmp_path: Path) -> None:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("no chromium here to try the page in; `bash .ci/run` installs it on Debian and Ubuntu")
    from playwright.sync_api import sync_playwright

    cut = made(tmp_path, ORDER, title=TITLE)
    path = cut.deliver(predictions=Predictions((), (), (FOUND,), ()), between=(APART,)).page
    assert isinstance(path, Path)
    said: list[Any] = []
    asked: list[str] = []
    with sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            str(tmp_path / "profile"), executable_path=program, args=FLAGS, viewport={"width": 390, "height": 800}
        )
        page = context.pages[0]
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        page.goto(path.as_uri())
        film = page.locator("video")
        box = film.bounding_box()
        assert box is not None and box["width"] > 300 and box["height"] > 100
        button = page.locator("button[data-at]").nth(2)
        film.evaluate("film => film.addEventListener('seeked', () => { window.sought ??= film.currentTime; })")
        button.click()
        wanted = (cut.stretches[2].event.starts + 0.5) / 24
        assert comes_true(page, lambda: page.evaluate("window.sought !== undefined"))
        at = page.evaluate("window.sought")
        assert wanted - 1e-3 <= at < wanted + 1
        assert page.locator("h1").inner_text().startswith(TITLE) and page.locator("#broken").count() == 0
        counted = page.locator(".shots summary").first
        assert counted.inner_text() == "1 to mend" and not page.locator(".shots .findings").is_visible()
        counted.click()  # what stops it is told in full, what is to watch in short
        assert page.locator(".shots .findings").inner_text().split() == [
            "stop",
            "It",
            "is",
            "<i>soft</i>.",
            "Stop",
            "down.",
        ]
        between = page.locator("[aria-labelledby=between]")
        assert "watch It <b>jumps</b> in size." in between.inner_text() and "Zoom." not in between.inner_text()
        between.locator("summary").click()
        assert "Zoom." in between.inner_text()
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        context.close()
    assert said == []
    assert all(url.startswith(("file:", "data:", "blob:")) for url in asked)


def test_a_page_that_would_be_too_large_is_not_written(tmp_path: Path) -> None:
    cut = made(tmp_path, "sequence: [wide]")
    page = cut.deliver(limit=1000).page
    assert isinstance(page, TooLarge) and page.size > page.limit == 1000
    assert not (cut.path / "page.html").exists()
