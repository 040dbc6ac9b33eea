"""Contours at chosen depths, by marching squares."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.errors import GridError
from seabed.grid import crs_of
from seabed.schema import Table, documented
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.canvas import least_about, noise_made_over
from seabed.structure.blocks.kind import Kind, in_memory
from seabed.structure.blocks.whole import Arrays, Whole
from seabed.structure.calm.calming import Calms
from seabed.structure.calm.noise import NoiseSettings
from seabed.structure.measure import lengths_m
from seabed.structure.tracing.linking import (
    lines_of,
    linked,
    linked_pieces,
    named,
    picked,
    ring_order,
    stacked,
)
from seabed.structure.tracing.marching import Lines, level_lines, marching, placed
from seabed.structure.tracing.rings import noise_made
from seabed.terrain.chunks import contiguous

CONTOURS: Final = Table.of(
    "contours",
    "seabed.structure.contours",
    """
    depth_m ["Depth"] of the line
    length_m ["Length" distance .2] over the ground
    closed [bool] the line comes back to its start
    geometry [LineString] with the shallower side on the same hand throughout
    """,
)


_STEP_M: Final = 1.0
_STEPS: Final = 12
_ROUND: Final = (1.0, 2.0, 5.0, 10.0)


def round_levels(least_m: float, greatest_m: float, *, unit_m: float = 1.0) -> tuple[float, ...]:
    """Choose depths for contours: round in a unit, at most about a dozen between two depths.

    The steps are 1, 2 or 5, times a power of ten, of the unit; none where a depth is NaN.

    >>> round_levels(3.2, 41.0)
    (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)
    """
    if not least_m < greatest_m:
        return ()
    rough = (greatest_m - least_m) / unit_m / _STEPS
    power = 10.0 ** math.floor(math.log10(rough))
    step = unit_m * power * next(one for one in _ROUND if one * power >= rough * (1 - 1e-9))
    first, last = math.ceil(least_m / step), math.floor(greatest_m / step)
    return tuple(round(n * step, 9) for n in range(first, last + 1))


@documented(CONTOURS)
def contours(
    grid: xr.DataArray,
    depths_m: float | Sequence[float],
    *,
    min_length_m: float = 0.0,
    significance: float | None = None,
    noise_m: float | None = None,
) -> gpd.GeoDataFrame:
    """Lines of equal depth.

    Parameters
    ----------
    grid : depth grid
    depths_m : float or sequence of float
        In any order; repeated depths count once.
    min_length_m : float
        Shorter lines are left out.
    significance, noise_m : float, optional
        As for `humps`: lines are traced on the ground without its noise, and rings no deeper or
        shoaler than what is left of it are left out.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, by depth; without rows where the bottom reaches none of the depths.

        {contours}

        Attribute ``left_out`` counts the rings that noise alone made.

    Notes
    -----
    Vertices lie where the straight line between two neighbouring cell centres has the depth.  Lines
    end at voids and at the outermost cell centres; where one cell of four is void the other three
    still carry the line.

    Examples
    --------
    >>> from seabed import example_grid
    >>> contours(example_grid(), [8, 12])[["depth_m", "length_m"]].round(0).values.tolist()
    [[8.0, 295.0], [12.0, 295.0]]
    """
    try:
        depths = np.unique(np.array(depths_m, dtype=np.float64))
    except (TypeError, ValueError):
        depths = np.array([np.nan])
    if not np.isfinite(depths).all():
        raise GridError(f"depths of contours are numbers, not {depths_m!r:.60}")
    wanted = ContourLines(tuple(depths.tolist()))
    tables = [*in_memory(wanted, grid, NoiseSettings.of(significance, noise_m))]
    table = pd.concat(tables, ignore_index=True)
    table = table[table["length_m"] >= min_length_m].reset_index(drop=True)
    table.attrs["left_out"] = sum(one.attrs["left_out"] for one in tables)
    return table


@dataclass(frozen=True, slots=True)
class ContourLines(Kind[Iterator[gpd.GeoDataFrame]]):
    """Contours of a grid in blocks: traced in each chunk, joined where they cross its border."""

    depths_m: tuple[float, ...]

    def margin(self, whole: Whole) -> int:
        """One cell: the next row and column are shared; and the smoothing of noise."""
        return 1 + self._calm(whole).reach

    def _calm(self, whole: Whole) -> Calms:
        """Noise is taken off as far as the lesser of 1 m and the steps from line to line asks."""
        step_m = float(np.diff(self.depths_m).min(initial=_STEP_M))
        return Calms(whole.field, whole.noise.significance, step_m)

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """Trace the contours of a chunk.

        Returned: for each depth, numbered in rising order: points and offsets of lines that are
            whole (``whole_0_points``, ...) and of pieces that go on in other chunks
            (``piece_0_points``, ...), in columns and rows of the grid; ``left_out``, how many of
            each depth noise made.
        """
        whole = block.whole
        ground = contiguous(block.ground)
        field = self._calm(whole).applied(ground, block.row, block.column)
        values = field[block.shared]
        left_out = np.zeros(len(self.depths_m), np.int64)
        generator = marching(values)
        result: dict[str, NDArray[Any]] = {}
        for number, depth in enumerate(self.depths_m):
            points, offsets = level_lines(generator, depth)
            lines = (block.settled(points, values, (depth,)), offsets)
            starts, ends = block.crossings(lines, values, depth)
            goes_on = np.asarray(~np.isnan(np.hstack([starts, ends])).all(axis=1))
            least_m = least_about(lines, self._calm(whole))
            by_noise = noise_made(lines, field, depth, least_m, block.corner) & ~goes_on
            left_out[number] = by_noise.sum()
            result |= named(f"whole_{number}", picked(lines, ~goes_on & ~by_noise))
            result |= named(f"piece_{number}", picked(lines, goes_on))
            result[f"piece_{number}_starts"] = starts[goes_on]
            result[f"piece_{number}_ends"] = ends[goes_on]
        return {**result, "left_out": left_out}

    def join(self, results: Iterable[Arrays], whole: Whole) -> Iterator[gpd.GeoDataFrame]:
        """Join the contours of all chunks; the results are gone through once for each depth.

        Returned: as `contours`: a table a chunk and depth, and one of the lines that run through
            several chunks, by depth.  Attribute ``left_out`` counts what noise alone made.
        """
        frame = whole.frame
        if len(whole.chunks) == 1:
            for result in results:  # its file is open until the next is looked for
                parts = [lines_of(f"whole_{at}", result) for at in range(len(self.depths_m))]
                depths = np.repeat(self.depths_m, [len(offsets) - 1 for _, offsets in parts])
                yield _table(frame, stacked(parts), int(result["left_out"].sum()), depth=depths)
            return
        yield _table(frame, (np.empty((0, 2)), np.zeros(1, np.int64)), depth=0.0)
        for number, depth in enumerate(self.depths_m):
            pieces: list[Lines] = []
            starts, ends = [np.empty((0, 2))], [np.empty((0, 2))]
            for result in results:
                pieces.append(lines_of(f"piece_{number}", result))
                starts.append(result[f"piece_{number}_starts"])
                ends.append(result[f"piece_{number}_ends"])
                lines = lines_of(f"whole_{number}", result)
                if len(lines[0]) or result["left_out"][number]:
                    yield _table(frame, lines, int(result["left_out"][number]), depth=depth)
            stack = stacked(pieces)
            if len(stack[0]):
                onward = linked(np.concatenate(ends), np.concatenate(starts))
                joined = linked_pieces(stack, onward)[0]
                by_noise = noise_made_over(joined, (depth,), whole, self._calm(whole))
                left = int(by_noise.sum())
                yield _table(frame, picked(joined, ~by_noise), left, depth=depth)


def _table(
    frame: xr.DataArray, lines: Lines, left_out: int = 0, *, depth: float | Floats
) -> gpd.GeoDataFrame:
    points, offsets = lines[0][ring_order(lines)], lines[1]
    drawn = shapely.from_ragged_array(
        shapely.GeometryType.LINESTRING, placed(points, frame), (offsets,)
    )
    columns = {
        "depth_m": np.full(len(drawn), depth),
        "length_m": lengths_m(drawn, frame),
        "closed": shapely.is_closed(drawn),
        "geometry": drawn,
    }
    table = CONTOURS.frame(columns, crs=crs_of(frame))
    table.attrs["left_out"] = left_out
    return table
