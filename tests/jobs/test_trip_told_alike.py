"""A whole trip: each number is the same on screen, map, marks and in every file."""

from __future__ import annotations

import json
import re
from dataclasses import asdict

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from coarse_demo import coarse_demo

from layers.cli.commands import season as season_command
from layers.cli.commands import trip as trip_command
from layers.jobs import season, trip
from layers.jobs.requests import SeasonRequest, TripRequest
from layers.scoring import LINES
from layers.tracks import DRIFTS
from seabed.units import rounded

DEMO = coarse_demo(4)
OF_DRIFTS = ("duration_s", "distance_m", "sog_mps", "course_deg", "depth_mean_m", "rod_hours")
OF_LINES = (
    "rod_hours", "rate", "rate_low", "rate_high", "chance_best", "course_deg", "length_m",
    "depth_mean_m",
)  # fmt: skip


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    folder = tmp_path_factory.mktemp("trip")
    return trip.run(
        TripRequest(
            tracks=(DEMO / "trip_1.gpx",), catches=(DEMO / "catches.csv",),
            area=DEMO / "area.toml", log=folder / "book.gpkg", out=folder / "out",
        )
    )  # fmt: skip


@pytest.fixture(scope="module")
def content(told):
    page = told.files["map"].read_text(encoding="utf-8")
    return json.loads(re.search(r'id="data">(.*?)</script>', page, re.DOTALL)[1])


def rows_of(content, name):
    held = content[name]
    if isinstance(held, list):
        return pd.DataFrame(held)
    return pd.DataFrame(held["rows"], columns=held["columns"])


def words_of(schema, table, names, units):
    return [[schema.words(row, name, units) for name in names] for row in table.itertuples()]


def printed(capsys, show, result):
    show(result)
    return capsys.readouterr().out


@pytest.mark.parametrize(
    ("layer", "schema", "names", "file"),
    [("drifts", DRIFTS, OF_DRIFTS, "drifts"), ("lines", LINES, OF_LINES, "ranking")],
)
def test_map_package_text_and_json_say_the_same(told, content, layer, schema, names, file):
    """Files keep a decimal more than is shown, so each may round its own way: none may."""
    units = asdict(told.area.units)
    own = getattr(told.trips, layer)
    wanted = words_of(schema, own, names, units)
    assert len(wanted) > 2
    packed = gpd.read_file(told.files["layers"], layer=layer)
    answer = pd.DataFrame(told.answer()[layer])
    for table in (pd.read_csv(told.files[file]), packed, answer, rows_of(content, layer)):
        assert words_of(schema, table, names, units) == wanted


def test_drifts_of_a_logged_trip_on_screen(told, capsys):
    request = SeasonRequest(log=told.files["layers"].parent.parent / "book.gpkg", show="2031-06-07")
    shown = season.run(request)
    screen = printed(capsys, season_command.show, shown)
    units = asdict(shown.area.units)
    names = ("duration_s", "rod_hours", "sog_mps", "depth_mean_m")
    for row in told.trips.drifts.itertuples():
        (line,) = re.findall(rf"^{re.escape(row.drift_id)} +\d\d:\d\d +(.+)$", screen, re.MULTILINE)
        caught = int((told.trips.catches["drift_id"] == row.drift_id).sum())
        assert line.split() == [*(DRIFTS.words(row, name, units) for name in names), str(caught)]


def test_half_a_minute_is_rounded_as_on_the_map():
    """510 s is 9 minutes: python's own rounding would say 8."""
    drift = pd.DataFrame({"duration_s": [510.0]}).iloc[0]
    assert DRIFTS["duration_s"].words(drift.duration_s, {}).split()[0] == "9"


def test_lines_and_their_sums_on_screen(told, content, capsys):
    screen = printed(capsys, trip_command.show, told)
    units, lines = asdict(told.area.units), told.trips.lines
    drifts, catches = told.trips.drifts, told.trips.catches
    hours = rounded(drifts["rod_hours"].sum(), 1)
    assert f"{len(drifts)} drifts, {hours} rod-hours, {len(catches)} catches" in screen
    for row in lines.itertuples():
        (printed_row,) = re.findall(rf"^ +{row.rank} +{row.line} +(.+)$", screen, re.MULTILINE)
        words = printed_row.split()
        assert words[:6] == [
            str(row.drifts), LINES.words(row, "rod_hours", {}), str(row.kept), str(row.short),
            LINES.words(row, "rate", {}),
            f"{LINES.words(row, 'rate_low', {})}-{LINES.words(row, 'rate_high', {})}",
        ]  # fmt: skip
        assert words[6] == LINES.words(row, "chance_best", {})
        assert words[7] == LINES.words(row, "course_deg", {})
        assert words[8] == LINES.words(row, "depth_mean_m", units)
        assert f"{words[4]} kept a rod-hour" in row.why  # what cards, marks and files say of it
        assert f"in {words[1]} rod-hours over {row.drifts} drift" in row.why
        assert row.why in told.files["marks"].read_text(encoding="utf-8")
    assert rows_of(content, "lines")["why"].tolist() == lines["why"].tolist()


def test_fish_are_counted_and_measured_alike(told, content):
    own = told.trips.catches
    tied = own[own["drift_id"] != ""]
    file = pd.read_csv(told.files["catches"], keep_default_na=False)
    shown = rows_of(content, "catches")
    for table in (file[file["drift_id"] != ""], shown[shown["drift_id"] != ""]):
        assert len(table) == len(tied)
        lengths = pd.to_numeric(table["length_m"], errors="coerce").to_numpy()
        np.testing.assert_allclose(lengths, tied["length_m"].to_numpy(), atol=5e-5, equal_nan=True)
        quarters = [rounded(one / 0.0254, 1) for one in lengths if np.isfinite(one)]
        assert quarters == [rounded(one / 0.0254, 1) for one in tied["length_m"].dropna()]
    drifts = pd.read_csv(told.files["drifts"])
    assert drifts["fish"].sum() == len(tied)
    assert drifts["kept"].sum() == tied["kept"].fillna(False).sum()
    lines = told.trips.lines
    assert lines["fish"].sum() == len(tied)
    assert lines["kept"].sum() + lines["short"].sum() == len(tied)


def test_the_band_is_the_same_time_everywhere(told, content):
    drifts = pd.read_csv(told.files["drifts"])
    packed = gpd.read_file(told.files["layers"], layer="drifts")
    answer = pd.DataFrame(told.answer()["drifts"])
    own = [rounded(one / 60) for one in told.trips.drifts["in_band_s"]]
    for table in (drifts, packed, answer):
        assert [rounded(one / 60) for one in table["in_band_s"]] == own
        assert (table["in_band_s"] <= table["duration_s"]).all()
