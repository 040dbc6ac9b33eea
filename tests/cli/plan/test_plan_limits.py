"""``seabed plan`` and the boat's limits: what is left out, refused, and shown before all else."""

from __future__ import annotations

import html
import json
import re
import shutil
from pathlib import Path
from xml.etree import ElementTree

import geopandas as gpd
import icalendar
import pandas as pd
import pypdf
import pytest
import rasterio
from coarse_demo import coarse_demo

from layers import jobs
from layers.cli.commands.plan import show
from layers.cli.main import main
from layers.jobs.requests import PlanRequest

DEMO = coarse_demo(4)
DAY = ["--date", "2031-06-14"]
GPX = "{http://www.topografix.com/GPX/1/1}"
BEYOND = "BEYOND THE BOAT'S LIMITS, 09:00 to 09:45: wind up to 45 kn (limit 20 kn)."
Beyond = tuple[Path, str]
FILES = ("area.toml", "tide_table.csv", "current_table.csv")


def call(*words: object) -> int:
    with pytest.raises(SystemExit) as ended:
        main(["plan", *map(str, words)])
    return int(ended.value.code or 0)


@pytest.fixture
def area(tmp_path: Path) -> Path:
    """A copy of the demo's area on the demo's own grid and chart, which are then searched once."""
    for name in FILES:
        shutil.copy(DEMO / name, tmp_path)
    own = [(f'["{name}"]', f"[{str(DEMO / name)!r}]") for name in ("sound.tif", "XX5TOLLI.000")]
    return changed(tmp_path / "area.toml", *own)


@pytest.fixture
def unwritten(monkeypatch: pytest.MonkeyPatch) -> None:
    """No files of the plan, for tests that look at its answer alone."""
    monkeypatch.setattr("layers.jobs.plan.write_plan", lambda plan, paper: ())


def changed(area: Path, *pairs: tuple[str, str]) -> Path:
    text = area.read_text(encoding="utf-8")
    for before, after in pairs:
        assert before in text
        text = text.replace(before, after)
    area.write_text(text, encoding="utf-8")
    return area


def plan_of_json(capsys: pytest.CaptureFixture[str], *words: object) -> dict:
    assert call(*words, "--json") == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--wind", "SW 45 kn"], "07:00 to 12:00: wind up to 45 kn (limit 20 kn)"),
        (["--wind", "SW 12 gusting 33 kn"], "07:00 to 12:00: gusts up to 33 kn (limit 25 kn)"),
        (["--from", "22:00", "--to", "24:00"], "22:00 to 24:00: dark, beyond civil twilight"),
    ],
)
def test_no_hour_within_the_limits_is_refused_and_nothing_written(
    words: list[str], why: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    given = ["--area", DEMO / "area.toml", *DAY, "--from", "7:00", "--to", "12:00", *words]
    assert call(*given, "--out", out) == 2
    (message,) = capsys.readouterr().err.strip().splitlines()
    assert message.startswith("seabed: none of these hours is within the boat's limits: ")
    assert why in message
    assert "--beyond-limits" in message and "[boat]" in message
    assert not out.exists()


def test_a_current_beyond_the_limit_is_refused(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    changed(area, ("[boat]", '[boat]\ncurrent_limit = "0.1 kn"'))
    out = area.parent / "out"
    assert call("--area", area, *DAY, "--from", "9:00", "--to", "9:45", "--out", out) == 2
    assert re.search(r"current up to [01]\.\d kn \(limit 0\.1 kn\)", capsys.readouterr().err)
    assert not out.exists()


@pytest.fixture(scope="module")
def beyond(tmp_path_factory: pytest.TempPathFactory) -> Beyond:
    import contextlib
    import io

    out, printed = tmp_path_factory.mktemp("beyond"), io.StringIO()
    with contextlib.redirect_stdout(printed):
        assert (
            call("--area", DEMO / "area.toml", *DAY, "--from", "9:00", "--to", "9:45", "--wind",
                 "SW 45 kn", "--beyond-limits", "--out", out)
            == 0
        )  # fmt: skip
    return out, printed.getvalue()


def test_beyond_the_limits_screen_and_sheet_say_so_first(beyond: Beyond) -> None:
    out, printed = beyond
    assert printed.startswith(BEYOND)
    for page in pypdf.PdfReader(out / "sheet.pdf").pages:
        assert re.sub(r"\s+", " ", page.extract_text()).startswith(BEYOND)
    body = html.unescape((out / "sheet.html").read_text(encoding="utf-8")).partition("<body>")[2]
    assert re.sub(r"<[^>]+>", "", body).strip().startswith(BEYOND)


def test_beyond_the_limits_map_marks_and_tables_say_so_first(beyond: Beyond) -> None:
    out, _ = beyond
    raw = (out / "map.html").read_text(encoding="utf-8")
    data = json.loads(re.search(r'id="data">(.*?)</script>', raw, re.DOTALL)[1])
    assert data["beyond"] == BEYOND
    assert all(line["warning"].startswith(BEYOND) for line in data["plan"])
    root = ElementTree.parse(out / "plan.gpx").getroot()
    assert root.findtext(f"{GPX}metadata/{GPX}desc").startswith(BEYOND)
    notes = [one.findtext(f"{GPX}desc") for kind in ("rte", "wpt") for one in root.iter(GPX + kind)]
    assert len(notes) >= 3
    for note in notes:
        assert note.startswith(BEYOND)
        assert "A drift, not a course to steer. Not for navigation." in note
    lines = gpd.read_file(out / "plan.gpkg", layer="plan")
    assert lines["warning"].str.startswith(BEYOND).all()


def test_hours_beyond_are_left_out_and_every_leg_keeps_out_of_them(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By hand: 10 kn at 9:00 that reaches 30 kn at 11:00 passes 20 kn at 10:00."""
    winds = ["--wind", "0:00 S 10 kn", "--wind", "9:00 S 10 kn", "--wind", "11:00 S 30 kn"]
    out = area.parent / "out"
    told = plan_of_json(capsys, "--area", area, *DAY, "--from", "8:30", "--to", "11:00", *winds,
                        "--out", out)  # fmt: skip
    assert next(iter(told)) == "beyond" and told["beyond"] == ""
    (left_out,) = [one for one in told["warnings"] if one["kind"] == "left out"]
    shut = pd.Timestamp(left_out["start"])
    assert abs(shut - pd.Timestamp("2031-06-14T12:00Z")) <= pd.Timedelta(minutes=1)
    assert left_out["words"].endswith("beyond the boat's limits: wind up to 30 kn (limit 20 kn).")
    legs = [row for row in told["timetable"] if row["what"] in ("drift", "run")]
    assert len(legs) > 4
    assert max(pd.Timestamp(row["end"]) for row in legs) <= shut  # the run home too
    latest = [row["latest_start"] for row in told["timetable"] if row["latest_start"]]
    assert max(pd.Timestamp(time) for time in latest) < shut
    page = html.unescape((out / "sheet.html").read_text(encoding="utf-8"))
    assert page.index(left_out["words"]) < page.index("<svg")
    home = re.search(r"back at the launch by (\d\d:\d\d)", page)[1]
    assert home == f"{pd.Timestamp(legs[-1]['end']).tz_convert('Etc/GMT+2'):%H:%M}"
    (pdf, *_) = pypdf.PdfReader(out / "sheet.pdf").pages
    assert f"back at the launch by {home}" in re.sub(r"\s+", " ", pdf.extract_text())


@pytest.mark.usefixtures("unwritten")
def test_a_squall_in_the_middle_is_waited_out(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    winds = [f"--wind={one}" for one in (
        "8:00 S 8 kn", "9:00 S 8 kn", "9:10 S 30 kn", "9:40 S 30 kn", "9:50 S 8 kn")]  # fmt: skip
    told = plan_of_json(capsys, "--area", area, *DAY, "--from", "8:30", "--to", "10:30", *winds,
                        "--out", area.parent / "out")  # fmt: skip
    (out,) = [one for one in told["warnings"] if one["kind"] == "left out"]
    start, end = pd.Timestamp(out["start"]), pd.Timestamp(out["end"])
    drifts = [row for row in told["timetable"] if row["what"] == "drift"]
    assert any(pd.Timestamp(row["end"]) <= start for row in drifts)
    assert any(pd.Timestamp(row["start"]) >= end for row in drifts)
    for row in told["timetable"]:
        if row["what"] in ("drift", "run"):
            assert pd.Timestamp(row["end"]) <= start or pd.Timestamp(row["start"]) >= end, row
    (wait,) = [row for row in told["timetable"] if "in shelter" in row["words"]]
    assert pd.Timestamp(wait["start"]) <= start and pd.Timestamp(wait["end"]) >= end
    homes = [row for row in told["timetable"] if row["what"] == "run" and not row["plan_id"]]
    assert [pd.Timestamp(row["end"]) <= start for row in homes] == [True, False]
    assert {one["kind"] for one in told["warnings"]} == {"left out"}


@pytest.mark.usefixtures("unwritten")
def test_a_tide_table_that_ends_within_the_hours_is_said(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its last row is 12:30: the hour after it is not planned, and the plan says so first."""
    heights = area.parent / "tide_table.csv"
    rows = heights.read_text(encoding="utf-8").splitlines()
    last = next(i for i, row in enumerate(rows) if row.startswith("2031-06-14T12:30"))
    heights.write_text("\n".join(rows[: last + 1]), encoding="utf-8")
    told = plan_of_json(capsys, "--area", area, *DAY, "--from", "11:45", "--to", "13:30",
                        "--out", area.parent / "out")  # fmt: skip
    (ends,) = [one["words"] for one in told["warnings"] if one["kind"] == "unknown water"]
    assert ends.startswith("The table of tide heights runs from 2031-06-01")
    assert "to 2031-06-14 12:30" in ends
    assert all(pd.Timestamp(row["slot_end"]) <= pd.Timestamp("2031-06-14T14:30Z")
               for row in told["plan"])  # fmt: skip


@pytest.mark.usefixtures("unwritten")
def test_a_drift_faster_than_asked_over_the_ground_is_said(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = plan_of_json(capsys, "--area", area, *DAY, "--from", "10:00", "--to", "10:45", "--wind",
                        "S 12 kn", "--free", "--out", area.parent / "out")  # fmt: skip
    (fast,) = [one for one in told["warnings"] if one["kind"] == "fast drift"]
    assert "faster than the 0.9 kn asked for" in fast["words"]
    assert fast["greatest_mps"] >= max(row["sog_mps"] for row in told["plan"]) - 1e-3


@pytest.mark.usefixtures("unwritten")
def test_dark_hours_are_said_where_the_boat_may_be_out_in_them(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    changed(area, ("[boat]", '[boat]\ndarkness_limit = "night"'))
    told = plan_of_json(capsys, "--area", area, *DAY, "--from", "21:15", "--to", "22:15", "--wind",
                        "S 5 kn", "--out", area.parent / "out")  # fmt: skip
    dark = [one for one in told["warnings"] if one["kind"] == "dark"]
    assert {line for one in dark for line in one["lines"]} >= {
        row["plan_id"] for row in told["plan"]
    }
    assert all("Show lights" in one["words"] for one in dark)


@pytest.mark.usefixtures("unwritten")
def test_a_fair_day_says_nothing_but_the_cautions(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = plan_of_json(capsys, "--area", DEMO / "area.toml", *DAY, "--from", "10:00", "--to",
                        "10:45", "--wind", "S 5 kn", "--out", tmp_path)  # fmt: skip
    assert told["warnings"] == [] and told["beyond"] == ""
    assert "lightning" in told["cautions"]


def test_the_calendar_holds_each_line_and_the_way_home_and_no_place(beyond: Beyond) -> None:
    out, _ = beyond
    calendar = icalendar.Calendar.from_ical((out / "plan.ics").read_bytes())
    events = calendar.walk("VEVENT")
    lines = gpd.read_file(out / "plan.gpkg", layer="plan")
    summaries = [str(event["SUMMARY"]) for event in events]
    assert len(events) == len(lines) + 1
    for line, summary in zip(lines.itertuples(), summaries, strict=False):
        start = f"Beyond the boat's limits (wind): {line.plan_id}: drift toward "
        assert summary.startswith(f"{start}{line.bearing_deg:03.0f}, 1 pass")
        # the flood runs toward 352; the motor holds the boat to it, or 15 or 30 degrees off it
        off = (line.bearing_deg - 352 + 180) % 360 - 180
        assert abs(off - 15 * round(off / 15)) < 1 and abs(off) < 31
    assert "back at the launch by" in summaries[-1]
    assert all(str(event["DESCRIPTION"]).startswith(BEYOND) for event in events)
    assert [event["DTSTART"].dt for event in events[:-1]] == list(lines["slot_start"])
    assert not re.search(r"46[°.]|-33\.|033°", (out / "plan.ics").read_text(encoding="utf-8"))


def test_a_wind_known_for_some_of_the_hours(area: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From 8 kn at 8:00 to 12 kn at 10:00, which lasts an hour; gusts of 14 at the end."""
    table = "time,speed_kn,from,gust_kn\n2031-06-14 08:00,8,S,\n2031-06-14 10:00,12,S,14\n"
    (area.parent / "wind.csv").write_text(table, encoding="utf-8")
    out = area.parent / "out"
    told = plan_of_json(capsys, "--area", area, *DAY, "--from", "7:00", "--to", "10:00", "--wind",
                        area.parent / "wind.csv", "--out", out)  # fmt: skip
    (shut,) = [one for one in told["warnings"] if one["kind"] == "left out"]
    assert (
        shut["words"]
        == "07:00 to 08:00: left out, beyond the boat's limits: the wind is not known."
    )
    assert all(row["slot_start"] >= "2031-06-14T10:00" for row in told["plan"])
    page = html.unescape((out / "sheet.html").read_text(encoding="utf-8"))
    assert "Wind 8 to 12 kn, gusts 14 kn, from 180°T at 08:00" in page


def test_too_short_a_time_is_no_matter_of_limits(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--area", area, *DAY, "--from", "9:00", "--to", "9:03", "--out", area.parent / "out"]
    assert call(*words) == 2
    message = capsys.readouterr().err
    assert "too short for a drift of 10 min" in message
    assert "limits" not in message


def kinds(told: dict) -> set[str]:
    return {one["kind"] for one in told["warnings"]}


def nameless(path: Path) -> None:
    """Write a grid again without what it says of its datum."""
    with rasterio.open(path) as file:
        depth, profile = file.read(), file.profile
    with rasterio.open(path, "w", **profile) as file:
        file.write(depth)


def test_a_grid_of_unknown_datum_and_wind_against_tide_are_said(
    area: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    changed(area, ('vertical_datum = "mean lower low water (invented)"\n', ""))
    shutil.copy(DEMO / "sound.tif", area.parent)
    changed(area, (repr(str(DEMO / "sound.tif")), '"sound.tif"'))
    nameless(area.parent / "sound.tif")
    out = area.parent / "out"
    # the current table's flood runs toward 352: a northerly is against it
    plan = jobs.run(
        PlanRequest(area=area, date="2031-06-14", begin="10:00", end="10:45", wind=("N 14 kn",),
                    out=out)
    )  # fmt: skip
    told = plan.answer()
    assert kinds(told) == {"wind against water", "datum"}
    against, datum = told["warnings"]
    assert [*against["lines"]] == [row["plan_id"] for row in told["plan"]]
    assert against["greatest_mps"] == pytest.approx(14 * 1852 / 3600)
    assert "wind up to 14.0 kn against a current of" in against["words"]
    assert "names no vertical datum, so tide heights can't be added safely" in datum["words"]
    show(plan)
    assert capsys.readouterr().out.startswith(f"{against['words']}\n{datum['words']}\n\n")
    page = html.unescape((out / "sheet.html").read_text(encoding="utf-8"))
    # on paper without the cure: no setting can be changed there
    fault = "The grid names no vertical datum, so tide heights can't be added safely"
    assert datum["words"].startswith(fault)
    assert page.index(against["words"]) < page.index(fault) < page.index("<svg")
    root = ElementTree.parse(out / "plan.gpx").getroot()
    assert root.findtext(f"{GPX}metadata/{GPX}desc").startswith(against["words"])
