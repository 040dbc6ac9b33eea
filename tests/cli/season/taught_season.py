"""A season that teaches something: fish that come in a band of depth, over a slope."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import rasterio
from rasterio.transform import from_origin
from shapely.geometry import LineString, Point

from layers.logbook import Entry

CORNER = 470_000.0, 5_116_000.0
BAND_M = 6.0, 7.0
STARTS_M = np.arange(50.0, 1550.0, 250.0)  # south of the corner
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
    """Twelve trips over some fifty lines, deeper eastward; a band of depth pays far more."""
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
            north = CORNER[1] - random.choice(STARTS_M) - np.array([0.0, 200.0])
            drift = f"{name} #{number + 1}"
            line = LineString(np.c_[np.full(2, CORNER[0] + east), north])
            rows.append({
                "drift_id": drift, "trip": name, "start": start,
                "end": start + pd.Timedelta(minutes=15), "duration_s": 900.0, "distance_m": 200.0,
                "sog_mps": 0.22, "course_deg": 180.0, "depth_mean_m": depth, "rods": 2.0,
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


def write_waters(folder: Path) -> None:
    """Write a bottom of 3 to 13 m, other water that is in part much deeper, and an area file."""
    (folder / "area.toml").write_text(AREA)
    write_grid(folder / "here.tif", np.tile(3 + np.arange(100) / 10, (160, 1)))
    other = np.tile(np.linspace(2, 42, 80)[:, None], (1, 60))
    other[:, :10] = np.nan
    write_grid(folder / "there.tif", other)
