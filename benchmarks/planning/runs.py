"""Runs over safe water: against a least-cost path of an image library, and over other worlds.

The reference finds a path over the same open cells, eight neighbours each, pulls nothing straight
and knows no tide.

``python -m benchmarks.planning.runs`` tells over 300 random worlds how many runs without a caution
come into too little water, how many ways there are that are not found, and how long runs are.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import Transformer
from scipy.ndimage import gaussian_filter, label, map_coordinates, minimum_filter
from shapely.geometry import LineString

from benchmarks.rows import Row, seconds
from layers.planning import SafeWater
from layers.planning.runs._runs import Run, Runs
from layers.water import HighLowTable
from seabed.grid import make_grid

__all__ = ["run"]

START = np.datetime64("2031-06-14T08:00", "ns")
WEST, NORTH, CELL = 500_000.0, 5_116_000.0, 10.0
TURN = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
MPS = 10.0
LEAST_M = 1.5

Floats = NDArray[np.float64]


def run() -> list[Row]:
    """Time a run across a bottom of islands, and one back up round a line."""
    return [*(_across(cells) for cells in (300, 1000, 2000)), _back_up()]


def _across(cells: int) -> Row:
    from skimage.graph import MCP_Geometric

    depth = bottom(cells, np.random.default_rng(cells), cells / 30)
    safe = SafeWater.of(grid_of(depth), least_water_m=LEAST_M)
    ends = far_apart(safe.shoalest >= LEAST_M)
    costs = np.where(safe.shoalest >= LEAST_M, 1.0, -1.0)

    def theirs() -> Any:
        paths = MCP_Geometric(costs, fully_connected=True)
        paths.find_costs([ends[0]], [ends[1]])
        return paths.traceback(ends[1])

    def ours() -> Run:  # ways found before are forgotten
        return Runs.of(safe, running_mps=MPS).between(*(place(*end) for end in ends), START)

    assert not ours().caution
    return Row.of(
        f"a run across {cells} x {cells} cells", "scikit-image, MCP_Geometric",
        seconds(ours, times=1), seconds(theirs, times=1),
    )  # fmt: skip


def _back_up() -> Row:
    safe = SafeWater.of(grid_of(np.full((1000, 1000), 8.0)), least_water_m=LEAST_M)
    here, there = place(520, 500), place(480, 500)
    runs = Runs.of(safe, running_mps=MPS)
    line = LineString([there, here])

    def back(around: LineString | None) -> Run:
        runs.ways.known.clear()
        return runs.between(here, there, START, around=around)

    around, straight = seconds(lambda: back(line)), seconds(lambda: back(None))
    return Row.of("a run back up, round the line", "the same, straight", around, straight)


def bottom(cells: int, random: np.random.Generator, scale: float) -> Floats:
    """Give smooth hills and hollows, the highest above water, where nothing is charted."""
    depth = gaussian_filter(random.normal(size=(cells, cells)), scale, mode="wrap")
    depth = 4.0 + 5.0 * depth / depth.std()
    depth[depth < -1.0] = np.nan
    return np.asarray(depth)


def grid_of(depth: Floats) -> xr.DataArray:
    """Lay depths on cells of ten metres."""
    return make_grid(
        depth.astype(np.float32), transform=Affine(CELL, 0, WEST, 0, -CELL, NORTH),
        crs="EPSG:32625",
    )  # fmt: skip


def place(row: float, column: float) -> tuple[float, float]:
    """Degrees of the middle of a cell."""
    x, y = TURN.transform(WEST + CELL * (column + 0.5), NORTH - CELL * (row + 0.5))
    return float(x), float(y)


def far_apart(is_open: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Give two opposite corners of the largest water whose cells are joined."""
    parts, _ = label(is_open, np.ones((3, 3)))
    cells = np.argwhere(parts == np.bincount(parts[parts > 0]).argmax())
    ends = cells[[np.argmin(cells.sum(axis=1)), np.argmax(cells.sum(axis=1))]]
    return [(int(row), int(column)) for row, column in ends]


def over_worlds(worlds: int, *, first_seed: int = 1000, runs_each: int = 8) -> dict[str, float]:
    """Count what goes wrong over random worlds under a tide, looked at every half metre."""
    told = dict.fromkeys(("runs", "without caution", "too shoal", "not found", "needless"), 0.0)
    longer: list[float] = []
    for seed in range(first_seed, first_seed + worlds):
        random = np.random.default_rng(seed)
        depth = bottom(int(random.integers(60, 260)), random, float(random.uniform(1.5, 12.0)))
        low, rise = random.uniform(-0.5, 1.0), random.uniform(-2.5, 2.5)
        tide = HighLowTable(
            START + np.array([0, 6], "timedelta64[h]"), np.array([low, low + rise]),
            np.array([rise < 0, rise > 0]),
        )  # fmt: skip
        safe = SafeWater.of(grid_of(depth), tide, least_water_m=LEAST_M)
        runs = Runs.of(safe, running_mps=MPS)
        shoalest = minimum_filter(np.nan_to_num(depth, nan=-1e6), 3, mode="constant", cval=-1e6)
        for _ in range(runs_each):
            ends = random.integers(0, len(depth), (2, 2))
            leave = START + np.timedelta64(int(random.integers(0, 300)), "m")
            one = runs.between(*(place(*end) for end in ends), leave)
            told["runs"] += 1
            seconds_ = (one.times - START) / np.timedelta64(1, "s")
            least = LEAST_M - stands(low, rise, seconds_).min()
            parts, _ = label(shoalest >= least, np.ones((3, 3)))
            joined = parts[tuple(ends[0])] and parts[tuple(ends[0])] == parts[tuple(ends[1])]
            if one.caution:
                told["not found"] += bool(joined)
                continue
            told["without caution"] += 1
            told["needless"] += not joined
            told["too shoal"] += least_water(depth, one, low, rise) < LEAST_M - 1e-3
            straight = CELL * np.hypot(*(ends[1] - ends[0]))
            longer.append(one.distance_m / straight if straight else 1.0)
    return told | {"median length over straight": float(np.median(longer))}


def stands(low: float, rise: float, after_s: Floats) -> Floats:
    """Height of a tide that turns after six hours, by the half-cosine of printed tables."""
    return np.asarray(low + rise * (1 - np.cos(np.pi * after_s / 21_600.0)) / 2)


def least_water(depth: Floats, one: Run, low: float, rise: float) -> float:
    """Look at a run every half metre, with another library's interpolation."""
    x, y = TURN.transform(one.longitude, one.latitude, direction="INVERSE")
    corners = np.column_stack([x, y])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    looks = np.union1d(along, np.arange(0.0, along[-1], 0.5))
    at = shapely.line_interpolate_point(LineString(corners), looks)
    row = (NORTH - shapely.get_y(at)) / CELL - 0.5
    column = (shapely.get_x(at) - WEST) / CELL - 0.5
    under = map_coordinates(np.nan_to_num(depth, nan=-1e6), [row, column], order=1, mode="nearest")
    times = np.interp(looks, along, (one.times - START) / np.timedelta64(1, "s"))
    return float((under + stands(low, rise, times)).min())


if __name__ == "__main__":
    for words, value in over_worlds(300).items():
        print(f"{words}: {value:g}")
