"""Bottoms of a coast with shore, voids and structure across every chunk border."""

from __future__ import annotations

import numpy as np
from affine import Affine
from scipy.ndimage import gaussian_filter

from seabed.grid import make_grid

UTM = Affine(4, 0, 5e5, 0, -4, 6e6)
DEGREES = Affine(5e-5, 0, -33.4, 0, -4e-5, 46.3)


def coast(rows=600, columns=700, *, seed=3, hill=22, noise_m=0.05, geographic=False, steps_m=None):
    """Hills, a scarp and a ridge through the whole, a shore, pinholes and a lake of void."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:rows, :columns].astype(float)
    hills = gaussian_filter(rng.normal(size=(rows, columns)), hill, mode="wrap")
    depth = 18 + 4 * hills / hills.std() + noise_m * rng.normal(size=(rows, columns))
    depth += 6 / (1 + np.exp(-(x - 0.5 * columns - 60 * np.sin(y / 90)) / 3))
    depth -= (
        7
        * np.exp(-(((y - 0.45 * rows - 0.2 * (x - 0.5 * columns)) / 14) ** 2))
        * (np.abs(x - 0.5 * columns) < 0.42 * columns)
    )
    depth[y > 0.93 * rows + 20 * np.sin(x / 40)] = np.nan
    depth[(y - 0.6 * rows) ** 2 + (x - 0.3 * columns) ** 2 < 26**2] = np.nan
    pins = rng.integers(0, [rows - 4, columns - 4], size=(40, 2))
    for number, (row, column) in enumerate(pins):
        side = 1 + number % 5  # 1 to 25 cells: some are pinholes, some are not
        depth[row : row + side, column : column + side] = np.nan
    if steps_m:
        depth = np.round(depth / steps_m) * steps_m
    return make_grid(
        depth.astype(np.float32),
        transform=DEGREES if geographic else UTM,
        crs="EPSG:4326" if geographic else "EPSG:32631",
    )
