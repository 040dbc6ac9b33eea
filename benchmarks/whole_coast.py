"""`seabed scout` on ever larger grids: cost per cell and peak memory of the whole command.

The cost is processor time of all processes together, which other programs on the machine hardly
change.  The invented coast has about twice as many edges, contours and humps a cell as the demo
area at the same thresholds.  As a benchmark it goes to 16 M cells.

``python -m benchmarks.whole_coast 20000`` scouts one grid of that many cells a side; a second
argument keeps the grid under that name.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import psutil
import rasterio
from rasterio.windows import Window
from scipy.ndimage import gaussian_filter

from benchmarks.rows import Row

SIDES = (1000, 2000, 4000)
BLOCK = 2048


@dataclass(frozen=True)
class Cost:
    """What a command took."""

    wall_s: float
    processor_s: float
    largest_gb: float
    """Peak resident memory of the process that took most."""
    together_gb: float
    """Peak of the sum over all processes; what they share is counted in each."""

    def a_million(self, side: int) -> float:
        """Processor seconds a million cells."""
        return self.processor_s / side**2 * 1e6


def run() -> list[Row]:
    rows = []
    base = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for side in SIDES:
            grid = Path(folder) / f"coast_{side}.tif"
            write_coast(grid, side)
            cost = scouted(grid, Path(folder) / f"out_{side}")
            each = cost.a_million(side)
            base = base or each
            work = (
                f"{side}² cells, processor s a million; peak "
                f"{cost.largest_gb:.2f} GB, all together {cost.together_gb:.2f}"
            )
            rows.append(Row(work, f"{SIDES[0]}² cells", each, base, each / base))
    return rows


def write_coast(path: Path, side: int) -> None:
    """Write an invented coast by windows: hills of several sizes, a long scarp, land, noise."""
    rng = np.random.default_rng(7)
    tiles = [
        _hills(rng, 1531, 60.0, 4.0), _hills(rng, 1789, 25.0, 0.7), _hills(rng, 997, 0.0, 0.02),
    ]  # fmt: skip
    profile = {
        "driver": "GTiff", "dtype": "float32", "count": 1, "width": side, "height": side,
        "crs": "EPSG:32631", "transform": rasterio.Affine(4, 0, 4e5, 0, -4, 6e6), "tiled": True,
        "blockxsize": 512, "blockysize": 512, "compress": "deflate", "zlevel": 1, "predictor": 3,
        "nodata": -9999.0, "BIGTIFF": "IF_SAFER",
    }  # fmt: skip
    with rasterio.open(path, "w", **profile) as target:
        target.update_tags(1, positive="down")
        for row in range(0, side, BLOCK):
            for column in range(0, side, BLOCK):
                rows, columns = min(BLOCK, side - row), min(BLOCK, side - column)
                depth = _depth(
                    np.arange(row, row + rows), np.arange(column, column + columns), tiles
                )
                target.write(depth, 1, window=Window(column, row, columns, rows))


def _hills(rng: np.random.Generator, period: int, size: float, height: float) -> np.ndarray:
    rough = rng.normal(size=(period, period)).astype(np.float32)
    smooth = gaussian_filter(rough, size, mode="wrap") if size else rough
    return (height * smooth / smooth.std()).astype(np.float32)


def _depth(row: np.ndarray, column: np.ndarray, tiles: list[np.ndarray]) -> np.ndarray:
    y, x = row[:, None].astype(np.float32), column[None, :].astype(np.float32)
    depth = np.full((len(row), len(column)), 16, np.float32)
    for tile in tiles:
        period = len(tile)
        depth += tile[row % period][:, column % period]
    shore = 300 + 180 * np.sin(y / 700) + 60 * np.sin(y / 93)
    depth += 4 * (1 + np.tanh((x - shore - 400 - 90 * np.sin(y / 310)) / 8))  # the scarp
    depth -= 30 * np.exp(-np.clip(x - shore + 150, 0, 1000) / 60)  # up to the beach
    return np.where(depth > 0, depth, np.float32(-9999))


def scouted(grid: Path, out: Path, *options: str) -> Cost:
    """Run the whole command, and tell what it took."""
    start, before = time.perf_counter(), os.times()
    largest, together = 0, 0
    command = [sys.executable, "-m", "layers.cli.main", "scout", str(grid), "--out", str(out),
               "--contours", "5,8,10,15,20 m", "--band", "5-8 m", "--chunk", "2048"]  # fmt: skip
    process = subprocess.Popen([*command, *options])
    tree = psutil.Process(process.pid)
    while process.poll() is None:
        each = _resident(tree)
        largest, together = max(largest, *each), max(together, sum(each))
        time.sleep(0.2)
    if process.returncode:
        raise SystemExit(f"scout ended with {process.returncode}")
    wall, after = time.perf_counter() - start, os.times()
    took = after.children_user + after.children_system
    took -= before.children_user + before.children_system
    return Cost(wall, took, largest / 1e9, together / 1e9)


def _resident(process: psutil.Process) -> list[int]:
    try:
        family = (process, *process.children(recursive=True))
        return [one.memory_info().rss for one in family]
    except psutil.NoSuchProcess:  # one ended just now: the next look tells
        return [0]


def main(side: int, kept: str | None = None) -> None:
    with tempfile.TemporaryDirectory() as folder:
        grid = Path(kept or Path(folder) / "coast.tif")
        start = time.perf_counter()
        if not grid.exists():
            write_coast(grid, side)
        wrote, size = time.perf_counter() - start, grid.stat().st_size / 1e9
        print(f"grid written in {wrote:.0f} s, {size:.2f} GB")
        cost = scouted(grid, Path(folder) / "out")
        load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
        print(
            f"{side**2 / 1e6:.0f} M cells: {cost.wall_s:.0f} s, processors {cost.processor_s:.0f} "
            f"s, {cost.a_million(side):.3f} s a million cells; peak {cost.largest_gb:.2f} GB in "
            f"one process, {cost.together_gb:.2f} GB in all; load {load:.1f}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]), *sys.argv[2:3])
