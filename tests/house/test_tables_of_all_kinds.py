"""Every kind of table is read in every way that a table may be written, to the same values."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from written_tables import WAYS, Rows, write_ods, write_way, write_xlsx

from layers.catches import read_catches
from layers.jobs.check._kinds import kind_of
from layers.tracks import read_fixes
from layers.water import read_currents, read_heights
from layers.water.wind.wind_words import read_wind
from seabed.loaders import open_grid
from seabed.soundings import read_soundings

CATCHES = [
    ["Date", "Time", "Species", "Length (cm)", "Kept", "Note"],
    ["2031-06-14", "08:30", "flétan", "36.5", "yes", "off the edge, slow"],
    ["2031-06-14", "09:05", "dab", "24", "no", ""],
]
HEIGHTS = [
    ["time", "height_ft", "kind"],
    ["2031-06-14 00:10", "5.2", "high"],
    ["2031-06-14 06:20", "0.4", "low"],
    ["2031-06-14 12:35", "5.9", "high"],
]
CURRENTS = [
    ["time", "event", "speed_kn"],
    ["2031-06-14 03:00", "slack", ""],
    ["2031-06-14 06:00", "flood", "1.2"],
    ["2031-06-14 09:00", "slack", ""],
]
WIND = [
    ["time", "speed_kn", "from", "gust_kn"],
    ["2031-06-14 03:00", "8.5", "SW", "12.5"],
    ["2031-06-14 06:00", "10", "W", ""],
]
TRACK = [
    ["time", "latitude", "longitude", "depth_m"],
    ["2031-06-14 08:00:00", "-31.5", "-24.25", "7.5"],
    ["2031-06-14 08:00:10", "-31.5001", "-24.2501", "7.75"],
    ["2031-06-14 08:00:20", "-31.5002", "-24.2502", "8.25"],
]
POINTS = [["lon", "lat", "depth"]] + [
    [f"{-24.25 + 0.001 * column:.3f}", f"{-31.5 + 0.001 * row:.3f}", f"{7.5 + row + column:.1f}"]
    for row in range(3)
    for column in range(4)
]


def of_catches(path: Path | str) -> Any:
    table = read_catches(path, timezone="Etc/GMT+2")
    return [table[name].tolist() for name in ("time", "species", "length_m", "kept", "note")]


def of_heights(path: Path | str) -> Any:
    table = read_heights(path, timezone="Etc/GMT+2")
    return [table.times.tolist(), table.heights_m.tolist(), table.high.tolist()]


def of_currents(path: Path | str) -> Any:
    table = read_currents(path, timezone="Etc/GMT+2", flood_toward=40.0)
    return [table.times.tolist(), table.along_mps.tolist(), table.slack.tolist()]


def of_wind(path: Path | str) -> Any:
    table = read_wind(path, timezone="Etc/GMT+2")
    gusts = np.nan_to_num(table.gust_mps, nan=-1.0)
    return [part.tolist() for part in (table.times, table.speed_mps, table.from_deg, gusts)]


def of_track(path: Path | str) -> Any:
    table = read_fixes(path, timezone="Etc/GMT+2")
    return [table[name].tolist() for name in ("time", "latitude", "longitude", "depth_m")]


def of_soundings(path: Path | str) -> Any:
    table = read_soundings(path, timezone="Etc/GMT+2").soundings
    return [table[name].tolist() for name in ("time", "latitude", "longitude", "measured_m")]


def of_points(path: Path | str) -> Any:
    return open_grid(str(path)).values.tolist()


KINDS: dict[str, tuple[Rows, Callable[[Path | str], Any], str]] = {
    "catches": (CATCHES, of_catches, "catch log"),
    "heights": (HEIGHTS, of_heights, "table of tide heights"),
    "currents": (CURRENTS, of_currents, "table of currents"),
    "wind": (WIND, of_wind, "table of wind"),
    "track": (TRACK, of_track, "track log"),
    "soundings": (TRACK, of_soundings, "track log"),
    "points": (POINTS, of_points, "depth grid"),
}


@pytest.fixture(scope="module")
def plainly(tmp_path_factory) -> dict[str, Any]:
    """What each kind gives where it is written with commas."""
    folder = tmp_path_factory.mktemp("plain")
    return {kind: read(write_way(folder, rows, "comma")) for kind, (rows, read, _) in KINDS.items()}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("way", WAYS)
def test_text(tmp_path, plainly, kind, way):
    rows, read, what = KINDS[kind]
    path = write_way(tmp_path, rows, way)
    assert read(path) == plainly[kind]
    assert kind_of(str(path)) == what


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("write", [write_xlsx, write_ods])
def test_spreadsheets(tmp_path, plainly, kind, write):
    """The sheet is chosen by its headings, or named."""
    rows, read, what = KINDS[kind]
    ending = write.__name__.rpartition("_")[2]
    title = [["Written in June"], []]
    sheets = {"Read me": [["What this is"], ["A book of tables"]], "Data 1": title + rows}
    path = write(tmp_path / f"book.{ending}", sheets)
    assert read(path) == plainly[kind]
    assert read(f"{path}#Data 1") == plainly[kind]
    assert kind_of(str(path)) == kind_of(f"{path}#Data 1") == what


def test_values_are_those_written(plainly):
    """By hand: local time is two hours behind UTC."""
    time, species, length, kept, note = plainly["catches"]
    assert str(time[0]) == "2031-06-14 10:30:00+00:00"
    assert (species[0], kept, note[0]) == ("flétan", [True, False], "off the edge, slow")
    assert length == pytest.approx([0.365, 0.24])
    assert plainly["heights"][1] == pytest.approx([1.58496, 0.12192, 1.79832])
    assert plainly["currents"][1] == pytest.approx([0, 1.2 * 1852 / 3600, 0])
    assert plainly["wind"][3] == pytest.approx([12.5 * 1852 / 3600, -1])
    assert plainly["track"][1:] == [
        [-31.5, -31.5001, -31.5002], [-24.25, -24.2501, -24.2502], [7.5, 7.75, 8.25]
    ]  # fmt: skip
    assert plainly["points"][0] == [9.5, 10.5, 11.5, 12.5]
