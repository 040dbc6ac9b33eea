"""A logbook of ten seasons: a trip added to it, and the season's map, whole.

The book is made by the library itself: 1,000 trips of ten drifts of 500 points on 40 grounds, 5
million points.  What is compared: the vector library writing that trip's layers again, and reading
the drifts; and what was asked of the whole.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString, Point

from benchmarks.rows import Row
from layers.area import default_area, load_area
from layers.logbook import Entry, Logbook, Naming
from layers.scoring import gather_lines
from layers.scoring.naming import name_lines

TRIPS, DRIFTS, POINTS, GROUNDS = 1000, 10, 500, 40
ADD_ASKED_S, MAP_ASKED_S, PEAK_ASKED_MB = 3.0, 15.0, 500.0
DEMO = Path(__file__).parents[1] / "demo_area" / "area.toml"
NAMING = Naming(40.0, name_lines)


def made_trip(day: pd.Timestamp) -> Entry:
    """Ten drifts of ten minutes, each on one of the grounds, a fish on each."""
    random = np.random.default_rng(day.toordinal())
    name = f"{day:%Y-%m-%d}"
    starts = [day + pd.Timedelta(minutes=20 * i) for i in range(DRIFTS)]
    along = np.linspace(0, 0.003, POINTS)
    lines = []
    for ground in random.integers(0, GROUNDS, DRIFTS):
        east = -33.4 + ground % 8 * 0.004 + random.normal(0, 1e-4)
        north = 46.2 + ground // 8 * 0.006
        wander = np.cumsum(random.normal(0, 1e-6, (POINTS, 2)), axis=0)
        lines.append(LineString(np.c_[east + along / 5, north + along] + wander))
    common = {
        "start": starts, "end": [at + pd.Timedelta(minutes=10) for at in starts],
        "duration_s": 600.0, "distance_m": 340.0, "sog_mps": 0.57, "course_deg": 8.0,
    }  # fmt: skip
    depth = random.uniform(5, 9, DRIFTS)
    drifts = gpd.GeoDataFrame(
        {
            "drift_id": [f"{name} #{i + 1}" for i in range(DRIFTS)], "trip": name, **common,
            "depth_start_m": depth, "depth_min_m": depth - 1, "depth_mean_m": depth,
            "depth_max_m": depth + 1, "in_band_s": 300.0, "rods": 2.0, "rod_hours": 1 / 3,
        },
        geometry=lines,
        crs="EPSG:4326",
    )  # fmt: skip
    pieces = gpd.GeoDataFrame({"kind": "drift", **common}, geometry=lines, crs="EPSG:4326")
    fish = gpd.GeoDataFrame(
        {
            "time": [at + pd.Timedelta(minutes=5) for at in starts], "species": "dab",
            "length_m": np.nan, "kept": pd.array([True] * DRIFTS, "boolean"), "rod": "1",
            "note": "", "file": "catches.csv", "row": np.arange(DRIFTS),
            "drift_id": drifts["drift_id"], "tied_by": "time", "why": "", "flag": "",
        },
        geometry=[Point(line.coords[POINTS // 2]) for line in lines],
        crs="EPSG:4326",
    )  # fmt: skip
    return Entry(name, day, common["end"][-1], (f"{name}.gpx",), drifts, pieces, fish)


def made_book(path: Path, trips: int = TRIPS) -> Logbook:
    """A logbook of so many trips, its lines named."""
    book = Logbook(path)
    days = pd.date_range("2021-01-01", periods=trips, freq="3D", tz="UTC")
    for first in range(0, trips, 100):
        book.add([made_trip(day) for day in days[first : first + 100]], naming=NAMING)
    return book


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def add_whole(book: Logbook, entry: Entry) -> None:
    """What the command does with a logbook when a trip is added: its lines, their names, itself."""
    book.name_lines(NAMING)
    gather_lines(entry.drifts, known=book.lines())
    book.add([entry], naming=NAMING)


RANK = """
import sys
from pathlib import Path
for name in ("pyarrow", "dask", "coverage"):  # loaded wherever they are; the tool needs none
    sys.modules[name] = None
from layers.area import load_area
from layers.jobs.progress import ignored
from layers.jobs.requests import SeasonRequest
from layers.jobs.season._ranked_lines import rank
book, area, out = map(Path, sys.argv[1:])
rank(book, load_area(area), SeasonRequest(rank=True, out=out), ignored)
status = dict(line.split(":") for line in open("/proc/self/status"))
print(*(int(status[name].split()[0]) / 1024 for name in ("VmHWM", "RssFile")))
"""


def peak_mb(book: Path, out: Path) -> tuple[float, float]:
    """Peak memory of a fresh process that ranks a book over the demo's grid, MB (Linux).

    Without libraries of the tests that others load wherever they find them.  The second number is
    of pages of the libraries' files, which processes share: by how the system keeps those files,
    the same work counts 70 MB more of them or less.
    """
    words = [sys.executable, "-c", RANK, str(book), str(DEMO), str(out)]
    peak, shared = subprocess.run(words, check=True, capture_output=True).stdout.split()
    return float(peak), float(shared)


def run() -> list[Row]:
    """Add one trip to a thousand; read all drifts back; rank and draw the ten seasons."""
    from layers.jobs.progress import ignored
    from layers.jobs.requests import SeasonRequest
    from layers.jobs.season._ranked_lines import rank

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        book = made_book(folder / "logbook.gpkg")
        last = made_trip(pd.Timestamp("2031-06-14T08:00:00Z"))
        adding = timed(lambda: add_whole(book, last))

        def written() -> None:
            for layer, table in last.tables.items():
                table.to_file(folder / f"{layer}.gpkg", driver="GPKG")

        writing = timed(written)
        reading = timed(book.drifts)
        theirs = timed(lambda: gpd.read_file(book.path, layer="drifts"))
        request, demo = SeasonRequest(rank=True, out=folder / "out"), load_area(DEMO)
        mapping = timed(lambda: rank(book.path, default_area(), request, ignored))
        with_grid = timed(lambda: rank(book.path, demo, request, ignored))
        few = made_book(folder / "few.gpkg", 20)
        peaks = {of.path: peak_mb(of.path, folder / "out") for of in (book, few)}
    (peak, shared), (peak_of_few, _) = peaks[book.path], peaks[few.path]
    return [
        Row.of("add a trip to 1,000", "vector library, that trip", adding, writing),
        Row.of("the same, 5 million points", "asked", adding, ADD_ASKED_S),
        Row.of("read 10,000 drifts", "vector library", reading, theirs),
        Row.of("rank and map ten seasons", "asked", mapping, MAP_ASKED_S),
        Row.of("its peak with the grid: MB", "asked: 500 MB", peak, PEAK_ASKED_MB),
        Row("of that library pages: MB", "", shared, np.nan, np.nan),
        Row.of("the same of 20 trips: MB", "asked: 500 MB", peak_of_few, PEAK_ASKED_MB),
        Row.of("the same over 1.6 million cells of depth", "asked", with_grid, MAP_ASKED_S),
    ]
