"""Made-up trips for the tests of the logbook: no truth in them but their own numbers."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString, Point

from layers.logbook import Entry

LONGITUDE, LATITUDE = -33.4, 46.2


def made_entry(
    day: str, *, drifts: int = 3, points: int = 20, seed: int = 0, hour: int = 8
) -> Entry:
    """A trip of `drifts` drifts of ten minutes, with runs between, a fish on each."""
    rng = np.random.default_rng([seed, int(day.replace("-", ""))])
    first = pd.Timestamp(f"{day}T{hour:02d}:00:00Z")
    starts = [first + pd.Timedelta(minutes=20 * i) for i in range(drifts)]
    ends = [start + pd.Timedelta(minutes=10) for start in starts]
    east = LONGITUDE + rng.uniform(0, 0.02, drifts)
    north = LATITUDE + rng.uniform(0, 0.02, drifts)
    along = np.linspace(0, 0.003, points)
    lines = [
        LineString(np.column_stack([x + along, y + along + rng.normal(0, 1e-5, points)]))
        for x, y in zip(east, north, strict=True)
    ]
    names = [f"{day} #{i + 1}" for i in range(drifts)]
    common = {
        "start": starts,
        "end": ends,
        "duration_s": 600.0,
        "distance_m": rng.uniform(200, 400, drifts),
        "sog_mps": rng.uniform(0.3, 0.6, drifts),
        "course_deg": rng.uniform(0, 360, drifts),
    }
    depth = rng.uniform(5, 9, drifts)
    table = gpd.GeoDataFrame(
        {
            "drift_id": names,
            "trip": day,
            **common,
            "depth_start_m": depth,
            "depth_min_m": depth - 1,
            "depth_mean_m": depth,
            "depth_max_m": depth + 1,
            "in_band_s": np.nan,
            "rods": 2.0,
            "rod_hours": 2 * 600 / 3600,
            "hours_from_high": rng.uniform(-6, 6, drifts),
        },
        geometry=lines,
        crs="EPSG:4326",
    )
    pieces = gpd.GeoDataFrame({"kind": "drift", **common}, geometry=lines, crs="EPSG:4326")
    fish = gpd.GeoDataFrame(
        {
            "time": [start + pd.Timedelta(minutes=5) for start in starts],
            "species": "brindle flounder",
            "length_m": rng.uniform(0.3, 0.5, drifts),
            "kept": pd.array([True, False, pd.NA] * drifts, dtype="boolean")[:drifts],
            "rod": "1",
            "note": [f"secret note {i}, ö" for i in range(drifts)],
            "file": "catches.csv",
            "row": np.arange(drifts) + 2,
            "drift_id": names,
            "tied_by": "time",
            "why": "",
            "flag": "",
        },
        geometry=[Point(line.coords[points // 2]) for line in lines],
        crs="EPSG:4326",
    )
    return Entry(day, first, ends[-1], (f"{day}.gpx", "catches.csv"), table, pieces, fish)
