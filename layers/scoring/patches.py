"""The hottest patch of ground, over all lines together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.spatial import cKDTree
from shapely.geometry import Point

from layers.scoring.along import on_plane, rates_beside
from layers.scoring.samples import SAMPLES, weights_of
from layers.scoring.scan import (
    LEVEL,
    MOST_SHARE,
    REPLICATES,
    by_effort,
    chance_of,
    least_as_hot,
    ratios,
    shares,
)
from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled
from seabed.schema import Table
from seabed.units import luck_words, rounded

PATCHES: Final = Table.of(
    "patches",
    "layers.scoring.patches.hot_patch",
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
    seed: int = 0,
) -> gpd.GeoDataFrame:
    """Find the circle of ground whose fish its effort explains least, over all lines together.

    By effort and fish in squares of 20 m.  Returned: one row of `PATCHES`, or none.
    """
    SAMPLES.check(samples, "longitude", "latitude", "rod_hours", "fish")
    cells, crs = _cells(samples)
    if not len(cells):
        return PATCHES.empty()
    xy = cells[["x", "y"]].to_numpy()
    patch = scan_ground(xy, cells["rod_hours"], cells["fish"], RADII_M, seed=seed)
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


def _cells(samples: pd.DataFrame) -> tuple[pd.DataFrame, Any]:
    """Effort and fish in squares, with their middles in metres."""
    if not len(samples):
        return samples.assign(x=[], y=[]), None
    places, crs = on_plane(samples)
    x, y = ((np.floor(places / CELL_M) + 0.5) * CELL_M).T
    squares = pd.DataFrame(
        {
            "x": x,
            "y": y,
            "rod_hours": samples["rod_hours"].to_numpy(),
            "fish": weights_of(samples),
        }
    )
    return squares.groupby(["x", "y"], as_index=False).sum(), crs


@dataclass(frozen=True, slots=True)
class Patch:
    """The hottest circle: row of its middle cell, radius in metres, and as `Stretch`."""

    centre: int
    radius_m: float
    fish: float
    expected: float
    ratio: float
    p: float


def scan_ground(
    xy_m: Any,
    hours: Any,
    fish: Any,
    radii_m: Any,
    *,
    replicates: int = REPLICATES,
    seed: int = 0,
) -> Patch | None:
    """Find the hottest circle about any cell with effort, as `scan_stretch` does a stretch."""
    share, count = shares(hours, fish)
    total = float(count.sum())
    if total < 2:
        return None
    windows, centres, radii = _circles(np.asarray(xy_m, float), np.asarray(radii_m, float))
    inside = windows @ share
    allowed = inside <= MOST_SHARE
    windows, inside = windows[allowed], inside[allowed]
    centres, radii = centres[allowed], radii[allowed]
    if not len(inside):
        return None
    own = windows @ count
    ratio = ratios(own, inside, total)
    best = int(np.argmax(ratio))
    if ratio[best] <= 0:
        return None

    least = least_as_hot(float(ratio[best]) - LEVEL, inside, total)

    def as_hot(strewn: Floats) -> Mask:
        columns = np.ascontiguousarray(strewn.T, np.int32)
        return np.asarray(_any_reaches(windows.indptr, windows.indices, least, columns))

    return Patch(
        int(centres[best]),
        float(radii[best]),
        float(own[best]),
        float(total * inside[best]),
        float(ratio[best]),
        chance_of(as_hot, by_effort(total, share), replicates=replicates, seed=seed),
    )


def _circles(xy: Floats, radii: Floats) -> tuple[csr_array, Ints, Floats]:
    """Every circle as a row of 0 and 1 over the cells; its middle cell; its radius."""
    count = len(xy)
    pairs = cKDTree(xy).query_pairs(radii.max(initial=0.0), output_type="ndarray")
    apart = np.hypot(*(xy[pairs[:, 0]] - xy[pairs[:, 1]]).T)
    itself = np.arange(count)
    rows, columns = [], []
    for k, radius in enumerate(radii):
        one, other = pairs[apart <= radius].T
        rows.append(k * count + np.concatenate([itself, one, other]))
        columns.append(np.concatenate([itself, other, one]))
    at = np.concatenate(rows or [itself]), np.concatenate(columns or [itself])
    windows = csr_array((np.ones(len(at[0])), at), shape=(len(radii) * count, count))
    return windows, np.tile(itself, len(radii)), np.repeat(radii, count)


@compiled
def _any_reaches(start: Ints, cells: Ints, least: Floats, strewn: NDArray[np.int32]) -> Mask:
    """Say of each column of counts whether any window's cells together have its least count."""
    reached = np.zeros(strewn.shape[1], np.bool_)
    caught = np.empty(strewn.shape[1], np.int32)
    for window in range(len(least)):
        caught[:] = 0
        for place in range(start[window], start[window + 1]):
            count = strewn[cells[place]]
            for column in range(len(caught)):
                caught[column] += count[column]
        for column in range(len(caught)):
            reached[column] |= caught[column] >= least[window]
    return reached
