"""Take pictures of every page of the desk in its sizes, lights and states, for eyes to look at.

    python tests/demo/desk_looks.py FOLDER [STATE …]

Says what breaks a rule of axe-core, is wider than its screen, or too small to read or to touch.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import sync_playwright

SIZES = {390: "sun", 768: "night", 1440: "day"}
ENDED = "[data-state=done], [data-state=wrong], [data-state=broken], [data-state=stopped]"
TOO_SMALL = """() => {
  const seen = (one) => one.checkVisibility() && one.getClientRects().length > 0;
  const words = (one) => (one.textContent || one.name || "").trim().slice(0, 30);
  const name = (one) => `${one.tagName.toLowerCase()} ${words(one)}`;
  const all = [...document.querySelectorAll("body *:not(.skip, .out, iframe)")].filter(seen);
  const hasWords = (part) => part.nodeType === 3 && part.data.trim();
  const own = (one) => [...one.childNodes].some(hasWords);
  const scale = (one) => one.ownerSVGElement ? one.getScreenCTM().a : 1;
  const size = (one) => parseFloat(getComputedStyle(one).fontSize) * scale(one);
  const text = all.filter((one) => own(one) && size(one) < 15.9);
  const touched = "button, select, input:not([type=hidden]), a, summary";
  const reached = all.filter((one) => one.matches(touched) && !one.closest("p, td, th"));
  const box = (one) => (one.closest("label.tick") ?? one).getBoundingClientRect();
  const small = reached.filter((one) => box(one).height < 43.5 || box(one).width < 43.5);
  return [...text.map((one) => `text ${name(one)}`), ...small.map((one) => `target ${name(one)}`)];
}"""


def states(page: Any, water: str) -> Iterator[str]:
    """Go through the whole job; give each state as the page is in it."""

    def go(address: str) -> None:
        page.goto(page.url.split("/", 3)[0] + "//" + page.url.split("/", 3)[2] + address)
        page.wait_for_selector("body[data-ready=yes]")

    def press(name: str) -> None:
        page.get_by_role("button", name=name, exact=True).first.click()

    page.wait_for_selector("body[data-ready=yes]")
    yield "home_empty"
    page.get_by_label("What is the water called?").fill("North Sound")
    press("Start this water")
    for name in ("bottom", "today", "trips", "season", "water"):
        go(f"/w/North Sound/{name}")
        yield f"{name}_empty"
    go("/")
    press("Try an invented water")
    page.wait_for_url("**/today*")
    yield "today_first"
    for label, value in (
        ("Day", "2031-06-14"), ("From", "7:00"), ("To", "11:30"), ("Wind in words", "SW 8 kn"),
    ):  # fmt: skip
        page.get_by_label(label, exact=True).fill(value)
    press("Plan the day's drifts")
    page.wait_for_selector("[data-state=working]")
    yield "today_busy"
    page.wait_for_selector(ENDED)
    page.wait_for_selector(".strip svg")
    yield "today_done"
    page.get_by_label("Wind in words").fill("W 25 kn")
    page.get_by_label("Wind in words").blur()
    page.wait_for_selector("[data-state=wrong]")
    yield "today_wrong"
    go(f"/w/{water}/trips")
    for tick in page.locator("#trip [data-kind]").all():
        tick.check()
    page.wait_for_selector("#pieces-list .drift")
    page.locator("#pieces-list .drift").nth(2).click()
    yield "trips_ticked"
    press("Log this trip")
    page.wait_for_selector(ENDED)
    page.wait_for_selector("#pieces-list .drift")
    yield "trips_done"
    go(f"/w/{water}/season")
    yield "season_first"
    press("Rank the lines")
    page.wait_for_selector(ENDED)
    page.locator("details.card").evaluate_all("all => all.forEach((one) => { one.open = true; })")
    yield "season_done"
    page.get_by_label("Wind from, kn").fill("fresh")
    press("Rank the lines")
    page.wait_for_selector("[data-state=wrong]")
    yield "season_wrong"
    go(f"/w/{water}/bottom")
    page.wait_for_selector(".histogram svg")
    yield "bottom_first"
    press("Look for edges, humps and holes")
    page.wait_for_selector(ENDED)
    yield "bottom_done"
    go(f"/w/{water}/water")
    yield "water_first"
    page.locator("details.card").evaluate_all("all => all.forEach((one) => { one.open = true; })")
    page.wait_for_selector("#typed-heights[data-filled]")
    page.locator("#typed-heights tbody input").nth(5).fill("25:00")
    page.wait_for_selector("#typed-heights .fault")
    yield "water_open"
    page.get_by_label("Time zone").fill("Nowhere/Atall")
    page.get_by_label("Time zone").press("Enter")
    page.get_by_role("alert").first.wait_for()
    yield "water_wrong"
    go("/")
    yield "home_full"


def say(*words: Any) -> None:
    sys.stdout.write(" ".join(map(str, words)) + "\n")
    sys.stdout.flush()


def take(page: Any, state: str, folder: Path) -> None:
    for width, light in SIZES.items():
        page.set_viewport_size({"width": width, "height": 900})
        page.select_option("#light", light)
        page.wait_for_timeout(400)
        name = f"{state}_{width}"
        page.screenshot(path=folder / f"{name}.png", full_page=True)
        if state.endswith("busy"):
            continue  # it is over in a moment
        for rule in Axe().run(page, options={"iframes": False}).response["violations"]:
            say(name, rule["id"], [node["html"][:100] for node in rule["nodes"]])
        if (wide := page.evaluate("document.documentElement.scrollWidth")) > width:
            say(name, f"is {wide} wide")
        for small in sorted(set(page.evaluate(TOO_SMALL))):
            say(name, "small:", small)


def main(folder: str, *only: str) -> None:
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    root = Path(tempfile.mkdtemp()) / "waters"
    desk = [sys.executable, "-m", "layers.cli.main", "desk", str(root)]
    with subprocess.Popen([*desk, "--no-browser"], stdout=subprocess.PIPE, text=True) as process:
        address = re.search(r"http://\S+", process.stdout.readline())[0]
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-quic"]
            )
            page = browser.new_page(viewport={"width": 1440, "height": 900})
            page.set_default_timeout(180_000)
            page.on("console", lambda m: say("console", m.type, m.text, m.location))
            page.on("pageerror", lambda error: say("error", error))
            page.goto(address)
            for state in states(page, "demo water"):
                if not only or state in only:
                    take(page, state, place)
                page.set_viewport_size({"width": 1440, "height": 900})
            browser.close()
        subprocess.run([*desk, "--stop"], check=True, capture_output=True)
    shutil.rmtree(root.parent)


if __name__ == "__main__":
    main(*sys.argv[1:])
