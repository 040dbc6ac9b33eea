"""What two simulated surveys of one ground show: patches where nothing moved, and moves that did.

Seconds are none here: the columns hold what each row names, ours and what there was to find.
Ground: twelve humps and holes on a gentle slope, 1 km² in 2 m cells.  The older survey is 3 m
east and 5 m south of its place, and 0.4 m shallower.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import xarray as xr
from affine import Affine
from shapely import Point

from benchmarks.rows import Row
from seabed import changes_since
from seabed.change import Changes
from seabed.grid import make_grid

SEEDS = range(40, 43)
SIDE_M = 1000.0
VOLUME_M3 = 2.5 * 2 * np.pi * 15**2
Ground = Callable[[Any, Any], Any]


def run() -> list[Row]:
    return [*_unmoved(), *_moved()]


def _row(work: str, ours: float, plain: float = 0.0) -> Row:
    return Row(work, "put in", ours, plain, float("nan"))


def _ground(seed: int) -> Ground:
    rng = np.random.default_rng(seed)
    shapes = [(*rng.uniform(50, SIDE_M - 50, 2), rng.uniform(15, 40), rng.uniform(-3, 3))
              for _ in range(12)]  # fmt: skip

    def depth(east: Any, south: Any) -> Any:
        out = 25 + 0.005 * east
        for x, y, spread, height in shapes:
            out = out + height * np.exp(-((east - x) ** 2 + (south - y) ** 2) / 2 / spread**2)
        return out

    return depth


def _survey(
    ground: Ground, sigma_m: float, seed: int, *, cell_m: float = 2.0, lies: bool = False
) -> xr.DataArray:
    """Lay ground on cells, with noise; one that `lies` is shifted and too shallow."""
    count = int(SIDE_M / cell_m)
    row, column = np.mgrid[:count, :count]
    east, south = (column + 0.5) * cell_m, (row + 0.5) * cell_m
    depth = ground(east - 3, south - 5) - 0.4 if lies else ground(east, south)
    depth = depth + sigma_m * np.random.default_rng(seed).normal(size=depth.shape)
    transform = Affine(cell_m, 0, 5e5, 0, -cell_m, 6e6)
    return make_grid(depth.astype(np.float32), transform=transform, crs="EPSG:32631")


def _unmoved() -> Iterator[Row]:
    """Patches and moves a km² where nothing moved."""
    for sigma_m, older_m, cell_m in ((0.1, 0.1, 2.0), (0.05, 0.3, 2.0), (0.1, 0.2, 5.0)):
        pairs = [
            (_survey(_ground(seed), sigma_m, seed),
             _survey(_ground(seed), older_m, seed + 500, cell_m=cell_m, lies=True))
            for seed in SEEDS
        ]  # fmt: skip
        ours = [changes_since(*pair) for pair in pairs]
        name = f"noise {sigma_m:g} and {older_m:g} m, older cells {cell_m:g} m: "
        yield _row(f"{name}false patches a km²", _mean(ours, "patches"))
        yield _row(f"{name}false moves a km²", _mean(ours, "moves"))
        off = [np.hypot(one.alignment.east_m + 3, one.alignment.north_m - 5) for one in ours]
        yield _row(f"{name}shift off, m", float(np.mean(off)), float(np.hypot(3, 5)))
        level = [abs(one.alignment.deeper_m - 0.4) for one in ours]
        yield _row(f"{name}level off, m", float(np.mean(level)), 0.4)


def _mean(changes: list[Changes], table: str) -> float:
    return float(np.mean([len(getattr(one, table)) for one in changes]))


def _moved() -> Iterator[Row]:
    """A hole of 2.5 m that filled, and a scarp of which 300 m moved by 12 m."""
    for sigma_m in (0.05, 0.1, 0.3):
        volumes, moves = [], []
        for seed in SEEDS:
            ground = _ground(seed)

            def before(east: Any, south: Any, ground: Ground = ground) -> Any:
                hole = np.exp(-((east - 200) ** 2 + (south - 200) ** 2) / 2 / 15**2)
                return ground(east, south) + 2.5 * hole + _scarp(east, 500)

            def after(east: Any, south: Any, ground: Ground = ground) -> Any:
                shifted = 12 * ((south > 300) & (south < 600))
                return ground(east, south) + _scarp(east, 500 + shifted)

            changes = changes_since(_survey(after, sigma_m, seed),
                                    _survey(before, sigma_m, seed + 500, lies=True))  # fmt: skip
            here = changes.patches[changes.patches.intersects(_point(200, 200))]
            volumes.append(-here["volume_m3"].sum() / VOLUME_M3)
            edges = changes.moves[changes.moves["kind"] == "edge"]
            near = edges[edges.distance(_point(506, 450)) < 100]
            moves.append(near["moved_m"].median())
        name = f"noise {sigma_m:g} m in both: "
        yield _row(f"{name}volume of a hole that filled, over the true one", _middle(volumes), 1.0)
        yield _row(f"{name}move of an edge, m", _middle(moves), 12.0)


def _middle(values: list[float]) -> float:
    return float(np.median(values))


def _scarp(east: Any, at_m: Any) -> Any:
    return 3 * np.clip((east - at_m) / 20 + 0.5, 0, 1)


def _point(east: float, south: float) -> Any:
    return Point(5e5 + east, 6e6 - south)
