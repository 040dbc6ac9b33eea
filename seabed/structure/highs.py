"""Humps and holes: closed highs and lows with their prominence, footprint and nesting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.errors import GridError
from seabed.grid import crs_of
from seabed.schema import Table, documented
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.canvas import TILE, Canvas
from seabed.structure.blocks.kind import in_memory
from seabed.structure.blocks.whole import Results, Whole
from seabed.structure.measure import areas_m2
from seabed.structure.tracing.marching import placed
from seabed.structure.tree.basins import PINHOLE_CELLS, Passes, doors_of, outside_of
from seabed.structure.tree.mergetree import Peaks, joined
from seabed.structure.tree.outline import outline
from seabed.structure.tree.reduction import reduced, rim_of
from seabed.structure.tree.sorting import sorted_depths
from seabed.terrain.chunks import contiguous
from seabed.terrain.north import convergence_at

__all__ = ["FEATURES", "Highs", "Kind", "holes", "humps"]

Kind = Literal["hump", "hole"]

FEATURES: Final = Table.of(
    "features",
    "seabed.structure.humps",
    """
    feature_id [int] 0, 1, ...
    kind [text "Kind"] ``"hump"`` or ``"hole"``
    crest_depth_m ["Crest or floor"] of the highest cell, of a hole the deepest; exact to the grid
    saddle_depth_m ["Foot or rim"] of the key saddle, of a hole its sill; exact to the grid
    height_m ["Height" depth .2] between the two
    area_m2 of the footprint, over the ground
    long_axis_m ["Length" depth .0] full axis of the ellipse with the footprint's second moments
    short_axis_m ["Width" depth .0] its other axis
    bearing_deg ["Long axis"] of the long axis, 0 <= bearing < 180, degrees true
    parent_id [int] the next greater one whose footprint holds this one; -1 for none
    peak_x, peak_y centre of the crest's cell, in the grid's CRS
    open [bool] the saddle lies at the border or a void, so that the height is a lower bound
    geometry [Polygon] the closed contour at the saddle's depth around the crest; lows within it
        are not cut out
    """,
)
"""Humps and holes of the bottom, as `humps` and `holes` find them."""

_SIDES: Final = ("north", "south", "west", "east")


@documented(FEATURES)
def humps(
    grid: xr.DataArray,
    *,
    min_height_m: float = 1.0,
    min_area_m2: float = 0.0,
    max_area_m2: float | None = None,
) -> gpd.GeoDataFrame:
    """Find closed highs of the bottom, with prominence from the merge tree.

    Parameters
    ----------
    grid : depth grid, held in memory or loaded here
    min_height_m : float
        Least prominence: height of the crest over the key saddle, the deepest one must go to reach
        higher ground.
    min_area_m2, max_area_m2 : float, optional
        Least and greatest area of the footprint.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, highest first; without rows where there is none.

        {features}

    Notes
    -----
    What lies beyond the border or in a void is not known and is taken as higher ground.  So a high
    that runs out of the grid, or up to land, is no hump; one whose upper part closes inside counts
    as far as it closes, and is ``open``.  Voids of at most 16 cells are overlooked.  Takes
    O(n log n), and for each footprint its length.

    Examples
    --------
    >>> from seabed import example_grid
    >>> humps(example_grid())[["crest_depth_m", "height_m"]].round(1).values.tolist()
    [[4.0, 2.0]]
    """
    return _features(grid, "hump", min_height_m, min_area_m2, max_area_m2)


def holes(
    grid: xr.DataArray,
    *,
    min_height_m: float = 1.0,
    min_area_m2: float = 0.0,
    max_area_m2: float | None = None,
) -> gpd.GeoDataFrame:
    """Find closed lows of the bottom: `humps` of the bottom turned over.

    Parameters, columns and errors as for `humps`; ``kind`` is ``"hole"``, deepest first.
    ``crest_depth_m`` is the deepest point, ``saddle_depth_m`` the sill over which it would spill,
    ``height_m`` the difference.  What lies beyond the border or in a void is taken as deeper.

    Examples
    --------
    >>> from seabed import example_grid
    >>> holes(example_grid())[["crest_depth_m", "height_m"]].round(1).values.tolist()
    [[17.0, 3.0]]
    """
    return _features(grid, "hole", min_height_m, min_area_m2, max_area_m2)


def _features(
    grid: xr.DataArray,
    kind: Kind,
    min_height_m: float,
    min_area_m2: float,
    max_area_m2: float | None,
) -> gpd.GeoDataFrame:
    return in_memory(Highs(kind, min_height_m, min_area_m2, max_area_m2), grid)


@dataclass(frozen=True, slots=True)
class Highs:
    """Highs, or lows, of a grid in blocks: a merge tree a chunk, joined over the chunks' borders.

    Attributes
    ----------
    kind : "hump" or "hole"
    min_height_m, min_area_m2, max_area_m2
        As the options of `humps`.
    """

    kind: Kind
    min_height_m: float = 1.0
    min_area_m2: float = 0.0
    max_area_m2: float | None = None

    @property
    def sign(self) -> int:
        """What depths are given times, so that highs are the least."""
        return 1 if self.kind == "hump" else -1

    def check(self, whole: Whole) -> None:
        """Refuse a height that is not above 0."""
        if not self.min_height_m > 0:
            raise GridError(
                f"a least height of {self.min_height_m:g} m would keep every ripple",
                do="Give a height above 0 m.",
            )

    def margin(self, whole: Whole) -> int:
        """As far as a void reaches that is overlooked."""
        return PINHOLE_CELLS + 1

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """Find the highs, or lows, of a chunk.

        Returns
        -------
        dict of str to ndarray
            Fields of `Reduced`, cells counted in the grid; ``rim_north`` and so on, and the depths
            there, ``edge_north``, ...; ``ring_points`` and ``ring_offsets``: outlines of the
            settled highs, in columns and rows of the grid.
        """
        own = contiguous(block.depth[block.own])
        own = own if self.sign > 0 else -own
        outside, walls = _outside(block), _walls(block)
        found = reduced(own, outside, walls, least_height=self.min_height_m)
        chunk = block.chunk
        row, column = np.divmod(found.cell.astype(np.int64), own.shape[1])
        row, column = row + chunk.row, column + chunk.column

        def window(_row: int, _column: int) -> tuple[NDArray[np.float32], int, int]:
            return own, chunk.row, chunk.column

        rings = [
            outline(window, int(row[k]), int(column[k]), float(found.saddle[k]))
            for k in np.flatnonzero(found.settled)
        ]
        names = ("crest", "saddle", "absorber", "open", "settled", "level", "high", "low", "door")
        return {
            "cell": row * block.whole.shape[1] + column,
            **{name: getattr(found, name) for name in names},
            **{f"rim_{side}": rim for side, rim in zip(_SIDES, found.rim, strict=True)},
            **{f"edge_{side}": edge.copy() for side, edge in zip(_SIDES, rim_of(own), strict=True)},
            **{
                f"door_{side}": doors
                for side, doors in zip(_SIDES, doors_of(outside, walls, own.shape), strict=True)
            },
            "ring_points": np.concatenate([np.empty((0, 2)), *rings]),
            "ring_offsets": np.cumsum([0, *map(len, rings)]).astype(np.int64),
        }

    def join(self, results: Results, whole: Whole) -> gpd.GeoDataFrame:
        """Join the highs, or lows, of all chunks; as `humps`.

        The grid is read again along the outlines of what lies in several.
        """
        first = np.cumsum([0, *(len(result["cell"]) for result in results)])
        peaks, settled, row_of = _joined(results, first, whole)
        chosen = _significant(peaks, self.min_height_m)
        outlined = {
            int(row_of[first[number] + row]): (number, place)
            for number, result in enumerate(results)
            for place, row in enumerate(np.flatnonzero(result["settled"]))
        }
        rings: dict[int, NDArray[np.float64]] = {}
        for peak in chosen[settled[chosen]]:
            number, place = outlined[int(peak)]
            where = results[number]["ring_offsets"]
            rings[int(peak)] = results[number]["ring_points"][where[place] : where[place + 1]]
        canvas = Canvas(whole.blocks, sign=self.sign)
        rings |= _outlines(peaks, chosen[~settled[chosen]], whole, canvas)
        table = self._described(whole, peaks, chosen, [rings[int(peak)] for peak in chosen])
        sized = table["area_m2"] >= self.min_area_m2
        if self.max_area_m2 is not None:
            sized &= table["area_m2"] <= self.max_area_m2
        table, chosen = table[sized].reset_index(drop=True), chosen[sized]
        table["feature_id"] = np.arange(len(table))
        table["parent_id"] = _parents(peaks, chosen)
        return FEATURES.frame(table, crs=crs_of(whole.frame))

    def _described(
        self,
        whole: Whole,
        peaks: Peaks,
        chosen: NDArray[np.intp],
        rings: Sequence[NDArray[np.float64]],
    ) -> pd.DataFrame:
        """Columns but for numbers and parents, a row for each of `chosen` and its outline."""
        crest, saddle = peaks.crest[chosen].astype(float), peaks.saddle[chosen].astype(float)
        return _shaped(whole, _footprints(whole.frame, rings), peaks, chosen).assign(
            kind=self.kind,
            crest_depth_m=self.sign * crest,
            saddle_depth_m=self.sign * saddle,
            height_m=saddle - crest,
            open=peaks.open[chosen],
        )


def _significant(peaks: Peaks, min_height_m: float) -> NDArray[np.intp]:
    """Rows of peaks of some height, highest first."""
    height = peaks.saddle.astype(float) - peaks.crest
    chosen = np.flatnonzero((height >= min_height_m) & np.isfinite(height))
    return chosen[np.lexsort((peaks.cell[chosen], -height[chosen]))]


def _parents(peaks: Peaks, chosen: NDArray[np.intp]) -> NDArray[np.int64]:
    """Row among `chosen` of the nearest peak that holds each one's footprint; -1 for none."""
    row_of = np.full(len(peaks.cell) + 1, -1)  # the last stands for the outside
    row_of[chosen] = np.arange(len(chosen))
    parents = np.full(len(chosen), -1)
    for row, peak in enumerate(chosen):
        above = peaks.absorber[peak]
        while above >= 0 and (row_of[above] < 0 or peaks.saddle[above] <= peaks.saddle[peak]):
            above = peaks.absorber[above]
        parents[row] = row_of[above]
    return parents


def _footprints(grid: xr.DataArray, rings: Sequence[NDArray[np.float64]]) -> NDArray[Any]:
    """Outlines as polygons in the grid's CRS."""
    if not len(rings):
        return np.empty(0, object)
    points = placed(np.concatenate(rings), grid)
    owner = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    return np.asarray(shapely.polygons(shapely.linearrings(points, indices=owner)), object)


def _shaped(
    whole: Whole, polygons: NDArray[Any], peaks: Peaks, chosen: NDArray[np.intp]
) -> pd.DataFrame:
    grid, size, affine = whole.frame, whole.size, whole.blocks.transform
    row, column = np.divmod(peaks.cell[chosen], grid.shape[1])
    x, y = grid["x"].values[column], grid["y"].values[row]
    scale = np.column_stack([size.easting[row] / affine.a, size.northing[row] / -affine.e])
    axes = np.array([_axes(p, s) for p, s in zip(polygons, scale, strict=True)]).reshape(-1, 3)
    return pd.DataFrame(
        {
            "area_m2": areas_m2(polygons, grid),
            "long_axis_m": axes[:, 0],
            "short_axis_m": axes[:, 1],
            "bearing_deg": np.mod(axes[:, 2] + convergence_at(grid, x, y), 180),
            "peak_x": x,
            "peak_y": y,
            "geometry": polygons,
        }
    )


def _axes(polygon: shapely.Polygon, scale: NDArray[np.float64]) -> tuple[float, float, float]:
    """Long and short axis, metres, and bearing of the long one from grid north, from moments."""
    points = shapely.get_coordinates(polygon.exterior)
    area, total = _moments((points - points[0]) * scale)
    mean_x, mean_y, xx, xy, yy = total / area
    spread = np.array(
        [[xx - mean_x**2, xy - mean_x * mean_y], [xy - mean_x * mean_y, yy - mean_y**2]]
    )
    values, vectors = np.linalg.eigh(spread)
    short, long = 4 * np.sqrt(np.maximum(values, 0))
    return float(long), float(short), float(np.degrees(np.arctan2(vectors[0, 1], vectors[1, 1])))


def _moments(ring: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
    """Signed area of a closed ring, and its integrals of x, y, xx, xy, yy (Green's theorem)."""
    x0, y0, x1, y1 = ring[:-1, 0], ring[:-1, 1], ring[1:, 0], ring[1:, 1]
    cross = x0 * y1 - x1 * y0
    return float(cross.sum() / 2), np.array(
        [
            ((x0 + x1) * cross).sum() / 6,
            ((y0 + y1) * cross).sum() / 6,
            ((x0 * x0 + x0 * x1 + x1 * x1) * cross).sum() / 12,
            ((x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) * cross).sum() / 24,
            ((y0 * y0 + y0 * y1 + y1 * y1) * cross).sum() / 12,
        ]
    )


def _outside(block: Block) -> NDArray[np.bool_]:
    """Outside cells of the chunk and a rim of one cell."""
    block = block.within(PINHOLE_CELLS + 1)
    (rows, columns), (down, across) = block.whole.shape, block.depth.shape
    north, south = block.row == 0, block.row + down == rows
    west, east = block.column == 0, block.column + across == columns
    outside = outside_of(block.depth, (north, south, west, east))
    if not outside.size:
        return outside
    own = block.own
    return outside[own[0].start : own[0].stop + 2, own[1].start : own[1].stop + 2]


def _walls(block: Block) -> NDArray[np.bool_]:
    borders = block.borders
    walls: NDArray[np.bool_] = np.isnan(np.array([*borders[0], *borders[1]]))
    return walls


def _joined(
    results: Results, first: NDArray[np.int64], whole: Whole
) -> tuple[Peaks, NDArray[np.bool_], NDArray[np.int64]]:
    """Peaks of all chunks by cell; which were settled in theirs; row of each given one."""
    every = {
        name: np.concatenate([result[name] for result in results])
        for name in ("cell", "crest", "saddle", "open", "settled")
    }
    absorber = np.concatenate(
        [_shifted(result["absorber"], start) for result, start in zip(results, first, strict=False)]
    )
    order = np.argsort(every["cell"], kind="stable")
    row_of = np.empty(len(order), np.int64)
    row_of[order] = np.arange(len(order))
    absorber = np.where(absorber >= 0, row_of[absorber], -1)[order]
    every = {name: values[order] for name, values in every.items()}
    free = np.flatnonzero(~every["settled"])
    name_of = np.zeros(len(order) + 1, np.int32)  # 0, the last, is the outside
    name_of[free] = np.arange(1, len(free) + 1)
    level, one, other, door = _all_passes(results, first, whole)
    high, low = (name_of[np.where(at >= 0, row_of[at], len(order))] for at in (one, other))
    by_depth = sorted_depths(level)
    tree = joined(
        every["cell"][free],
        every["crest"][free],
        Passes(level[by_depth], high[by_depth], low[by_depth], door[by_depth]),
    )
    every["saddle"][free], every["open"][free] = tree.saddle, tree.open
    absorber[free] = np.where(tree.absorber >= 0, free[tree.absorber], -1)
    peaks = Peaks(
        every["cell"], every["crest"], every["saddle"], absorber.astype(np.int32), every["open"]
    )
    return peaks, every["settled"], row_of


def _shifted(rows: NDArray[Any], start: int) -> NDArray[np.int64]:
    return np.where(rows >= 0, rows.astype(np.int64) + start, -1)


def _all_passes(
    results: Results, first: NDArray[np.int64], whole: Whole
) -> tuple[NDArray[np.float32], NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """List passes within chunks and over their borders, between rows of all given highs."""
    level, high, low, door = [], [], [], []
    for result, start in zip(results, first, strict=False):
        level.append(result["level"])
        high.append(_shifted(result["high"], start))
        low.append(_shifted(result["low"], start))
        door.append(result["door"])
    for one, other, shift in _neighbours(whole):
        depths, names, doors = [], [], []
        for number, side, part in (one, other):
            depths.append(results[number][f"edge_{side}"][part])
            names.append(_shifted(results[number][f"rim_{side}"], first[number])[part])
            doors.append(results[number][f"door_{side}"][part])
        a, b = _offset(len(depths[0]), shift), _offset(len(depths[1]), -shift)
        known = (names[0][a] >= 0) & (names[1][b] >= 0)
        at = np.maximum(depths[0][a], depths[1][b])
        opens = (doors[0][a] & (depths[0][a] == at)) | (doors[1][b] & (depths[1][b] == at))
        level.append(at[known])
        high.append(names[0][a][known])
        low.append(names[1][b][known])
        door.append(opens[known])
    return (
        np.concatenate(level).astype(np.float32),
        np.concatenate(high),
        np.concatenate(low),
        np.concatenate(door),
    )


def _offset(count: int, shift: int) -> slice:
    """Cells that have a partner `shift` further on."""
    return slice(max(-shift, 0), count - max(shift, 0))


def _neighbours(whole: Whole) -> Any:
    """Pairs of border cells of two chunks that touch: (chunk, side, cells), the same, and shift."""
    across, count = whole.across, len(whole.chunks)
    side, head, tail = slice(None), slice(0, 1), slice(-1, None)
    for number in range(count):
        east = number % across < across - 1
        if east:
            for shift in (-1, 0, 1):
                yield (number, "east", side), (number + 1, "west", side), shift
        if number + across >= count:
            continue
        for shift in (-1, 0, 1):
            yield (number, "south", side), (number + across, "north", side), shift
        if east:
            yield (number, "south", tail), (number + across + 1, "north", head), 0
        if number % across:
            yield (number, "south", head), (number + across - 1, "north", tail), 0


def _outlines(
    peaks: Peaks, chosen: NDArray[np.intp], whole: Whole, canvas: Canvas
) -> dict[int, NDArray[np.float64]]:
    """Outline peaks through tiles of the grid, those near each other one after the other."""
    row, column = np.divmod(peaks.cell[chosen], whole.shape[1])
    order = np.lexsort((column // TILE, row // TILE))
    return {
        int(chosen[at]): outline(
            canvas, int(row[at]), int(column[at]), float(peaks.saddle[chosen[at]])
        )
        for at in order
    }
