"""The whole job by keyboard alone; ``test_whole_job.py`` plans its day by keyboard too."""

import shutil

import pytest
from keyboard import Keys, goes_round, plan_a_day, save_the_plan
from page_steps import changed, plans, saved
from playwright.sync_api import expect
from thoroughness import THOROUGH

if not THOROUGH:
    pytest.skip("make test-all only: each job once more, by keyboard", allow_module_level=True)

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def water(root, demo):
    """The demo water without its trips."""
    folder = root / "sound"
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("trip*", "catches*"))
    return folder


@pytest.fixture(scope="module")
def keys(water, open_desk):
    keys = Keys(open_desk())
    keys.ready()
    return keys


def test_a_day_is_planned_and_its_sheet_and_marks_saved(keys):
    import pypdf

    keys.follow("a[href$='/sound/today']")
    plan_a_day(keys)
    marks, sheet = save_the_plan(keys)
    assert "P1" in marks.read_text()
    assert "P1" in pypdf.PdfReader(sheet).pages[0].extract_text()


def test_a_plan_of_the_page_s_own_is_the_user_s_once_it_is_saved(keys, water):
    keys.back("#day > button")
    keys.back(".dial svg")
    keys.press("ArrowRight")
    wsw = keys.page.locator(".times[data-wind='WSW 8 kn']")
    expect(wsw).to_be_visible(timeout=600_000)
    assert keys.at(".dial svg")
    assert plans(water)[-1]["by_itself"]
    keys.to("[aria-label='Save alone: Sheet to print']")
    assert saved(keys.page, lambda: keys.press("Enter")).stat().st_size
    assert not plans(water)[-1]["by_itself"]


def test_a_trip_is_sent_put_right_and_logged(keys, water, demo):
    page = keys.page
    keys.follow("nav a[href$='/trips']")  # through the map, and round
    keys.to("form.drop input[type=file]")
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.locator(":focus").set_input_files([demo / "trip_1.gpx", demo / "catches.csv"])
    keys.ready()
    assert keys.at("form.drop input[type=file]")
    page.wait_for_selector("#pieces-list .drift")
    keys.to("#pieces-list .drift")
    keys.press("Enter")
    assert keys.at("#pieces-list .drift[aria-pressed=true]")
    keys.to("#end-to")
    before = page.locator("#chosen").inner_text()

    def pressed(key, wanted):
        changed(page, lambda: keys.press(key))
        assert keys.at(wanted)

    pressed("Shift+ArrowLeft", "#end-to")
    assert page.locator("#chosen").inner_text() != before
    corrections = water / "tracks" / "trip_1.corrections.txt"
    assert corrections.read_text().rstrip().endswith("run")
    keys.to("[data-do=undo]")
    pressed("Enter", "#end-cursor")  # nothing more can be undone
    assert page.locator("#chosen").inner_text() == before
    keys.to("[data-do=redo]")
    pressed("Space", "#end-cursor")
    keys.follow("#trip [name=preview]", way="Shift+Tab")
    assert keys.at("#trip [name=preview]:focus-visible")
    keys.done()
    expect(page.locator("#trip [name=preview]")).to_be_focused()
    keys.follow("#trip [name=log]")
    page.get_by_role("row", name="2031-06-07").wait_for(timeout=600_000)
    keys.ready()
    expect(page.locator("#trip [name=log]")).to_be_focused()


def test_the_season_is_ranked(keys):
    keys.follow("nav a[href$='/season']", way="Shift+Tab")
    keys.follow("[name=what][value=rank]")
    keys.done()
    assert keys.at("[name=what][value=rank]")
    assert keys.page.locator(".lines li").count()


def test_the_bottom_is_looked_at_with_another_band(keys, water):
    keys.follow("nav a[href$='/bottom']", way="Shift+Tab")
    keys.page.wait_for_selector(".histogram svg .bar")
    keys.write("[name=band_from]", "18")
    keys.write("[name=band_to]", "24")
    keys.follow("form[action$='/bottom/band'] button")
    assert 'band = "18-24 ft"' in (water / "area.toml").read_text()
    keys.follow("form[action$='/sound/bottom'] button")
    keys.done()
    assert keys.at("form[action$='/sound/bottom'] button")
    keys.follow("#plotter > .fields > button")
    keys.page.get_by_role("link", name="Save the file for the plotter").wait_for()
    keys.ready()
    keys.to("a[download].button")
    assert "<wpt" in saved(keys.page, lambda: keys.press("Enter")).read_text()


def test_what_is_known_of_the_water_is_changed_and_a_table_typed(keys, water):
    page = keys.page
    keys.follow("nav a[href$='/water']", way="Shift+Tab")
    keys.to("#boat > summary")
    keys.press("Enter")
    keys.write("[name=boat_draft]", "2 ft")
    with page.expect_navigation(wait_until="domcontentloaded"):
        keys.press("Enter")  # in the field itself
    keys.ready()
    assert 'draft = "2 ft"' in (water / "area.toml").read_text()
    keys.follow("form.saved button", way="Shift+Tab")
    assert "draft" not in (water / "area.toml").read_text()

    keys.to("#typed-heights > summary")
    keys.press("Enter")
    page.wait_for_selector("#typed-heights[data-filled]")
    time = "#typed-heights tbody input[aria-label='Time, 1']"
    keys.write(time, "25:00")
    expect(page.locator("#typed-heights .fault")).to_have_count(1)
    keys.back("#typed-heights tbody input[aria-label='Day, 1']")
    keys.write(time, "01:06")
    expect(page.locator("#typed-heights .fault")).to_have_count(0)
    keys.follow("#typed-heights > button", way="Shift+Tab")  # past few stops, not every cell
    assert "01:06" in (water / "tides" / "typed heights.csv").read_text()


def test_a_new_water_is_started(keys, root, demo):
    keys.follow(".where a", way="Shift+Tab")
    keys.write("[name=name]", "Far Bank")
    keys.write("[name=zone]", "Etc/GMT+2")
    keys.to("[name=units]")
    keys.page.keyboard.type("met")
    keys.follow("form[action='/waters'] button")
    assert keys.page.url.endswith("/Far%20Bank/bottom")
    keys.to("form.drop input[type=file]")
    with keys.page.expect_navigation(wait_until="domcontentloaded"):
        keys.page.locator(":focus").set_input_files(demo / "sound.tif")
    keys.ready()
    keys.page.wait_for_selector(".histogram svg .bar")
    area = (root / "Far Bank" / "area.toml").read_text()
    assert 'timezone = "Etc/GMT+2"' in area and "sound.tif" in area
    assert 'depth = "m"' in area and 'fish = "cm"' in area


PAGES = ["", *(f"w/sound/{name}" for name in ("today", "trips", "season", "bottom", "water"))]


@pytest.mark.parametrize("name", PAGES)
def test_tab_reaches_every_control_in_order_and_gets_round_the_page(keys, name):
    page = keys.page
    page.goto(f"{page.url.split('/w/')[0].rstrip('/')}/{name}")
    goes_round(keys)
