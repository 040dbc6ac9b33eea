"""Pieces and fish put right on the page Trips, by mouse, finger and keys; in the file and back."""

import csv
import json
import shutil

import pandas as pd
import pytest
from page_steps import broken_rules, changed, drag_end
from photo_files import write_photo
from thoroughness import THOROUGH

from layers.cli.main import main
from layers.logbook import Logbook
from layers.tracks import clean, cut, read_fixes
from layers.tracks.corrections import correct, read_corrections

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def water(root, address, demo):
    """The demo water, its files where a desk keeps them."""
    folder = root / "sound"
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("trip*", "cat*"))
    for kind, names in {"tracks": ["trip_1.gpx"], "catches": ["catches.csv"]}.items():
        (folder / kind).mkdir()
        for name in names:
            shutil.copy(demo / name, folder / kind)
    return folder


@pytest.fixture(scope="module")
def opened(open_desk, water):
    def opened_at(width=1440):
        page = open_desk(width, 900, "/w/sound/trips")
        page.wait_for_selector("body[data-ready=yes]")
        for name in ("trip_1.gpx", "catches.csv"):
            page.get_by_label(name, exact=True).check()
        page.wait_for_selector("#pieces-list li")
        return page

    return opened_at


@pytest.fixture(scope="module")
def page(opened):
    return opened()


@pytest.fixture
def lines(water):
    """The file of corrections, which is put away afterwards."""
    file = water / "tracks" / "trip_1.corrections.txt"
    file.unlink(missing_ok=True)
    yield lambda: file.read_text().splitlines() if file.is_file() else []
    file.unlink(missing_ok=True)


@pytest.fixture
def fresh(page, lines):
    page.reload()
    page.wait_for_selector("#pieces-list li")
    return page


def pieces(page):
    """Give kind, start and end of each piece, as the list says."""
    rows = page.locator("#pieces-list button").all_inner_texts()
    split = [row.replace(",", "").split() for row in rows]
    at = [row.index("to") for row in split]
    return [(row[0], row[n - 1], row[n + 1]) for row, n in zip(split, at, strict=True)]


def chosen(page, number=1):
    """Choose a drift of the list, the first by default."""
    page.locator("#pieces-list .drift").nth(number - 1).click()


def test_an_end_of_a_drift_is_dragged_by_the_mouse(fresh, lines, water):
    before = pieces(fresh)
    chosen(fresh, 2)
    drag_end(fresh, -20)
    changed(fresh, fresh.mouse.up)
    after = pieces(fresh)
    assert len(after) == len(before)
    moved = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert len(moved) == 2  # the drift ends earlier, and what comes after it begins then
    assert moved[0][1][2] == moved[1][1][1] < moved[0][0][2]
    assert lines()[-1].endswith("Z run")
    holds_every_second(water)


def holds_every_second(water):
    """The file, read apart, cuts the track so that each second is in one piece."""
    fixes, _ = clean(read_fixes([water / "tracks" / "trip_1.gpx"]))
    table, unused = correct(
        cut(fixes), fixes, read_corrections(water / "tracks" / "trip_1.corrections.txt")
    )
    assert unused == []
    assert (table["start"].iloc[1:].to_numpy() == table["end"].iloc[:-1].to_numpy()).all()
    whole = fixes["time"].iloc[-1] - fixes["time"].iloc[0]
    assert table["duration_s"].sum() == whole.total_seconds()


def test_keys_alone_move_an_end_and_escape_leaves_it(fresh, lines):
    chosen(fresh, 2)
    drift = next(one for one in pieces(fresh)[2:] if one[0] == "drift")
    end = fresh.locator("#end-to")
    end.focus()
    fresh.keyboard.press("ArrowLeft")
    fresh.keyboard.press("Escape")
    assert lines() == []
    first = end.get_attribute("aria-valuetext")
    assert first == drift[2]
    fresh.keyboard.press("Shift+ArrowLeft")
    changed(fresh, lambda: fresh.keyboard.press("ArrowLeft"))
    # a minute, and ten seconds; ends fall on fixes, here four seconds apart
    away = pd.Timestamp(f"2031-06-07 {first}") - pd.Timestamp(
        f"2031-06-07 {end.get_attribute('aria-valuetext')}"
    )
    assert 66 <= away.total_seconds() <= 78
    assert fresh.evaluate("document.activeElement.id") == "end-to"


def test_a_finger_drags_an_end(opened, lines):
    page = opened(390)
    chosen(page, 2)
    page.locator("#end-from").scroll_into_view_if_needed()
    before = pieces(page)
    box = page.locator("#end-from").bounding_box()
    x, y = box["x"] + box["width"] - 6, box["y"] + 40
    touch = page.context.new_cdp_session(page)
    touch.send(
        "Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]}
    )
    for away in (4, 8, 12):
        point = [{"x": x + away, "y": y}]
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": point})
    changed(
        page,
        lambda: touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []}),
    )
    after = pieces(page)
    assert [a != b for a, b in zip(before, after, strict=True)].count(True) == 2
    assert len(lines()) == 1


def test_cut_join_rename_undo_and_do_again(fresh, lines):
    first = pieces(fresh)
    chosen(fresh)
    fresh.locator("#end-cursor").focus()
    for _ in range(6):
        fresh.keyboard.press("Shift+ArrowRight")
    changed(fresh, fresh.get_by_role("button", name="Cut at").click)
    cut_ = pieces(fresh)
    assert len(cut_) == len(first) + 1
    at = cut_.index((*first[1][:2], cut_[1][2]))
    assert cut_[at][2] == cut_[at + 1][1]
    changed(fresh, lambda: fresh.get_by_label("hold", exact=True).check())
    assert pieces(fresh)[2][0] == "hold"  # the later half, in which the moment is
    changed(fresh, fresh.get_by_role("button", name="Undo").click)
    assert pieces(fresh) == cut_
    changed(fresh, fresh.get_by_role("button", name="Redo").click)
    assert pieces(fresh)[2][0] == "hold"
    changed(fresh, fresh.get_by_role("button", name="Undo").click)
    chosen(fresh)
    changed(fresh, fresh.get_by_role("button", name="Join with the drift").click)
    assert pieces(fresh) == first
    fresh.reload()  # what can be undone is in the file, not in the page
    fresh.wait_for_selector("#pieces-list li")
    changed(fresh, fresh.get_by_role("button", name="Undo").click)
    assert pieces(fresh) == cut_
    changed(fresh, fresh.get_by_role("button", name="Undo").click)
    assert (pieces(fresh), lines()) == (first, [])


def test_the_cut_between_two_drifts_is_moved_and_undone_as_one(fresh, lines):
    chosen(fresh)
    fresh.locator("#end-cursor").focus()
    for _ in range(4):
        fresh.keyboard.press("Shift+ArrowRight")
    changed(fresh, fresh.get_by_role("button", name="Cut at").click)
    before = pieces(fresh)
    chosen(fresh)
    fresh.locator("#end-to").focus()
    changed(fresh, lambda: fresh.keyboard.press("Shift+ArrowRight"))
    assert [a != b for a, b in zip(before, pieces(fresh), strict=True)].count(True) == 2
    assert len(lines()) == 3
    changed(fresh, fresh.get_by_role("button", name="Undo").click)
    assert (pieces(fresh), len(lines())) == (before, 1)


def fish(page):
    return page.locator("#fish-table tbody tr").all_inner_texts()


def test_a_fish_is_changed_moved_taken_away_and_added(fresh, lines):
    before = fish(fresh)
    fresh.get_by_role("button", name="Change: 08:24:10").click()
    form = fresh.locator("#fish-form")
    form.get_by_label("Length, in").fill("17.5")
    changed(fresh, form.get_by_role("button", name="Save").click)
    assert "17.5" in fish(fresh)[1]
    assert [line.split("  #")[0] for line in lines()] == [
        "2031-06-07 10:24:10Z no fish: brindle flounder, 16 in",
        "2031-06-07 10:24:10Z fish: brindle flounder, 17.5 in, kept, rod 2",
    ]
    fresh.get_by_role("button", name="Change: 08:24:10").click()
    for _ in range(3):
        fresh.get_by_role("button", name="Closer").click()
    box = fresh.locator(".trackmap circle.moment").bounding_box()
    fresh.mouse.click(box["x"] + 40, box["y"] + 80)
    move = form.get_by_role("button", name="Move it to")  # the moment that was touched
    move.wait_for()
    changed(fresh, move.click)
    assert "08:24:10" not in "".join(fish(fresh))
    assert len(fish(fresh)) == len(before)
    changed(fresh, fresh.get_by_role("button", name="Undo").click)
    changed(fresh, fresh.get_by_role("button", name="Undo").click)
    assert fish(fresh) == before
    fresh.get_by_role("button", name="Change: 08:33:22").click()
    changed(fresh, form.get_by_role("button", name="Remove").click)
    assert len(fish(fresh)) == len(before) - 1
    chosen(fresh)
    fresh.get_by_role("button", name="Fish at").click()
    form.get_by_label("Species").fill("ling, blue #2")
    form.get_by_label("Note").fill("2, on the turn")
    changed(fresh, form.get_by_role("button", name="Add a fish").click)
    assert lines()[-1].endswith("fish: ling blue 2, kept, note 2 on the turn")
    assert len(fish(fresh)) == len(before)


def test_a_length_that_no_fish_has_is_answered_beside_the_form(fresh, lines):
    chosen(fresh)
    form = fresh.locator("#fish-form")
    form.get_by_label("Species").fill("ling")
    form.get_by_label("Length, in").fill("1600")
    form.get_by_role("button", name="Add a fish").click()
    fresh.wait_for_selector("#fish-wrong:not([hidden])")
    assert "1600 in" in fresh.locator("#fish-wrong").inner_text()
    assert lines() == []


@pytest.mark.skipif(not THOROUGH, reason="make test-all only; test_whole_job.py compares a trip")
def test_the_desk_and_the_command_make_the_same_and_log_it(fresh, lines, water, tmp_path):
    chosen(fresh, 2)
    fresh.locator("#end-to").focus()
    changed(fresh, lambda: fresh.keyboard.press("Shift+ArrowLeft"))
    fresh.get_by_role("button", name="Change: 08:33:22").click()
    changed(fresh, fresh.locator("#fish-form").get_by_role("button", name="Remove").click)
    log(fresh)
    ours = max((water / "results").glob("*-trip"))
    elsewhere = tmp_path / "boat.txt"
    shutil.copy(water / "tracks" / "trip_1.corrections.txt", elsewhere)
    shutil.copy(water / "tracks" / "trip_1.gpx", tmp_path)
    arguments = ["trip", str(tmp_path / "trip_1.gpx"), "--area", str(water / "area.toml")]
    arguments += ["--catches", str(water / "catches" / "catches.csv")]
    arguments += ["--corrections", str(elsewhere), "--out", str(tmp_path / "out")]
    with pytest.raises(SystemExit) as ended:
        main([*arguments, "--log", str(tmp_path / "log.gpkg")])
    assert not ended.value.code
    for name in ("drifts.csv", "tied_catches.csv", "lines.csv"):
        assert without_files(ours / name) == without_files(tmp_path / "out" / name), name
    book, other = (Logbook(path) for path in (water / "logbook.gpkg", tmp_path / "log.gpkg"))
    same = ["kind", "start", "end", "lines_up_s"]
    pd.testing.assert_frame_equal(book.pieces()[same], other.pieces()[same])
    kept = json.loads(max((water / "results").glob("*-trip.answer.json")).read_text())
    assert kept["logged"]["added"]
    # logged again, nothing changes
    before = book.trips()
    log(fresh)
    pd.testing.assert_frame_equal(book.trips(), before)


def log(page):
    with page.expect_navigation(wait_until="domcontentloaded"):
        page.get_by_role("button", name="Log this trip").click()
    page.wait_for_selector("[data-state=done], [data-state=wrong]", timeout=600_000)
    assert page.locator("[data-state=done]").count(), page.locator("[data-task]").inner_text()


def without_files(path):
    """Read a table without the paths that it names."""
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return [
            {name: value for name, value in row.items() if name != "file"}
            for row in csv.DictReader(stream)
        ]


@pytest.mark.skipif(not THOROUGH, reason="make test-all only; test_whole_job.py does it")
def test_a_trip_is_taken_out_and_put_back(fresh, water):
    before = Logbook(water / "logbook.gpkg").trips()
    fresh.get_by_role("button", name="Remove this trip: 2031-06-07").click()
    put_back = fresh.get_by_role("button", name="Put 2031-06-07 back")
    put_back.wait_for(timeout=600_000)
    assert len(Logbook(water / "logbook.gpkg").trips()) == len(before) - 1
    put_back.click()
    fresh.get_by_role("button", name="Remove this trip: 2031-06-07").wait_for(timeout=600_000)
    after = Logbook(water / "logbook.gpkg").trips()
    pd.testing.assert_frame_equal(after.drop(columns="added"), before.drop(columns="added"))


def test_columns_are_taken_for_what_the_skipper_says(fresh, water):
    fresh.get_by_text("What each column of catches.csv").click()
    with fresh.expect_response(lambda answer: "/trips/sketch" in answer.url):
        fresh.locator("[data-heading=note]").select_option("rod")
    fresh.wait_for_selector("#trip-wrong:not([hidden])")
    assert (
        "two columns have the same meaning: 'rod' and 'note'"
        in fresh.locator("#trip-wrong").inner_text()
    )
    with fresh.expect_response(lambda answer: "/trips/sketch" in answer.url):
        fresh.locator("[data-heading=note]").select_option("note")
    fresh.wait_for_selector("#trip-wrong", state="hidden")
    text = (water / "area.toml").read_text()
    assert '"note: note"' in text
    assert "# Invented rules of an invented place." in text


@pytest.mark.parametrize(
    ("width", "light"),
    [(390, "sun"), *([(1440, "night"), (768, "night"), (1440, "day")] if THOROUGH else [])],
)
def test_the_editor_can_be_used_by_everybody(opened, lines, width, light):
    page = opened(width)
    page.select_option("#light", light)
    chosen(page, 2)
    for name in ("catches.csv: catch log", "What each column of", "How times and lengths"):
        page.locator("#trip summary", has_text=name).click()
    page.wait_for_timeout(300)
    assert broken_rules(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    low = page.evaluate(
        """[...document.querySelectorAll("#editor button, #editor [role=slider], .cards button")]
        .filter((one) => one.offsetParent !== null && one.getBoundingClientRect().height < 43.5)
        .map((one) => one.outerHTML)"""
    )
    assert low == []


def test_photos_are_fish_of_the_trip(fresh, lines, tmp_path, demo):
    fixes = read_fixes([demo / "trip_1.gpx"])
    fix = fixes.iloc[len(fixes) // 3]
    clock = fix["time"].tz_convert("Etc/GMT+2")
    place = (fix["longitude"], fix["latitude"])
    photo = tmp_path / "keeper 24 in.jpg"
    write_photo(photo, f"{clock:%Y:%m:%d %H:%M:%S}", place=place)
    before = len(fish(fresh))
    with fresh.expect_navigation(wait_until="domcontentloaded"):
        fresh.locator("form.drop input[type=file]").set_input_files([photo])
    fresh.wait_for_selector("#pieces-list li")
    assert fresh.get_by_label("keeper 24 in.jpg", exact=True).is_checked()
    rows = fish(fresh)
    assert len(rows) == before + 1
    assert any(f"{clock:%H:%M:%S}" in row and "24" in row for row in rows)
