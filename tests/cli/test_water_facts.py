"""What the water does, as the commands say it: sightings, lines, launch, battery, on the demo."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from affine import Affine
from shapely.geometry import LineString

from layers.area import load_area
from layers.cli.main import main
from layers.jobs.parts.facts import power_danger, power_facts, sea_facts
from layers.jobs.plan._safety import _launch_dangers, _words
from layers.jobs.plan.printed_rows import afloat_words
from layers.water import FixedWind
from layers.water.boat.launch import LaunchNeeds, launch_hours
from layers.water.sea.sea import place_in_band, sea_at
from seabed.grid import make_grid

DEMO = Path(__file__).parents[2] / "demo_area"


@pytest.fixture(scope="module")
def area(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("facts")
    shutil.copytree(DEMO, folder, dirs_exist_ok=True)
    path = folder / "area.toml"
    text = path.read_text(encoding="utf-8").replace(
        "[boat]",
        '[boat]\nmotor_readings = ["1 kn 8 A", "2 kn 40 A"]\nbattery_ah = 5\n'
        "fuel_litres_an_hour = 18",
    )
    path.write_text(text.replace("[plan]", '[plan]\nlaunch_least_height = "2 ft"'))
    return path


def tide(*words: object) -> int:
    with pytest.raises(SystemExit) as ended:
        main(["tide", *map(str, words)])
    return int(ended.value.code or 0)


def test_a_line_and_a_sighting_on_screen_and_for_machines(area: Path, capsys) -> None:
    line = "9:00 30 deg toward 352, 1.5 oz, 25 ft"
    asked = ("--area", area, "--date", "2031-06-14", "--wind", "SW 18 kn", "--line", line)
    asked = (*asked, "--pressure", "990 hPa")
    assert tide(*asked) == 0
    told = capsys.readouterr().out
    assert "The line shows 0.8 kn (0.6 to 0.9) toward 352" in told
    assert "The current is corrected by 1 sighting: at 09:00" in told
    assert "Lead in 2" in told and "1 oz to 0.6 kn" in told
    assert "The launch can be used from" in told and "less than its 2.0 ft of tide" in told
    assert "The air at 990 hPa lifts the water by 0.8 ft." in told
    assert "Waves may be higher than " in told and "Moonrise" in told
    assert tide(*asked, "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert any("line shows" in words for words in answer["facts"])
    assert answer["moon_phase"] == "waning crescent" and answer["civil_dawn"]
    waves = [row["wave_m"] for row in answer["rows"]]
    assert 0.1 < max(waves) < 0.6
    # corrected as the line shows: nearer 0.75 kn at nine than the table is
    nine = next(row for row in answer["rows"] if "T09:00" in row["time"])
    assert nine["current_mps"] == pytest.approx(0.75 * 0.5144, abs=0.03)


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (("--seen", "nonsense"), "--seen: can't read the sighting"),
        (("--seen", "7:40 99 kn toward 3"), "--seen: a current of 99 kn"),
        (("--line", "89 deg toward 3, 2 oz, 25 ft"), "--line: an angle of 89 degrees"),
        (("--line", "9 deg toward 3, 2 oz, 25"), "--line: can't read the line"),
        (("--pressure", "30 inHg"), "--pressure: '30 inHg' can't be right"),
        (("--seen", "trip_1.gpx"), "has no drift on 2031-06-14"),
    ],
)
def test_what_can_not_be_right_is_one_message(area, words, what, capsys, monkeypatch) -> None:
    monkeypatch.chdir(area.parent)
    assert tide("--area", area, "--date", "2031-06-14", *words) == 2
    told = capsys.readouterr().err
    assert what in told and "Traceback" not in told


def test_a_calm_and_a_gale_have_no_height_of_waves(area: Path, capsys) -> None:
    assert tide("--area", area, "--date", "2031-06-14", "--wind", "SW 0 kn") == 0
    assert "Waves" not in capsys.readouterr().out
    assert tide("--area", area, "--date", "2031-06-14", "--wind", "SW 55 kn") == 0
    assert "more wind than their formula knows" in capsys.readouterr().out


def ways() -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    start = pd.Timestamp("2031-06-14T08:00Z")
    line = LineString([(-33.4, 46.2), (-33.4, 46.21)])
    passes = gpd.GeoDataFrame(
        {
            "plan_id": ["P1"], "start": [start], "end": [start + pd.Timedelta("1h")],
            "drift_s": [3600.0], "push_mps": [1.0], "push_end_mps": [1.0],
        }, geometry=[line], crs="EPSG:4326",
    )  # fmt: skip
    home = gpd.GeoDataFrame(
        {"plan_id": [""], "start": [start + pd.Timedelta("1h")],
         "end": [start + pd.Timedelta("70min")], "distance_m": [0.0]},
        geometry=[line], crs="EPSG:4326",
    )  # fmt: skip
    return passes, home


def test_a_plan_that_comes_home_to_a_dry_launch_says_when_to_be_back(area: Path) -> None:
    """Open until 8:30 UTC, 6:30 there; out at 8:00, back at 9:10."""

    class Falling:
        def height_m(self, times):
            return np.where(np.asarray(times) < np.datetime64("2031-06-14T08:31"), 1.0, 0.0)

    day = np.datetime64("2031-06-14T00:00", "ns")
    hours = launch_hours(
        day, day + np.timedelta64(24, "h"), LaunchNeeds(0.6), heights=Falling(), wind=None
    )
    (danger,) = _launch_dangers(load_area(area), ways(), hours)
    words = _words(danger, load_area(area))
    assert words.startswith("07:10: the plan comes home while the launch is shut: too little water")
    assert words.endswith("Be back by 06:30.")


def test_a_battery_that_may_not_last_is_a_danger(area: Path) -> None:
    """1 m/s is 1.944 kn: 8 (1.944)^2.322 = 37.4 A for an hour, of 5 Ah; the interval is a factor of
    exp(1.2816 hypot(0.1, 2.322 x 0.15)) = 1.59 each way.
    """
    boat = load_area(area)
    passes, home = ways()
    words = power_facts(boat, passes, home)
    assert words[0].startswith("This plan takes 24-60 Ah of the battery; yours has 5")
    assert words[1] == "Its runs take 3.0 litres of fuel, in calm water."
    assert power_danger(boat, passes).startswith("The battery may not last.")
    assert power_danger(load_area(DEMO / "area.toml"), passes) == ""


def test_what_a_line_has_afloat_in_words(area: Path) -> None:
    row = SimpleNamespace(light="dark, no moon", lead="1.5 oz", wave_m=0.3048, wave_period_s=2.0,
                          sea="short and steep")  # fmt: skip
    assert afloat_words(row, load_area(area)) == (
        "dark, no moon; lead 1.5 oz; waves 1.0 ft, 2.0 s short and steep"
    )


def test_waves_are_not_known_where_the_water_to_windward_is(area: Path) -> None:
    """A survey of 40 m a side, blank all round: its own fetch raises no wave to write."""
    blank = np.full((30, 30), np.nan)
    blank[13:18, 13:18] = 30.0
    start = np.datetime64("2031-06-14T12:00")
    for depth, cell_m, begin in (
        (blank, 8.0, "Waves are not known: "),
        (np.full((30, 30), 30.0), 200.0, "Waves may be higher than "),
    ):
        corner = Affine(cell_m, 0, 500_000.0, 0, -cell_m, 5_100_000.0)
        grid = make_grid(depth, transform=corner, crs="EPSG:32631")
        place = place_in_band(grid, (29.0, 31.0))
        assert place is not None
        sea = sea_at(grid, wind=FixedWind(3.0, 225.0), place=place)
        assert sea_facts(load_area(area), sea, start, start)[0].startswith(begin)


def test_a_wave_too_low_to_write_is_left_out_of_a_line(area: Path) -> None:
    row = SimpleNamespace(light="", lead="2 oz", wave_m=0.01, wave_period_s=0.6, sea="")
    assert afloat_words(row, load_area(area)) == "lead 2 oz"
    row.wave_m = 0.12
    assert afloat_words(row, load_area(area)) == "lead 2 oz; waves 0.4 ft, 0.6 s"
