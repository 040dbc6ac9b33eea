"""Make the pictures of docs/real_water.md: python tests/real/make_pictures.py (needs Chromium)."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1])]

import real_inputs as real  # noqa: E402
from conftest import _archive, _unpack  # noqa: E402

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"
SIZE = {"width": 1300, "height": 760}
LABELS = PICTURES / "labels.json"
"""Of each picture the sum of its bytes, and the labels that are seen on it."""

LABELLED = (
    "nav button, #caution, aside h2, aside label.tick, #card button, #card dt, "  # the map
    ".tally span, .line .words .place, h2 small"  # the sheet
)
SEEN = """(selector) => [...document.querySelectorAll(selector)].filter((one) => {
  const { left, top, width, height } = one.getBoundingClientRect();
  const x = left + Math.min(width, 20) / 2, y = top + height / 2;
  const over = document.elementFromPoint(x, y);
  return width && height && over && (one.contains(over) || over.contains(one));
}).map((one) => (one.querySelector("input")?.getAttribute("aria-label")
  || one.firstChild?.textContent || "").replace(/[0-9:.,°'NSEWT]+$/, "").trim()).filter(Boolean)"""
"""Words of the page's own on its parts in sight, without the figures after them."""


def fetch(name: str, version: str, member: str) -> Path:
    return _unpack(_archive(name, version, source=True), member)


def seabed(*arguments: str | Path) -> None:
    command = [sys.executable, "-c", "from layers.cli.main import main; main()"]
    subprocess.run([*command, *map(str, arguments)], check=True, stdout=subprocess.DEVNULL)


def save(page: Page, name: str) -> None:
    """In 200 colours, which is a third of the bytes and looks the same; its labels are noted."""
    picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    picture.quantize(200, dither=Image.Dither.NONE).save(PICTURES / name, optimize=True)
    noted = json.loads(LABELS.read_text("utf-8")) if LABELS.exists() else {}
    labels = sorted(set(page.evaluate(SEEN, LABELLED)))
    if not labels:  # a page of the desk
        return
    noted[name] = {
        "sum": hashlib.sha256((PICTURES / name).read_bytes()).hexdigest(),
        "labels": labels,
    }
    LABELS.write_text(
        json.dumps(noted, indent=1, sort_keys=True, ensure_ascii=False) + "\n", "utf-8"
    )


def closer(page: Page) -> None:
    """Bring the surveyed part, which is a corner of the grid, into the middle and zoom in on it."""
    page.mouse.move(780, 620)
    page.mouse.down()
    page.mouse.move(722, 485, steps=8)
    page.wait_for_timeout(400)
    page.mouse.up()
    page.wait_for_timeout(400)
    page.get_by_role("button", name="Zoom in").click()


def main() -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    folder = Path(tempfile.mkdtemp())
    survey, walk = fetch(*real.BAG), fetch(*real.WALK)
    seabed("scout", survey, *real.SCOUT, "--out", folder / "scout")
    seabed("trip", walk, "--units", "m", "--out", folder / "walk")
    shutil.copy(folder / "walk" / "speed.svg", PICTURES / "real_walk_speed.svg")
    tracks = [
        real.carried_over(walk, folder / "one.gpx"),
        real.carried_over(walk, folder / "two.gpx", days_later=1, aside_m=8.0),
    ]
    seabed(
        "trip", *tracks, "--grid", survey, "--band", "55-62 m", "--units", "m", "--rods", "2",
        "--out", folder / "carried",
    )  # fmt: skip
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-quic"]
        )
        for name in ("scout", "carried"):
            page = browser.new_page(viewport=SIZE)
            page.goto((folder / name / "map.html").as_uri())
            page.wait_for_selector("body[data-ready]")
            if name == "scout":
                closer(page)
            page.wait_for_timeout(1500)
            save(page, f"real_{name}.png")
        browser.close()
    shutil.rmtree(folder)


if __name__ == "__main__":
    main()
