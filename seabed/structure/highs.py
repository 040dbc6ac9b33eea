"""Humps and holes: closed highs and lows with their prominence, footprint and nesting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Mask
from seabed.errors import GridError
from seabed.grid import crs_of
from seabed.schema import Table, documented
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.canvas import TILE, Canvas
from seabed.structure.blocks.kind import in_memory
from seabed.structure.blocks.whole import Results, Whole
from seabed.structure.calm.calming import Calms, lost_at
from seabed.structure.calm.noise import NoiseSettings
from seabed.structure.tree.basins import PINHOLE_CELLS, doors_of, outside_of
from seabed.structure.tree.mergetree import SIDES, Peaks, joined_trees, reduced, rim_of
from seabed.structure.tree.outline import footprints, outline, shaped
from seabed.terrain.chunks import contiguous

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
    open [bool] the saddle is at the border or a void, so that the height is a lower bound
    geometry [Polygon] the closed contour at the saddle's depth around the crest; lows within it
        are not cut out
    """,
)
"""Humps and holes of the bottom, as `humps` and `holes` find them."""

_LOWERED: Final = 0.8
"""Share of the least height that a hump, lower for the smoothing, must have to be checked."""


@documented(FEATURES)
def humps(
    grid: xr.DataArray,
    *,
    min_height_m: float = 1.0,
    min_area_m2: float = 0.0,
    max_area_m2: float | None = None,
    significance: float | None = None,
    noise_m: float | None = None,
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
    significance : float, optional
        Standard deviations of what is left of the noise that the prominence must reach as well, 4.5
        by default.  0 takes every cell as it is.
    noise_m : float, optional
        Standard deviation of the depths' noise, metres; measured by default.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, highest first; without rows if there is none.

        {features}

    Notes
    -----
    What is beyond the border or in a void is not known and is taken as higher ground.  So a high
    that runs out of the grid, or up to land, is no hump; one whose upper part closes inside counts
    as far as it closes, and is ``open``.  Voids of at most 16 cells are overlooked.  Takes
    O(n log n), and for each footprint its length.

    Where there is noise the highs are those of the ground as `seabed.structure.calm` makes it, and
    doubtful soundings are left out.

    Examples
    --------
    >>> from seabed import example_grid
    >>> humps(example_grid())[["crest_depth_m", "height_m"]].round(1).values.tolist()
    [[4.0, 2.0]]
    """
    highs = Highs("hump", min_height_m, min_area_m2, max_area_m2)
    return in_memory(highs, grid, NoiseSettings.of(significance, noise_m))


def holes(
    grid: xr.DataArray,
    *,
    min_height_m: float = 1.0,
    min_area_m2: float = 0.0,
    max_area_m2: float | None = None,
    significance: float | None = None,
    noise_m: float | None = None,
) -> gpd.GeoDataFrame:
    """Find closed lows of the bottom: `humps` of the bottom turned over.

    Parameters, columns and errors as for `humps`; ``kind`` is ``"hole"``, deepest first.
    ``crest_depth_m`` is the deepest point, ``saddle_depth_m`` the sill over which it would spill,
    ``height_m`` the difference.  What is beyond the border or in a void is taken as deeper.

    Examples
    --------
    >>> from seabed import example_grid
    >>> holes(example_grid())[["crest_depth_m", "height_m"]].round(1).values.tolist()
    [[17.0, 3.0]]
    """
    highs = Highs("hole", min_height_m, min_area_m2, max_area_m2)
    return in_memory(highs, grid, NoiseSettings.of(significance, noise_m))


@dataclass(frozen=True, slots=True)
class Highs:
    """Highs, or lows, of a grid in blocks: a merge tree a chunk, joined over the borders."""

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
        """As far as a void reaches that is overlooked, and the smoothing."""
        return max(PINHOLE_CELLS + 1, self._calm(whole).reach)

    def _calm(self, whole: Whole) -> Calms:
        return Calms(whole.field, whole.noise.significance, self.min_height_m)

    def _least_m(self, whole: Whole, row: NDArray[Any], column: NDArray[Any]) -> Floats:
        """Least height on the calm ground: clear of the noise, and what crests lose is to come."""
        return self._calm(whole).clear_m(row, column, _LOWERED)

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """Find the highs, or lows, of a chunk.

        Returned: fields of `Reduced`, cells counted in the grid; ``rim_north`` and so on, and the
            depths there, ``edge_north``, ...; ``ring_points`` and ``ring_offsets``: outlines of the
            settled highs, in columns and rows of the grid.
        """
        calm, ground = self._calm(block.whole), contiguous(block.ground)
        field = calm.applied(ground, block.row, block.column)
        own = contiguous(field[block.own])
        own = own if self.sign > 0 else -own
        outside, walls = _outside(block), _walls(block)
        chunk = block.chunk
        tiles = np.indices(block.whole.field.sigma_m.shape) * block.whole.field.step
        least_m = float(self._least_m(block.whole, *tiles).min())
        basins = reduced(own, outside, walls, least_height=least_m)
        row, column = np.divmod(basins.cell.astype(np.int64), own.shape[1])
        row, column = row + chunk.row, column + chunk.column
        lost = lost_at(ground, field, row - block.row, column - block.column)

        def window(_row: int, _column: int) -> tuple[NDArray[np.float32], int, int]:
            return own, chunk.row, chunk.column

        rings = [
            outline(window, int(row[k]), int(column[k]), float(basins.saddle[k]))
            for k in np.flatnonzero(basins.settled)
        ]
        names = ("crest", "saddle", "absorber", "open", "settled", "level", "high", "low", "door")
        return {
            "cell": row * block.whole.shape[1] + column,
            "lost": self.sign * lost,
            **{name: getattr(basins, name) for name in names},
            **{f"rim_{side}": rim for side, rim in zip(SIDES, basins.rim, strict=True)},
            **{f"edge_{side}": edge.copy() for side, edge in zip(SIDES, rim_of(own), strict=True)},
            **{
                f"door_{side}": doors
                for side, doors in zip(SIDES, doors_of(outside, walls, own.shape), strict=True)
            },
            "ring_points": np.concatenate([np.empty((0, 2)), *rings]),
            "ring_offsets": np.cumsum([0, *map(len, rings)]).astype(np.int64),
        }

    def join(self, results: Results, whole: Whole) -> gpd.GeoDataFrame:
        """Join the highs, or lows, of all chunks; as `humps`.

        The grid is read again along the outlines of what is in several.
        """
        first = np.cumsum([0, *(len(result["cell"]) for result in results)])
        peaks, lost, settled, row_of = joined_trees(results, first, whole)
        chosen = _significant(peaks, self._least_m(whole, *np.divmod(peaks.cell, whole.shape[1])))
        outlined = {
            int(row_of[first[number] + row]): (number, place)
            for number, result in enumerate(results)
            for place, row in enumerate(np.flatnonzero(result["settled"]))
        }
        rings: dict[int, Floats] = {}
        for peak in chosen[settled[chosen]]:
            number, place = outlined[int(peak)]
            where = results[number]["ring_offsets"]
            rings[int(peak)] = results[number]["ring_points"][where[place] : where[place + 1]]
        canvas = Canvas(whole, self._calm(whole), sign=self.sign)
        rings |= _outlines(peaks, chosen[~settled[chosen]], whole, canvas)
        table = self._described(whole, peaks, lost, chosen, [rings[int(peak)] for peak in chosen])
        table = table.sort_values("height_m", ascending=False, kind="stable")
        sized = (table["height_m"] >= self.min_height_m) & (table["area_m2"] >= self.min_area_m2)
        if self.max_area_m2 is not None:
            sized &= table["area_m2"] <= self.max_area_m2
        chosen = chosen[table.index[sized]]
        table = table[sized].reset_index(drop=True)
        table["feature_id"] = np.arange(len(table))
        table["parent_id"] = _parents(peaks, chosen)
        return FEATURES.frame(table, crs=crs_of(whole.frame))

    def _described(
        self,
        whole: Whole,
        peaks: Peaks,
        lost: NDArray[np.float32],
        chosen: NDArray[np.intp],
        rings: Sequence[Floats],
    ) -> pd.DataFrame:
        """Columns without numbers and parents, a row for each of `chosen` and its outline."""
        crest = peaks.crest[chosen].astype(float) + lost[chosen]
        saddle = peaks.saddle[chosen].astype(float)
        return shaped(whole, footprints(whole.frame, rings), peaks.cell[chosen]).assign(
            kind=self.kind,
            crest_depth_m=self.sign * crest,
            saddle_depth_m=self.sign * saddle,
            height_m=saddle - crest,
            open=peaks.open[chosen],
        )


def _significant(peaks: Peaks, min_height_m: Floats) -> NDArray[np.intp]:
    """Rows of peaks of some height, highest first."""
    height = peaks.saddle.astype(float) - peaks.crest
    chosen = np.flatnonzero((height >= min_height_m) & np.isfinite(height))
    return chosen[np.lexsort((peaks.cell[chosen], -height[chosen]))]


def _parents(peaks: Peaks, chosen: NDArray[np.intp]) -> Ints:
    """Row among `chosen` of the nearest peak that holds each one's footprint; -1 for none."""
    row_of = np.full(len(peaks.cell) + 1, -1)  # the last is the outside
    row_of[chosen] = np.arange(len(chosen))
    parents = np.empty(len(chosen), np.int64)
    for row, peak in enumerate(chosen):
        above = peaks.absorber[peak]
        while above >= 0 and (row_of[above] < 0 or peaks.saddle[above] <= peaks.saddle[peak]):
            above = peaks.absorber[above]
        parents[row] = row_of[above]
    return parents


def _outside(block: Block) -> Mask:
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


def _walls(block: Block) -> Mask:
    borders = block.borders
    walls: Mask = np.isnan(np.array([*borders[0], *borders[1]]))
    return walls


def _outlines(
    peaks: Peaks, chosen: NDArray[np.intp], whole: Whole, canvas: Canvas
) -> dict[int, Floats]:
    """Outline peaks through tiles of the grid, those near each other one after the other."""
    row, column = np.divmod(peaks.cell[chosen], whole.shape[1])
    order = np.lexsort((column // TILE, row // TILE))
    return {
        int(chosen[at]): outline(
            canvas, int(row[at]), int(column[at]), float(peaks.saddle[chosen[at]])
        )
        for at in order
    }
