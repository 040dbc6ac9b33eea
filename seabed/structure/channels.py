"""Channels and banks: long lows and highs, by their axes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints, Mask
from seabed.schema import Table, documented
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.kind import in_memory
from seabed.structure.blocks.pieces import (
    kept_for_later,
    pieces_of,
    stored_table,
    stored_tables,
)
from seabed.structure.blocks.whole import Results, Whole, named_after
from seabed.structure.scale import at_scale, check_scale, margin_of, scale_on, steps_of
from seabed.structure.tracing.axes import axis_lines, sides
from seabed.structure.tracing.lines import at_most_m, longest_first, traced
from seabed.structure.tracing.linking import joined_either_way, picked, ring_order
from seabed.structure.tracing.marching import Lines

Kind = Literal["bank", "channel"]

AXES: Final = Table.of(
    "axes",
    "seabed.structure.banks_and_channels",
    """
    axis_id [int] 0, 1, ...
    kind [text] ``"bank"`` or ``"channel"``
    axis_depth_m median along the axis, smoothed
    depth_min_m, depth_max_m least and greatest depth along it
    height_m [depth] of the lower side over the axis, median
    width_m [distance] from rim to rim, median
    length_m [distance .2] along the axis
    bearing_deg trend, 0 <= bearing < 180, degrees true
    geometry [LineString]
    """,
)
_SIGN: Final[dict[Kind, int]] = {"bank": -1, "channel": 1}
"""What depths are given times, so that axes are the greatest."""
_PROFILE: Final = ["depth_m", "height_m", "width_m"]
_COLUMNS: Final = [name for name in AXES.names if name not in ("axis_id", "kind", "geometry")]
_USUAL_M: Final = 100.0
"""Smoothing scale on cells that are fine enough."""
_LENGTHS: Final = 3.0
"""Scales that an axis is long, at least."""
_FAINT: Final = 0.3
"""An axis is followed on while its lower side keeps this share of the wanted height."""


@documented(AXES)
def banks_and_channels(
    grid: xr.DataArray,
    *,
    scale_m: float | None = None,
    min_length_m: float | None = None,
    min_height_m: float = 1.0,
    reach_m: float | None = None,
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    """Find axes of banks and channels: lines that are the highest and deepest across.

    Crests of ridges and sand waves are banks too; a channel need not close.

    Parameters
    ----------
    grid : depth grid, held in memory or loaded here
    scale_m : float, optional
        Smoothing scale: twice the standard deviation of the Gaussian the depths are smoothed with.
        A fifth or so of the channel's width shows it whole; less shows runnels within it.  100 m by
        default, or two cells where these are more.
    min_length_m : float, optional
        Along the axis; three scales by default.
    min_height_m : float
        Between the axis and the nearer in depth of its two sides, in the median along it.
    reach_m : float, optional
        How far to look for the rims on each side, five scales by default.

    Returns
    -------
    banks, channels : GeoDataFrame
        In the grid's CRS, longest first; without rows if there is none.

        {axes}

    Raises
    ------
    GridError
        If the scale is not above zero or is finer than the cells.

    Notes
    -----
    Ridges and valleys of the smoothed bottom after Lindeberg (1998); see
    `seabed.structure.tracing.axes`.  A rim is where a side has gained 95 % of its height,
    looking no further than `reach_m`, a void, or a fall by a quarter of what was gained.  Heights
    are those of the smoothed bottom, a little low.

    Examples
    --------
    >>> import numpy as np
    >>> from affine import Affine
    >>> from seabed import make_grid
    >>> waved = np.fromfunction(lambda row, _: 10 + 2 * np.cos((row - 60) / 12), (120, 120))
    >>> grid = make_grid(waved, transform=Affine(5, 0, 0, 0, -5, 0), crs="EPSG:32631")
    >>> banks, channels = banks_and_channels(grid, scale_m=40)
    >>> channels[["axis_depth_m", "length_m"]].round(0).values.tolist()
    [[12.0, 535.0]]
    """
    both: tuple[Kind, Kind] = ("bank", "channel")
    bank, channel = in_memory(Axes(both, scale_m, min_length_m, min_height_m, reach_m), grid)
    return bank, channel


@dataclass(frozen=True, slots=True)
class Axes:
    """Axes of a grid in blocks: complete in their chunk, or joined where they cross its border."""

    kinds: tuple[Kind, ...] = ("bank", "channel")
    scale_m: float | None = None
    min_length_m: float | None = None
    min_height_m: float = 1.0
    reach_m: float | None = None

    def _scale(self, whole: Whole) -> float:
        return scale_on(whole, _USUAL_M) if self.scale_m is None else self.scale_m

    def _reach(self, whole: Whole) -> float:
        return 5 * self._scale(whole) if self.reach_m is None else self.reach_m

    def _least(self, whole: Whole) -> float:
        return _LENGTHS * self._scale(whole) if self.min_length_m is None else self.min_length_m

    def check(self, whole: Whole) -> None:
        """Refuse a scale that does not fit the cells."""
        check_scale(self._scale(whole), whole)

    def margin(self, whole: Whole) -> int:
        """Reach of the smoothing and, on that, of the walk to the rims."""
        return margin_of(self._scale(whole), self._reach(whole), whole)

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """Find the axes of a chunk, as `stored_table` and `kept_for_later` give them, by kind."""
        smooth = at_scale(block, self._scale(block.whole))
        return {
            f"{kind}/{name}": array
            for kind in self.kinds
            for name, array in self._find(block, smooth * np.float32(_SIGN[kind]), kind).items()
        }

    def _find(
        self, block: Block, depth: NDArray[np.float32], kind: Kind
    ) -> dict[str, NDArray[Any]]:
        whole, size = block.whole, block.size
        lines, between = axis_lines(
            depth, size.easting, size.northing, own=block.shared, corner=block.corner
        )
        first, last = lines[1][:-1], lines[1][1:] - 1
        starts, ends = (_on_borders(between[at], block) for at in (first, last))
        goes_on = np.asarray(~np.isnan(np.hstack([starts, ends])).all(axis=1))
        worth = goes_on | (at_most_m(lines, whole.size) >= self._least(whole))
        lines, starts, ends = picked(lines, worth), starts[worth], ends[worth]
        beside = sides(
            depth,
            lines[0],
            size.easting,
            size.northing,
            step_m=whole.size.typical,
            steps=steps_of(self._reach(whole), whole),
            corner=block.corner,
        )
        columns = (_SIGN[kind] * beside.depth, beside.height, beside.width)
        profile = pd.DataFrame(dict(zip(_PROFILE, columns, strict=True)))
        good = self._good(profile)
        gap_m = self._scale(whole)
        later, taken = kept_for_later(lines, starts, ends, profile, good, whole.frame, gap_m)
        good[taken] = False
        table = self._described(whole, lines, profile, good)
        return {**stored_table(table, _COLUMNS), **later}

    def join(self, results: Results, whole: Whole) -> tuple[gpd.GeoDataFrame, ...]:
        """Join the axes of all chunks; a table for each kind, as `banks` and `channels`."""
        return tuple(self._join(named_after(results, kind), whole, kind) for kind in self.kinds)

    def _join(self, results: Results, whole: Whole, kind: Kind) -> gpd.GeoDataFrame:
        lines, profile = pieces_of(results, _PROFILE, joined_either_way)
        order = ring_order(lines)
        lines, profile = (lines[0][order], lines[1]), profile.iloc[order].reset_index(drop=True)
        across = self._described(whole, lines, profile, self._good(profile))
        table = stored_tables(results, _COLUMNS, across, whole.frame)
        return _numbered(table.assign(kind=kind))

    def _good(self, profile: pd.DataFrame) -> Mask:
        return np.array(profile["height_m"] >= _FAINT * self.min_height_m, bool)

    def _described(
        self, whole: Whole, lines: Lines, profile: pd.DataFrame, good: Mask
    ) -> gpd.GeoDataFrame:
        scale_m = self._scale(whole)
        axes = traced(whole.frame, lines, good, gap_m=scale_m, sense=False)
        groups = profile.iloc[axes.keep].groupby(axes.line)
        table = axes.table.assign(
            axis_depth_m=groups["depth_m"].median(),
            depth_min_m=groups["depth_m"].min(),
            depth_max_m=groups["depth_m"].max(),
            height_m=groups["height_m"].median(),
            width_m=groups["width_m"].median(),
        )
        long = table["length_m"] >= self._least(whole)
        return table[long & (table["height_m"] >= self.min_height_m)]


def _on_borders(between: Ints, block: Block) -> Floats:
    """Name crossings that are on a shared border; NaN for others."""
    rows, columns = block.borders
    along_row = (between[:, 2] == 0) & np.isin(between[:, 0], rows)
    along_column = (between[:, 2] == 1) & np.isin(between[:, 1], columns)
    known = between.astype(float)
    known[~(along_row | along_column)] = np.nan
    return known


def _numbered(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Put axes in order as `longest_first`, and number them."""
    table = longest_first(table)
    return AXES.frame(table.assign(axis_id=np.arange(len(table))), crs=table.crs)
