"""Make the pictures of docs/desk.md: python tests/demo/make_desk_pictures.py (needs Chromium)."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "real"))

from make_pictures import save

SIZE = {"width": 1440, "height": 1000}


def main() -> None:
    root = Path(tempfile.mkdtemp()) / "waters"
    desk = [sys.executable, "-m", "layers.cli.main", "desk", str(root)]
    with subprocess.Popen([*desk, "--no-browser"], stdout=subprocess.PIPE, text=True) as process:
        address = re.search(r"http://\S+", process.stdout.readline())[0]
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-quic"]
            )
            page = browser.new_page(viewport=SIZE)
            page.set_default_timeout(180_000)
            page.goto(address)
            page.get_by_role("button", name="Try an invented water").click()
            page.wait_for_url("**/today*")
            for label, value in (
                ("Day", "2031-06-14"),
                ("From", "7:00"),
                ("To", "11:30"),
                ("Wind in words", "SW 8 kn"),
            ):
                page.get_by_label(label, exact=True).fill(value)
            page.get_by_role("button", name="Plan the day's drifts").click()
            page.wait_for_selector("[data-state=done]")
            page.wait_for_selector(".strip svg")
            inside = page.frame_locator(".bottom-map iframe")
            inside.locator("body[data-ready=yes]").wait_for()
            page.wait_for_timeout(1500)
            save(page, "desk_today.png")
            page.goto(page.url.split("/today")[0] + "/water#typed-heights")
            page.wait_for_selector("#typed-heights[data-filled]")
            page.locator("#typed-heights tbody input").nth(5).fill("25:00")
            page.wait_for_selector("#typed-heights .fault")
            page.wait_for_timeout(1500)
            save(page, "desk_water.png")
            browser.close()
        subprocess.run([*desk, "--stop"], check=True, capture_output=True)
    shutil.rmtree(root.parent)


if __name__ == "__main__":
    main()
