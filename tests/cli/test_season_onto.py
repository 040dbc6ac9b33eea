"""``season --rank --onto``: what the logbook teaches, told of other water, and of no more."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
from rasterio.transform import from_origin
from shapely.geometry import LineString, Point

from layers.cli.main import main
from layers.logbook import Entry, Logbook

CORNER = 470_000.0, 5_116_000.0
BAND_M = 6.0, 7.0
AREA = '[area]\nname = "Here"\n[grid]\nfiles = ["here.tif"]\n[logbook]\nfile = "book.gpkg"\n'


def write_grid(path: Path, depth: np.ndarray) -> None:
    with rasterio.open(
        path, "w", driver="GTiff", width=depth.shape[1], height=depth.shape[0], count=1,
        dtype="float32", crs="EPSG:32625", transform=from_origin(*CORNER, 10, 10), nodata=np.nan,
    ) as file:  # fmt: skip
        file.write(depth.astype(np.float32), 1)
        file.update_tags(vertical_datum="made up")
        file.set_band_description(1, "depth")


def season(pattern: bool) -> list[Entry]:
    """Twelve trips over a bottom that deepens eastward; five times the fish in a band of depth."""
    random = np.random.default_rng(11)
    entries = []
    for trip in range(12):
        day = pd.Timestamp("2031-05-01T08:00:00Z") + pd.Timedelta(days=5 * trip)
        name = f"{day:%Y-%m-%d}"
        rows, fish = [], []
        for number in range(12):
            start = day + pd.Timedelta(minutes=25 * number)
            east = random.uniform(100, 880)
            depth = 3 + east / 100
            north = CORNER[1] - np.array([250.0, 550.0])
            drift = f"{name} #{number + 1}"
            line = LineString(np.c_[np.full(2, CORNER[0] + east), north])
            rows.append({
                "drift_id": drift, "trip": name, "start": start,
                "end": start + pd.Timedelta(minutes=15), "duration_s": 900.0, "distance_m": 300.0,
                "sog_mps": 0.33, "course_deg": 180.0, "depth_mean_m": depth, "rods": 2.0,
                "rod_hours": 0.5, "geometry": line,
            })  # fmt: skip
            rate = (6.0 if BAND_M[0] <= depth <= BAND_M[1] else 0.8) if pattern else 2.0
            fish += [
                {
                    "time": start + pd.Timedelta(seconds=float(random.uniform(0, 900))),
                    "species": "dab", "length_m": np.nan, "kept": True, "rod": "", "note": "",
                    "file": "c.csv", "row": 2, "drift_id": drift, "tied_by": "time", "why": "",
                    "flag": "", "geometry": Point(line.coords[0]),
                }
                for _ in range(random.poisson(rate * 0.5))
            ]  # fmt: skip
        drifts = gpd.GeoDataFrame(rows, crs="EPSG:32625").to_crs("EPSG:4326")
        catches = gpd.GeoDataFrame(fish, crs="EPSG:32625").to_crs("EPSG:4326")
        pieces = drifts.assign(kind="drift").drop(columns="drift_id")
        entries.append(Entry(name, day, drifts["end"].max(), (), drifts, pieces, catches))
    return entries


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as ended:
        main(("season", "--rank", "--area", "area.toml", "--out", "out", *arguments))
    return int(ended.value.code or 0)


@pytest.fixture
def here(tmp_path, monkeypatch) -> Path:
    """The current folder: a bottom of 3 to 13 m, and other water that is in part much deeper."""
    monkeypatch.chdir(tmp_path)
    Path("area.toml").write_text(AREA)
    write_grid(tmp_path / "here.tif", np.tile(3 + np.arange(100) / 10, (80, 1)))
    other = np.tile(np.linspace(2, 42, 80)[:, None], (1, 60))
    other[:, :10] = np.nan
    write_grid(tmp_path / "there.tif", other)
    return tmp_path


def test_other_water_is_told_where_its_like_was_fished(here, capsys):
    Logbook("book.gpkg").add(season(pattern=True))
    assert run("--onto", "there.tif") == 0
    said = capsys.readouterr().out
    with rasterio.open("out/onto_expected_fish.tif") as file:
        rate, low, high = file.read()
    with rasterio.open("there.tif") as file:
        depth = file.read(1)
    told = np.isfinite(rate)
    assert not told[np.isnan(depth)].any()
    assert not told[depth > 13].any() and not told[depth < 3].any()  # never fished: nothing said
    best = depth[np.unravel_index(np.nanargmax(rate), rate.shape)]
    assert BAND_M[0] - 0.3 <= best <= BAND_M[1] + 0.3
    assert (low[told] <= rate[told]).all() and (rate[told] <= high[told]).all()
    share = told.sum() / np.isfinite(depth).sum()
    assert f"there.tif: {share:.0%} of it is like water that was fished" in said
    assert Path("out/expected_fish.tif").exists()
    assert '"expected":{' in Path("out/onto_map.html").read_text(encoding="utf-8")
    assert '"expected":{' in Path("out/map.html").read_text(encoding="utf-8")


def test_where_nothing_can_be_told_nothing_is(here, capsys):
    Logbook("book.gpkg").add(season(pattern=False))
    Path("out").mkdir()
    Path("out/expected_fish.tif").write_bytes(b"of another season")
    assert run() == 0
    assert not Path("out/expected_fish.tif").exists()
    assert '"expected":null' in Path("out/map.html").read_text(encoding="utf-8")
    capsys.readouterr()
    assert run("--onto", "there.tif") == 2
    assert "--onto: the logbook shows nothing that could be told" in capsys.readouterr().err
    assert not Path("out/onto_map.html").exists()


def test_only_ranking_tells_of_other_water(here, capsys):
    Logbook("book.gpkg").add(season(pattern=False)[:1])
    with pytest.raises(SystemExit):
        main(("season", "--area", "area.toml", "--onto", "there.tif"))
    assert "--onto: means nothing without --rank. Say --rank as well" in capsys.readouterr().err
