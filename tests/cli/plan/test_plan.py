"""``seabed plan`` on the demo area, and what it refuses."""

import csv
import html
import json
import re

import numpy as np
import pypdf
import pytest
from coarse_demo import coarse_demo
from pyproj import Geod

from layers import jobs
from layers.area import load_area
from layers.cli.main import main
from layers.jobs.plan.printed_rows import hazard_words
from layers.jobs.requests import ScoutRequest
from layers.planning.drift.safe_water import closed_depth
from layers.planning.ground._worth import REACH_M
from seabed.loaders import read_hazards

AREA = coarse_demo(4) / "area.toml"
GEOD = Geod(ellps="WGS84")


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    out = tmp_path_factory.mktemp("plan")
    words = ["plan", "--area", str(AREA), "--date", "2031-06-14", "--from", "9:00", "--to", "10:30",
             "--wind", "SW 8 kn", "--out", str(out)]  # fmt: skip
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code in (0, None)
    return out


def test_it_writes_sheet_marks_and_table(planned):
    assert sorted(path.name for path in planned.iterdir()) == [
        ".seabed-made", "README.txt",
        "map.html", "plan.csv", "plan.gpkg", "plan.gpx", "plan.ics", "sheet.html", "sheet.pdf",
        "timetable.csv", "what_if.csv",
    ]  # fmt: skip


def rows_of(path):
    return list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))


def test_the_timetable_is_in_local_time_and_in_order(planned):
    rows = rows_of(planned / "timetable.csv")
    times = [row["start"] for row in rows]
    assert times == sorted(times)
    drifts = [row for row in rows if row["what"] == "drift"]
    assert drifts[0]["start"] == "2031-06-14T11:00:00Z"  # two hours west of Greenwich
    assert drifts[0]["start_local"] == "09:00"
    assert all(row["end"] <= "2031-06-14T12:30:00Z" for row in drifts)
    assert [row["what"] for row in rows] == ["run", "drift"] * len(drifts) + ["run"]
    assert rows[-1]["plan_id"] == ""  # home


@pytest.fixture
def unwritten(monkeypatch):
    """No files of the plan, for tests that look at its answer alone."""
    monkeypatch.setattr("layers.jobs.plan.write_plan", lambda plan, paper: ())


def test_reasons_name_structure_as_a_scouting_does(planned, tmp_path, monkeypatch):
    import geopandas as gpd

    monkeypatch.setattr("layers.jobs.scout.write_scout", lambda *_: {})
    edges = jobs.run(ScoutRequest(area=AREA, out=tmp_path)).scouted.prospects.edges
    lines = gpd.read_file(planned / "plan.gpkg", layer="plan").to_crs(edges.crs)
    named = [
        (line, rank)
        for line, why in zip(lines.geometry, lines["why"], strict=True)
        for rank in re.findall(r"edge R(\d+)", why)
    ]
    assert named
    for line, rank in named:
        edge = edges.loc[edges["rank"] == int(rank)].geometry.iloc[0]
        assert edge.distance(line) <= REACH_M


def test_what_if_has_a_row_for_each_scenario_and_line(planned):
    rows = rows_of(planned / "what_if.csv")
    assert len(rows) == 6 * len(rows_of(planned / "plan.csv"))
    assert {row["scenario"] for row in rows} >= {"an hour late", "wind freshens by half"}
    for row in rows:
        assert float(row["day_worth_replanned"]) >= 0


def test_lines_follow_the_flood_of_that_hour(planned):
    import geopandas as gpd

    lines = gpd.read_file(planned / "plan.gpkg", layer="plan")
    assert len(lines) == 3
    for line in lines.geometry:
        (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
        bearing = GEOD.inv(x0, y0, x1, y1)[0] % 360
        # the current table's flood runs toward 352; the motor holds the boat to it, or 15 or 30
        # degrees off it along an edge
        off = (bearing - 352 + 180) % 360 - 180
        assert abs(off) < 31
        assert abs(off - 15 * round(off / 15)) < 1
    # 0.4 to 0.9 kn (common practice, no source)
    assert np.all((lines["sog_mps"] > 0.2057) & (lines["sog_mps"] < 0.4631))


def test_the_sheet_carries_positions_cautions_and_nothing_from_outside(planned):
    page = html.unescape((planned / "sheet.html").read_text(encoding="utf-8"))
    assert "Not for navigation" in page
    assert "Check the current local rule" in page
    assert re.search(r"keeps 98 ft or more from 4 charted hazards.*official chart", page)
    places = re.findall(r"46°\d\d\.\d{3}'N 033°\d\d\.\d{3}'W", page)
    assert len(places) == 2 * len(rows_of(planned / "plan.csv")) > 2
    assert not re.search(r"(src|href)\s*=|https?://|<script", page)


def test_pdf_and_map_show_the_lines_of_the_plan(planned):
    rows = list(csv.DictReader((planned / "plan.csv").read_text("utf-8-sig").splitlines()))
    pages = pypdf.PdfReader(planned / "sheet.pdf").pages
    assert len(pages) == 1  # three lines of an hour and a half
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))
    page_text = html.unescape((planned / "sheet.html").read_text(encoding="utf-8"))
    found = re.findall(r"46°\d\d\.\d{3}'N 033°\d\d\.\d{3}'W", text)
    assert found == re.findall(r"46°\d\d\.\d{3}'N 033°\d\d\.\d{3}'W", page_text)
    assert len(found) == 2 * len(rows) > 2
    assert "Not for navigation" in text
    raw = (planned / "map.html").read_text(encoding="utf-8")
    data = json.loads(re.search(r'id="data">(.*?)</script>', raw, re.DOTALL).group(1))
    assert [line["plan_id"] for line in data["plan"]] == [row["plan_id"] for row in rows]
    # 9:00 in the area's zone, two hours behind UTC, is where the first line begins
    begins = np.datetime64("2031-06-14T11:00", "s").astype(int)
    first, *_, last = (line["slot"] for line in data["plan"])
    assert first[0] == begins and begins + 4500 < last[1] <= begins + 5400
    assert first[1] <= last[0]
    for row, line in zip(rows, data["plan"], strict=True):
        stopped = f"{row['fan_stopped']} of {row['fan_boats']}"
        in_band, fan = (f"{float(row[name]):.0%}" for name in ("share_in_band", "fan_in_band"))
        said = f"{in_band} in band, {fan} if water and wind differ, {stopped} stopped"
        assert said in text and said in page_text
        assert [line["fan_stopped"], line["fan_boats"]] == [
            int(word) for word in stopped.split()[:3:2]
        ]
    assert data["water"]["count"] > 700 and data["cautions"][0].startswith("Not for navigation")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--date", "14/14/2031"], "can't read the date '14/14/2031'"),
        (["--date", "2031-06-14", "--from", "25:00"], "--from: can't read the time '25:00'"),
        (["--date", "2031-06-14", "--from", "9:00", "--to", "8:00"], "8:00 is not after 9:00"),
        (["--drift-speed", "fast"], "--drift-speed"),
        (["--date", "2031-06-14", "--sign", "up"], "--sign"),
        (["--date", "2035-06-14"], "the table of tide heights runs from 2031-06-01"),
        (["--date", "2031-06-14", "--wind", "N-ish"], "N-ish"),
    ],
)
def test_an_input_problem_is_one_message(words, said, tmp_path, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["plan", "--area", str(AREA), *words, "--out", str(tmp_path / "out")])
    assert ended.value.code == 2
    message = capsys.readouterr().err.strip().splitlines()
    assert len(message) == 1
    assert said in message[0]
    assert not (tmp_path / "out").exists()


def test_no_current_is_refused(tmp_path, capsys):
    area = tmp_path / "area.toml"
    area.write_text('[area]\nname = "Dry"\n', encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        main(["plan", "--area", str(area), "--out", str(tmp_path / "out")])
    assert ended.value.code == 2
    assert "no current is named" in capsys.readouterr().err


@pytest.mark.usefixtures("unwritten")
def test_json_for_machines(tmp_path, capsys):
    words = ["plan", "--area", str(AREA), "--date", "2031-06-14", "--from", "9:00", "--to", "9:45",
             "--out", str(tmp_path), "--json"]  # fmt: skip
    with pytest.raises(SystemExit):
        main(words)
    answer = json.loads(capsys.readouterr().out)
    assert len(answer["plan"]) in {1, 2}
    assert answer["worth_kind"] == "structure score"
    assert {row["what"] for row in answer["timetable"]} >= {"run", "drift"}
    assert len(answer["what_if_days"]) == 6
    assert answer["plan"][0]["fan_boats"] == 256
    assert answer["plan"][0]["fan_stopped"] <= 256 / 50
    assert "Not for navigation" in answer["cautions"]
    assert "charted hazards that a drift must not meet" in answer["hazards"]


def test_a_plan_without_a_line_is_written_whole(tmp_path, capsys):
    import pyogrio

    # no motor of 2 kn drives a boat at 6
    words = ["plan", "--area", str(AREA), "--date", "2031-06-14", "--from", "9:00", "--to", "9:45",
             "--drift-speed", "6-7 kn", "--out", str(tmp_path)]  # fmt: skip
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code in (0, None)
    assert "No drift in these hours is worth making" in capsys.readouterr().out
    layers = {name for name, _ in pyogrio.list_layers(tmp_path / "plan.gpkg")}
    assert layers == {"plan", "timetable"}
    legs = pyogrio.read_info(tmp_path / "plan.gpkg", layer="timetable")
    types = dict(zip(legs["fields"], legs["dtypes"], strict=True))
    assert legs["features"] == 0
    assert types["start"].startswith("datetime64") and types["least_water_m"] == "float64"
    assert rows_of(tmp_path / "timetable.csv") == []


def test_speed_and_grid_can_be_said_and_the_screen_tells_of_hazards(tmp_path, capsys):
    words = ["plan", "--area", str(AREA), "--date", "2031-06-14", "--from", "9:00", "--to", "9:45",
             "--drift-speed", "0.3-0.4 m/s", "--offset", "-1 m", "--sign", "depth",
             "--out", str(tmp_path)]  # fmt: skip
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code in (0, None)
    assert "charted hazards that a drift must not meet" in capsys.readouterr().out
    lines = rows_of(tmp_path / "plan.csv")
    assert lines
    for line in lines:
        assert 0.295 <= float(line["sog_mps"]) <= 0.405
        assert float(line["depth_min_m"]) >= 1.5 - 1e-6  # the least water of a drift


@pytest.fixture(scope="module")
def logbook(tmp_path_factory):
    """The first of the demo's trips, with its fish."""
    out = tmp_path_factory.mktemp("trip")
    words = ["trip", str(AREA.parent / "trip_1.gpx"), "--area", str(AREA), "--catches",
             str(AREA.parent / "catches.csv"), "--log", str(out / "log.gpkg"), "--out", str(out),
             "--json"]  # fmt: skip
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code in (0, None)
    return out / "log.gpkg"


def test_again_takes_a_line_of_the_logbook(logbook, tmp_path, capsys):
    words = ["plan", "--area", str(AREA), "--log", str(logbook), "--date", "2031-06-14",
             "--again", "se1", "--out", str(tmp_path), "--json"]  # fmt: skip
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code in (0, None)
    told = json.loads(capsys.readouterr().out)
    assert told["again"] and all(row["kind"] == "again" for row in told["again"])
    *lights, left_out = told["warnings"]
    assert all("between sunset and sunrise. Show lights." in warning for warning in lights)
    assert "left out, beyond the boat's limits: dark, beyond civil twilight" in left_out
    for row in told["again"]:  # summer's light by hand: dawn before 4:00, dusk after 20:00
        hour = (int(row["slot_start"][11:13]) - 2) % 24  # two hours west of Greenwich
        assert 3 <= hour <= 20
    for row in told["times"]:
        # the table's ebb, on which SE1 was drifted, runs toward 172
        assert abs((row["toward_deg"] - 172 + 180) % 360 - 180) <= 20.0
        assert 1.0 <= row["hours_from_high"] <= 6.0
    with pytest.raises(SystemExit) as ended:
        main([*words[:-5], "--again", "SE99", "--out", str(tmp_path)])
    assert ended.value.code == 2
    assert "neither a line nor a drift 'SE99' in the logbook" in capsys.readouterr().err
    gale = [*words[:-3], "--wind", "SW 45 kn", "--out", str(tmp_path / "gale")]
    with pytest.raises(SystemExit) as ended:
        main(gale)
    assert ended.value.code == 2
    said = capsys.readouterr().err
    assert (
        "no time in the next 15 days at which the tide runs so is within the boat's limits" in said
    )
    assert "wind up to 45 kn (limit 20 kn)" in said and not (tmp_path / "gale").exists()
    with pytest.raises(SystemExit) as ended:
        main([*gale, "--beyond-limits"])
    assert ended.value.code in (0, None)
    assert re.match(r"A1, .*: Beyond the boat's limits: wind up to 45 kn", capsys.readouterr().out)
    marks = (tmp_path / "gale" / "again.gpx").read_text(encoding="utf-8")
    notes = re.findall(r"<(?:rte|wpt)[^>]*><name>[^<]*</name><desc>([^<]*)", marks)
    assert notes and all(note.startswith("Beyond the boat") for note in notes)


@pytest.mark.usefixtures("unwritten")
def test_beside_takes_a_line_of_the_logbook_that_the_plan_drifts_again(logbook, tmp_path, capsys):
    words = ["plan", "--area", str(AREA), "--log", str(logbook), "--date", "2031-06-09", "--from",
             "10:30", "--to", "11:15", "--beside", "SE1", "--out", str(tmp_path),
             "--json"]  # fmt: skip
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code in (0, None)
    told = json.loads(capsys.readouterr().out)
    assert told["worth_kind"] == "fish a rod-hour by lines fished"
    kinds = {row["plan_id"]: (row["kind"], row["again_of"]) for row in told["plan"]}
    assert kinds == {"P1": ("line", "SE1"), "P1 L1": ("beside", "SE1"), "P1 R1": ("beside", "SE1")}
    assert {row["plan_id"] for row in told["what_if"]} == set(kinds)


def test_hazards_that_close_no_water_are_named_only_if_there_are_some():
    area = load_area(AREA)
    rows = read_hazards([AREA.parent / "XX5TOLLI.000"])
    closing = rows[closed_depth(rows) < np.inf]
    assert "close no water" not in hazard_words(closing, area)
    note = rows.iloc[[0]].assign(chart_class="CTNARE", kind="caution area", restriction="")
    assert "1 charted areas and notes that close no water" in hazard_words(note, area)
