"""``seabed tide`` as a person or a program calls it."""

from __future__ import annotations

import csv
import html
import json
import re
import shutil
from pathlib import Path

import icalendar
import pytest
from coarse_demo import coarse_demo

from layers.cli.main import main

DEMO = coarse_demo(4)


@pytest.fixture
def area(tmp_path: Path) -> Path:
    for name in ("area.toml", "tide_table.csv", "current_table.csv", "sound.tif"):
        shutil.copy(DEMO / name, tmp_path)
    return tmp_path / "area.toml"


def call(*words: object) -> int:
    with pytest.raises(SystemExit) as ended:
        main(["tide", *map(str, words)])
    return int(ended.value.code or 0)


def test_a_day_on_screen(area: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert call("--area", area, "--date", "2031-06-07", "--wind", "SW 8 kn") == 0
    told = capsys.readouterr().out
    # tide_table.csv: the day's highs and lows, 2.3 m and 0.4 m, in feet
    assert "05:43  high water      7.6 ft" in told
    assert "12:33  low water       1.4 ft" in told
    assert "07:11  slack" in told
    assert "sunrise" in told and "Moon" in told and "Not for navigation" in told
    hours = told[told.index("Time  ") : told.index("slack water")].splitlines()
    assert len([line for line in hours if line[2:6] == ":00 "]) == 24


def test_a_calm_that_nobody_named_is_said(area: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--area", area, "--date", "2031-06-07"]
    assert call(*words) == 0
    assert "No wind is given" not in capsys.readouterr().out  # the area file has one
    still = area.read_text(encoding="utf-8").replace('speed = "8 kn"', 'speed = "0 kn"')
    area.write_text(still, encoding="utf-8")
    assert call(*words) == 0
    assert "No wind is given, so a calm is assumed. Give --wind" in capsys.readouterr().out
    assert call(*words, "--wind", "calm") == 0
    assert "No wind is given" not in capsys.readouterr().out


def test_what_no_source_was_named_for_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert call("--wind", "calm") == 0
    told = capsys.readouterr().out
    assert "No tide heights are named. Give --heights" in told
    assert "No current is named" in told
    assert call("--currents", "0.7 kn toward 40", "--wind", "calm") == 0
    told = capsys.readouterr().out
    assert "No tide heights are named" in told
    assert "No current is named" not in told


def test_files_and_json_agree(area: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = area.parent / "day"
    words = ["--area", area, "--date", "2031-06-07", "--out", out, "--every", 10, "--json"]
    assert call(*words) == 0
    record = json.loads(capsys.readouterr().out)
    with (out / "tide_2031-06-07.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(record["rows"]) == 144
    assert rows[0]["time"] == record["rows"][0]["time"] == "2031-06-07T00:00:00-02:00"
    knots = [row["current_mps"] / (1852 / 3600) for row in record["rows"]]
    assert [float(row["current_kn"]) for row in rows] == pytest.approx(knots, abs=0.006)
    events = icalendar.Calendar.from_ical((out / "tide_2031-06-07.ics").read_bytes())
    assert len(events.walk("VEVENT")) == len(record["windows"])
    assert "Tollivane Sound" in (out / "tide_2031-06-07.svg").read_text(encoding="utf-8")
    assert record["cautions"].startswith("Not for navigation")
    assert {event["event"] for event in record["current_events"]} == {"slack", "flood", "ebb"}


def test_a_fixed_current_and_no_area(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--date", "2031-06-07", "--currents", "0.7 kn toward 40", "--wind", "calm", "--json"]
    assert call(*words) == 0
    record = json.loads(capsys.readouterr().out)
    assert [window["kind"] for window in record["windows"]] == ["alone"]
    assert record["rows"][0]["drift_toward_deg"] == 40.0
    assert record["rows"][0]["height_m"] is None


def test_learning_from_tracks(area: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = area.parent / "learned"
    tracks = [word for path in sorted(DEMO.glob("trip_*.gpx")) for word in ("--learn", path)]
    wind = area.parent / "wind.csv"
    rows = [("07", 7, 235), ("14", 10, 160), ("21", 5, 300), ("29", 12, 210)]
    lines = [
        f"2031-06-{day} {hour}:00,{speed},{way}"
        for day, speed, way in rows
        for hour in ("06", "12")
    ]
    wind.write_text("time,speed_kn,from\n" + "\n".join(lines) + "\n", encoding="utf-8")
    assert call("--area", area, *tracks, "--wind", wind, "--out", out) == 0
    told = capsys.readouterr().out
    assert "4 outings" in told and "unknown" in told
    found = {path.name for path in out.glob("[!.]*")}
    assert found == {
        "learned_current.json", "current_by_hour.csv", "current_rose.svg", "current_rose.geojson",
        "map.html", "README.txt",
    }  # fmt: skip
    page = (out / "map.html").read_text(encoding="utf-8")
    arrows = json.loads((out / "current_rose.geojson").read_text(encoding="utf-8"))["features"]
    # an arrow gives it a value; the descriptions of columns name it too
    assert len(re.findall(r'"hours_from_high":\s*-?\d', page)) == len(arrows) > 4
    words = ["--area", area, "--date", "2031-06-14", "--currents", out / "learned_current.json"]
    assert call(*words, "--json") == 0
    record = json.loads(capsys.readouterr().out)
    kinds = {row["drifting"] for row in record["rows"]}
    assert "" in kinds and "alone" in kinds


BAD = {
    "date": (["--date", "14/14/31"], "can't read the date '14/14/31'"),
    "wind": (["--wind", "N-ish 8 kn"], "'N-ish' is not a wind direction"),
    "speed": (
        ["--drift-speed", "slow"],
        "--drift-speed: 'slow' can't be right. Write two rising speeds",
    ),
    "slack": (["--slack-below", "0.2"], None),
    "heights": (["--heights", "nowhere.csv"], "nowhere.csv: no such file"),
    "current": (["--currents", "0.8 kn toward N-ish"], "can't be right. Write it like 0.8 kn"),
    "zone": (["--timezone", "Sea/Nowhere"], "--timezone: 'Sea/Nowhere' can't be right"),
    "station": (["--station", "nowhere.json"], "nowhere.json: no such file"),
    "learn without tide": (["--learn", "x.gpx"], "no tide heights are named"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_words_end_in_one_message(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    words, message = BAD[name]
    code = call("--date", "2031-06-07", *words) if name != "date" else call(*words)
    told = capsys.readouterr().err
    if message is None:
        assert code == 0  # a bare number has the area's unit
        return
    assert code == 2
    assert message in told
    assert told.count("\n") == 1 and "Traceback" not in told


LIMITS = "Left out of the windows, beyond the boat's limits:"


def test_windows_keep_to_the_limits_of_the_boat(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By hand: a wind of 10 kn until 10:00 that reaches 30 kn at noon passes 20 kn at 11:00."""
    winds = ["--wind", "0:00 SW 10 kn", "--wind", "10:00 SW 10 kn", "--wind", "12:00 SW 30 kn"]
    words = ["--area", area, "--date", "2031-06-07", *winds]
    assert call(*words) == 0
    told = capsys.readouterr().out
    assert told.startswith(f"{LIMITS}\n  00:00 to 03:4")
    assert re.search(r"  (10:59|11:00) to 24:00: wind up to 30 kn \(limit 20 kn\)\n", told)
    assert "14:00" in told and told.count("beyond limits") >= 12
    assert call(*words, "--json", "--out", area.parent / "day") == 0
    record = json.loads(capsys.readouterr().out)
    assert record["beyond"] == ""
    assert {row["limit"] for row in record["beyond_limits"]} == {"wind", "darkness"}
    for window in record["windows"]:
        assert window["start"] >= "2031-06-07T03:4"
        assert window["end"] <= "2031-06-07T11:00:00-02:00"
    calendar = icalendar.Calendar.from_ical((area.parent / "day/tide_2031-06-07.ics").read_bytes())
    assert len(calendar.walk("VEVENT")) == len(record["windows"]) > 0


def test_beyond_the_limits_the_caution_stands_first(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = area.parent / "day"
    words = ["--area", area, "--date", "2031-06-07", "--wind", "SW 45 kn"]
    assert call(*words) == 0
    assert "No windows within the boat's limits." in capsys.readouterr().out
    assert call(*words, "--beyond-limits", "--out", out) == 0
    told = capsys.readouterr().out
    assert told.startswith("BEYOND THE BOAT'S LIMITS, 00:00 to 24:00: wind up to 45 kn (limit 20")
    calendar = icalendar.Calendar.from_ical((out / "tide_2031-06-07.ics").read_bytes())
    events = calendar.walk("VEVENT")
    assert events
    for event in events:
        assert str(event["DESCRIPTION"]).startswith("BEYOND THE BOAT'S LIMITS, 00:00 to 24:00: wi")
        assert str(event["SUMMARY"]).startswith("Beyond the boat's limits (")
    svg = (out / "tide_2031-06-07.svg").read_text(encoding="utf-8")
    texts = re.findall(r"<text[^>]*>([^<]*)", svg)
    assert html.unescape(texts[0]).startswith("BEYOND THE BOAT'S LIMITS")
    assert call(*words, "--beyond-limits", "--json") == 0
    assert next(iter(json.loads(capsys.readouterr().out))) == "beyond"


def test_limits_are_those_of_the_area_file(area: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = area.read_text(encoding="utf-8")
    limits = '[boat]\ndarkness_limit = "night"\nwind_limit = "7 kn"\ngust_limit = "30 kn"\n'
    area.write_text(text.replace("[boat]\n", limits), encoding="utf-8")
    assert call("--area", area, "--date", "2031-06-07", "--wind", "SW 6 gusting 30 kn") == 0
    assert LIMITS not in capsys.readouterr().out
    assert call("--area", area, "--date", "2031-06-07", "--wind", "SW 8 kn") == 0
    told = capsys.readouterr().out
    assert f"{LIMITS}\n  00:00 to 24:00: wind up to 8 kn (limit 7 kn)\n\n" in told
