"""Planned lines, hazards and expected fish on the map, at both sizes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from axe_playwright_python.sync_playwright import Axe
from map_content import HOSTILE, PHONE, SIZES, WIDE
from planned_content import NOON, expected_of, passes_of, planned
from pyproj import Transformer

from layers.maps import write_map
from layers.maps.depths import pack_expected
from seabed.units import percent, rounded, rounded_down

pytestmark = pytest.mark.browser

OpenMap = Callable[..., Any]
ARTEFACTS = Path(__file__).parents[2] / "test_artefacts"


@pytest.fixture(scope="module")
def map_of(small_grid: xr.DataArray, tmp_path_factory: pytest.TempPathFactory) -> Any:
    made: dict[str, Path] = {}

    def given(words: str = "P1") -> Path:
        if words not in made:
            made[words] = tmp_path_factory.mktemp("planned") / "map.html"
            write_map(made[words], planned(small_grid, words))
        return made[words]

    return given


def unfold(page: Any) -> None:
    if "shut" in (page.get_attribute("#side", "class") or ""):
        page.click("#side-open")


def set_hour(page: Any, after_noon_s: float) -> None:
    page.get_by_label("Hour", exact=True).evaluate(
        "(input, value) => { input.value = value; input.dispatchEvent(new Event('input')); }",
        NOON.timestamp() + after_noon_s,
    )


def serious(page: Any, part: str | None = None) -> list[str]:
    """What axe-core finds on the page, or in what a selector matches: a part takes less time."""
    options = {"resultTypes": ["violations"]}
    found = Axe().run(page, context=part, options=options).response["violations"]
    return [
        f"{one['id']}: {node['target']} {node['failureSummary']}"
        for one in found
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]


@pytest.mark.parametrize("size", SIZES)
def test_the_line_of_the_hour_stands_out(open_map: OpenMap, map_of: Any, size: Any) -> None:
    page = open_map(map_of(), size)
    assert page.evaluate("seabedMap.moment") == NOON.timestamp()  # the first line's
    unfold(page)
    rows, marks = page.locator("#plan .line"), page.locator(".sign.plan")
    assert marks.all_inner_texts() == ["P1", "P2"]
    # 12:00 to 12:45 UTC is P1's, the next 45 minutes P2's, and nothing is planned before
    for seconds, on in (
        (0, [1, 0]),
        (2400, [1, 0]),
        (2700, [0, 1]),
        (5400, [0, 0]),
        (-300, [0, 0]),
    ):
        set_hour(page, seconds)
        assert ["at this hour" in text for text in rows.all_inner_texts()] == [bool(n) for n in on]
        classes = [mark.get_attribute("class").split() for mark in marks.all()]
        assert ["on" in names for names in classes] == [bool(n) for n in on]
        assert [mark.evaluate("(m) => Number(m.style.opacity)") for mark in marks.all()] == [
            1.0 if n else 0.75 for n in on
        ]
    set_hour(page, 3600)
    assert "at 11:00" in page.inner_text("#readout .tide")
    set_hour(page, 0)
    ARTEFACTS.mkdir(exist_ok=True)
    page.screenshot(path=ARTEFACTS / f"map_{size['width']}_plan.png")
    assert serious(page) == []


@pytest.mark.parametrize("size", SIZES)
def test_the_card_tells_the_line_and_the_water_of_the_hour(
    open_map: OpenMap, map_of: Any, small_grid: xr.DataArray, size: Any
) -> None:
    page = open_map(map_of(), size)
    unfold(page)
    page.locator("#plan .line").first.click()
    said = page.inner_text("#card")
    assert page.inner_text("#card h2") == "P1, 10:00 to 10:45"  # two hours behind UTC
    to_degrees = Transformer.from_crs(32624, 4326, always_xy=True)
    for northing in (5117700, 5117300):
        longitude, latitude = to_degrees.transform(620400, northing)
        minutes = f"{(latitude % 1) * 60:06.3f}′N"
        assert minutes in said, (minutes, said)
        assert f"{(-longitude % 1) * 60:06.3f}′W" in said
    for words in ("180° true", "15 min at 0.9 kn", "0.4 kn toward 262°", "20 to 25 ft", "100%",
                  "90%", "P1: all of it lies in the band."):  # fmt: skip
        assert words in said, words
    # at noon the tide is at 2 m, an hour later at 2 1/6 m: labels of the profile follow, and
    # the bottom is 5 + 10 x / 200 m at column x = 80, less the hump's foot: 8.6 to 9.0 m
    foot = "#card .profile svg text >> nth=1"
    set_hour(page, 0)
    deep = float(page.text_content(foot))
    set_hour(page, 3600 * 3)
    assert float(page.text_content(foot)) - deep == pytest.approx(0.5 / 0.3048, abs=1.01)
    # the deepest on the line is 9.0 m (30 ft) of chart; 2 m of tide on top: 36 ft
    assert deep == pytest.approx((9.0 + 2.0) / 0.3048, abs=1.0)
    page.get_by_role("button", name="Set the hour to 10:00").click()
    assert page.evaluate("seabedMap.moment") == NOON.timestamp()
    page.screenshot(path=ARTEFACTS / f"map_{size['width']}_plan_card.png")
    assert serious(page, "#card") == []
    page.click("#card .shut-card")
    assert page.evaluate("seabedMap.chosen") is None


def test_the_card_sets_out_what_changes_from_pass_to_pass(
    open_map: OpenMap, small_grid: xr.DataArray, tmp_path: Path
) -> None:
    path = tmp_path / "map.html"
    write_map(path, planned(small_grid, plan_passes=passes_of("P1")))
    page = open_map(path, PHONE)
    unfold(page)
    page.locator("#plan .line").first.click()
    rows = page.locator("#card .passes tr").all()
    assert [row.locator("th, td").all_inner_texts() for row in rows] == [
        ["at", "min", "toward", "motor", "least", "in band", "fan"],
        # halves go up, and the least water down
        ["10:00", "8", "180°", "0.4 kn toward 262°", "20 ft", "100%", "90%"],
        ["10:30", "15", "174°", "none", "20 ft", "80%", "13%"],
    ]
    assert serious(page, "#card") == []
    page.screenshot(path=ARTEFACTS / "map_passes_card.png")


def test_the_map_rounds_as_screen_and_sheet_do(open_map: OpenMap, map_of: Any) -> None:
    page = open_map(map_of(), PHONE)
    numbers = [2.5, 3.5, -2.5, 0.125, 0.25, 1.005, 12.5, 0.0, -0.2, 4.9999999, 6.4008 / 0.3048]
    for digits in (0, 1, 2):
        for rule, ours in (("rounded", rounded), ("roundedDown", rounded_down)):
            theirs = page.evaluate(f"(all) => all.map((one) => {rule}(one, {digits}))", numbers)
            assert theirs == [ours(number, digits) for number in numbers], (rule, digits)
    shares = [0.125, 0.5, 0.995, 1.0, 0.0]
    assert page.evaluate("(all) => all.map(share)", shares) == [percent(part) for part in shares]


BEYOND = "BEYOND THE BOAT'S LIMITS, 07:00 to 12:00: wind up to 45 kn (limit 20 kn)."
OTHERS = ("P1: in the dark.", "P2: current up to 3.4 kn.")


def top_words(page: Any) -> list[str]:
    return [line for line in page.inner_text("#top").splitlines() if line.strip()]


@pytest.mark.parametrize("size", SIZES)
def test_what_could_hurt_stands_before_the_title(
    open_map: OpenMap, small_grid: xr.DataArray, tmp_path: Path, size: Any
) -> None:
    grave, mild, fair = (tmp_path / name for name in ("grave.html", "mild.html", "fair.html"))
    content = planned(small_grid, beyond=BEYOND, warnings=OTHERS)
    assert content.plan is not None
    content.plan["warning"] = ["P1 lies in the dark.", ""]
    write_map(grave, content)
    write_map(mild, planned(small_grid, warnings=OTHERS[:1]))
    write_map(fair, planned(small_grid))
    page = open_map(grave, size)
    assert top_words(page)[:2] == [BEYOND, "and 2 more warnings"]
    assert "beyond" in page.get_attribute("#warning", "class")
    assert serious(page, "#top") == []
    page.click("#warning-more")
    assert page.locator("#warning-others li").all_inner_texts() == list(OTHERS)
    page.click("#warning-more")
    page.screenshot(path=ARTEFACTS / f"map_beyond_{size['width']}.png")
    unfold(page)
    page.locator("#plan .line").first.click()
    card = page.inner_text("#card")
    assert card.index("P1 lies in the dark.") < card.index("all of it lies in the band")
    page = open_map(mild, size)
    assert top_words(page)[0] == OTHERS[0]
    assert page.is_hidden("#warning-more") and not page.get_attribute("#warning", "class")
    page = open_map(fair, size)
    assert page.is_hidden("#warning") and top_words(page)[0] != ""


def test_a_mark_on_the_map_opens_its_line(open_map: OpenMap, map_of: Any) -> None:
    page = open_map(map_of())
    page.locator(".sign.plan").nth(1).dispatch_event("click")
    assert page.inner_text("#card h2") == "P2, 10:45 to 11:30"
    assert page.locator("#plan .line").nth(1).get_attribute("aria-pressed") == "true"
    assert "none" in page.inner_text("#card")  # no push


@pytest.mark.parametrize("size", SIZES)
def test_hazards_have_a_letter_a_frame_and_a_card(
    open_map: OpenMap, map_of: Any, size: Any
) -> None:
    page = open_map(map_of("Old Hulk"), size)
    signs = page.locator(".sign.hazard")
    assert sorted(signs.all_inner_texts()) == ["A", "C", "W"]
    area, line = page.locator("path.hazard-area"), page.locator("path.hazard-line")
    assert area.count() == 1 and line.count() == 1
    for path in (area, line):
        assert path.get_attribute("stroke-dasharray")  # no colour alone
    assert "hazard-hatch" in area.evaluate("(path) => getComputedStyle(path).fill")
    assert page.locator("pattern#hazard-hatch").count() == 1
    page.get_by_title("Keep clear: wreck, Old Hulk").dispatch_event("click")
    said = popup(page)
    for words in ("Keep clear: wreck", "Old Hulk", "13.8 ft", "always under water"):  # 4.2 m
        assert words in said, (words, said)
    area.dispatch_event("click")
    said = popup(page)
    assert "entry prohibited" in said and "not given" in said
    unfold(page)
    legend = page.locator("#hazard-letters")
    assert "A restricted area; C submarine cable; W wreck" in legend.inner_text()
    box = page.get_by_label("Hazards", exact=True)
    assert box.is_checked()
    page.screenshot(path=ARTEFACTS / f"map_{size['width']}_hazards.png")
    box.uncheck()
    assert signs.count() == 0 and area.count() == 0 and legend.is_hidden()
    box.check()
    assert signs.count() == 3 and area.count() == 1


def test_contours_of_the_chart_are_shown_when_asked_for(open_map: OpenMap, map_of: Any) -> None:
    page = open_map(map_of())
    unfold(page)
    box = page.get_by_label("Contours of the chart", exact=True)
    assert not box.is_checked()
    assert "one of the two is wrong or older" in page.inner_text("#shown")
    box.check()
    page.screenshot(path=ARTEFACTS / "map_chart_contours.png")
    for depth in ("30 ft", "depth not given"):
        page.evaluate(
            "(words) => Object.values(seabedMap.map._layers).find("
            "(one) => one.getPopup?.()?._content?.().textContent.startsWith(words)).openPopup()",
            f"Charted {depth}",
        )
        said = popup(page)
        assert "a chart of unknown age: check the official one" in said
    box.uncheck()


@pytest.mark.parametrize("size", SIZES)
def test_expected_fish_are_painted_and_shown_under_the_finger(
    open_map: OpenMap, map_of: Any, size: Any
) -> None:
    page = open_map(map_of(), size)
    unfold(page)
    page.get_by_label("Expected fish a rod-hour").check()
    assert "Expected fish a rod-hour" in page.inner_text("#expected-scale")
    told = page.evaluate(
        "(at) => seabedMap.expected.at(...at)", list(reversed(degrees(620750, 5117800)))
    )
    # linear from 0.5 at the first column to 2.5 at the last of 200, here column 150
    rate = 0.5 + 2 * 150 / 199
    assert told == pytest.approx([rate, rate / 1.3, rate * 1.3], rel=0.04)
    assert page.evaluate("(at) => seabedMap.expected.at(...at)",
                         list(reversed(degrees(620050, 5117500)))) is None  # fmt: skip
    known, unsure = (np.array(row).reshape(-1, 4) for row in page.evaluate(PAINTED, [0.25, 0.75]))
    told_cells = slice(60, 190)
    assert (known[told_cells, 3] > 0).all()
    lightness = known[told_cells, :3] @ [0.2126, 0.7152, 0.0722]  # CIE Y of sRGB's primaries
    assert (np.diff(lightness[::10]) > 0).all() and lightness[-1] - lightness[0] > 60
    clear = (unsure[told_cells, 3] == 0).mean()
    assert 0.4 < clear < 0.6  # hardly known: every other stripe is left out
    at = page.evaluate(
        "(at) => { seabedMap.map.setView(at, 16, {animate: false});"
        " const p = seabedMap.map.latLngToContainerPoint(at); return [p.x, p.y]; }",
        list(reversed(degrees(620750, 5117800))),
    )
    if size is WIDE:
        page.mouse.move(*at)
    assert "2.0 fish a rod-hour (1.5 to 2.6)" in page.inner_text("#readout")
    page.screenshot(path=ARTEFACTS / f"map_{size['width']}_expected.png")
    assert serious(page, "#side") == []
    # under the lines' canvas, over the depths
    pane = page.locator(".leaflet-pane:has(> canvas.expected)")
    depth = page.locator(".leaflet-depths-pane")
    z = [int(one.evaluate("(one) => getComputedStyle(one).zIndex")) for one in (depth, pane)]
    assert z[0] < z[1] < 400  # Leaflet's own pane of lines
    page.get_by_label("Expected fish a rod-hour").uncheck()
    assert page.locator("#expected-scale").is_hidden()
    assert "rod-hour" not in page.inner_text("#readout")


PAINTED = """(shares) => {
  const canvas = document.querySelector('canvas.expected');
  const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
  const length = 4 * canvas.width;
  return shares.map((share) => Math.round(canvas.height * share))
    .map((row) => Array.from(data.subarray(row * length, (row + 1) * length)));
}"""
"""Red, green, blue and opacity of each cell of two rows."""


def popup(page: Any) -> str:
    return page.locator(".leaflet-popup-content").last.inner_text()


def degrees(x: float, y: float) -> tuple[float, float]:
    return Transformer.from_crs(32624, 4326, always_xy=True).transform(x, y)


def test_hostile_names_of_plan_and_hazards_run_nothing(open_map: OpenMap, map_of: Any) -> None:
    page = open_map(map_of(HOSTILE))
    page.locator("#plan .line").first.click()
    assert HOSTILE in page.inner_text("#card")
    page.locator(".sign.hazard").first.dispatch_event("click")
    assert HOSTILE in popup(page)
    assert page.evaluate("window.hit") is None


DASHES = """(wanted) => {
  const found = [];
  seabedMap.map.eachLayer((one) => {
    const own = !one.options.className; // those of hazards have a name
    if (own && one.getLatLngs && one.options.dashArray === wanted) found.push(one);
  });
  if (found.length === 1) {
    found[0].fire("click", { latlng: found[0].getCenter(), layer: found[0] }, true);
  }
  return found.length;
}"""


def test_runs_are_thin_and_dashed_and_one_with_a_caution_says_it(
    open_map: OpenMap, map_of: Any
) -> None:
    page = open_map(map_of("P1"))
    assert page.evaluate(DASHES, "3 6") == 1
    said = popup(page)
    for words in ("Run to P1", "09:55", "09:58", "0.50 nm", "10 ft"):
        assert words in said, (words, said)
    assert "Caution" not in said
    assert page.evaluate(DASHES, "12 4 2 4") == 1
    said = popup(page)
    for words in ("Run home", "The run P1.", "not known"):
        assert words in said, (words, said)
    page.screenshot(path=ARTEFACTS / "map_runs.png")
    unfold(page)
    page.get_by_label("Planned runs", exact=True).uncheck()
    assert page.evaluate(DASHES, "3 6") == page.evaluate(DASHES, "12 4 2 4") == 0


def test_nothing_given_gives_no_switch(
    open_map: OpenMap, small_grid: xr.DataArray, tmp_path: Path
) -> None:
    content = planned(small_grid, plan=None, runs=None, hazards=None, expected=None)
    write_map(tmp_path / "map.html", content)
    page = open_map(tmp_path / "map.html")
    labels = page.locator("#shown label").all_text_contents()
    assert not {"Hazards", "Planned lines", "Planned runs", "Expected fish a rod-hour"} & set(
        labels
    )
    assert page.locator("#plan-part").is_hidden()


def test_an_empty_cell_is_nothing_expected(small_grid: xr.DataArray) -> None:
    nothing = expected_of(small_grid) * np.float32(np.nan)
    assert pack_expected(nothing.rio.write_crs(small_grid.rio.crs)) is None
