"""The map's tools: band, section, units, hour of the tide, tried drifts, fish entered in it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from browser_waits import until
from map_content import SIZES, WIDE, content_of
from pyproj import Geod, Transformer
from thoroughness import THOROUGH

from layers.catches import read_catches
from layers.maps import MapContent, MapWater, water_of_day, write_map
from layers.planning.drift._drift import even_steps, tracks_at
from layers.water import FixedWind, Leeway, leeway_of
from layers.water.motion import boat_velocity
from seabed.grid import make_grid

pytestmark = pytest.mark.browser

OpenMap = Callable[..., Any]
START = np.datetime64("2031-06-14T00:00", "ns")
END = np.datetime64("2031-06-15T00:00", "ns")
ROW = """(row) => {
  const d = seabedMap.depths;
  const drawn = seabedMap.picture.parts[0].context.getImageData(0, row, d.columns, 1).data;
  const cells = (_, c) => [d.cell(row, c), drawn[4 * c], drawn[4 * c + 2]];
  return Array.from({ length: d.columns }, cells);
}"""
"""Depth, red and blue of each cell of a row, as painted."""


class TwiceADay:
    """An invented tide and a current that turns, known everywhere."""

    @staticmethod
    def phase(times: Any) -> np.ndarray:
        hours = (np.asarray(times, "datetime64[ns]") - START) / np.timedelta64(1, "h")
        return 2 * np.pi * hours / 12.42

    def height_m(self, times: Any) -> np.ndarray:
        return 1.0 + 0.8 * np.cos(self.phase(times))

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Any:
        speed = 0.5 * np.sin(self.phase(times))
        return 0.3 * speed, 0.95 * speed


def water(wind: FixedWind | None = None) -> MapWater:
    return water_of_day(START, END, heights=TwiceADay(), currents=TwiceADay(), wind=wind)


@pytest.fixture(scope="module")
def live_map(small_grid: xr.DataArray, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("live") / "map.html"
    write_map(path, content_of(small_grid, water=water(FixedWind(4.0, 240.0))))
    return path


def degrees(x: float, y: float) -> tuple[float, float]:
    return Transformer.from_crs(32624, 4326, always_xy=True).transform(x, y)


def unfold(page: Any) -> None:
    if "shut" in (page.get_attribute("#side", "class") or ""):
        page.click("#side-open")


def tap(page: Any, longitude: float, latitude: float) -> None:
    x, y = page.evaluate(
        "(at) => { const p = seabedMap.map.latLngToContainerPoint(at); return [p.x, p.y]; }",
        [latitude, longitude],
    )
    page.mouse.click(x, y)


def slide(page: Any, name: str, value: float) -> None:
    page.get_by_label(name, exact=True).evaluate(
        "(input, value) => { input.value = value; input.dispatchEvent(new Event('input')); }", value
    )
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def assert_amber(page: Any, low_ft: float, high_ft: float) -> None:
    """Along a row, cells of the band are amber and no others."""
    seen = {True: 0, False: 0}
    cells = page.evaluate(ROW, page.evaluate("seabedMap.depths.rows") * 3 // 4)
    for metres, red, blue in cells[10:-10]:
        depth = metres / 0.3048
        if min(abs(depth - low_ft), abs(depth - high_ft)) < 0.1:
            continue  # levels of colour are 1 cm and less apart here; nearer the end is not asked
        inside = low_ft <= depth <= high_ft
        assert (red > blue + 40) == inside, (depth, red, blue)
        seen[inside] += 1
    assert min(seen.values()) >= 40


@pytest.mark.parametrize("size", SIZES)
def test_the_band_recolours_what_lies_in_it(open_map: OpenMap, live_map: Path, size: Any) -> None:
    page = open_map(live_map, size)
    unfold(page)
    slide(page, "Amber to", 40)
    slide(page, "Amber from", 30)
    assert_amber(page, 30, 40)
    assert "Amber: 30 to 40 ft" in page.inner_text("#depth-words")
    assert page.inner_text("#ramp .band") == "30 to 40"


def test_the_ends_of_the_band_push_each_other(open_map: OpenMap, live_map: Path) -> None:
    page = open_map(live_map)
    slide(page, "Amber from", 45)
    assert page.evaluate("seabedMap.band") is None  # no width
    slide(page, "Amber to", 48)
    low, high = page.evaluate("seabedMap.band")
    assert (low / 0.3048, high / 0.3048) == pytest.approx((45, 48))


def test_millions_of_cells_are_recoloured(open_map: OpenMap, tmp_path: Path) -> None:
    """Four, which a map holds at most; one in ``make test``."""
    from affine import Affine

    side = 2000 if THOROUGH else 1000
    y, x = np.mgrid[0:side, 0:side]
    depth = 20 + 15 * np.sin(x / 150) * np.cos(y / 170) + 0.01 * np.hypot(x, y)
    grid = make_grid(depth, transform=Affine(4, 0, 6e5, 0, -4, 5.1e6), crs="EPSG:32624")
    write_map(tmp_path / "big.html", MapContent(grid=grid))
    assert (tmp_path / "big.html").stat().st_size < 12e6
    page = open_map(tmp_path / "big.html")
    assert page.evaluate("seabedMap.depths.numbers.length") > 0.95 * side**2
    slide(page, "Amber to", 110)
    slide(page, "Amber from", 100)
    assert_amber(page, 100, 110)


def test_units_change_everywhere(open_map: OpenMap, live_map: Path) -> None:
    page = open_map(live_map)
    page.get_by_label("Depths in", exact=True).select_option("m")
    assert page.inner_text("#readout .depth").endswith(" m")
    assert page.inner_text("#ramp .last").endswith(" m")
    assert page.locator("#band output").first.inner_text().endswith(" m")
    labels = page.locator(".sign.contour span").all_inner_texts()
    assert labels and set(labels) <= {"6.0", "8.0", "10.0", "12.0"}
    page.get_by_label("Speeds in").select_option("m/s")
    assert "m/s" in page.inner_text("#hour")


@pytest.mark.parametrize("size", SIZES)
def test_section_measures_and_draws(open_map: OpenMap, live_map: Path, size: Any) -> None:
    page = open_map(live_map, size)
    page.evaluate("seabedMap.map.setView([46.2065, -31.4404], 14, { animate: false })")
    page.click("#tool-section")
    ends = [degrees(620300, 5117850), degrees(620700, 5117850)]
    for place in ends:
        page.evaluate("([o, a]) => tapMap(L.latLng(a, o))", place)
    said = page.inner_text("#card")
    azimuth, _, metres = Geod(ellps="WGS84").inv(*ends[0], *ends[1])
    told = int(said.split("(")[1].split(" m)")[0])
    assert told == pytest.approx(metres, rel=0.005)  # sphere against ellipsoid
    assert f"{round(azimuth % 360):03d}° true" in said
    assert page.locator("#card svg .ground").count() == 1
    page.get_by_label("Tide above datum, ft").fill("10")
    assert "with that tide" in page.inner_text("#card figcaption")
    page.get_by_text("Remove the last").click()
    assert page.locator("#card svg").count() == 0
    page.click("#card .shut-card")
    assert page.evaluate("tapsTaken()") is False


def test_a_tap_adds_a_place_even_on_a_line(open_map: OpenMap, live_map: Path) -> None:
    page = open_map(live_map)
    page.click("#tool-section")
    tap(page, *degrees(620305, 5117500))  # on line 1
    tap(page, *degrees(620600, 5117250))
    assert "Length" in page.inner_text("#card")


@pytest.mark.parametrize("size", SIZES)
def test_the_hour_moves_tide_and_current(open_map: OpenMap, live_map: Path, size: Any) -> None:
    page = open_map(live_map, size)
    unfold(page)
    moment = np.datetime64("2031-06-14T09:05", "s")
    slide(page, "Hour", int(moment.astype(int)))
    assert "14 Jun, 07:05" in page.inner_text("#hour").replace("Sat ", "")  # two hours west
    tide = TwiceADay()
    assert f"{tide.height_m(moment) / 0.3048:.1f} ft" in page.inner_text("#hour")
    east, north = tide.velocity(moment)
    toward = np.degrees(np.arctan2(east, north)) % 360
    speed = np.hypot(east, north) * 3600 / 1852
    assert f"{speed:.1f} kn toward {round(toward):03d}°" in page.inner_text("#hour")
    if size is WIDE:
        assert page.locator(".flow .current").count() > 0


@pytest.mark.parametrize(
    ("wind", "lee"),
    [
        pytest.param(FixedWind(0.0, 0.0), None, id="no wind"),
        pytest.param(FixedWind(4.0, 240.0), "skiff, V-hull", id="fresh"),
        pytest.param(FixedWind(1.2, 10.0), "kayak with a person", id="light air"),
    ],
)
def test_a_tried_drift_is_the_simulation_within_a_metre(
    open_map: OpenMap, tmp_path: Path, wind: FixedWind, lee: str | None
) -> None:
    # the simulation of layers.planning asks the current itself, not samples of it
    leeway: Leeway = leeway_of(lee or "skiff, V-hull")
    day = water_of_day(START, END, heights=None, currents=TwiceADay(), wind=wind, leeway=leeway)
    write_map(tmp_path / "map.html", MapContent(water=day))
    page = open_map(tmp_path / "map.html")
    begin = np.datetime64("2031-06-14T05:31", "ns")
    place = (-31.4404, 46.2065)
    found = page.evaluate(
        "([start, moment, wind]) => tryDrift(seabedMap.water, null, start, moment, wind)",
        [place, int(begin.astype("datetime64[s]").astype(int)), [wind.speed_mps, wind.from_deg]],
    )
    truth = tracks_at(
        np.array([place[0]]),
        np.array([place[1]]),
        begin,
        boat_velocity(TwiceADay(), wind, leeway),
        even_steps(3600.0, 30.0),
    )
    assert found["ended"] == "time"
    track = found["track"]
    assert len(track) == len(truth.times)
    _, _, metres = Geod(ellps="WGS84").inv(
        [p["longitude"] for p in track],
        [p["latitude"] for p in track],
        truth.longitude[0],
        truth.latitude[0],
    )
    assert max(metres) < 1.0
    _, _, gone = Geod(ellps="WGS84").inv(*place, truth.longitude[0, -1], truth.latitude[0, -1])
    assert gone > 100  # the boat did move


@pytest.mark.parametrize("size", SIZES)
def test_try_a_drift_by_hand(open_map: OpenMap, live_map: Path, size: Any) -> None:
    page = open_map(live_map, size)
    page.click("#tool-drift")
    page.click("text=Start at the centre")
    first = page.evaluate("tried.track.at(-1)")
    assert "Mean speed" in page.inner_text("#card")
    page.get_by_label("Wind, kn").fill("20")
    assert page.evaluate("tried.track.at(-1)") != first
    page.click("#card .shut-card")
    assert page.is_hidden("#card")


@pytest.mark.parametrize("size", SIZES)
def test_fish_are_kept_and_saved_as_a_catch_log(
    open_map: OpenMap, live_map: Path, tmp_path: Path, size: Any
) -> None:
    page = open_map(
        live_map,
        size,
        permissions=["geolocation"],
        geolocation={"latitude": 46.2065, "longitude": -31.4404},
        accept_downloads=True,
    )
    page.click("#tool-place")
    until(page, "Boolean(seabedMap.own)")
    page.click("#tool-fish")
    page.get_by_label("Species", exact=True).select_option("brindle flounder")
    page.get_by_label("Length, in (may stay empty)").fill("15.5")
    page.get_by_role("button", name="Kept", exact=True).click()
    page.get_by_label("Species", exact=True).select_option("")
    page.get_by_label("Name of the species").fill('odd, "fish"')
    page.get_by_role("button", name="Short", exact=True).click()
    page.reload()
    page.wait_for_selector("body[data-ready]")
    page.click("#tool-fish")
    assert page.locator(".tally li").count() == 2
    told = page.locator(".tally li").first.inner_text()
    stored = page.evaluate(
        "Object.values(localStorage).map(JSON.parse).find(Array.isArray)[0].time"
    )
    local = pd.Timestamp(stored).tz_convert(page.evaluate("seabedMap.data.timezone"))
    assert local.strftime("%H:%M") in told
    assert local.utcoffset()  # else the test could not tell
    with page.expect_download() as waiting:
        page.get_by_text("Save as a catch log").click()
    path = tmp_path / "catches.csv"
    waiting.value.save_as(path)
    read = read_catches([path], timezone="UTC")
    assert list(read["species"]) == ["brindle flounder", 'odd, "fish"']
    assert list(read["kept"]) == [True, False]
    assert read["length_m"].iloc[0] == pytest.approx(15.5 * 0.0254)
    assert np.isnan(read["length_m"].iloc[1])
    assert read["latitude"].iloc[0] == pytest.approx(46.2065)
    assert read["longitude"].iloc[0] == pytest.approx(-31.4404)
    page.get_by_label("Remove fish 1").click()
    assert page.locator(".tally li").count() == 1
    stored = page.evaluate("JSON.stringify(Object.values(localStorage))")
    assert "brindle" not in json.loads(stored)[0]


def test_the_view_is_kept(open_map: OpenMap, live_map: Path) -> None:
    page = open_map(live_map)
    page.get_by_label("View", exact=True).select_option("night")
    page.reload()
    page.wait_for_selector("body[data-ready]")
    assert page.get_attribute("body", "data-view") == "night"


def test_a_tapped_place_can_be_copied(open_map: OpenMap, live_map: Path) -> None:
    page = open_map(live_map, permissions=["clipboard-read", "clipboard-write"])
    tap(page, *degrees(620850, 5117250))
    place = page.inner_text("#readout .place")
    page.click("#readout .copy")
    until(page, "document.getElementById('said').textContent.startsWith('Copied')")
    assert page.evaluate("navigator.clipboard.readText()") == place


@pytest.mark.parametrize("size", SIZES)
def test_a_trip_is_run_through_again(open_map: OpenMap, live_map: Path, size: Any) -> None:
    page = open_map(live_map, size)
    unfold(page)
    # the drift of 12:20 to 12:40 UTC, half done; one fish at 12:00 and one at 12:04
    slide(page, "Time of the trip", int(np.datetime64("2031-06-14T10:30", "s").astype(int)))
    done = page.evaluate("replayed")
    assert (done["kind"], done["fish"]) == ("drift", 2)
    middle = degrees((620310 + 620320) / 2, 5117550)
    assert done["at"] == pytest.approx([middle[1], middle[0]], abs=2e-6)
    assert "drifting" in page.inner_text("#replay")
    page.get_by_role("button", name="Play").click()
    until(page, "(was) => replayed.at[0] !== was", done["at"][0])
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="Close").click()
