"""``seabed plan`` and runs that are not known to be safe: named wherever the plan is."""

from __future__ import annotations

import contextlib
import html
import io
import re
import shutil
from pathlib import Path

import geopandas as gpd
import icalendar
import pandas as pd
import pytest
from coarse_demo import coarse_demo
from pyproj import Geod

from layers.cli.main import main

DEMO = coarse_demo(4)
FILES = ("area.toml", "tide_table.csv", "current_table.csv")
LAUNCH = (-33.53, 46 + 11.779 / 60)  # 7 km off the grid
OFF_GRID = "off the grid, in unknown water: find your own way"


@pytest.fixture(scope="module")
def far_launch(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A plan of an hour from a launch that the grid doesn't reach; its files, and the screen."""
    folder = tmp_path_factory.mktemp("far_launch")
    for name in FILES:
        shutil.copy(DEMO / name, folder)
    text = (folder / "area.toml").read_text(encoding="utf-8")
    text = re.sub(r"^launch = .*$", "launch = \"46°11.779'N 033°31.8'W\"", text, flags=re.M)
    for name in ("sound.tif", "XX5TOLLI.000"):  # searched once with the demo's other plans
        text = text.replace(f'["{name}"]', f"[{str(DEMO / name)!r}]")
    (folder / "area.toml").write_text(text, encoding="utf-8")
    words = ["--area", folder / "area.toml", "--date", "2031-06-14", "--from", "9:00"]
    words += ["--to", "9:45", "--wind", "SW 8 kn", "--out", folder / "out"]
    screen = io.StringIO()
    with contextlib.redirect_stdout(screen), pytest.raises(SystemExit) as ended:
        main(["plan", *map(str, words)])
    assert not ended.value.code
    return folder / "out", screen.getvalue()


def test_screen_sheet_map_marks_and_calendar_say_it(far_launch: tuple[Path, str]) -> None:
    out, screen = far_launch
    there = re.compile(rf"P1, \d\d:\d\d to \d\d:\d\d: the run there starts {OFF_GRID}\.")
    home = re.compile(rf"\d\d:\d\d to \d\d:\d\d: the run home ends {OFF_GRID}\.")
    said = {"screen": " ".join(screen.split())}
    for name in ("sheet.html", "map.html", "plan.gpx"):
        text = (out / name).read_text(encoding="utf-8")
        said[name] = " ".join(html.unescape(text).split())
    for name, text in said.items():
        assert there.search(text), name
        assert home.search(text), name


def test_the_timetable_says_it_and_its_lines_stay_on_the_grid(
    far_launch: tuple[Path, str],
) -> None:
    out, _ = far_launch
    legs = gpd.read_file(out / "plan.gpkg", layer="timetable")
    runs = legs[legs["what"] == "run"]
    first, home = runs.iloc[0], runs.iloc[-1]
    assert (first["caution"], home["caution"]) == (f"starts {OFF_GRID}", f"ends {OFF_GRID}")
    assert runs["least_water_m"].isna().tolist() == (runs["caution"] != "").tolist()
    assert legs.total_bounds[0] > -33.45
    table = pd.read_csv(out / "timetable.csv")
    assert table["caution"].fillna("").tolist() == legs["caution"].tolist()


def test_whoever_stays_ashore_learns_when_the_whole_way_home_is_run(
    far_launch: tuple[Path, str],
) -> None:
    """At 21 kn as the area file says, of which even steps of time take up to a twentieth."""
    out, _ = far_launch
    legs = gpd.read_file(out / "plan.gpkg", layer="timetable")
    home = legs.iloc[-1]
    last = home.geometry.coords[-1]
    left_s = Geod(ellps="WGS84").inv(*last[:2], *LAUNCH)[2] / (21 * 1852 / 3600)
    calendar = icalendar.Calendar.from_ical((out / "plan.ics").read_bytes())
    back = max(event["DTEND"].dt for event in calendar.walk("VEVENT"))
    late_s = (pd.Timestamp(back).tz_convert("UTC") - home["end"]).total_seconds()
    assert left_s - 1 <= late_s <= 1.06 * left_s + 60
    (words,) = (str(e["SUMMARY"]) for e in calendar.walk("VEVENT") if "home" in e["SUMMARY"])
    clock = pd.Timestamp(back).tz_convert("Etc/GMT+2").strftime("%H:%M")
    assert words.startswith(f"Run home: back at the launch by {clock}. The run ends {OFF_GRID}")
    assert f"back at the launch by {clock}." in (out / "sheet.html").read_text(encoding="utf-8")
