"""What a skipper waits for: whole commands on the demo area, each in a fresh process.

The reference is a process that only loads the libraries below them; for the demo, what was asked.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.rows import Row

RUN = "from layers.cli.main import main; main()"
DAY = "2031-06-14"
LOADING = "import folium, geopandas, numba, pyogrio, rasterio, scipy.ndimage, xarray"
DEMO_ASKED_S = 10.0


def run() -> list[Row]:
    """Least of two runs each, after one that compiles."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        area = folder / "demo" / "area"
        demo = _least(RUN, "demo", "--out", folder / "demo")
        trips = sorted(map(str, area.glob("trip_*.gpx")))
        own = "--area", area / "area.toml"
        book = "--log", folder / "book.gpkg"
        loading = _least(LOADING)
        commands = {
            "seabed scout": ("scout", *own, "--out", folder / "scout"),
            "seabed trip, four trips into a logbook": (
                "trip", *trips, "--catches", area / "catches.csv", *own, *book,
                "--out", folder / "trip",
            ),
            "seabed season --rank": ("season", "--rank", *own, *book, "--out", folder / "season"),
            "seabed tide": ("tide", *own, "--date", DAY, "--out", folder / "tide"),
            "seabed plan, five hours, with that logbook": (
                "plan", *own, *book, "--date", DAY, "--from", "7:00", "--to", "12:00",
                "--wind", "SW 8 kn", "--out", folder / "plan",
            ),
        }  # fmt: skip
        taken = {work: _least(RUN, *words) for work, words in commands.items()}
    rows = [Row.of("seabed demo", "asked", demo, DEMO_ASKED_S)]
    return rows + [Row.of(work, "imports", s, loading) for work, s in taken.items()]


def _least(code: str, *words: object) -> float:
    taken = []
    for _ in range(3):
        start = time.perf_counter()
        subprocess.run(
            [sys.executable, "-c", code, *map(str, words)], capture_output=True, check=True
        )
        taken.append(time.perf_counter() - start)
    return min(taken[1:])
