"""Water that a drifting boat may be in: deep enough at that hour, and clear of what is charted."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Final, NamedTuple

import geopandas as gpd
import numpy as np
import xarray as xr
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.features import rasterize
from scipy.ndimage import minimum_filter

from layers.planning.drift._cells import CellPolynomials
from layers.water import Heights
from seabed.array_types import Floats, Times
from seabed.compiled import compiled
from seabed.grid import cell_size, crs_of, transform_of
from seabed.grid.extent import metric_crs
from seabed.grid.places import row_column, sample, values_between


class Ended(IntEnum):
    """Why a track ended."""

    TIME = 0
    """It ran its whole time."""
    SHOAL = 1
    """Too little water, land, or the edge of the grid."""
    UNKNOWN_WATER = 2
    """The current or wind is not known there and then, or the motor can't hold the boat in it."""

    HAZARD = 3
    """Too near a charted hazard."""


CLEARANCE_M: Final = 30.0
"""How far a drift keeps from charted hazards.  Common practice, no source."""

LEAST_WATER_M: Final = 1.5
"""Least water under the boat.  Common practice, no source."""

BY_DEPTH: Final = frozenset({"rock", "wreck", "obstruction", "drying ground", "weed or kelp"})
"""Kinds that a boat may pass over where their charted depth leaves it enough water."""

TOLD_ONLY: Final = frozenset(
    {
        "unknown", "sand waves", "caution area", "precautionary area", "sea-plane area",
        "anchorage", "anchor berth", "dredged area", "fishing ground", "fishery zone",
        "overhead cable", "overhead pipeline", "inshore traffic zone", "recommended track",
        "recommended route", "production area", "dumping ground", "restricted area",
        "military practice area",
    }
)  # fmt: skip
"""Kinds that close no water: the plan names them.  All other kinds are closed whole."""

FORBIDDING: Final = (
    "entry prohibited", "fishing prohibited", "to be avoided", "stopping prohibited",
    "dragging prohibited",
)  # fmt: skip
"""Restrictions that close an area of any kind to a drift."""

CROSSED: Final = frozenset(
    {
        "submarine cable", "cable area", "pipeline", "pipeline area", "fairway",
        "deep water route", "traffic lane", "traffic crossing", "two-way route", "ferry route",
        "submarine transit lane",
    }
)  # fmt: skip
"""Kinds closed to a drift that a boat under way may cross."""

SHUT: Final = ("entry prohibited", "to be avoided")
"""Restrictions that close an area of any kind to a boat under way too."""

NOT_ALWAYS_COVERED: Final = ("always dry", "partly under water at high water")
SHOAL: Final = int(Ended.SHOAL)
HAZARD: Final = int(Ended.HAZARD)
ROUND: Final = 1.01  # outlines of buffers lie up to 0.5 % inside the circle


def closed_depth(hazards: gpd.GeoDataFrame, *, under_way: bool = False) -> Floats:
    """Give the depth over which each hazard lets a boat pass, metres below the datum, shape (n,).

    Minus infinity where it is never passed (cables, fairways, land, works, moorings, and rocks,
    wrecks and obstructions of unknown depth or always dry); its charted depth where water may be
    deep enough over it; infinity where it closes nothing and is only counted.
    under_way: a boat that runs may cross cables, pipelines, fairways, and areas where no boat may
    fish, stop or drag gear.
    """
    closed = np.full(len(hazards), -np.inf)
    for place, row in enumerate(hazards.itertuples()):
        if any(word in row.restriction for word in (SHUT if under_way else FORBIDDING)):
            continue
        if row.kind in BY_DEPTH and not any(w in row.water_level for w in NOT_ALWAYS_COVERED):
            closed[place] = row.depth_m if np.isfinite(row.depth_m) else -np.inf
        elif row.kind in TOLD_ONLY or (under_way and row.kind in CROSSED):
            closed[place] = np.inf
    return closed


@dataclass(frozen=True, slots=True)
class SafeWater:
    """Where a drift may go, hour by hour.

    Made by `SafeWater.of`.

    Attributes
    ----------
    grid : depth grid, held in memory
    heights : Heights or None
        None is the tide at datum all day.
    least_water_m : float
        Metres of water that the boat must have under it.
    shoalest : ndarray of float32, of the grid's shape
        Least charted depth of a cell and its eight neighbours; minus infinity beside land, void
        and the grid's edge.
    passed_over : ndarray of float32, of the grid's shape
        `closed_depth` of the worst hazard within the clearance; infinity without one.
    crossed : ndarray of float32, of the grid's shape
        The same for a boat under way.
    polynomials : CellPolynomials or None
        Of the grid; None where it has none near enough.
    """

    grid: xr.DataArray
    heights: Heights | None
    least_water_m: float
    shoalest: NDArray[np.float32]
    passed_over: NDArray[np.float32]
    crossed: NDArray[np.float32]
    polynomials: CellPolynomials | None

    @classmethod
    def of(
        cls,
        grid: xr.DataArray,
        heights: Heights | None = None,
        hazards: gpd.GeoDataFrame | None = None,
        *,
        least_water_m: float = LEAST_WATER_M,
        clearance_m: float = CLEARANCE_M,
    ) -> SafeWater:
        """Lay depths and hazards on the cells of a grid; others as the class.

        hazards: as `seabed.loaders.read_hazards` gives them.
        clearance_m: that a drift keeps from them.
        """
        charted = np.where(np.isnan(grid.values), -np.inf, grid.values)
        shoalest = minimum_filter(charted, size=3, mode="constant", cval=-np.inf)
        passed, crossed = _passed_over(grid, hazards, clearance_m)
        return cls(
            grid, heights, least_water_m, shoalest.astype(np.float32), passed, crossed,
            CellPolynomials.of(grid),
        )  # fmt: skip

    @property
    def closed(self) -> Closed:
        """What closes the cells to a drift."""
        return Closed(self.shoalest, self.passed_over)

    def depth(self, times: Times, longitude: Floats, latitude: Floats) -> Floats:
        """Metres of water: charted depth and the tide's height; NaN on land and off the grid."""
        return sample(self.grid, longitude, latitude) + self.height(times)

    def height(self, times: Any) -> Floats:
        """Height of the tide at UTC times; 0 without a source of heights."""
        if self.heights is None:
            return np.zeros(np.shape(times))
        return self.heights.height_m(times)

    def height_at(self, times: Any) -> Floats:
        """Height as `height`, computed once where many boats have one time."""
        moments, which = np.unique(times, return_inverse=True)
        return self.height(moments)[which.reshape(np.shape(times))]

    def stops(self, begin: Any, end: Any, legs: Floats) -> NDArray[np.int8]:
        """Say what stops boats on n legs between UTC times: `Ended.SHOAL` or `Ended.HAZARD`.

        A leg is checked every half cell, and a cell counts as its shoalest neighbour: bilinear
        depth anywhere on the leg is then no less than the depth that was checked.

        legs, shape (4, n): longitude and latitude of the beginnings, then of the ends.
        Returned, shape (n,): `Ended.TIME` for a clear way.
        """
        times = np.empty((legs.shape[1], 2), "datetime64[ns]")
        times[:, 0], times[:, 1] = begin, end
        return self.look(times, legs.reshape(2, 2, -1).transpose(1, 2, 0))[0][:, 1]

    def look(
        self, times: Times, path: Floats, *, lower_m: Floats | None = None
    ) -> tuple[NDArray[np.int8], Floats]:
        """Say what stops boats, and the charted depth under them, as `Look` of `_drift`.

        With `lower_m`, of shape (n,), the tide is so much lower for each boat than predicted.
        """
        height = self.height_at(times)
        wanted = self.least_water_m - np.minimum(height, _before(height))
        if lower_m is not None:
            wanted = wanted + lower_m[:, None]
        cells = np.stack(row_column(self.grid, *path))
        ways = np.stack([_before(cells), cells], axis=1).reshape(2, 2, -1)
        reasons = looked_along(self.closed, ways[0], ways[1], wanted.ravel().astype(np.float32))
        return reasons.reshape(times.shape), values_between(self.grid.values, *cells)


def _before(values: Floats) -> Floats:
    """Values at the point before along the last axis; the first is its own."""
    return np.concatenate([values[..., :1], values[..., :-1]], axis=-1)


class Closed(NamedTuple):
    """What closes the cells of a grid: see `SafeWater`."""

    shoalest: NDArray[np.float32]
    passed_over: NDArray[np.float32]


Place = tuple[float, float]


@compiled
def look_along(closed: Closed, begin: Place, end: Place, wanted: np.float32) -> int:
    """Look at every half cell of the way between two rows and columns; an `Ended`.

    A way that is not known, or under a tide that is not, is too shoal.
    """
    rows, columns = closed.shoalest.shape
    down, across = end[0] - begin[0], end[1] - begin[1]
    if not (np.isfinite(down) and np.isfinite(across)):
        return SHOAL
    looks = 1 + int(np.ceil(2.0 * max(abs(down), abs(across))))
    for look in range(looks + 1):
        i = int(np.floor(begin[0] + down * look / looks))
        j = int(np.floor(begin[1] + across * look / looks))
        if not (0 <= i < rows and 0 <= j < columns) or not closed.shoalest[i, j] >= wanted:
            return SHOAL
        if not closed.passed_over[i, j] >= wanted:
            return HAZARD
    return 0


@compiled
def looked_along(
    closed: Closed, row: Floats, column: Floats, wanted: NDArray[np.float32]
) -> NDArray[np.int8]:
    """Look along ways from ``row[0], column[0]`` to ``row[1], column[1]``, shape (2, n)."""
    reasons = np.zeros(row.shape[1], np.int8)
    for boat in range(row.shape[1]):
        begin, end = (row[0, boat], column[0, boat]), (row[1, boat], column[1, boat])
        reasons[boat] = look_along(closed, begin, end, wanted[boat])
    return reasons


def hazards_near(
    hazards: gpd.GeoDataFrame, lines: gpd.GeoDataFrame, reach_m: float, crs: CRS
) -> list[str]:
    """Name the hazards, of any kind, within a reach of each line: words, ``""`` for none."""
    flat, near = lines.geometry.to_crs(crs), hazards.geometry.to_crs(crs)
    names = []
    for line in flat:
        away = near.distance(line).to_numpy()
        kinds = sorted(set(hazards["kind"][away <= reach_m]))
        names.append(", ".join(kinds))
    return names


def _passed_over(
    grid: xr.DataArray, hazards: gpd.GeoDataFrame | None, clearance_m: float
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Lay hazards with their clearance on the cells, for a drift and for a boat under way.

    Both are one array where all hazards mean the same to both.
    """
    if hazards is None or not len(hazards):
        nothing = np.full(grid.shape, np.inf, np.float32)
        return nothing, nothing
    # half a cell more: a leg is checked every half cell
    reach = (clearance_m + cell_size(grid).typical / 2) * ROUND
    around = hazards.geometry.to_crs(metric_crs(grid)).buffer(reach).to_crs(crs_of(grid))
    drifting, running = closed_depth(hazards), closed_depth(hazards, under_way=True)
    passed = _laid(grid, around, drifting)
    return passed, passed if np.array_equal(drifting, running) else _laid(grid, around, running)


def _laid(grid: xr.DataArray, around: gpd.GeoSeries, depth: Floats) -> NDArray[np.float32]:
    """Lay depths on the cells that shapes touch, the worst on top."""
    over = np.full(grid.shape, np.inf, np.float32)
    closing = (depth < np.inf) & ~around.is_empty.to_numpy()
    deepest_first = np.flatnonzero(closing)[np.argsort(-depth[closing], kind="stable")]
    if closing.any():
        shapes = [(around.iloc[place], depth[place]) for place in deepest_first]
        rasterize(shapes, out=over, transform=transform_of(grid), all_touched=True)
    return over
