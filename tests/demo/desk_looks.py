"""Take pictures of every page of the desk in its sizes, lights and states, for eyes to look at.

    python tests/demo/desk_looks.py FOLDER [--all] [STATE …]

Says what breaks a rule of axe-core, is wider than its screen, or too small to read or to touch.
With ``--all`` each size is shown in each light, else in one.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import sync_playwright

from layers import jobs
from layers.jobs.requests import TripRequest

SIZES = {390: "sun", 768: "night", 1440: "day"}
PAGES = ("bottom", "today", "trips", "season", "water")
YEARS = (2028, 2029, 2030)
"""Years before those of the demo's trips, for a logbook of several seasons."""
BUSY = "[data-state=waiting], [data-state=working]"
OPEN = "all => all.forEach((one) => { one.open = true; })"
SETTLED = """() => document.body.dataset.ready === "yes"
  && document.querySelector("[aria-busy=true]") === null
  && document.getAnimations().length === 0"""
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
  const touched = "button, select, input:not([type=hidden]), a, summary, [role=slider]";
  const reached = all.filter((one) => one.matches(touched) && !one.closest("p, td, th"));
  const box = (one) => (one.closest("label.tick") ?? one).getBoundingClientRect();
  const small = reached.filter((one) => box(one).height < 43.5 || box(one).width < 43.5);
  const sides = (one) => `${box(one).width.toFixed(0)} by ${box(one).height.toFixed(0)} px`;
  return [
    ...text.map((one) => `text of ${size(one).toFixed(1)} px: ${name(one)}`),
    ...small.map((one) => `target of ${sides(one)}: ${name(one)}`),
  ];
}"""


@contextmanager
def held(desk: int) -> Iterator[None]:
    """Let the workers of a desk stand still, so that what they do lasts as long as it is seen."""
    found = subprocess.run(["pgrep", "-P", str(desk)], capture_output=True, text=True, check=False)
    workers = [int(word) for word in found.stdout.split()]
    for worker in workers:
        os.kill(worker, signal.SIGSTOP)
    try:
        yield
    finally:
        for worker in workers:
            os.kill(worker, signal.SIGCONT)


def states(page: Any, root: Path, desk: int) -> Iterator[str]:
    """Go through the whole job; give each state as the page is in it."""

    def go(address: str) -> None:
        page.goto("/".join(page.url.split("/", 3)[:3]) + address)
        page.wait_for_function(SETTLED)

    def press(name: str) -> None:
        page.get_by_role("button", name=name, exact=True).first.click()

    def ended(state: str = "done") -> None:
        page.wait_for_selector(f"[data-task][data-state={state}]")
        page.wait_for_function(SETTLED)

    def change(before: str, after: str) -> None:
        area = root / "demo water" / "area.toml"
        area.write_text(area.read_text().replace(before, after))
        page.reload()
        page.wait_for_function(SETTLED)

    page.wait_for_selector("body[data-ready=yes]")
    yield "home_empty"
    page.get_by_label("What is the water called?").fill("North Sound")
    press("Start this water")
    for name in PAGES:
        go(f"/w/North Sound/{name}")
        yield f"{name}_empty"
    go("/w/North Sound/charter")
    yield "no_page"
    go("/")
    press("Try an invented water")
    page.wait_for_url("**/today*")
    yield "today_first"
    for label, value in (
        ("Day", "2031-06-14"), ("From", "7:00"), ("To", "11:30"), ("Wind in words", "SW 8 kn"),
    ):  # fmt: skip
        page.get_by_label(label, exact=True).fill(value)
    with held(desk):
        press("Plan the day's drifts")
        page.wait_for_selector(BUSY)
        yield "today_busy"
    ended()
    page.wait_for_selector(".strip svg")
    yield "today_done"
    press("Write the marks (GPX)")
    page.get_by_role("link", name="Save the file for the plotter").wait_for()
    page.locator("details").evaluate_all(OPEN)
    yield "today_open"
    change("[boat]", '[boat]\ndraft = "0.6 m"')
    yield "today_stale"
    change('\ndraft = "0.6 m"', "")
    page.reload()
    page.get_by_label("Wind in words").fill("W 25 kn")
    page.get_by_label("Wind in words").blur()
    ended("wrong")
    yield "today_wrong"
    go("/w/demo water/trips")
    for tick in page.locator("#trip [data-kind]").all():
        tick.check()
    page.wait_for_selector("#pieces-list .drift")
    page.locator("#pieces-list .drift").nth(2).click()
    yield "trips_ticked"
    with held(desk):
        press("Log this trip")
        page.wait_for_selector(BUSY)
        yield "trips_busy"
    ended()
    page.wait_for_selector("#pieces-list .drift")
    yield "trips_done"
    page.locator("details").evaluate_all(OPEN)
    page.get_by_label("The catch log's clock was ahead by").fill("soon")
    press("Work it out")
    page.wait_for_selector("#trip .wrong")
    yield "trips_wrong"
    go("/w/demo water/season")
    yield "season_first"
    press("Rank the lines")
    ended()
    page.locator("details.card").evaluate_all(OPEN)
    yield "season_done"
    page.get_by_label("Wind from, kn").fill("fresh")
    press("Rank the lines")
    page.locator("[name=wind_from][aria-invalid=true]").wait_for()
    yield "season_wrong"
    log_years(root / "demo water")
    go("/w/demo water/season")
    page.get_by_label("Wind from, kn").fill("")
    with held(desk):
        press("Rank the lines")
        page.wait_for_selector(BUSY)
        yield "season_busy"
    ended()
    yield "season_full"
    page.locator("details.card").evaluate_all(OPEN)
    yield "season_full_open"
    go("/w/demo water/bottom")
    page.wait_for_selector(".histogram svg")
    yield "bottom_first"
    with held(desk):
        press("Look for edges, humps and holes")
        page.wait_for_selector(BUSY)
        yield "bottom_busy"
    ended()
    yield "bottom_done"
    page.locator("details.card").evaluate_all(OPEN)
    page.get_by_label("from", exact=True).fill("deep")
    press("Save")
    page.wait_for_selector(".histogram svg")
    yield "bottom_wrong"
    go("/w/demo water/water")
    yield "water_first"
    page.locator("details.card:not(#typed-currents)").evaluate_all(OPEN)
    page.wait_for_selector("#typed-heights[data-filled]")
    page.locator("#typed-heights tbody input").nth(5).fill("25:00")
    page.wait_for_selector("#typed-heights .fault")
    yield "water_open"
    page.get_by_label("Time zone").fill("Nowhere/Atall")
    page.get_by_label("Time zone").press("Enter")
    page.locator("[name=area_timezone][aria-invalid=true]").wait_for()
    yield "water_wrong"
    page.locator("#learn").evaluate("card => { card.open = true; }")
    press("Learn the current from drifts")
    ended()
    yield "water_learned"
    go("/")
    yield "home_full"


def log_years(water: Path) -> None:
    """Log the demo's trips in earlier years too, with other fish in each."""
    tables = [water / "tides" / name for name in ("tide_table.csv", "current_table.csv")]
    files = [*sorted((water / "tracks").glob("*.gpx")), *(water / "catches").glob("*.csv")]
    with tempfile.TemporaryDirectory() as place:
        for year in YEARS:
            there = Path(place) / str(year)
            there.mkdir()
            for file in (*files, *tables):
                head, *rows = file.read_text().replace("2031-", f"{year}-").splitlines()
                if file.parent.name == "catches":
                    rows = [row for at, row in enumerate(rows) if (at + year) % 4]
                (there / file.name).write_text("\n".join([head, *rows]) + "\n")
            words = (water / "area.toml").read_text().replace('"tides/', f'"{there}/')
            area = water / f"{year}.toml"
            area.write_text(words)
            tracks = tuple(there / file.name for file in files if file.suffix == ".gpx")
            fish = tuple(there / file.name for file in files if file.suffix == ".csv")
            log, out = water / "logbook.gpkg", there / "out"
            jobs.run(TripRequest(tracks=tracks, catches=fish, area=area, log=log, out=out))
            area.unlink()


def say(*words: Any) -> None:
    sys.stdout.write(" ".join(map(str, words)) + "\n")
    sys.stdout.flush()


def take(page: Any, state: str, folder: Path, *, every: bool) -> None:
    busy = state.endswith("busy")
    for width, usual in SIZES.items():
        page.set_viewport_size({"width": width, "height": 900})
        for light in dict.fromkeys([usual, *(SIZES.values() if every else ())]):
            page.select_option("#light", light)
            page.wait_for_timeout(300)  # a strip is drawn anew a moment after its width changed
            if not busy:  # what a page reads itself waits behind what is done
                page.wait_for_function(SETTLED)
                for frame in page.frames[1:]:  # maps
                    frame.wait_for_selector("body[data-ready=yes]", state="attached")
            name = f"{state}_{width}_{light}"
            page.screenshot(path=folder / f"{name}.png", full_page=True)
            for rule in Axe().run(page, options={"iframes": False}).response["violations"]:
                say(name, rule["id"], [node["html"][:100] for node in rule["nodes"]])
            if (wide := page.evaluate("document.documentElement.scrollWidth")) > width:
                say(name, f"is {wide} wide")
            for small in sorted(set(page.evaluate(TOO_SMALL))):
                say(name, small)


def main(folder: str, *words: str) -> None:
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    only = [word for word in words if word != "--all"]
    root = Path(tempfile.mkdtemp()) / "waters"
    desk = [sys.executable, "-m", "layers.cli.main", "desk", str(root)]
    with subprocess.Popen([*desk, "--no-browser"], stdout=subprocess.PIPE, text=True) as process:
        address = re.search(r"http://\S+", process.stdout.readline())[0]
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                # the one with windows does not always paint maps again for a picture
                executable_path=shutil.which("chromium-headless-shell") or shutil.which("chromium"),
                args=["--no-sandbox", "--disable-quic"],
            )
            page = browser.new_page(viewport={"width": 1440, "height": 900})
            page.set_default_timeout(180_000)
            page.on("console", lambda m: "charter" in str(m.location) or say("console", m.text))
            page.on("pageerror", lambda error: say("error", error))
            page.goto(address)
            for state in states(page, root, process.pid):
                if not only or state in only:
                    take(page, state, place, every="--all" in words)
                page.set_viewport_size({"width": 1440, "height": 900})
            browser.close()
        subprocess.run([*desk, "--stop"], check=True, capture_output=True)
    shutil.rmtree(root.parent)


if __name__ == "__main__":
    main(*sys.argv[1:])
