"""The hottest patch of ground, over all lines together."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import Point

from layers.scoring.along import on_plane, rates_beside
from layers.scoring.circles import scan_ground
from layers.scoring.samples import SAMPLES, weights_of
from seabed.schema import Table
from seabed.units import luck_words, rounded

PATCHES: Final = Table.of(
    "patches",
    "layers.scoring.hot_patch",
    """
    p chance of such a patch by luck
    radius_m [distance] of the circle
    fish [int] in it
    expected fish due to its effort
    rod_hours in it
    rate_here drawn toward the rate of all water
    rate_elsewhere [empty] fish a rod-hour
    why [text] in words
    geometry [Polygon] the circle
    """,
)
RADII_M: Final = (20.0, 30.0, 45.0, 70.0, 100.0, 150.0)
CELL_M: Final = 20.0


def hot_patch(
    samples: pd.DataFrame,
    *,
    cell_m: float = CELL_M,
    radii_m: tuple[float, ...] = RADII_M,
    replicates: int = 999,
    seed: int = 0,
) -> gpd.GeoDataFrame:
    """Find the circle of ground whose fish its effort explains least, over all lines together.

    Effort and fish are put together in squares of `cell_m`. Returned: one row of `PATCHES`, or
    none.
    """
    SAMPLES.check(samples, "longitude", "latitude", "rod_hours", "fish")
    cells, crs = _cells(samples, cell_m)
    if not len(cells):
        return PATCHES.empty()
    xy = cells[["x", "y"]].to_numpy()
    patch = scan_ground(xy, cells["rod_hours"], cells["fish"], radii_m,
                        replicates=replicates, seed=seed)  # fmt: skip
    if patch is None:
        return PATCHES.empty()
    hours, fish = cells["rod_hours"].sum(), float(cells["fish"].sum())
    inside = float(hours * patch.expected / fish)
    here, elsewhere, _ = rates_beside(patch.fish, inside, fish, hours)
    circle = Point(xy[patch.centre]).buffer(patch.radius_m)
    effort = f"{rounded(inside, 1)} of {rounded(hours, 1)} rod-hours"
    came = f"{rounded(patch.fish)} of {rounded(fish)} fish in {effort}"
    row = {
        "p": patch.p, "radius_m": patch.radius_m, "fish": round(patch.fish),
        "expected": patch.expected, "rod_hours": inside, "rate_here": here,
        "rate_elsewhere": elsewhere,
        "why": f"{came}, where {rounded(patch.expected, 1)} were due ({luck_words(patch.p)}).",
        "geometry": gpd.GeoSeries([circle], crs=crs).to_crs("EPSG:4326").iloc[0],
    }  # fmt: skip
    return PATCHES.frame([row])


def _cells(samples: pd.DataFrame, cell_m: float) -> tuple[pd.DataFrame, Any]:
    """Effort and fish in squares, with their middles in metres."""
    if not len(samples):
        return samples.assign(x=[], y=[]), None
    places, crs = on_plane(samples)
    x, y = ((np.floor(places / cell_m) + 0.5) * cell_m).T
    squares = pd.DataFrame(
        {
            "x": x,
            "y": y,
            "rod_hours": samples["rod_hours"].to_numpy(),
            "fish": weights_of(samples),
        }
    )
    return squares.groupby(["x", "y"], as_index=False).sum(), crs
