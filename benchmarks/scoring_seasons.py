"""Scoring ten seasons: 150 trips of seven drifts, a fix every five seconds, 1,500 fish."""

from __future__ import annotations

import numpy as np
import pandas as pd

from benchmarks.rows import Row, seconds

TRIPS, DRIFTS = 150, 7
ASKED_S = 10.0


def ten_seasons(seed=0):
    """Drifts on 18 grounds in a square of four kilometres, their fixes and their fish."""
    import geopandas as gpd
    from shapely.geometry import LineString

    from layers.catches import as_catches

    random = np.random.default_rng(seed)
    rows, fixes, fish = [], [], []
    for trip in range(TRIPS):
        for number in range(DRIFTS):
            begin = pd.Timestamp("2031-04-01T08:00Z") + pd.Timedelta(days=20 * trip, hours=number)
            ground = int(random.integers(0, 18))
            steps = 181
            east = -33.4 + ground % 6 * 0.006 + random.normal(0, 1e-4) + np.linspace(0, 5e-4, steps)
            north = (
                46.2
                + ground // 6 * 0.006
                + np.linspace(0, 0.0035 * random.uniform(0.6, 1.1), steps)
            )
            places = np.c_[east, north] + random.normal(0, 1e-5, (steps, 2))
            drift_id = f"{begin:%Y-%m-%d} #{number + 1}"
            rows.append(
                {
                    "drift_id": drift_id, "trip": f"{begin:%Y-%m-%d}", "start": begin,
                    "end": begin + pd.Timedelta(minutes=15), "duration_s": 900.0,
                    "distance_m": 300.0, "course_deg": 8.0, "depth_mean_m": 6.0, "rod_hours": 0.5,
                    "geometry": LineString(places),
                }
            )  # fmt: skip
            times = begin + pd.to_timedelta(5 * np.arange(steps), unit="s")
            fixes.append(pd.DataFrame({"time": times, "longitude": east, "latitude": north}))
            for _ in range(random.poisson(0.7 + 0.08 * ground)):
                at = int(random.integers(0, steps))
                fish.append(
                    {
                        "time": times[at], "species": "dab", "length_m": np.nan,
                        "kept": bool(random.random() < 0.6), "rod": "", "note": "", "file": "",
                        "longitude": east[at], "latitude": north[at], "row": 0,
                        "drift_id": drift_id,
                    }
                )  # fmt: skip
    drifts = gpd.GeoDataFrame(rows, geometry="geometry", crs="EPSG:4326")
    fish.sort(key=lambda one: one["time"])
    catches = as_catches([{k: v for k, v in one.items() if k != "drift_id"} for one in fish])
    catches = catches.assign(drift_id=[one["drift_id"] for one in fish], tied_by="time")
    return drifts, catches, pd.concat(fixes, ignore_index=True)


def run():
    from layers.scoring import score_season

    drifts, catches, fixes = ten_seasons()
    random = np.random.default_rng(1)
    depth = random.uniform(3, 9, len(fixes))
    work = f"ten seasons: {len(drifts)} drifts, {len(catches)} fish"
    ours = seconds(lambda: score_season(drifts, catches, fixes, depth=depth), times=2)
    yield Row.of(work, "asked", ours, ASKED_S)
