"""Own soundings laid onto an open grid: bias, feathered seam, and which cell came from where."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, uniform_filter

from seabed.array_types import Floats, Mask, Pair
from seabed.errors import GridError
from seabed.grid import crs_of, transform_of
from seabed.grid.arrays import as_grid
from seabed.loaders import Surface
from seabed.loaders.writing import write_bands
from seabed.notebook import NotebookTable
from seabed.soundings.surface._bias import Misfit, fit_misfit
from seabed.soundings.surface.lattice import CellLattice, lattice_of
from seabed.soundings.surface.owngrid import OwnGrid, layer
from seabed.units import format_quantity

PROVENANCE: Final = {0: "none", 1: "open", 2: "own", 3: "blended"}

OWN_FROM: Final = 0.9
"""Share from which a cell counts as own."""

FEATHER_CELLS: Final = 2
LEAST_OPEN_M: Final = 0.1
"""No open grid is taken for surer than this (common practice, no source)."""

UNKNOWN_OPEN_M: Final = 0.5
"""Of an open grid without one that own soundings hardly meet (common practice, no source)."""

NEARBY_CELLS: Final = 11
ENOUGH: Final = 10
LEAST_SHARE: Final = 0.01
OFF_GRID: Final = 0.01

Bias = Literal["shared", "own", "none"]


@dataclass(frozen=True, slots=True)
class _Pair:
    """Open and own depths of the same cells, with the own ones' deviation and its common part."""

    base: Floats
    mine: Floats
    sigma: Floats
    common: Floats


@dataclass(frozen=True, slots=True)
class MergedGrid(NotebookTable):
    """An open grid with own soundings laid onto it.

    Attributes
    ----------
    depth, uncertainty : xarray.DataArray
        A depth grid on the open grid's cells, and one standard deviation of it, metres.
    provenance : xarray.DataArray of uint8
        By `PROVENANCE`: 0 no depth, 1 the open grid's as it was, 2 own (nine tenths of it or
        more), 3 blended.
    share : xarray.DataArray
        Weight of the own soundings, 0 to 1.
    bias_m, bias_sigma_m : float
        Own less open depth in the middle of the cells that both have, and how sure that is; NaN
        where fewer than 10 cells have both.
    shift_m : float
        What was added to the own depths for it, at the middle of the plane if there is one.
    open_sigma_m : float
        One standard deviation of the open grid, in the middle.
    covered : int
        Cells to which own soundings gave a share.
    notes : tuple of str
        What was done, in sentences.
    """

    depth: xr.DataArray
    uncertainty: xr.DataArray
    provenance: xr.DataArray
    share: xr.DataArray
    bias_m: float
    bias_sigma_m: float
    shift_m: float
    open_sigma_m: float
    covered: int
    notes: tuple[str, ...]

    @property
    def surface(self) -> Surface:
        """Depth with its uncertainty, as the loaders give it."""
        return Surface(self.depth, self.uncertainty)

    def bias_words(self, unit: str = "m") -> str:
        """Say how own depths differ from the open ones, in a unit of depth; ``""`` if unknown."""
        if not np.isfinite(self.bias_m):
            return ""
        way = "deeper" if self.bias_m >= 0 else "shallower"
        off = format_quantity(abs(self.bias_m), unit, digits=2)
        error = format_quantity(self.bias_sigma_m, unit, digits=2)
        taken = -self.shift_m / self.bias_m if self.bias_m else 0.0
        return (
            f"Own depths are {off} {way} than the open grid in the middle (± {error}); {taken:.0%} "
            "of that was taken off them."
        )


def merge_onto(
    open_grid: xr.DataArray,
    own: OwnGrid,
    *,
    open_uncertainty: xr.DataArray | float | None = None,
    feather_m: float | None = None,
    bias: Bias = "shared",
    plane: bool = False,
) -> MergedGrid:
    """Lay own soundings onto an open grid.

    Each depth is weighed by its variance.  What the two differ by in the middle is fitted robustly
    and taken off the own depths, by as much as they, and not the open grid, are likely to be wrong
    as a whole.  Own weights fade to nothing at the rim of the own cells, so that the open grid is
    unchanged beyond it, to the bit.  The variance is that of the mixture: never less than the
    better of the two, and the greater for their disagreement.

    Parameters
    ----------
    open_grid : depth grid
    own : OwnGrid
        Gridded with ``like=open_grid``.
    open_uncertainty : DataArray on the cells of `open_grid`, or float, optional
        One standard deviation, metres.  Without it (and where it is NaN) it comes from the
        differences, in the whole and round each cell.
    feather_m : float, optional
        Width of the seam, inside the own cells.  2 cells without it.
    bias : {"shared", "own", "none"}
        How much of the bias is taken off the own depths: the share above, all of it (for depths
        that were not reduced to the datum), none.
    plane : bool
        Let the bias tilt.

    Returns
    -------
    MergedGrid
        Where the open grid has no depth (land or void), own depths are put into cells that were
        sounded, and no others: what is between two lines may be land.

    Raises
    ------
    GridError
        If the cells of the two don't coincide.

    Examples
    --------
    >>> from seabed import example_grid, example_soundings, grid_soundings
    >>> grid = example_grid()
    >>> merged = merge_onto(grid, grid_soundings(example_soundings(), like=grid))
    >>> round(float(merged.bias_m), 1)
    0.3
    """
    open_grid = as_grid(open_grid)
    if not isinstance(own, OwnGrid):
        raise GridError(
            f"own soundings must be a grid of them, not {type(own).__name__}",
            do="Make it with `seabed.grid_soundings`.",
        )
    cells = lattice_of(open_grid)
    place = _place(open_grid, own.depth)
    given = _given(open_uncertainty, open_grid.shape)
    pair = _pair(open_grid.values[place], own)
    misfit, known, typical, notes = _compared(pair, given[place], plane=plane, blamed=bias != "own")
    taken = _taken(bias, pair, typical)
    moved = _moved(pair, misfit, taken, typical) if misfit else pair
    feather = FEATHER_CELLS * cells.cell_m if feather_m is None else feather_m
    share = _share(moved, known, feather, cells)
    whole, deviation = _mixed(moved, known, share)

    def laid(values: NDArray[Any], part: NDArray[Any]) -> NDArray[Any]:
        values[place] = part
        return values

    depth = open_grid.copy(data=laid(open_grid.values.copy(), whole))
    source = open_grid.attrs.get("source") or "an open grid"
    depth.attrs = {**open_grid.attrs, "source": f"{own.depth.attrs['source']} on {source}"}
    sigma = laid(np.where(np.isfinite(given), given, typical), deviation)
    sigma = np.where(np.isnan(depth.values), np.nan, sigma).astype(np.float32)
    origin = np.isfinite(open_grid.values).astype(np.uint8)
    origin = laid(origin, np.where(share >= OWN_FROM, 2, np.where(share > 0, 3, origin[place])))
    codes = ", ".join(f"{code} {word}" for code, word in PROVENANCE.items())
    weight = laid(np.zeros(open_grid.shape, np.float32), share)
    at_middle = misfit.at_middle if misfit else float("nan")
    merged = MergedGrid(
        depth,
        layer(depth, sigma, "uncertainty", "one standard deviation of depth"),
        layer(depth, origin, "provenance", codes, unit="1"),
        layer(depth, weight, "share", "weight of the own soundings", unit="1"),
        at_middle,
        misfit.sigma if misfit else float("nan"),
        -taken * at_middle if misfit else 0.0,
        typical,
        int((share > 0).sum()),
        tuple(notes),
    )
    bias_words = merged.bias_words()
    return replace(merged, notes=(*notes, bias_words)) if bias_words else merged


def write_merged(path: str | Path, merged: MergedGrid, *, caution: str) -> None:
    """Write depth, uncertainty, provenance (with its codes) and share of own; as `write_own`."""
    bands = {
        "depth": merged.depth,
        "uncertainty": merged.uncertainty,
        "provenance": merged.provenance,
        "share_own": merged.share,
    }
    codes = ", ".join(f"{code} {word}" for code, word in PROVENANCE.items())
    tags = {"caution": caution, "notes": " ".join(merged.notes), "provenance": codes}
    write_bands(path, bands, tags=tags)


def _place(open_grid: xr.DataArray, own: xr.DataArray) -> tuple[slice, slice]:
    """Where the own cells are among those of the open grid."""
    ours, theirs = transform_of(own), transform_of(open_grid)
    column, row = (ours.c - theirs.c) / theirs.a, (ours.f - theirs.f) / theirs.e
    off = max(
        abs(column - round(column)),
        abs(row - round(row)),
        abs(ours.a / theirs.a - 1) * own.shape[1],
        abs(ours.e / theirs.e - 1) * own.shape[0],
    )
    first = (round(row), round(column))
    inside = all(
        at >= 0 and at + ours_n <= theirs_n
        for at, ours_n, theirs_n in zip(first, own.shape, open_grid.shape, strict=True)
    )
    if off > OFF_GRID or not inside or crs_of(own) != crs_of(open_grid):
        raise GridError(
            "the own grid's cells are not those of the open grid",
            file=open_grid.attrs.get("source") or None,
            do="Grid the soundings onto the open grid's own cells (like=…), then merge.",
        )
    return slice(first[0], first[0] + own.shape[0]), slice(first[1], first[1] + own.shape[1])


def _given(uncertainty: xr.DataArray | float | None, shape: tuple[int, ...]) -> Floats:
    if uncertainty is None:
        return np.full(shape, np.nan)
    if isinstance(uncertainty, xr.DataArray):
        if uncertainty.shape != shape:
            raise GridError("the uncertainty is not on the cells of the open grid")
        values = uncertainty.values.astype(np.float64)
        return np.where(values > 0, values, np.nan)
    if not uncertainty > 0:
        raise GridError(f"an uncertainty is greater than 0, not {uncertainty}")
    return np.full(shape, float(uncertainty))


def _pair(base: NDArray[np.float32], own: OwnGrid) -> _Pair:
    mine = own.depth.values.astype(np.float64)
    mine[np.isnan(base) & (own.count.values == 0)] = np.nan
    return _Pair(
        base.astype(np.float64),
        mine,
        own.uncertainty.values.astype(np.float64),
        own.common_m.values.astype(np.float64),
    )


def _compared(
    pair: _Pair, given: Floats, *, plane: bool, blamed: bool
) -> tuple[Misfit | None, Floats, float, list[str]]:
    """Bias, the open grid's deviation in every cell and in the middle, and what was done.

    The bias counts as the open grid's own error too if it may be `blamed` for it.
    """
    difference = pair.mine - pair.base
    both = np.isfinite(difference)
    if both.sum() < ENOUGH:
        known = np.where(np.isfinite(given), given, UNKNOWN_OPEN_M)
        note = "Too few cells have both depths: no bias is known."
        return None, known, float(np.median(known)), [note]
    random = np.sqrt(np.maximum(pair.sigma**2 - pair.common**2, 1e-4))
    misfit = fit_misfit(difference, np.hypot(random, LEAST_OPEN_M), plane=plane)
    if np.isfinite(given[both]).all():
        typical = float(np.median(given[both]))
        return misfit, np.where(np.isfinite(given), given, typical), typical, []
    own_part = float(np.median(random[both] ** 2))
    variance = misfit.spread**2 - own_part + (misfit.at_middle**2 if blamed else 0.0)
    typical = float(np.sqrt(max(variance, LEAST_OPEN_M**2)))
    nearby = _nearby((difference - misfit.values) ** 2 - random**2, both)
    known = np.sqrt(np.maximum(nearby, typical**2))
    note = f"The open grid's uncertainty comes from the differences: {typical:.2f} m, 1 sigma."
    return misfit, np.where(np.isfinite(given), given, known), typical, [note]


def _nearby(values: Floats, where: Mask) -> Floats:
    """Mean of the values that there are, in a square round each cell; 0 if there is none."""
    total = uniform_filter(np.where(where, values, 0.0), NEARBY_CELLS, mode="constant")
    weight = uniform_filter(where.astype(np.float64), NEARBY_CELLS, mode="constant")
    mean: Floats = total / np.maximum(weight, 1e-3)
    return mean


def _taken(bias: Bias, pair: _Pair, typical: float) -> float:
    """Share of the bias that is taken off the own depths."""
    if bias == "shared":
        common = pair.common[np.isfinite(pair.mine)]
        own = float(np.median(common)) if common.size else 0.0
        return own**2 / (own**2 + typical**2)
    return 1.0 if bias == "own" else 0.0


def _moved(pair: _Pair, misfit: Misfit, taken: float, typical: float) -> _Pair:
    """Own depths less a share of the bias: by that share they have the open grid's errors."""
    random = np.maximum(pair.sigma**2 - pair.common**2, 0.0)
    common = np.hypot((1.0 - taken) * pair.common, taken * typical)
    return _Pair(pair.base, pair.mine - taken * misfit.values, np.sqrt(random + common**2), common)


def _share(pair: _Pair, known: Floats, feather: float, cells: CellLattice) -> Floats:
    """Weight of the own depths: by variance, fading to the rim of the cells that have one."""
    have = np.isfinite(pair.mine)
    size = (cells.height_m, cells.width_m)
    inward = distance_transform_edt(np.pad(have, 1), sampling=size)[1:-1, 1:-1]
    ramp = np.clip(inward / (feather + cells.cell_m), 0.0, 1.0)
    weight = known**2 / (known**2 + pair.sigma**2)
    share = np.where(have, ramp**2 * (3 - 2 * ramp) * weight, 0.0)
    share[share < LEAST_SHARE] = 0.0
    share[have & np.isnan(pair.base)] = 1.0
    return share


def _mixed(pair: _Pair, known: Floats, share: Floats) -> Pair:
    """Depth and deviation of the mixture where there is own depth; else the open one's."""
    rest = 1.0 - share
    depth = rest * pair.base + share * pair.mine
    between = share * rest * (pair.mine - pair.base) ** 2
    variance = rest * known**2 + share * pair.sigma**2 + between
    alone, none = share >= 1.0, share <= 0.0
    depth = np.where(alone, pair.mine, np.where(none, pair.base, depth))
    variance = np.where(alone, pair.sigma**2, np.where(none, known**2, variance))
    return depth, np.sqrt(variance)
