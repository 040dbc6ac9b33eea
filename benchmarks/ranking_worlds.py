"""How often what ranks first is what was planted, on 48 made-up bottoms.

Each has a scarp of 1.5 to 4 m, two humps and a hole of 1.5 to 3 m, five lone soundings, noise of
0.05 to 0.3 m, ground that falls up to 2 degrees and undulates by 0.2 m, on cells of 2, 4 or 8 m.
What is ranked is planted if its place is on a hump or hole, or within 30 m or three cells of the
scarp.
"""

from __future__ import annotations

import numpy as np
import xarray as xr
from affine import Affine
from scipy.ndimage import gaussian_filter

from benchmarks.rows import Row
from seabed.grid import make_grid
from seabed.structure import Search, find_bottom, rank_structure

FIRST = 100
WORLDS = 48
SIDE = 240


def run() -> list[Row]:
    return [
        row
        for name, significance in (("as it is", None), ("significance 0", 0.0))
        for row in _ranked(name, significance)
    ]


def _ranked(name: str, significance: float | None) -> list[Row]:
    firsts, shares, empty = 0, [], 0
    for seed in range(FIRST, FIRST + WORLDS):
        grid, planted = _world(seed)
        noise = Search().noise if significance is None else type(Search().noise)(significance)
        bottom = find_bottom(grid, Search(noise=noise))
        ranking = rank_structure(bottom.edges, bottom.features, others=[bottom.axes])
        empty += not len(ranking)
        hits = [planted(place.x, place.y) for place in ranking.geometry.head(10)]
        firsts += bool(hits[:1] and hits[0])
        shares.append(np.mean(hits) if hits else 0.0)
    nothing = float("nan")
    return [
        Row(
            f"worlds whose first is planted, {name}",
            f"of {WORLDS}",
            firsts,
            WORLDS,
            firsts / WORLDS,
        ),
        Row(
            f"share of the top ten that is planted, {name}", "-", np.mean(shares), nothing, nothing
        ),
        Row(f"worlds with nothing ranked, {name}", "-", empty, nothing, nothing),
    ]


def _world(seed: int) -> tuple[xr.DataArray, object]:
    rng = np.random.default_rng(seed)
    cell_m = (2.0, 4.0, 8.0)[seed % 3]
    row, column = np.mgrid[:SIDE, :SIDE].astype(float)
    east, south = column * cell_m, row * cell_m
    side = SIDE * cell_m
    depth = 20 + np.tan(np.radians(rng.uniform(0, 2))) * east
    waves = gaussian_filter(rng.normal(size=row.shape), 25 / cell_m, mode="wrap")
    depth += 0.2 * waves / waves.std()
    line, drop = side * rng.uniform(0.4, 0.6), rng.uniform(1.5, 4)
    depth += drop * np.clip((east - line) / max(20, 2 * cell_m) + 0.5, 0, 1)
    tops = []
    for share, sign in ((0.15, -1), (0.25, 1), (0.85, -1)):
        x, y = side * share, side * rng.uniform(0.2, 0.8)
        spread = rng.uniform(12, 25) * max(1, cell_m / 4)
        depth += (
            sign
            * rng.uniform(1.5, 3)
            * np.exp(-((east - x) ** 2 + (south - y) ** 2) / 2 / spread**2)
        )
        tops.append((x, y, 2.5 * spread))
    depth += rng.choice([0.05, 0.15, 0.3]) * rng.normal(size=depth.shape)
    for _ in range(5):
        r, c = rng.integers(10, SIDE - 10, 2)
        depth[r, c] -= rng.uniform(1.5, 3)

    def planted(x: float, y: float) -> bool:
        x, y = x - 5e5, 6e6 - y
        near = any(np.hypot(x - a, y - b) <= reach for a, b, reach in tops)
        return bool(near or abs(x - line) <= max(30, 3 * cell_m))

    transform = Affine(cell_m, 0, 5e5, 0, -cell_m, 6e6)
    return make_grid(depth.astype(np.float32), transform=transform, crs="EPSG:32631"), planted
