"""Make every picture of a page in the docs: python tests/demo/make_readme_pictures.py.

It needs Chromium, and for those of real water the network once.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "real"))

import make_pictures as real
from make_pictures import save, seabed

AREA = Path(__file__).parents[2] / "demo_area" / "area.toml"


def main() -> None:
    folder = Path(tempfile.mkdtemp())
    seabed("demo", "--out", folder)
    seabed(
        "plan", "--area", AREA, "--date", "2031-06-14", "--from", "7:00", "--to", "11:30",
        "--wind", "SW 8 kn", "--out", folder / "plan",
    )  # fmt: skip
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-quic"]
        )
        wide = browser.new_page(viewport={"width": 1440, "height": 900})
        wide.goto((folder / "trip" / "map.html").as_uri())
        wide.wait_for_selector("body[data-ready]")
        wide.wait_for_timeout(1500)
        save(wide, "map_laptop.png")
        hand = browser.new_context(
            viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
        )
        phone = hand.new_page()
        phone.goto((folder / "trip" / "map.html").as_uri())
        phone.wait_for_selector("body[data-ready]")
        phone.wait_for_timeout(1500)
        save(phone, "map_phone.png")
        phone.click("#side-open")
        phone.click("#lines .line >> nth=0")
        phone.wait_for_timeout(1500)
        save(phone, "card_phone.png")
        sheet = browser.new_page(viewport={"width": 860, "height": 1188})
        sheet.goto((folder / "plan" / "sheet.html").as_uri())
        save(sheet, "sheet.png")
        browser.close()
    shutil.rmtree(folder)


if __name__ == "__main__":
    main()
    real.main()
