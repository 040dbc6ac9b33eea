"""Ground of known shape, laid on cells and made noisy."""

from __future__ import annotations

import numpy as np
from affine import Affine

from seabed import make_grid

SIDE_M = 800.0


def still_ground(seed):
    """Twelve humps and holes on a gentle slope: depths by metres east and south."""
    rng = np.random.default_rng(seed)
    places = [
        (*rng.uniform(40, SIDE_M - 40, 2), rng.uniform(15, 30),
         rng.choice([-1, 1]) * rng.uniform(1.5, 3))
        for _ in range(12)
    ]  # fmt: skip

    def depth(east, south):
        ground = 25 + 0.005 * east
        for x, y, spread, high in places:
            if np.hypot(x - 200, y - 200) > 90:  # room for the hole of the tests
                ground = ground + high * np.exp(
                    -((east - x) ** 2 + (south - y) ** 2) / 2 / spread**2
                )
        return ground

    return depth


def ripples(east, south, moved_m):
    """Sand waves of 60 m and 1.5 m in the southern third."""
    return 0.75 * np.sin(2 * np.pi * (east - moved_m) / 60) * (south > 570)


def laid(ground, *, cell_m=2.0, east_m=0.0, south_m=0.0, side_m=SIDE_M):
    """Lay ground on square cells, the whole of it so far east and south of where it is."""
    count = int(side_m / cell_m)
    row, column = np.mgrid[:count, :count]
    depth = ground((column + 0.5) * cell_m - east_m, (row + 0.5) * cell_m - south_m)
    transform = Affine(cell_m, 0, 5e5, 0, -cell_m, 6e6)
    return make_grid(depth.astype(np.float32), transform=transform, crs="EPSG:32631")


def noisy(grid, sigma_m, seed):
    noise = sigma_m * np.random.default_rng(seed).normal(size=grid.shape)
    return grid.copy(data=(grid.values + noise).astype(np.float32))
