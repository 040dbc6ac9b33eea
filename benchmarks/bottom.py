"""Made-up bottoms to time on: smooth hills with a little noise, in UTM at 4 m."""

from __future__ import annotations

import numpy as np
import xarray as xr
from affine import Affine
from scipy.ndimage import gaussian_filter

from seabed.grid import make_grid

__all__ = ["bottom"]


def bottom(
    side: int, *, hill_cells: float = 40.0, noise_m: float = 0.05, seed: int = 1
) -> xr.DataArray:
    """Square grid of `side` cells, about 5 to 35 m deep."""
    rng = np.random.default_rng(seed)
    coarse = rng.normal(size=(side, side)).astype(np.float32)
    hills = gaussian_filter(coarse, hill_cells, mode="wrap", output=np.float32)
    depth = 20 + 5 * hills / hills.std() + noise_m * rng.normal(size=(side, side))
    return make_grid(
        depth.astype(np.float32), transform=Affine(4, 0, 5e5, 0, -4, 6e6), crs="EPSG:32631"
    )
