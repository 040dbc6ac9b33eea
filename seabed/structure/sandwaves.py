"""Sand waves: wavelength, height and crest bearing by the spectrum of windows.

In each window the trend (a quadric) is taken off, a Hann taper applied, and the greatest peak of
the 2-D power spectrum sought.  It must be higher than all bins about it, which the end of a lone
step's falling spectrum is not, and stand out of its own ring of equal wavelength, where a
bottom without waves has powers that scatter exponentially about a level: the chance of so great a
peak among all that were looked at is the window's p-value (Fisher 1929, Proc. R. Soc. A 125, 54-59,
for one dimension and a flat level).

Windows are of several sizes, each for its own wavelengths.  The wave and its harmonics are then
fitted together by least squares; what is a harmonic of a longer wave on the ground is left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats, Mask, Pair
from seabed.errors import GridError
from seabed.grid import CellSize, crs_of, transform_of
from seabed.schema import Table, documented
from seabed.structure._wave_spectra import (
    Bins,
    around,
    bins_of,
    detrended,
    level_about,
    spectra,
)
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.kind import in_memory
from seabed.structure.blocks.whole import Results, Whole
from seabed.structure.calm.noise import NoiseSettings
from seabed.terrain.north import convergence_at

SAND_WAVES: Final = Table.of(
    "sand_waves",
    "seabed.structure.sand_waves",
    """
    window_id [int] 0, 1, ...
    wavelength_m [depth] over the ground, from crest to crest
    height_m [depth] from trough to crest, of the wave and two harmonics fitted together
    asymmetry [.2] 0 where crests are midway between troughs, near 1 where one face is far steeper
    steep_faces_deg direction that the steeper face looks to, degrees true
    crest_bearing_deg along the crests, 0 <= bearing < 180, degrees true
    p_value chance of such a peak without waves
    depth_m mean depth of the window
    geometry [Polygon] the window
    """,
)
_FOUND: Final = (
    "wavelength_m", "height_m", "towards", "p_value", "depth_m", "n", "s", "w", "e", "face",
    "window_m",
)  # fmt: skip
_MOST_VOID: Final = 0.1
_ABOUT: Final = 1.5
_FEWEST_WAVES: Final = 4.0
_SIDES_M: Final = (200.0, 400.0, 800.0, 1600.0)
_FEWEST_CELLS: Final = 16
_MOST_CELLS: Final = 1024
"""Of a window's side: so many must be read around a chunk."""
_CELLS: Final = 100
"""Of a window's side that are used; finer ones are put together."""
_MOST_HARMONICS: Final = 5
_SAME_WAY_DEG: Final = 12.0
_NEAR: Final = 0.12
"""How far the ratio of two wavelengths may be from a whole number, as a share of it."""
_OF_HIGHER: Final = 0.8
"""Share of a wave's height that a harmonic has at most: half in a sawtooth."""
_FITTED: Final = 3
"""Harmonics that are fitted, the wave itself the first."""


@documented(SAND_WAVES)
def sand_waves(
    grid: xr.DataArray,
    *,
    window_m: float | None = None,
    wavelengths_m: tuple[float, float] | None = None,
    min_height_m: float = 0.3,
    max_p_value: float = 1e-3,
    significance: float | None = None,
    noise_m: float | None = None,
) -> gpd.GeoDataFrame:
    """Find where the bottom is waved, and how.

    Parameters
    ----------
    grid : depth grid, held in memory or loaded here
    window_m : float, optional
        Side of the square windows, which overlap by half.  By default 200, 400, 800 and 1600 m, as
        far as they hold 16 cells and fit the grid.
    wavelengths_m : (float, float), optional
        Least and greatest wavelength looked for; 4 cells to a quarter of the window by default.
        With several sizes of windows, each looks for what is too long for the next smaller.
    min_height_m : float
        Least height of the waves from trough to crest.
    max_p_value : float
        Greatest chance that a bottom without waves shows such a peak in a window.
    significance, noise_m : float, optional
        As for `humps`: doubtful soundings are left out; 0 takes them for ground.  Windows and
        heights are the same with any: `max_p_value` decides what counts as a wave; its level
        is that of the noise about the peak.

    Returns
    -------
    GeoDataFrame
        In the grid's CRS, a row for each window with waves, highest first; without rows where there
        is none.

        {sand_waves}

    Raises
    ------
    GridError
        If the window holds fewer than 16 cells a side, or the wavelengths don't fit it.

    Notes
    -----
    Windows with more than a tenth of void are passed over.  Wavelength and direction are the
    centre of power of the peak, good to a few per cent of a bin of 1 / `window_m`.  Windows of more
    than a hundred cells a side are looked at by means of squares of cells.

    Examples
    --------
    >>> import numpy as np
    >>> from affine import Affine
    >>> from seabed import make_grid
    >>> waved = np.fromfunction(lambda _, x: 10 + 0.5 * np.sin(2 * np.pi * x / 10), (120, 120))
    >>> grid = make_grid(waved, transform=Affine(5, 0, 0, 0, -5, 0), crs="EPSG:32631")
    >>> waves = sand_waves(grid)
    >>> waves[["wavelength_m", "height_m"]].round(1).iloc[0].tolist()
    [50.0, 1.0]
    """
    waves = SandWaves(window_m, wavelengths_m, min_height_m, max_p_value)
    return in_memory(waves, grid, NoiseSettings.of(significance, noise_m))


@dataclass(frozen=True, slots=True)
class SandWaves:
    """Sand waves of a grid in blocks: a window belongs to the block of its north-western cell."""

    window_m: float | None = None
    wavelengths_m: tuple[float, float] | None = None
    min_height_m: float = 0.3
    max_p_value: float = 1e-3

    def sizes(self, whole: Whole) -> dict[float, tuple[float, float]]:
        """Give the sides of windows, and the wavelengths that each looks for."""
        cell_m, wanted = whole.size.typical, self.wavelengths_m
        if self.window_m is not None:
            return {self.window_m: _wavelengths(whole.size, self.window_m, wanted)}
        across = max(one * cell_m for one in whole.shape)
        fit = [side for side in _SIDES_M if _FEWEST_CELLS <= side / cell_m <= _MOST_CELLS]
        fit = [side for side in fit if side <= 1.01 * across] or fit[:1]
        sides = fit or [_FEWEST_CELLS * 1.01 * cell_m]
        low, high = (4 * cell_m, np.inf) if wanted is None else (min(wanted), max(wanted))
        given: dict[float, tuple[float, float]] = {}
        for side in sides:
            most = min(side / _FEWEST_WAVES, high)
            if low < most:
                given[side], low = (low, most), most
        return given

    def check(self, whole: Whole) -> None:
        """Refuse windows of too few cells, and waves that don't fit them."""
        self.sizes(whole)

    def margin(self, whole: Whole) -> int:
        """Cells of a window."""
        return math.ceil(max(self.sizes(whole), default=0.0) / whole.smallest_m) + 1

    def find(self, block: Block) -> dict[str, NDArray[Any]]:
        """Find the waves in the windows of a chunk: ``waves``, a column for each of `_FOUND`."""
        windows = [np.empty((0, len(_FOUND)))]
        for side, wavelengths in self.sizes(block.whole).items():
            windows += self._in_windows(block, side, wavelengths)
        table = np.concatenate(windows)
        table[:, 5:7] += block.row
        table[:, 7:9] += block.column
        return {"waves": table}

    def _in_windows(
        self, block: Block, window_m: float, wavelengths: tuple[float, float]
    ) -> Iterator[Floats]:
        whole, chunk = block.whole, block.chunk
        for rows, columns, wide, cell in _window_rows(whole.shape, whole.size, window_m):
            if not chunk.row <= rows.start < chunk.row + chunk.rows:
                continue
            own = [at for at in columns if chunk.column <= at < chunk.column + chunk.columns]
            if own:
                high = rows.stop - rows.start
                coarse = max(1, min(high, wide) // _CELLS)
                here = slice(rows.start - block.row, rows.stop - block.row)
                shape = (high // coarse, wide // coarse)
                bins = bins_of(shape, cell[0] * coarse, cell[1] * coarse, *wavelengths)
                starts = [at - block.column for at in own]
                waves = _waves(block.ground, here, starts, wide, bins, coarse, self.max_p_value)
                yield np.column_stack([waves, np.full(len(waves), window_m)])

    def join(self, results: Results, whole: Whole) -> gpd.GeoDataFrame:
        """Put the windows of all chunks together; as `sand_waves`."""
        waves = np.concatenate([result["waves"] for result in results])
        table = pd.DataFrame(waves, columns=list(_FOUND)).sort_values(["window_m", "n", "w"])
        sizes = self.sizes(whole)
        ends = np.array([sizes[side] for side in table["window_m"]]).reshape(-1, 2)
        table = table[
            (table["height_m"] >= self.min_height_m)
            & (table["p_value"] <= self.max_p_value)
            & (table["wavelength_m"] >= 0.95 * ends[:, 0])
            & (table["wavelength_m"] <= 1.05 * ends[:, 1])
        ]
        table = table[~_harmonics(table.reset_index(drop=True))]
        table = table.sort_values("height_m", ascending=False, kind="stable")
        return _described(whole.frame, table.reset_index(drop=True))


def _harmonics(table: pd.DataFrame) -> Mask:
    """Say which waves are harmonics of a longer one that runs the same way over their middle.

    Or the same wave, seen in a larger window.
    """
    middle = shapely.points(
        (table["w"] + table["e"]).to_numpy() / 2, (table["n"] + table["s"]).to_numpy() / 2
    )
    boxes = shapely.box(*(table[side].to_numpy() for side in "wnes"))
    out = np.zeros(len(table), bool)
    short, long = shapely.STRtree(boxes).query(middle, predicate="intersects")
    length, towards = table["wavelength_m"].to_numpy(), table["towards"].to_numpy()
    ratio = length[long] / length[short]
    turned = np.abs((towards[long] - towards[short] + 90) % 180 - 90)
    whole = np.rint(ratio)
    window, height = table["window_m"].to_numpy(), table["height_m"].to_numpy()
    lower = height[short] <= _OF_HIGHER * height[long]
    other = ((whole >= 2) & lower) | ((whole == 1) & (window[long] > window[short]))
    same = other & (whole <= _MOST_HARMONICS) & (turned <= _SAME_WAY_DEG)
    out[short[same & (np.abs(ratio / np.maximum(whole, 1) - 1) <= _NEAR)]] = True
    return out


def _wavelengths(
    size: CellSize, window_m: float, wanted: tuple[float, float] | None
) -> tuple[float, float]:
    if window_m < _FEWEST_CELLS * size.typical:
        raise GridError(
            f"a window of {window_m:g} m holds fewer than 16 cells of {size.typical:.3g} m",
            do=f"Choose {16 * size.typical:.3g} m or more.",
        )
    finest, widest = 4 * size.typical, window_m / _FEWEST_WAVES
    least, most = (finest, widest) if wanted is None else (min(wanted), max(wanted))
    if least < 2 * size.typical or most > window_m / 2 or least >= most:
        raise GridError(
            f"waves of {least:g} to {most:g} m can't be seen in windows of {window_m:g} m",
            do=f"Keep between {2 * size.typical:.3g} m (two cells) and half the window.",
        )
    return least, most


def _window_rows(
    shape: tuple[int, ...], size: CellSize, window_m: float
) -> Iterator[tuple[slice, list[int], int, tuple[float, float]]]:
    """Squares over the ground that overlap by half, row by row; the last are pushed back inside.

    Gives the rows of cells, where each square starts in them, how many cells wide it is, and the
    width and height of its middle cells.
    """
    high = min(round(window_m / size.northing[len(size.northing) // 2]), shape[0])
    for top in _starts(shape[0], high):
        middle = top + high // 2
        width, height = float(size.easting[middle]), float(size.northing[middle])
        wide = min(round(window_m / width), shape[1])
        yield slice(top, top + high), _starts(shape[1], wide), wide, (width, height)


def _starts(length: int, side: int) -> list[int]:
    return sorted({*range(0, length - side + 1, max(side // 2, 1)), length - side})


def _waves(  # noqa: PLR0917
    depth: NDArray[np.float32],
    rows: slice,
    starts: list[int],
    wide: int,
    bins: Bins,
    coarse: int,
    max_p_value: float,
) -> Floats:
    """Waves in a row of windows, shape (waved, 10): columns of `_FOUND` but for the last."""
    nothing = np.empty((0, len(_FOUND) - 1))
    if min(bins.shape) < 8 or not len(bins.sought):
        return nothing
    windows = np.stack([depth[rows, at : at + wide] for at in starts])
    means, share = _coarser(windows, coarse)
    known = share >= 0.5
    enough = share.mean(axis=(1, 2)) >= 1 - _MOST_VOID
    if not enough.any():
        return nothing
    known, means = known[enough], means[enough]
    flat = detrended(means, known)
    power = spectra(flat).reshape(len(means), -1)
    peak = bins.sought[power[:, bins.sought].argmax(axis=1)]
    highest = power[np.arange(len(peak)), peak]
    near, towards_north, towards_east = around(power, peak, bins, _ABOUT)
    # not the slope of a higher peak that was not sought
    waved = (highest > 0) & (near.max(axis=1) <= highest)
    level, count = np.full(len(peak), np.nan), np.ones(len(peak))
    for k in np.flatnonzero(waved):
        level[k], count[k] = level_about(power[k], peak[k], bins)
    waved &= np.isfinite(level)
    with np.errstate(invalid="ignore", divide="ignore"):
        total = near.sum(axis=1)
        north = (near * towards_north).sum(axis=1) / total
        east = (near * towards_east).sum(axis=1) / total
        chance = np.log1p(-((1 + highest / np.maximum(level, 1e-30) / count) ** -count))
        p_value = -np.expm1(len(bins.sought) * chance)
        mean = np.where(known, means, 0.0).sum(axis=(1, 2)) / known.sum(axis=(1, 2))
    left = np.array(starts, float)[enough]
    rows_of = []
    for k in np.flatnonzero(waved & (p_value <= max_p_value)):
        height, face = _fitted(flat[k], known[k], (east[k], north[k]), bins)
        rows_of.append([
            1 / np.hypot(north[k], east[k]), height, np.degrees(np.arctan2(east[k], north[k])),
            p_value[k], mean[k], rows.start, rows.stop, left[k], left[k] + wide, face,
        ])  # fmt: skip
    return np.array(rows_of, float) if rows_of else nothing


def _coarser(windows: NDArray[np.float32], coarse: int) -> Pair:
    """Means of known depths over squares of cells, and which share of each is known."""
    high, wide = (side // coarse for side in windows.shape[1:])
    parts = windows[:, : high * coarse, : wide * coarse]
    known = np.isfinite(parts)
    depth = np.where(known, parts, 0.0).astype(float, copy=False)
    if coarse == 1:
        return depth, known.astype(float)
    firsts = np.arange(wide) * coarse
    count, total = (
        np.add.reduceat(one.reshape(len(one), high, coarse, -1).sum(axis=2), firsts, axis=2)
        for one in (known, depth)
    )
    return total / np.maximum(count, 1), count / coarse**2


def _fitted(
    flat: Floats, known: Mask, wave: tuple[float, float], bins: Bins
) -> tuple[float, float]:
    """Height of a wave with its harmonics, and its face: way from crest to trough over its length.

    The face is that toward `wave`, wavenumbers east and north; below one half it is the steeper.
    """
    high, wide = bins.shape
    cell_east, cell_north = 1 / (bins.east[1] * wide), 1 / (-bins.north[1] * high)
    row, column = np.nonzero(known)
    phase = 2 * np.pi * (wave[0] * column * cell_east - wave[1] * row * cell_north)
    cells = 1 / np.hypot(*wave) / max(cell_east, cell_north)
    orders = np.arange(1, max(1, min(_FITTED, int(cells / 2.5))) + 1)
    weight = np.outer(np.hanning(high), np.hanning(wide))[row, column]
    terms = np.column_stack([one(m * phase) for m in orders for one in (np.cos, np.sin)])
    weighed = terms * weight[:, None]
    fit = np.linalg.solve(weighed.T @ terms, weighed.T @ flat[row, column])
    round_ = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    shape = np.column_stack([one(m * round_) for m in orders for one in (np.cos, np.sin)]) @ fit
    crest, trough = int(shape.argmin()), int(shape.argmax())
    return float(np.ptp(shape)), ((trough - crest) % 360) / 360


def _described(grid: xr.DataArray, table: pd.DataFrame) -> gpd.GeoDataFrame:
    affine = transform_of(grid)
    west, east = affine.c + table["w"] * affine.a, affine.c + table["e"] * affine.a
    north, south = affine.f + table["n"] * affine.e, affine.f + table["s"] * affine.e
    turn = convergence_at(grid, ((west + east) / 2).to_numpy(), ((north + south) / 2).to_numpy())
    table = table.assign(
        window_id=np.arange(len(table)),
        crest_bearing_deg=np.mod(table["towards"] + 90 + turn, 180),
        asymmetry=np.abs(1 - 2 * table["face"]),
        steep_faces_deg=np.mod(table["towards"] + 180 * (table["face"] > 0.5) + turn, 360),
        geometry=shapely.box(west, south, east, north),
    )
    return SAND_WAVES.frame(table, crs=crs_of(grid))
