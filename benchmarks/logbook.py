"""A logbook of ten seasons, against the vector library writing the same trip's layers anew."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString, Point

from benchmarks.rows import Row
from layers.logbook import Entry, Logbook

TRIPS, DRIFTS, POINTS = 1000, 10, 500


def _trip(day: pd.Timestamp) -> Entry:
    """Ten drifts of 500 points each, a fish on each: 5 million points in all the trips."""
    rng = np.random.default_rng(day.toordinal())
    starts = [day + pd.Timedelta(minutes=20 * i) for i in range(DRIFTS)]
    along = np.linspace(0, 0.003, POINTS)
    lines = [
        LineString(np.column_stack([-33.4 + x + along, 46.2 + y + along]))
        for x, y in rng.uniform(0, 0.02, (DRIFTS, 2))
    ]
    name = f"{day:%Y-%m-%d}"
    times = {"start": starts, "end": [at + pd.Timedelta(minutes=10) for at in starts]}
    drifts = gpd.GeoDataFrame(
        {"drift_id": [f"{name} #{i}" for i in range(DRIFTS)], "rod_hours": 0.3, **times},
        geometry=lines,
        crs="EPSG:4326",
    )
    fish = gpd.GeoDataFrame(
        {"time": starts, "species": "x", "kept": pd.array([True] * DRIFTS, "boolean"),
         "drift_id": drifts["drift_id"]},
        geometry=[Point(line.coords[0]) for line in lines],
        crs="EPSG:4326",
    )  # fmt: skip
    pieces = gpd.GeoDataFrame({"kind": "drift", **times}, geometry=lines, crs="EPSG:4326")
    return Entry(name, day, times["end"][-1], (f"{name}.gpx",), drifts, pieces, fish)


def run() -> list[Row]:
    """Add one trip to a thousand; read all drifts back, as the vector library does too."""
    days = pd.date_range("2021-01-01", periods=TRIPS + 1, freq="3D", tz="UTC")
    with tempfile.TemporaryDirectory() as folder:
        book = Logbook(Path(folder) / "logbook.gpkg")
        for first in range(0, TRIPS, 100):
            book.add([_trip(day) for day in days[first : first + 100]])
        last = _trip(days[TRIPS])
        start = time.perf_counter()
        book.add([last])
        adding = time.perf_counter() - start
        start = time.perf_counter()
        for name, table in last.tables.items():
            table.to_file(Path(folder) / f"{name}.gpkg", driver="GPKG")
        writing = time.perf_counter() - start
        start = time.perf_counter()
        book.drifts()
        reading = time.perf_counter() - start
        start = time.perf_counter()
        gpd.read_file(book.path, layer="drifts")
        theirs = time.perf_counter() - start
    return [
        Row("add a trip to 1,000", "vector library, that trip", adding, writing, adding / writing),
        Row("read 10,000 drifts", "vector library", reading, theirs, reading / theirs),
    ]  # fmt: skip
