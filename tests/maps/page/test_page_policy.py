"""What a page's policy lets its browser run: the page's own style sheets and scripts alone."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import xarray as xr
from map_content import HOSTILE, content_of
from test_sheet_printed import day_of

from layers.maps.page import page_of
from layers.present.pictures.cut import Cut
from layers.present.report import Prospect, Report, write_report
from layers.present.sheet.html import write_sheet
from layers.present.web_page import web_page


class Parts(HTMLParser):
    """Policy, style sheets, running scripts and attributes of a page, by the standard parser."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.policy = ""
        self.texts: dict[str, list[str]] = {"style": [], "script": []}
        self.attributes: list[str] = []
        self._within = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        self.attributes += named
        if named.get("http-equiv") == "Content-Security-Policy":
            self.policy = named["content"] or ""
        # a block of data does not run
        self._within = tag if tag in self.texts and "type" not in named else ""

    def handle_data(self, data: str) -> None:
        if self._within:
            self.texts[self._within].append(data)

    def handle_endtag(self, tag: str) -> None:
        self._within = ""

    def sources(self, directive: str) -> set[str]:
        rules = (rule.split() for rule in self.policy.split(";"))
        return next(set(rest) for name, *rest in rules if name == directive)


def held(page: str) -> Parts:
    """Hold a page to its policy: each part is named by its hash, and nothing else is."""
    parts = Parts(page)
    assert "unsafe" not in parts.policy
    assert parts.sources("default-src") == parts.sources("base-uri") == {"'none'"}
    for tag, texts in parts.texts.items():
        digests = (hashlib.sha256(text.encode()).digest() for text in texts)
        named = {f"'sha256-{base64.b64encode(one).decode()}'" for one in digests} or {"'none'"}
        assert parts.sources(f"{tag}-src") == named
    loose = [name for name in parts.attributes if name == "style" or name.startswith("on")]
    assert loose == []
    return parts


def test_a_map_names_each_of_its_parts(small_grid: xr.DataArray) -> None:
    parts = held(page_of(content_of(small_grid, HOSTILE)))
    assert [len(texts) for texts in parts.texts.values()] == [2, 2]


def test_a_page_without_scripts_runs_none() -> None:
    parts = held(web_page(HOSTILE, "<p>é</p>", styles=["p::before { content: '✓'; }"]))
    assert parts.sources("script-src") == {"'none'"}


@pytest.mark.browser
@pytest.mark.parametrize("kind", ["report", "sheet"])
def test_report_and_sheet_show_as_meant_and_make_no_complaint(
    browser: Any, small_grid: xr.DataArray, tmp_path: Path, kind: str
) -> None:
    path = tmp_path / f"{kind}.html"
    if kind == "report":
        cut = Cut([-10.0, 0.0, 10.0], [5.0, 6.5, 8.0], [5.0, 6.5, 8.0], [0.1] * 3, ("W", "E"))
        place = Prospect("R1", "edge", "Falls.", 61.4, ["drop"], [], (-33.41, 46.19), cut)
        write_report(path, Report(HOSTILE, ["Words"], [], [place], (5.5, 7.9), "ft"))
    else:
        write_sheet(path, day_of(2, small_grid))
    parts = held(path.read_text(encoding="utf-8"))
    assert parts.sources("script-src") == {"'none'"}
    page = browser.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.goto(path.as_uri())
    assert page.evaluate("getComputedStyle(document.querySelector('h1')).marginTop") == "0px"
    assert page.locator("svg").count() >= 1
    page.close()
    assert said == []


@pytest.mark.browser
def test_the_browser_refuses_all_else(browser: Any, tmp_path: Path) -> None:
    body = (
        '<p id="p" style="color: red" onclick="document.title=1">Words</p>'
        "<script>window.hit = 1</script>"
    )
    path = tmp_path / "page.html"
    path.write_text(web_page("Page", body, styles=["p { color: rgb(0, 0, 255); }"]))
    page = browser.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.goto(path.as_uri())
    page.click("#p")
    assert page.evaluate("[window.hit, document.title]") == [None, "Page"]
    assert page.evaluate("getComputedStyle(document.getElementById('p')).color") == "rgb(0, 0, 255)"
    assert len(said) >= 2  # it says what it refused: this is why no message is asked of our pages
    page.close()


@pytest.mark.browser
def test_a_map_made_again_keeps_its_tally(
    open_map: Callable[..., Any], small_grid: xr.DataArray, tmp_path: Path
) -> None:
    from datetime import UTC, datetime

    def made(name: str, day: int, **more: Any) -> Path:
        path = tmp_path / f"{name}.html"
        path.write_text(page_of(content_of(small_grid, **more), datetime(2031, 6, day, tzinfo=UTC)))
        return path

    page = open_map(made("one", 14))
    page.click("#tool-fish")
    page.get_by_role("button", name="Kept", exact=True).click()
    again = open_map(made("again", 15))
    again.click("#tool-fish")
    assert again.locator(".tally li").count() == 1
    other = open_map(made("other", 15, band_m=(5.0, 6.0)))  # the same title, other data
    other.click("#tool-fish")
    assert other.locator(".tally li").count() == 0
    other.get_by_role("button", name="Move 1 fish of other maps here").click()
    assert other.locator(".tally li").count() == 1
    page.reload()
    page.wait_for_selector("body[data-ready]")
    page.click("#tool-fish")
    assert page.locator(".tally li").count() == 0
