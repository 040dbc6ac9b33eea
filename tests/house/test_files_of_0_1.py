"""Area files, logbooks and results of version 0.1 open in what came after.

Truth: the same files read by sqlite3, tomllib, json and the raster library.
"""

from __future__ import annotations

import gzip
import json
import shutil
import sqlite3
import tomllib
from pathlib import Path

import numpy as np
import pytest
import rasterio

from layers.area import load_area
from layers.cli.main import main
from layers.logbook import Logbook
from layers.water import read_currents, read_heights
from seabed import grid
from seabed.loaders import open_grid

KEPT = Path(__file__).parents[1] / "of_0_1"
DEMO = Path(__file__).parents[2] / "demo_area"
FOOT = 0.3048


def run(capsys, *words: str) -> dict:
    with pytest.raises(SystemExit) as ended:
        main([*words, "--json"])
    out, errors = capsys.readouterr()
    assert not ended.value.code, errors
    return json.loads(out)


def rows(book: Path, table: str) -> int:
    with sqlite3.connect(book) as file:
        return int(file.execute(f"select count(*) from {table}").fetchone()[0])


@pytest.fixture
def kept(tmp_path, monkeypatch) -> Path:
    """The files of 0.1 in a folder of their own, unpacked; it is the current folder."""
    for file in KEPT.iterdir():
        if file.suffix == ".gz":
            (tmp_path / file.stem).write_bytes(gzip.decompress(file.read_bytes()))
        else:
            shutil.copy(file, tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_area_files(kept):
    area = load_area("area.toml")
    said = tomllib.loads(Path("area.toml").read_text(encoding="utf-8"))
    assert area.name == said["area"]["name"]
    assert area.timezone == said["area"]["timezone"]
    assert area.depths.band_m == pytest.approx((17 * FOOT, 25 * FOOT))
    assert area.water.flood_toward_deg == said["water"]["flood_toward"]
    assert area.wind.speed_mps == pytest.approx(8 * 1852 / 3600)
    assert set(area.species) == set(said["species"])
    assert load_area("template.toml").depths.contours_m == pytest.approx(
        [feet * FOOT for feet in range(10, 61, 10)]
    )


def test_a_logbook_is_listed_ranked_added_to_and_merged(kept, capsys):
    counts = {table: rows(kept / "logbook.gpkg", table) for table in ("trips", "drifts", "catches")}
    trips = run(capsys, "season", "--log", "logbook.gpkg")["trips"]
    assert len(trips) == counts["trips"] == 2
    assert sum(trip["drifts"] for trip in trips) == counts["drifts"]
    lines = run(capsys, "season", "--log", "logbook.gpkg", "--rank")["lines"]
    assert sum(line["drifts"] for line in lines) == counts["drifts"]
    run(capsys, "trip", str(DEMO / "trip_4.gpx"), "--timezone", "Etc/GMT+2",
        "--log", "logbook.gpkg")  # fmt: skip
    assert rows(kept / "logbook.gpkg", "trips") == 3
    merged = run(capsys, "season", "--log", "new.gpkg", "--merge", "logbook.gpkg")
    assert len(merged["added"]) == 3
    assert rows(kept / "new.gpkg", "catches") == counts["catches"]


def test_the_stand_of_the_tide_is_no_longer_called_slack(kept):
    with sqlite3.connect(kept / "logbook.gpkg") as file:
        stored = [json.loads(more)["stage"] for (more,) in file.execute("select more from drifts")]
        file.execute("""update drifts set more = replace(more, '"ebb"', '"slack"')""")
    read = Logbook(kept / "logbook.gpkg").drifts()["stage"].tolist()
    assert "ebb" in stored
    assert sorted(read) == sorted("stand" if word == "ebb" else word for word in stored)


def test_results_become_marks(kept, capsys):
    answer = run(capsys, "marks", "trip.gpkg", "structure.gpkg")
    assert answer["counts"]["routes"] == rows(kept / "trip.gpkg", "lines") > 0
    assert answer["counts"]["tracks"] == rows(kept / "structure.gpkg", "edges") > 0


def test_a_learned_current(kept):
    heights = read_heights(Path("tide_table.csv"), timezone="Etc/GMT+2")
    learned = read_currents(Path("learned_current.json"), timezone="UTC", heights=heights)
    said = json.loads(Path("learned_current.json").read_text(encoding="utf-8"))
    assert learned.drifts == said["drifts"]
    known = learned.by_hour()["speed_mps"].notna()
    assert known.sum() == 6  # of thirteen hours: the others had too few drifts


def test_a_merged_grid(kept):
    ours = open_grid("merged_depth.tif")
    grid.check_grid(ours)
    with rasterio.open("merged_depth.tif") as file:
        depth = file.read(1, masked=True).astype(float).filled(np.nan)
    np.testing.assert_allclose(ours.values, depth)
