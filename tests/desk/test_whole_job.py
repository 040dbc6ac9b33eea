"""The whole job in a browser, with no command typed; the same files as the commands make.

A day is planned by keyboard; ``test_keyboard.py`` does each job so.
"""

import io
import json
import re
import shutil
from pathlib import Path

import kept
import pandas as pd
import pytest
from keyboard import Keys, goes_round, plan_a_day, save_the_plan, stays_in_view
from page_steps import (
    DEMO,
    broken_rules,
    catches_in_utc,
    changed,
    command_of,
    dial_places,
    drag_end,
    ended,
    follow,
    give_wind,
    open_card,
    plans,
    saved,
    send,
    shift_the_fish,
    turn_by_finger,
)  # fmt: skip
from playwright.sync_api import expect
from thoroughness import THOROUGH

from layers.cli.main import main
from layers.desk.tasks import tasks
from layers.desk.waters import BOOK, Water
from layers.logbook import Logbook

pytestmark = pytest.mark.browser

PAGES = ("today", "bottom", "water", "trips", "season")
LOOKS = {390: "sun", 768: "night", 1440: "day"}


@pytest.fixture(scope="module")
def page(open_desk):
    return open_desk()


@pytest.fixture(scope="module")
def keys(page):
    return Keys(page)


def test_a_new_water_is_started_and_its_grid_read(page, root, demo):
    page.get_by_label("What is the water called?").fill("North Sound")
    page.get_by_label("Depths and fish in").select_option("ft")
    follow(page, "button", "Start this water")
    send(page, demo / "sound.tif")
    page.wait_for_selector(".histogram svg .bar")
    page.get_by_label("from", exact=True).fill("18")
    page.get_by_label("to", exact=True).fill("26")
    page.get_by_role("button", name="Save", exact=True).first.click()
    text = (root / "North Sound" / "area.toml").read_text()
    assert 'band = "18-26 ft"' in text
    assert 'files = ["grids/sound.tif"]' in text
    assert "# Depth grids; several are one mosaic." in text  # its comments stay


def test_tide_and_current_come_from_files_that_are_sent(page, root):
    follow(page, "link", "This water")
    send(page, DEMO / "tide_table.csv", DEMO / "current_table.csv")
    uses = {"tide_table": "Use for tide heights", "current_table": "Use for currents"}
    for name, use in uses.items():
        form = page.locator("form", has_text=name)
        form.get_by_text("table", exact=False).first.wait_for()
        with page.expect_navigation(wait_until="domcontentloaded"):
            form.get_by_role("button", name=use).click()
    for card, label, value in (
        ("place", "Time zone", "Etc/GMT+2"),
        ("tide", "The flood runs toward (degrees true)", "352"),
        ("tide", "The ebb runs toward (degrees true)", "172"),
    ):
        open_card(page, card)
        page.get_by_label(label).fill(value)
        with page.expect_navigation(wait_until="domcontentloaded"):
            page.get_by_label(label).press("Enter")
    text = (root / "North Sound" / "area.toml").read_text()
    assert 'heights = "tides/tide_table.csv"' in text
    assert 'currents = "tides/current_table.csv"' in text


def test_a_zone_that_is_none_is_answered_beside_its_field(page, root):
    open_card(page, "place")
    zone = page.get_by_label("Time zone")
    zone.fill("Nowhere/Atall")
    zone.press("Enter")
    page.get_by_role("alert").first.wait_for()
    assert "Nowhere/Atall" in page.get_by_role("alert").first.inner_text()
    assert "Nowhere" not in (root / "North Sound" / "area.toml").read_text()


def test_a_rule_that_can_t_be_is_answered_beside_its_field(page, root):
    open_card(page, "rules")
    page.locator("[name=species_1]").fill("brindle flounder")
    page.locator("[name=daily_bag_1]").fill("ten")
    page.locator("[name=daily_bag_1]").press("Enter")
    wrong = page.locator("[name=daily_bag_1][aria-invalid=true]")
    wrong.wait_for()
    assert wrong.input_value() == "ten"
    message = page.locator(f"#{wrong.get_attribute('aria-errormessage')}")
    assert "whole number" in message.inner_text()
    assert page.get_by_text("Saved.").count() == 0
    assert '"ten"' not in (root / "North Sound" / "area.toml").read_text()


def test_the_bottom_is_scouted_and_marks_are_saved(page, root):
    follow(page, "link", "Bottom")
    page.get_by_role("button", name="Look for edges, humps and holes").click()
    ended(page)
    assert page.locator("iframe").count() == 1
    page.get_by_role("button", name="Write the marks").click()
    link = page.get_by_role("link", name="Save the file for the plotter")
    gpx = saved(page, link.click).read_text()
    assert gpx.count("<trk>") + gpx.count("<rte>") + gpx.count("<wpt") >= 5
    assert "R1" in gpx


def test_what_comes_late_leaves_the_keyboards_place_in_view(keys):
    stays_in_view(keys, "form[action$='/bottom'] button", "**/bottom/depths", ".histogram svg .bar")


def test_a_day_is_planned_by_keyboard_and_its_sheet_printed(page, keys):
    import pypdf

    keys.follow("nav a[href$='/today']", way="Shift+Tab")
    plan_a_day(keys)
    rows = page.locator(".times li").all_inner_texts()
    expect(page.locator("#drifts").get_by_text(re.compile("[Hh]old each line"))).to_have_count(1)
    marks, sheet = save_the_plan(keys)
    assert "P1" in marks.read_text()
    text = pypdf.PdfReader(sheet).pages[0].extract_text()
    assert "P1" in text
    assert "Not for navigation" in text
    itself = pypdf.PdfReader(io.BytesIO(page.pdf()))
    printed = "".join(sheet.extract_text() for sheet in itself.pages)
    assert all(row.splitlines()[0] in printed for row in rows)
    assert "Not for navigation" in printed


def test_the_plan_is_laid_again_for_another_wind(page):
    """Keys turn the dial by sixteenths; meanwhile the old drifts are marked as of another wind."""
    dial, words = page.get_by_role("slider", name="Wind from"), page.get_by_label("Wind in words")
    expect(dial).to_have_attribute("aria-valuetext", "SW")
    before = page.locator(".times").inner_text()
    dial.focus()
    dial.press("ArrowRight")
    expect(words).to_have_value("WSW 8 kn")
    expect(page.locator("#drifts.earlier #plan-other")).to_have_text(
        "These drifts are for the earlier wind: SW 8 kn on 2031-06-14."
    )
    expect(page.locator(".bottom-map.earlier iframe")).to_be_visible()
    expect(page.locator(".then").first).to_contain_text("the boat left alone drifts at")
    expect(page.locator("#carry")).to_be_hidden()
    expect(page.locator("[data-state=working] progress")).to_be_visible()
    dial.press("PageUp")  # while that is worked on, which nobody wants any more
    expect(words).to_have_value("NNW 8 kn")
    expect(page.locator(".times[data-wind='NNW 8 kn']")).to_be_visible(timeout=600_000)
    expect(page.locator("#drifts.earlier, .bottom-map.earlier")).to_have_count(0)
    expect(dial).to_be_focused()
    assert page.locator(".times").inner_text() != before


def test_a_plan_of_the_page_s_own_is_the_user_s_once_it_is_saved(page, root):
    def theirs():
        return {one["request"]["wind"][0]: one["by_itself"] for one in plans(root / "North Sound")}

    assert theirs() == {"SW 8 kn": False, "NNW 8 kn": True}
    sheet = saved(page, page.get_by_role("link", name="Save alone: Sheet to print").click)
    assert sheet.stat().st_size
    assert theirs() == {"SW 8 kn": False, "NNW 8 kn": False}


def test_a_wind_without_a_good_hour_leaves_the_earlier_drifts_marked(page):
    give_wind(page, "W 25 kn")  # above the limit of wind of every boat
    drifts = page.locator(".times .drift").count()
    expect(page.locator(".times .lost")).to_have_count(drifts)
    expect(page.get_by_role("slider", name="Wind from")).to_have_attribute("aria-valuetext", "W")
    page.wait_for_selector("[data-state=wrong]", timeout=600_000)
    expect(page.locator("#drifts.earlier")).to_be_visible()
    give_wind(page, "/etc/some.csv")
    wrong = page.locator(".strip .wrong")
    expect(wrong).to_have_text(re.compile("no table /etc/some.csv"))
    assert page.get_by_label("Wind in words").get_attribute("aria-invalid") == "true"
    give_wind(page, "SW 8 kn")
    expect(page.locator(".times[data-wind='SW 8 kn']")).to_be_visible(timeout=600_000)
    expect(page.locator(".times .lost")).to_have_count(0)


def test_the_dial_is_turned_by_mouse_and_by_finger(open_desk, page):
    first, *others = dial_places(page, (0.3, 0), (0.3, 0.3), (0, 0.3))
    page.mouse.move(*first)
    page.mouse.down()
    for place in others:
        page.mouse.move(*place, steps=3)
    page.mouse.up()
    expect(page.get_by_label("Wind in words")).to_have_value("S 8 kn")
    give_wind(page, "SW 8 kn")
    expect(page.locator("#drifts:not(.earlier)")).to_be_visible()

    phone = open_desk(390, 800, page.url)
    phone.wait_for_selector(".strip svg")
    phone.frame_locator(".bottom-map iframe").locator("body[data-ready=yes]").wait_for()
    turn_by_finger(phone, (-0.3, 0), (-0.3, -0.3), (0, -0.3))
    expect(phone.get_by_label("Wind in words")).to_have_value("N 8 kn")
    phone.close()
    page.reload()  # what the finger asked for is none of this page's
    page.wait_for_selector("body[data-ready=yes]")


def test_list_and_map_point_at_each_other_in_one_light(page):
    inside = page.frame_locator(".bottom-map iframe")
    inside.locator("body[data-ready=yes]").wait_for()
    choose = page.locator(".times [data-choose=plan][data-name=P1]").first
    choose.click()
    expect(choose).to_have_attribute("aria-pressed", "true")
    inside.get_by_text("P1, ").first.wait_for()  # its card
    page.select_option("#light", "night")
    inside.locator("body[data-view=night]").wait_for()
    page.select_option("#light", "day")


def test_what_could_hurt_is_said_above_the_drifts(page, root):
    file = sorted((root / "North Sound" / "results").glob("*-plan.answer.json"))[-1]
    before = file.read_text()
    words = {"words": "The datum is not known. Name it with {grid.vertical_datum}."}
    file.write_text(json.dumps(json.loads(before) | {"warnings": [words], "beyond": "Too windy."}))
    page.reload()
    warned = page.locator("#drifts > .warning:not([role])")
    expect(warned.nth(0)).to_have_text("Too windy.")
    expect(warned.nth(1)).to_have_text(re.compile("“Depths are measured from” \\(Bottom\\).$"))
    file.write_text(before)  # the next test loads the page anew


def test_a_map_that_is_ready_before_its_page_takes_the_page_s_light(page):
    inside = page.frame_locator(".bottom-map iframe")

    def late(route):
        inside.locator("body[data-ready=yes]").wait_for()
        route.continue_()

    page.select_option("#light", "night")
    page.route("**/desk.js*", late)
    page.goto(page.url, wait_until="commit")
    page.wait_for_selector("body[data-ready=yes]")
    inside.locator("body[data-view=night]").wait_for()
    page.unroute("**/desk.js*")
    page.select_option("#light", "day")


def test_what_is_chosen_goes_into_one_folder(page, root):
    carry = page.locator("#carry")
    carry.get_by_label("Map", exact=True).uncheck()
    with page.expect_navigation(wait_until="domcontentloaded"):
        carry.get_by_role("button", name="All in one folder").click()
    folder = next((root / "North Sound" / "carry").iterdir())
    assert {path.name for path in folder.iterdir()} == {"sheet.pdf", "plan.gpx", "README.txt"}
    assert "Not for navigation" in (folder / "README.txt").read_text()


def test_a_trip_is_logged_from_a_spreadsheet_with_a_wrong_zone(page, tmp_path):
    """The page asks, and says what would follow; then an end of a drift is dragged."""
    follow(page, "link", "Trips")
    send(page, DEMO / "trip_1.gpx", catches_in_utc(tmp_path / "log.xlsx"))
    shift_the_fish(page)

    page.locator("#pieces-list .drift").nth(1).click()
    before = page.locator("#chosen").inner_text()
    drag_end(page, -20)
    changed(page, page.mouse.up)
    assert page.locator("#chosen").inner_text() != before
    follow(page, "button", "Work it out", exact=True)
    ended(page)
    stale = page.locator("#trip-stale")
    expect(stale).to_be_hidden()
    page.wait_for_selector("#editor:not([aria-busy])")
    for undone in ("Undo", "Redo"):  # the correction is taken back, and made again
        changed(page, page.get_by_role("button", name=undone, exact=True).click)
    expect(stale).to_contain_text("Changed since this was made: your corrections.")
    expect(page.get_by_role("button", name="Work it out again", exact=True)).to_be_visible()
    page.get_by_role("button", name=re.compile("^Change: ")).last.click()
    changed(page, page.locator("#fish-form").get_by_role("button", name="Remove").click)
    follow(page, "button", "Log this trip", exact=True)
    ended(page)
    expect(stale).to_be_hidden()
    page.get_by_role("row", name="2031-06-07").wait_for()
    clock = page.get_by_label("The catch log's clock was ahead by")
    assert clock.input_value() == "2 h"
    page.get_by_label("log.xlsx", exact=True).uncheck()  # it was said of this log alone
    assert clock.input_value() == ""


def test_the_season_is_ranked(page):
    page.get_by_role("link", name="Season").click()
    page.get_by_role("button", name="Rank the lines").click()
    ended(page)
    assert page.locator(".lines li").count()
    assert page.get_by_text("By depth, ft").count()


def test_commands_make_the_same_files_of_the_same_input(page, root, tmp_path):
    """Two jobs of the desk, in the thorough set all, done by commands again: nothing differs."""
    water = Water((root / "North Sound").resolve())
    done = {task.job: task for task in reversed(tasks(water))}
    assert set(done) == {"scout", "marks", "plan", "trip", "season"}
    for job in done if THOROUGH else ("plan", "trip"):
        task = done[job]
        asked = Path(task.request["out"])
        place = tmp_path / "commands" / job
        with pytest.raises(SystemExit) as ended:
            out = place / asked.name if asked.suffix else place
            main(command_of(task, out, tmp_path / "book.gpkg"))
        assert not ended.value.code, job
        shutil.copytree(asked.parent if asked.suffix else asked, tmp_path / "desk" / job)
    assert list(kept.differences(tmp_path / "desk", tmp_path / "commands")) == []
    book, other = (Logbook(path) for path in (water.folder / BOOK, tmp_path / "book.gpkg"))
    same = ["kind", "start", "end", "lines_up_s"]
    pd.testing.assert_frame_equal(book.pieces()[same], other.pieces()[same])
    assert book.trips()["fish"].tolist() == [12]  # of 13


def test_a_file_is_taken_away_and_brought_back(page, root):
    follow(page, "link", "Trips")
    log = root / "North Sound" / "catches" / "log.xlsx"
    page.wait_for_selector("body[data-ready=yes]")
    follow(page, "button", "Remove: log.xlsx")
    assert not log.exists()
    follow(page, "link", "This water")
    follow(page, "button", "Bring back catches/log.xlsx")
    assert log.is_file()


def test_filters_that_leave_nothing_are_answered_beside_their_field(page):
    follow(page, "link", "Season")
    page.wait_for_selector("body[data-ready=yes]")
    page.get_by_label("Wind from, kn").fill("fresh")
    page.get_by_role("button", name="Rank the lines").click()
    field = page.locator("input[name=wind_from][aria-invalid=true]")
    field.wait_for()  # a script marks it
    wrong = page.locator(f"#{field.get_attribute('aria-errormessage')}")
    assert "is not a number" in wrong.inner_text()
    assert page.get_by_text("is not a number").count() == 1  # and nowhere else
    page.get_by_role("button", name="Correct: Wind from, kn").click()
    assert field.evaluate("one => one === document.activeElement")


def test_a_trip_is_taken_out_and_put_back_and_a_backup_restored(page, root):
    """The newest backup is from before the trip was put back."""
    book = Logbook(root / "North Sound" / BOOK)
    before = book.trips()
    page.get_by_role("button", name="Remove this trip: 2031-06-07").click()
    page.get_by_role("button", name="Put 2031-06-07 back").click()
    page.get_by_role("row", name="2031-06-07").wait_for()
    after = book.trips()
    pd.testing.assert_frame_equal(after.drop(columns="added"), before.drop(columns="added"))
    page.get_by_role("link", name="Season").click()
    page.wait_for_selector("body[data-ready=yes]")
    page.get_by_text("Keep and share").click()
    page.get_by_role("button", name="Restore this backup").click()
    ended(page)
    assert book.trips().empty


@pytest.mark.parametrize("name", ["today", "trips"])
def test_tab_gets_round_the_page(page, keys, name):
    page.goto(f"{page.url.rsplit('/', 1)[0]}/{name}")
    goes_round(keys)


@pytest.mark.parametrize("at", range(len(LOOKS)), ids=[str(width) for width in LOOKS])
def test_every_page_can_be_used_by_everybody(open_desk, page, at):
    """No rule of axe-core is broken, in any light; nothing is wider than the screen."""
    width, light = list(LOOKS.items())[at]
    water = page.url.rsplit("/", 1)[0]
    pages = [f"{water}/{name}" for name in PAGES] + [water.rsplit("/w/", 1)[0] + "/"]
    # one page in each light, the front page in the first too
    first, *others = pages if THOROUGH else pages[at :: len(PAGES)]
    own = open_desk(width, 900, first)
    for address in (first, *others):
        if address != first:
            own.goto(address)
        own.wait_for_selector("body[data-ready=yes]")
        own.select_option("#light", light)
        own.wait_for_timeout(300)
        assert broken_rules(own) == [], address
        assert own.evaluate("document.documentElement.scrollWidth") <= width, address
