"""``seabed scout``: ranking, report, charts and doubt, on a small bottom worked by hand.

Two scarps run north: one of 3 m that faces east in the band, one of 12 m below it; a hump between.
"""

from __future__ import annotations

import contextlib
import csv
import io
import json
import re
import sqlite3

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from making.s57_writer import Cell
from pyproj import Transformer
from two_scarps import CELL, NORTH, TRANSFORM, WEST, bottom

from layers.cli.main import main

TO_DEGREES = Transformer.from_crs(32625, 4326, always_xy=True)
WRECKS, UWTROC, DEPCNT, RESARE = 159, 153, 43, 112
OBJNAM, VALDCO, RESTRN = 116, 174, 131


@pytest.fixture(scope="module")
def grid(tmp_path_factory):
    path = tmp_path_factory.mktemp("small") / "small.tif"
    with rasterio.open(
        path, "w", driver="GTiff", height=150, width=300, count=1, dtype="float32",
        crs="EPSG:32625", transform=TRANSFORM, nodata=-9999.0,
    ) as file:  # fmt: skip
        file.write(bottom().astype(np.float32), 1)
        file.update_tags(positive="down")
        file.set_band_description(1, "depth")
    return path


def place(column, row):
    return TO_DEGREES.transform(WEST + (column + 0.5) * CELL, NORTH - (row + 0.5) * CELL)


@pytest.fixture
def chart(tmp_path):
    """A wreck 40 m west of the upper scarp, a class nobody knows, the 6 m line 20 m off."""
    cell = Cell()
    cell.feature(WRECKS, 1, [cell.point(*place(65, 75))], {OBJNAM: "Tin Ann"})
    cell.feature(14_999, 1, [cell.point(*place(10, 10))])
    line = [place(80, row) for row in range(2, 148, 10)]
    cell.feature(DEPCNT, 2, [cell.edge(line)], {VALDCO: "6"})
    return cell.write(tmp_path / "XX5TEST1.000")


def scout(capsys, *arguments):
    with pytest.raises(SystemExit) as ended:
        main(["scout", *map(str, arguments)])
    told = capsys.readouterr()
    assert ended.value.code in (0, None), told.err
    return told.out


@pytest.fixture(scope="module")
def scouted(grid):
    """A scouting without a chart: its folder, and what was printed."""
    out, printed = grid.parent / "out", io.StringIO()
    with pytest.raises(SystemExit) as ended, contextlib.redirect_stdout(printed):
        main(["scout", str(grid), "--band", "4-7 m", "--units", "m", "--out", str(out)])
    assert not ended.value.code
    return out, printed.getvalue()


def test_ranking_on_screen_in_csv_layers_and_json_are_one(scouted, grid, monkeypatch, capsys):
    out, said = scouted
    shown = re.findall(r"^(R\d+) +(\w+) ", said, re.MULTILINE)
    with (out / "ranking.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert shown == [(row["name"], row["kind"]) for row in rows][:10]
    layer = gpd.read_file(out / "structure.gpkg", layer="ranking").sort_values("rank")
    assert layer["name"].tolist() == [row["name"] for row in rows]
    monkeypatch.setattr("layers.jobs.scout.write_scout", lambda *_: {})
    answer = json.loads(
        scout(capsys, grid, "--band", "4-7 m", "--units", "m", "--out", out, "--json")
    )
    assert [row["name"] for row in answer["ranking"]] == [row["name"] for row in rows]
    assert [row["why"] for row in answer["ranking"]] == [row["why"] for row in rows]
    best = rows[0]
    assert best["kind"] == "edge"
    assert "facing east" in best["why"]
    assert float(best["drop_m"]) == pytest.approx(3, rel=0.1)
    assert float(best["longitude"]) == pytest.approx(place(75, 75)[0], abs=1e-4)


def test_report_shows_each_place_and_names_the_missing_chart(scouted):
    out, _ = scouted
    page = (out / "report.html").read_text(encoding="utf-8")
    ranking = gpd.read_file(out / "structure.gpkg", layer="ranking")
    assert page.count("<svg") == 2 * min(len(ranking), 25)  # a cut and a small map each
    assert page.count("and the ground around it, north up") == min(len(ranking), 25)
    assert "Warning: no chart was given" in page
    assert "dangers near" not in page  # of what no chart tells
    assert "doubt of the depths" not in page  # nor the grid
    assert "Not for navigation." in page
    with sqlite3.connect(out / "structure.gpkg") as book:
        names = {name for (name,) in book.execute("SELECT table_name FROM gpkg_contents")}
    assert names == {"contours", "band", "edges", "features", "banks_and_channels", "sand_waves",
                     "ranking", "doubtful_soundings"}  # fmt: skip


def test_a_chart_brings_dangers_contours_and_what_it_did_not_understand(
    grid, chart, tmp_path, capsys
):
    out = tmp_path / "out"
    said = scout(capsys, grid, "--charts", chart, "--band", "4-7 m", "--units", "m", "--out", out)
    assert "object class 14999 (1)" in said
    # the line of 6 m is at column 75 (where the scarp is half down) and the chart's at 80
    assert re.search(r"The chart's 6.0 m line is 20 m \(90 %: 20 m\) from ours", said)
    hazards = gpd.read_file(out / "structure.gpkg", layer="hazards")
    assert sorted(hazards["kind"]) == ["unknown", "wreck"]
    assert len(gpd.read_file(out / "structure.gpkg", layer="chart_contours")) == 1
    best = gpd.read_file(out / "structure.gpkg", layer="ranking").iloc[0]
    assert (best["hazard"], best["hazard_name"]) == ("wreck", "Tin Ann")
    assert best["hazard_m"] == pytest.approx(40, abs=1)
    assert "Danger: Wreck (Tin Ann) 40 m off." in best["why"]
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "Tin Ann" in page
    assert "no chart was given" not in page
    assert re.search(r"Against it: [^<]*dangers near\.", page)
    assert "Tin Ann" in (out / "map.html").read_text(encoding="utf-8")


def test_the_area_file_may_name_the_chart(grid, chart, tmp_path, capsys):
    area = tmp_path / "area.toml"
    area.write_text(f'[grid]\nfiles = ["{grid}"]\n[charts]\nfiles = ["{chart.name}"]\n')
    said = scout(capsys, "--area", area, "--out", tmp_path / "out", "--json")
    assert json.loads(said)["counts"]["hazards"] == 2


@pytest.mark.parametrize("make", [None, "no cell"])
def test_a_bad_chart_is_refused_and_nothing_written(grid, tmp_path, capsys, make):
    bad = tmp_path / "XX5NONE.000"
    if make:
        bad.write_text(make)
    with pytest.raises(SystemExit) as ended:
        main(["scout", str(grid), "--charts", str(bad), "--out", str(tmp_path / "out")])
    assert ended.value.code == 2
    assert capsys.readouterr().err.startswith(f"seabed: {bad}: ")
    assert not (tmp_path / "out").exists()


def test_a_chart_that_would_be_written_over_is_refused(grid, chart, tmp_path, capsys):
    (tmp_path / "map.html").write_bytes(chart.read_bytes())
    with pytest.raises(SystemExit) as ended:
        main(["scout", str(grid), "--charts", str(tmp_path / "map.html"), "--out", str(tmp_path)])
    assert ended.value.code == 2
    assert "would be overwritten" in capsys.readouterr().err


def test_one_is_not_many(grid, tmp_path, capsys):
    said = scout(capsys, grid, "--band", "4-7 m", "--out", tmp_path / "out")
    assert "1 hump, 0 holes" in said
