"""Soundings to a grid: blocks, outings levelled, the bottom between them by kriging."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from seabed.array_types import Floats, Ints, Mask
from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.grid.arrays import as_grid
from seabed.soundings.orders import ORDER_1A
from seabed.soundings.sounding_table import SOUNDINGS, seconds_of
from seabed.soundings.surface._blocks import BlockDepths, by_cell_and_outing, combined, noise_factor
from seabed.soundings.surface._kriging import krige, misfits, stand_out
from seabed.soundings.surface._levels import Levels, fit_levels, outings_of
from seabed.soundings.surface._roughness import Roughness, fit_roughness
from seabed.soundings.surface.lattice import CellLattice, choose_lattice, lattice_of
from seabed.soundings.surface.owngrid import OwnGrid, layer

NEEDED: Final = ("longitude", "latitude", "depth_m", "sigma_m")
MOST_REACH_CELLS: Final = 25
LEAST_REACH_CELLS: Final = 3
GROUP: Final = 2
"""Cells along the side of a group that is predicted from one neighbourhood."""

FEW: Final = 3
"""Blocks of so few soundings are compared with their neighbours: their own median proves little."""

STRANGE: Final = 4.0
NEAR_CELLS: Final = 1.5
BESIDE_CELLS: Final = 2
"""Cells beyond the outermost soundings with a depth: past them a bank may begin unseen."""

WIDER: Final = 1.12
"""Kriging takes a variogram fitted to the same soundings for the truth, and is too sure of itself
(Zimmerman & Cressie 1992, Ann. Inst. Statist. Math. 44, 27-43).  On 48 simulated surveys bands of
90 % held 86 % of true depths, and hold 90 % with deviations so many times as wide."""

TWO_SIDED_95: Final = 1.96
"""Deviations within which 95 % of normal errors are, as IHO S-44 gives what it allows."""

NOTED_SCATTER: Final = 1.1


def grid_soundings(
    soundings: pd.DataFrame,
    *,
    like: xr.DataArray | None = None,
    crs: Any = None,
    cell_m: float | None = None,
    reach_m: float | None = None,
    tide_sigma_m: float = 0.2,
    vertical_datum: str = "unknown",
    source: str = "own soundings",
    workers: int = 2,
) -> OwnGrid:
    """Grid the good soundings of a table.

    Soundings are drawn together to a robust depth for each cell and outing; outings are levelled
    against one another where they sounded the same ground; the depth at the middle of each cell,
    and its deviation, come from local kriging on the variogram of the soundings themselves.

    Parameters
    ----------
    soundings : DataFrame
        Its rows with a flag, or without a position or a reduced depth, are left out.
    like : depth grid, optional
        Its cells are used, as far as the soundings reach.  Needed to merge onto it.
    crs, cell_m : optional
        Without `like`: a CRS in metres (else the UTM zone) and the size of a cell (else chosen by
        the density of the soundings).
    reach_m : float, optional
        Blank beyond this distance from a sounding between soundings, and beyond 2 cells outside
        them.  Else as far as the bottom, by its variogram,
        changes by no more than IHO S-44 allows Order 1a, but from 3 to 25 cells.
    tide_sigma_m : float
        One standard deviation of the error that an outing's depths have in common: tide, draft.
    vertical_datum, source : str
        Kept as attributes.
    workers : int
        Threads.

    Returns
    -------
    OwnGrid

    Raises
    ------
    GridError
        If there is no good sounding, or none on the cells of `like`.

    Examples
    --------
    >>> from seabed import example_grid, example_soundings
    >>> own = grid_soundings(example_soundings(), like=example_grid())
    >>> round(float((own.depth - example_grid()).median()), 2)
    0.3
    """
    SOUNDINGS.check(soundings)
    points = _good(soundings)
    lattice, why = _lattice(points, like, crs, cell_m, reach_m)
    seconds = points["seconds"]
    blocks, levels, outings, noise = _blocks(points, lattice, tide_sigma_m)
    roughness = fit_roughness(blocks, cell_m=lattice.cell_m)
    blocks = _wary(blocks, roughness, workers)
    reach = _reach(reach_m, roughness, float(np.median(blocks.depth)), lattice)
    depth, deviation, common = _filled(blocks, roughness, lattice, reach, workers)
    count = np.bincount(blocks.cell, blocks.count, lattice.cells).astype(np.int32)
    grid = make_grid(
        depth,
        transform=lattice.transform,
        crs=lattice.crs,
        vertical_datum=vertical_datum,
        source=source,
        attributes={"guesses": []},
    )
    return OwnGrid(
        grid,
        layer(grid, deviation, "uncertainty", "one standard deviation of depth"),
        layer(grid, common, "common", "part of the deviation that cells share"),
        layer(grid, count.reshape(lattice.shape), "count", "soundings in the cell", unit="1"),
        reach,
        roughness,
        _outing_table(levels, outings, seconds),
        (why, *_notes(noise, reach, lattice)),
    )


def _notes(noise: float, reach: float, lattice: CellLattice) -> Iterator[str]:
    if noise >= NOTED_SCATTER:
        yield (
            f"Soundings scatter {noise:.1f} times as much as assumed; the uncertainty includes "
            "that."
        )
    beside = min(reach, BESIDE_CELLS * lattice.cell_m)
    yield (
        f"Blank further than {reach:.0f} m from a sounding between soundings, and further than "
        f"{beside:.0f} m outside them."
    )


def _good(soundings: pd.DataFrame) -> dict[str, Any]:
    """Columns of the good soundings in the order of time, with their ``seconds``."""
    good = (soundings["flag"] == "").to_numpy()
    for name in NEEDED:
        good = good & np.isfinite(soundings[name].to_numpy())
    if not good.any():
        raise GridError(
            "there is no good sounding to grid",
            do="Look at the flags: soundings need a position, a depth on the datum and no flag.",
        )
    points = {name: soundings[name].to_numpy()[good].astype(np.float64) for name in NEEDED}
    points["line"] = soundings["line"].to_numpy()[good]
    points["seconds"] = seconds_of(soundings["time"])[good]
    if (np.diff(points["seconds"]) > 0).all():  # as in most logs
        return points
    order = np.lexsort((points["depth_m"], points["seconds"]))
    return {name: values[order] for name, values in points.items()}


def _lattice(
    points: dict[str, Any],
    like: xr.DataArray | None,
    crs: Any,
    cell_m: float | None,
    reach_m: float | None,
) -> tuple[CellLattice, str]:
    places = points["longitude"], points["latitude"]
    if like is None:
        lattice, why = choose_lattice(*places, crs=crs, cell_m=cell_m)
        margin = round((reach_m or 5 * lattice.cell_m) / lattice.cell_m) + 1
        rows, columns = lattice.shape
        return lattice.part(-margin, -margin, rows + 2 * margin, columns + 2 * margin), why
    like = as_grid(like)
    whole = lattice_of(like)
    column, row = whole.places(*places)
    rows, columns = whole.shape
    on = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
    if not on.any():
        raise GridError(
            "no good sounding is on the grid",
            file=like.attrs.get("source") or None,
            do="Name a grid of the water that was sounded.",
        )
    margin = MOST_REACH_CELLS if reach_m is None else round(reach_m / whole.cell_m) + 1
    top, left = (max(0, int(at[on].min()) - margin) for at in (row, column))
    bottom = min(rows, int(row[on].max()) + margin + 1)
    right = min(columns, int(column[on].max()) + margin + 1)
    why = f"Cells of the grid that was named, about {whole.cell_m:.3g} m."
    return whole.part(top, left, bottom - top, right - left), why


def _blocks(
    points: dict[str, Any], lattice: CellLattice, tide_sigma_m: float
) -> tuple[BlockDepths, Levels, Ints, float]:
    """Blocks of the points, which are taken out as they are used: they are most of the memory."""
    seconds, depth, sigma = (points.pop(name) for name in ("seconds", "depth_m", "sigma_m"))
    outing, middle = outings_of(seconds)
    noise = noise_factor(depth, sigma, points.pop("line"))
    sigma *= noise
    column, row = lattice.places(points.pop("longitude"), points.pop("latitude"))
    rows, columns = lattice.shape
    inside = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
    on = slice(None) if inside.all() else inside  # a slice copies nothing
    column, row = column[on], row[on]
    cell = row.astype(np.int64)
    cell *= columns
    cell += column.astype(np.int64)
    column *= lattice.width_m
    row *= lattice.height_m
    parts = by_cell_and_outing(
        cell=cell, outing=outing[on], x=column, y=row, depth=depth[on],
        sigma=sigma[on], seconds=seconds[on],
    )  # fmt: skip
    del cell, column, row
    levels = fit_levels(
        parts, middle, tide_sigma_m=tide_sigma_m, near_m=NEAR_CELLS * lattice.cell_m
    )
    level = replace(parts, depth=parts.depth - levels.offset[parts.outing])
    return combined(level, levels.covariance), levels, outing, noise


def _wary(blocks: BlockDepths, roughness: Roughness, workers: int) -> BlockDepths:
    """Give blocks of few soundings less weight where they differ from their neighbours."""
    few = np.flatnonzero(blocks.count <= FEW)
    few = few[stand_out(blocks, few)]
    off = np.abs(misfits(blocks, roughness, few, workers=workers)) / STRANGE
    sigma = blocks.sigma.copy()
    sigma[few] *= np.where(off > 1, np.exp(np.minimum(off, 4.0)), 1.0)
    return replace(blocks, sigma=sigma)


def _reach(
    reach_m: float | None, roughness: Roughness, depth_m: float, lattice: CellLattice
) -> float:
    if reach_m is not None:
        return reach_m
    allowed = float(ORDER_1A.uncertainty_m(depth_m)) / TWO_SIDED_95
    least, most = (cells * lattice.cell_m for cells in (LEAST_REACH_CELLS, MOST_REACH_CELLS))
    return float(np.clip(roughness.reach_m(allowed), least, most))


def _filled(
    blocks: BlockDepths, roughness: Roughness, lattice: CellLattice, reach: float, workers: int
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Depth, deviation and its common part in every cell within reach."""
    wanted = _within(blocks, lattice, reach)
    rows, columns = wanted.shape
    grouped = wanted.reshape(rows // GROUP, GROUP, columns // GROUP, GROUP).any(axis=(1, 3))
    row, column = np.nonzero(grouped)
    side = np.arange(GROUP, dtype=np.float64) - (GROUP - 1) / 2
    cell = np.array([lattice.width_m, lattice.height_m])
    depth, deviation, common = krige(
        blocks,
        roughness,
        middle=(np.column_stack([column, row]).astype(float) + 0.5) * GROUP * cell,
        away=np.column_stack([np.tile(side, GROUP), np.repeat(side, GROUP)]) * cell,
        workers=workers,
    )
    own = np.maximum(deviation**2 - common**2, 0)
    deviation = np.sqrt(common**2 + WIDER**2 * own)

    def spread(part: NDArray[np.float32]) -> NDArray[np.float32]:
        return _spread(part, wanted, row, column, lattice.shape)

    return spread(depth), spread(deviation.astype(np.float32)), spread(common)


def _within(blocks: BlockDepths, lattice: CellLattice, reach: float) -> Mask:
    """Cells between sounded ones (their closing by a disc of the reach) or beside them.

    Padded so that groups fill the sides evenly.
    """
    pad = int(reach / min(lattice.height_m, lattice.width_m)) + 1
    rows, columns = (-(-side // GROUP) * GROUP for side in lattice.shape)
    empty = np.ones((rows + 2 * pad, columns + 2 * pad), bool)
    row, column = np.divmod(blocks.cell, lattice.shape[1])
    empty[row + pad, column + pad] = False
    sampling = (lattice.height_m, lattice.width_m)
    away = distance_transform_edt(empty, sampling=sampling)
    beside = min(reach, BESIDE_CELLS * lattice.cell_m)
    wanted: Mask = distance_transform_edt(away <= reach, sampling=sampling) > reach
    wanted |= away <= beside
    return np.ascontiguousarray(wanted[pad:-pad, pad:-pad])


def _spread(
    values: NDArray[np.float32], wanted: Mask, row: Ints, column: Ints, shape: tuple[int, int]
) -> NDArray[np.float32]:
    """Values of groups back in their cells, the unwanted ones NaN."""
    whole = np.full(wanted.shape, np.nan, np.float32)
    parts = whole.reshape(wanted.shape[0] // GROUP, GROUP, wanted.shape[1] // GROUP, GROUP)
    parts[row, :, column, :] = values.reshape(-1, GROUP, GROUP)
    whole[~wanted] = np.nan
    return np.ascontiguousarray(whole[: shape[0], : shape[1]])


def _outing_table(levels: Levels, outing: Ints, seconds: Floats) -> pd.DataFrame:
    ends = pd.Series(seconds).groupby(outing).agg(["min", "max"])
    ends = ends.rename(columns={"min": "start", "max": "end"})
    return (
        ends.apply(pd.to_datetime, unit="s", utc=True)
        .assign(
            soundings=np.bincount(outing),
            offset_m=levels.offset,
            offset_sigma_m=np.sqrt(np.diag(levels.covariance)),
            compared=levels.compared,
        )
        .reset_index(drop=True)
    )
