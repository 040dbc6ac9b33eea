"""Where the bottom moved between two surveys of one ground."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from seabed.array_types import Depths, Mask
from seabed.change._alignment import Alignment
from seabed.change._common import common_cells, laid_on
from seabed.change._matching import Matched, matched_pair
from seabed.change._moves import moves_between
from seabed.change._patches import (
    LEAST_CELLS,
    LEAST_M,
    SIGNIFICANCE,
    Detection,
    marked,
    noise_of,
)
from seabed.change._table import CHANGES, Closed, patch_table
from seabed.errors import GridError
from seabed.grid import cell_size
from seabed.grid.arrays import as_grid, as_layer
from seabed.notebook import NotebookTable
from seabed.schema import documented
from seabed.structure import edges, holes, humps, sand_waves
from seabed.terrain.chunks import contiguous

FEWEST_CELLS: Final = 400
_MOSTLY: Final = 0.5
"""Share of the relief of a window, as standard deviations, that is waves where it may move."""


@dataclass(frozen=True, slots=True)
class Changes(NotebookTable):
    """What moved between two surveys.

    Attributes
    ----------
    patches : GeoDataFrame
        Ground that filled or was scoured, the greatest volume first.

        {changes}
    moves : GeoDataFrame
        Edges, humps, holes and sand waves that shifted: see `seabed.change.MOVES`.
    difference : depth grid
        Newer less older, metres, deeper above 0, matched as `alignment` says; NaN where either is
        not known.
    noise_m : float
        Typical standard deviation of the difference from cell to cell.
    alignment : Alignment
    """

    patches: gpd.GeoDataFrame
    moves: gpd.GeoDataFrame
    difference: xr.DataArray
    noise_m: float
    alignment: Alignment


@documented(CHANGES)
def changes_since(
    grid: xr.DataArray,
    older: xr.DataArray,
    *,
    matched: bool = True,
    min_change_m: float = LEAST_M,
    min_area_m2: float = 0.0,
    significance: float = SIGNIFICANCE,
    uncertainty: xr.DataArray | None = None,
    older_uncertainty: xr.DataArray | None = None,
) -> Changes:
    """Find where the bottom moved between two surveys, beyond the noise of both.

    Parameters
    ----------
    grid, older : depth grid, held in memory or loaded here
        The newer and the older survey, each in its own CRS and cells.  They are compared on cells
        about as large as those of the coarser one, where both are known.
    matched : bool
        Take off what both differ by as a whole: level, place and smoothing, as ground that did not
        move shows them.  False leaves the two in place.  `Changes.alignment` says both ways what
        there is, and each patch has its change both ways.
    min_change_m : float
        Lesser changes do not count, however sure.
    min_area_m2 : float
        Smaller patches do not count, nor do those of fewer than 6 cells.
    significance : float
        Standard deviations of the noise that a change must exceed, on one of four scales of
        smoothing, no wider than the noise asks.
    uncertainty, older_uncertainty : xarray.DataArray, optional
        One standard deviation of the depths of each, on its cells, where the files carry it: a
        change must be beyond 1.96 times both together.

    Returns
    -------
    Changes

    Raises
    ------
    GridError
        If the two share fewer than 400 cells of known ground.

    Notes
    -----
    A shift of place shows on ground with relief outside of sand waves.  Where all of the relief has
    moved by as much, as in a field of waves, no method can say which of the two it is.

    Examples
    --------
    >>> from seabed import example_grid
    >>> older = example_grid()
    >>> newer = older.copy()
    >>> newer[10:20, 10:20] += 1.5
    >>> changes = changes_since(newer, older)
    >>> changes.patches[["kind", "volume_m3"]].round().values.tolist()
    [['scoured', 3750.0]]
    """
    newer, past = common_cells(as_grid(grid), as_grid(older))
    raw = laid_on(past, newer)
    _check_shared(newer, raw, older)
    waves = sand_waves(newer)
    still = ~_waved(newer, waves)
    pair = matched_pair(newer, past, raw, still)
    if not matched:
        pair = Matched(contiguous(newer.values), raw, replace(pair.alignment, matched=False))
    difference = pair.difference
    sigma = noise_of(difference, pair.surface, still)
    limits = Detection(
        min_change_m, significance, _doubt(newer, uncertainty, older_uncertainty), still
    )
    least = max(LEAST_CELLS, min_area_m2 / cell_size(newer).typical ** 2)
    patches = marked(difference, sigma, limits, least)
    before, now = (_closed(one) for one in (newer.copy(data=pair.older), newer))
    return Changes(
        patch_table(newer, pair, raw, patches=patches, sigma=sigma, closed=(before, now)),
        moves_between(
            newer,
            (pair.newer, pair.older),
            patches.number > 0,
            (edges(newer), now, waves),
            pair.alignment.error_m if matched else 0.0,
        ),
        newer.copy(data=difference),
        float(np.median(sigma[np.isfinite(difference)])),
        pair.alignment,
    )


def _check_shared(newer: xr.DataArray, raw: Depths, older: xr.DataArray) -> None:
    shared = int((np.isfinite(newer.values) & np.isfinite(raw)).sum())
    if shared < FEWEST_CELLS:
        raise GridError(
            f"the two grids share {shared} cells of known ground, too few to compare",
            file=older.attrs.get("source") or None,
            do="Name an older grid of the same water, and look at the CRS of both.",
        )


def _closed(grid: xr.DataArray) -> Closed:
    """Humps and holes."""
    return pd.concat([humps(grid), holes(grid)], ignore_index=True)


def _waved(frame: xr.DataArray, waves: gpd.GeoDataFrame) -> Mask:
    """Cells of the windows whose relief is mostly sand waves: these move."""
    out = np.zeros(frame.shape, bool)
    for row in waves.itertuples():
        west, south, east, north = row.geometry.bounds
        part = (frame["y"].values > south) & (frame["y"].values < north)
        inside = np.ix_(part, (frame["x"].values > west) & (frame["x"].values < east))
        down, across = np.indices(frame.values[inside].shape)
        depth = frame.values[inside].ravel().astype(float)
        terms = np.column_stack([np.ones(depth.size), down.ravel(), across.ravel()])
        known = np.isfinite(depth)
        plane = np.linalg.lstsq(terms[known], depth[known], rcond=None)[0]
        relief = float((depth[known] - terms[known] @ plane).std())
        out[inside] |= row.height_m / np.sqrt(8) >= _MOSTLY * relief
    return out


def _doubt(frame: xr.DataArray, *layers: xr.DataArray | None) -> Depths | None:
    """Uncertainty of a difference by those of the two surveys; None where neither has any."""
    squares = [laid_on(as_layer(one), frame) ** 2 for one in layers if one is not None]
    if not squares:
        return None
    return np.sqrt(sum(np.nan_to_num(one) for one in squares)).astype(np.float32)
