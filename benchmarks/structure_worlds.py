"""What is found on made-up bottoms: counts, metres or shares; raw ones are of `significance=0`,
of waves those of windows of 400 m.

Humps are planted 80 to 100 cells apart, with deviations of 8 to 30 m (0.8 cells at least).
"""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import xarray as xr
from affine import Affine
from scipy.ndimage import gaussian_filter

from benchmarks.rows import Row
from seabed.grid import make_grid
from seabed.structure import contours, edges, holes, humps, sand_waves
from seabed.structure.doubtful import doubtful_soundings

SEEDS = range(30, 33)
NONE = {"significance": 0.0}


def run() -> list[Row]:
    return [*_flats(), *_mixed(), *_planted(), *_scarps(), *_slopes(), *_waves(), *_spikes()]


def _row(work: str, ours: float, plain: float = float("nan")) -> Row:
    return Row(work if np.isnan(plain) else f"{work} (raw: {plain:.3g})", "", ours, plain, np.nan)


def _grid(depth: np.ndarray, cell_m: float) -> xr.DataArray:
    transform = Affine(cell_m, 0, 5e5, 0, -cell_m, 6e6)
    return make_grid(depth.astype(np.float32), transform=transform, crs="EPSG:32631")


def _noise(shape: tuple[int, ...], sigma_m: float, seed: int) -> np.ndarray:
    return sigma_m * np.random.default_rng(seed).normal(size=shape)


def _flats() -> Iterator[Row]:
    flats = [_grid(20 + _noise((500, 500), 0.3, seed), 2.0) for seed in SEEDS]

    def count(**options: float) -> float:
        return np.mean([len(humps(one, **options)) + len(holes(one, **options)) for one in flats])

    yield _row("humps and holes a km² on a flat, noise 0.3 m, 2 m cells", count(), count(**NONE))
    across = np.arange(500) * 2 / 500
    levels = [51.0, 51.5, 52.0, 52.5, 53.0]
    grid = _grid(51 + across + _noise((500, 500), 0.1, 1), 2.0)
    plain = len(contours(grid, levels, **NONE))
    yield _row("contour lines on a flat, noise 0.1 m, 1 km²", len(contours(grid, levels)), plain)


def _mixed() -> Iterator[Row]:
    """Grids of mixed quality: a noisy patch on a good grid, and good soundings beside old ones."""
    row, column = np.mgrid[:500, :500]
    away = np.hypot(row - 300, column - 300)
    for radius in (45, 60, 80):
        patches = [
            _grid(20 + _noise(away.shape, 1.0, seed) * np.where(away < radius, 0.5, 0.02), 2.0)
            for seed in SEEDS
        ]

        def count(grids: list[xr.DataArray] = patches, **options: float) -> float:
            return float(np.mean([len(humps(one, **options)) + len(holes(one, **options))
                                  for one in grids]))  # fmt: skip

        yield _row(
            f"humps and holes in a patch of {radius} cells with 0.5 m of noise, 0.02 m about it",
            count(), count(noise_m=0.02),
        )  # fmt: skip
    mixed = []
    for seed in SEEDS:
        depth = 20 + _noise(away.shape, 1.0, seed) * np.where(column < 250, 0.02, 0.3)
        for south in range(50, 500, 50):
            for east in (40, 90, 140, 190):
                depth -= 1.3 * np.exp(-((row - south) ** 2 + (column - east) ** 2) / 2 / 1.5**2)
        mixed.append(_grid(depth, 2.0))
    name = "of 36 humps of 1.3 m and 1.5 cells on the good half of a mixed grid"
    yield _row(name, *(np.mean([len(humps(one, **options)) for one in mixed])
                       for options in ({}, {"noise_m": 0.3})))  # fmt: skip


def _planted() -> Iterator[Row]:
    for cell_m in (2.0, 5.0, 12.0):
        for sigma_m in (0.0, 0.1, 0.3):
            worlds = [_humps(cell_m, sigma_m, seed) for seed in SEEDS]
            name = f"of 60 planted humps, {cell_m:g} m cells, noise {sigma_m:g} m: "
            ours = [_matched(grid, clean, places, cell_m) for grid, clean, places in worlds]
            plain = [
                _matched(grid, clean, places, cell_m, **NONE) for grid, clean, places in worlds
            ]
            for word, measure in (("found", _sizes), ("height off, m", _means)):
                yield _row(name + word, measure(ours), measure(plain))


def _sizes(errors: list[list[float]]) -> float:
    return float(sum(map(len, errors)))


def _means(errors: list[list[float]]) -> float:
    return float(np.mean(np.concatenate(errors)))


def _humps(cell_m: float, sigma_m: float, seed: int) -> tuple[xr.DataArray, xr.DataArray, list]:
    rng = np.random.default_rng(100 * seed + int(cell_m))
    row, column = np.mgrid[:400, :400].astype(float)
    clean, places = np.full(row.shape, 25.0), []
    for r in range(50, 400, 100):
        for c in range(40, 400, 80):
            y, x = r + rng.uniform(-15, 15), c + rng.uniform(-10, 10)
            spread = max(rng.uniform(8, 30) / cell_m, 0.8)
            clean -= rng.uniform(1.5, 4) * np.exp(
                -((row - y) ** 2 + (column - x) ** 2) / 2 / spread**2
            )
            places.append((y, x, max(2.0, 1.5 * spread)))
    noisy = clean + _noise(row.shape, sigma_m, seed)
    return _grid(noisy, cell_m), _grid(clean, cell_m), places


def _matched(
    grid: xr.DataArray, clean: xr.DataArray, places: list, cell_m: float, **options: float
) -> list[float]:
    """Errors of the heights of planted humps that are found, against the clean ground."""
    tables = humps(grid, **options), humps(clean, min_height_m=0.5, **NONE)
    errors = []
    for place in places:
        found, true = (_nearest(table, place, cell_m) for table in tables)
        if np.isfinite(found):
            errors.append(found - true)
    return errors


def _nearest(table: gpd.GeoDataFrame, place: tuple[float, float, float], cell_m: float) -> float:
    y, x, reach = place
    away = np.hypot(
        (table["peak_x"] - 5e5) / cell_m - 0.5 - x, (6e6 - table["peak_y"]) / cell_m - 0.5 - y
    )
    near = table["height_m"][away <= reach]
    return float(near.iloc[0]) if len(near) else float("nan")


def _scarps() -> Iterator[Row]:
    across = (np.arange(300) - 150) * 2.0
    for drop_m in (3.0, 1.0):
        for falls in (0, 2, 5):
            plane = 20 + np.tan(np.radians(falls)) * across
            depth = plane + drop_m * np.clip(across / 20 + 0.5, 0, 1)
            grids = [_grid(depth + _noise((300, 300), 0.3, seed), 2.0) for seed in SEEDS]
            yield _row(
                f"drop of a {drop_m:g} m scarp on ground of {falls}°, noise 0.3 m",
                _mean_drop(grids), _mean_drop(grids, **NONE),
            )  # fmt: skip


def _mean_drop(grids: list[xr.DataArray], **options: float) -> float:
    """Mean of the longest edges' drops; 0 where one has none."""
    tables = [edges(grid, **options) for grid in grids]
    return float(np.mean([table["drop_m"].iloc[0] if len(table) else 0.0 for table in tables]))


def _slopes() -> Iterator[Row]:
    across = 20 + np.tan(np.radians(1)) * np.arange(500) * 2.0
    for reach_m in (20, 40, 80):
        grids = []
        for seed in SEEDS:
            waves = gaussian_filter(_noise((500, 500), 1.0, seed), reach_m / 4, mode="wrap")
            grids.append(_grid(across + 0.2 * waves / waves.std(), 2.0))

        def count(grids: list[xr.DataArray] = grids, **options: float) -> float:
            return float(np.mean([len(edges(grid, **options)) for grid in grids]))

        yield _row(
            f"edges a km² on 1° that undulates by 0.2 m within {reach_m} m", count(), count(**NONE)
        )


def _waves() -> Iterator[Row]:
    rows, columns = np.mgrid[:440, :440] * 5.0
    way = columns * np.sin(np.radians(123)) - rows * np.cos(np.radians(123))
    for length_m, height_m in (
        (60, 1.0),
        (100, 2.0),
        (150, 1.5),
        (200, 3.0),
        (300, 3.0),
        (400, 3.0),
    ):
        part = way / length_m % 1
        depth = 30 - height_m * np.where(part < 0.8, part / 0.8, (1 - part) / 0.2)
        grid = _grid(depth + _noise(depth.shape, 0.1, length_m), 5.0)
        waves, plain = sand_waves(grid), sand_waves(grid, window_m=400)
        for word, column, true in (
            ("length", "wavelength_m", length_m), ("height", "height_m", height_m),
        ):  # fmt: skip
            ours, fixed = (table[column].median() / true for table in (waves, plain))
            yield _row(f"{word} of lopsided waves of {length_m} m, over the true one", ours, fixed)


def _spikes() -> Iterator[Row]:
    row, column = np.mgrid[:300, :300]
    depth = 20 + _noise(row.shape, 0.05, 1)
    for r, c, height in ((80, 80, 2.4), (200, 220, 1.7)):
        depth -= height * np.exp(-((row - r) ** 2 + (column - c) ** 2) / 2 / 8**2)
    lone = [(30, 200), (30, 201), (120, 30), (121, 30), (250, 60), (251, 61), (40, 40)]
    for n, place in enumerate(lone):
        depth[place] -= 1.5 + 0.25 * n
    grid = _grid(depth, 2.0)
    yield _row(
        "humps, two planted among seven lone soundings", len(humps(grid)), len(humps(grid, **NONE))
    )
    yield _row("of these seven, listed as doubtful", len(doubtful_soundings(grid)), 0.0)
