"""Own trips and tables on the desk: the current is learned, soundings merged; asked before use."""

import re
import shutil
import tomllib

import numpy as np
import pandas as pd
import pytest
from page_steps import ended, open_card, paste
from playwright.sync_api import expect

from seabed import open_grid
from seabed.grid.places import sample

pytestmark = pytest.mark.browser

BIAS_M = 0.5


@pytest.fixture(scope="module")
def page(open_desk, root, demo):
    page = open_desk()
    page.get_by_role("button", name="Try an invented water").click()
    page.wait_for_url("**/today*")
    shutil.copy(demo / "sound.tif", root / "demo water" / "grids")  # coarse: no check needs more
    page.goto(page.url.replace("/today", "/water"))
    page.wait_for_selector("body[data-ready=yes]")
    return page


@pytest.fixture(scope="module")
def area(root, page):
    return root / "demo water" / "area.toml"


def use(page, name):
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.get_by_role("button", name=name).click()
    page.get_by_role("button", name="Undo", exact=True).wait_for()


def water_of(area):
    return tomllib.loads(area.read_text())


def test_the_demo_lies_in_folders_and_its_area_file_names_them(area):
    assert water_of(area)["grid"]["files"] == ["grids/sound.tif"]
    assert water_of(area)["water"]["heights"] == "tides/tide_table.csv"
    assert (area.parent / "tracks" / "trip_1.gpx").is_file()


def test_a_closed_card_names_each_value_that_it_lists(page):
    """The area file says ``speed = "8 kn"`` and ``from = 230``, a number without a unit."""
    assert page.locator("#wind > summary .known").inner_text() == (
        "Wind if none is given: 8 kn · The usual wind comes from (degrees true): 230"
    )


def test_a_learned_current_is_shown_then_used_then_undone(page, area):
    page.locator("#learn > summary").click()
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.locator("#learn form button").click()
    ended(page)
    shown = page.locator("#learn").inner_text()
    learned_from, left_out = (
        int(re.search(r"Learned from (\d+) drifts on 4 days", shown)[1]),
        len(re.findall(r"2031-06-\d\d #\d+, \d\d:\d\d to \d\d:\d\d: it goes", shown)),
    )
    assert learned_from + left_out == 28
    assert left_out
    assert water_of(area)["water"]["currents"] == "tides/current_table.csv"  # not asked yet
    use(page, "Use this current")
    learned = area.parent / water_of(area)["water"]["currents"]
    assert learned.parent.name == "tides"
    assert learned.is_file()
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.get_by_role("button", name="Undo", exact=True).click()
    assert water_of(area)["water"]["currents"] == "tides/current_table.csv"


def sounded(path, grid_file):
    """Eight lines across the middle of the sound, 0.5 m deeper than the grid, at high water."""
    grid = open_grid(grid_file)
    rows = []
    time = pd.Timestamp("2031-06-14T12:00:00Z")
    for line in range(8):
        across = np.linspace(-0.002, 0.002, 120)
        for offset in across if line % 2 else across[::-1]:
            rows.append((time, 46.2 + 0.0002 * line, -33.3875 + offset))
            time += pd.Timedelta(seconds=1)
    table = pd.DataFrame(rows, columns=["time", "latitude", "longitude"])
    depth = sample(grid, table["longitude"].to_numpy(), table["latitude"].to_numpy())
    assert np.isfinite(depth).all()
    table["depth_m"] = np.round(depth + BIAS_M, 2)
    table["time"] = table["time"].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    table.to_csv(path, index=False)
    return path


def test_own_soundings_are_merged_shown_used_and_undone(page, area, demo, tmp_path):
    page.wait_for_selector("body[data-ready=yes]")
    page.locator("#sound > summary").click()
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.locator("#sound input[type=file]").set_input_files(
            sounded(tmp_path / "own.csv", demo / "sound.tif")
        )
    page.wait_for_selector("body[data-ready=yes]")
    page.locator("#sound").evaluate("card => { card.open = true; }")
    page.get_by_label("Remove no tide: only the shape counts").check()
    page.get_by_label("Depths are measured from").select_option("surface")
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.get_by_role("button", name="Merge them with the grid").click()
    ended(page)
    assert "960 soundings" in page.locator("#sound").inner_text()
    assert page.locator("#sound img.rose").evaluate("picture => picture.naturalWidth") > 100
    shown = page.frame_locator(".bottom-map iframe")
    shown.locator("body[data-ready=yes]").wait_for()
    off = [float(metres) for metres in re.findall(r'"off_m":(-?[\d.]+)', page.frames[1].content())]
    assert off
    assert off == pytest.approx([BIAS_M] * len(off), abs=0.02)
    use(page, "Use the merged grid")
    merged = water_of(area)["grid"]["files"]
    assert merged[0].startswith("grids/merged_depth")
    assert (area.parent / merged[0]).is_file()
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.get_by_role("button", name="Undo", exact=True).click()
    assert water_of(area)["grid"]["files"] == ["grids/sound.tif"]


PASTED = """Sat 14 June 2031
3:12 AM  High Tide 6.2 ft
9:30 AM  Low Tide 0.4 ft
3:41 PM  High Tide 6.0 ft
"""


def test_a_table_is_pasted_and_what_is_wrong_is_beside_its_cell(page, area):
    open_card(page, "typed-heights")
    page.wait_for_selector("#typed-heights[data-filled]")
    cells = page.locator("#typed-heights tbody input")
    paste(cells.first, PASTED)
    expect(cells.nth(8)).to_have_value("2031-06-14")
    expect(cells.nth(9)).to_have_value("15:41")
    rows = [[cells.nth(4 * row + at).input_value() for at in range(4)] for row in range(3)]
    assert rows[1] == ["2031-06-14", "09:30", "0.40", "low"]
    cells.nth(5).fill("9:75")
    page.wait_for_selector("#typed-heights .fault")
    wrong = page.locator("#typed-heights [aria-invalid]")
    assert wrong.count() == 1
    assert wrong.get_attribute("aria-label") == "Time, 2"
    described = page.locator(f"#{wrong.get_attribute('aria-describedby')}")
    assert "9:75" in described.inner_text()
    page.get_by_role("button", name="Use this tide table").click()
    page.wait_for_selector("#typed-heights .fault")
    assert not (area.parent / "tides" / "typed heights.csv").exists()
    cells.nth(5).fill("9:30")
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.get_by_role("button", name="Use this tide table").click()
    table = (area.parent / "tides" / "typed heights.csv").read_text()
    assert table.splitlines()[:2] == ["date,time,height_ft,kind", "2031-06-14,03:12,6.20,high"]
    assert 'heights = "tides/typed heights.csv"' in area.read_text()
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.get_by_role("button", name="Undo", exact=True).click()
    assert 'heights = "tides/tide_table.csv"' in area.read_text()
