"""Shift, level and smoothing of an older survey against a newer one, by ground that stayed.

A shift shows as a difference that follows the slope, which Nuth & Kääb (2011, The Cryosphere 5,
271-290) fit as a cosine of the aspect; here the same is fitted as a plane of the two slopes, with
Huber's weights, from broad ground to fine, so that a shift of some cells is found too.  Errors are
those of a jackknife over blocks of ground (Künsch 1989): they hold where neighbours share noise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter, shift

from seabed.array_types import Depths, Floats, Ints, Mask, Pair
from seabed.change._common import blurred
from seabed.robust import huber_fit, robust_sigma
from seabed.structure.calm.noise import NoiseField

SCALES: Final = (8.0, 4.0, 2.0, 1.0)
"""Cells of smoothing, from broad to fine."""
ROUNDS: Final = 8
SETTLED: Final = 0.01
"""Cells: a round that moves less is the last of its scale."""
MOST_POINTS: Final = 60_000
FEWEST_POINTS: Final = 200
OUTLIERS: Final = 4.0
_BLOCKS: Final = 8
"""Blocks of ground a side, for the jackknife."""
_VAGUE: Final = 0.5
"""Cells: a shift that is not known better in a direction is not known in it."""
_SURE: Final = 4.0
"""Errors by which a shift or level must differ from none."""
_LEAST_CELLS: Final = 0.05
_ABOVE_NOISE: Final = 5.0
"""Deviations of the noise of a slope, below which ground shows no shift."""
_BEND_SURE: Final = 6.0
"""Deviations of its own noise by which ground must bend to show how smooth a grid is."""
_BLUR_SURE: Final = 5.0
_LEAST_BLUR: Final = 0.8


@dataclass(frozen=True, slots=True)
class Alignment:
    """How an older survey differs from a newer one as a whole.

    Attributes
    ----------
    east_m, north_m : float
        How far the older one has to be moved, along the axes of the newer; 0 in a direction in
        which the ground shows none, or none beyond its error.
    error_m : float
        Standard error of the shift, in the worse of the directions that show one; NaN where none
        does: on a flat, or where all relief is in sand waves, which move themselves.
    deeper_m, deeper_error_m : float
        How much deeper the newer one is on ground that did not move, and the standard error.
    blur_m : float
        Standard deviation of the Gaussian that makes one as smooth as the other: above 0 where the
        older one is smoother, below 0 where the newer one is; 0 where they are alike.
    matched : bool
        Whether all this is taken off the differences.
    """

    east_m: float = 0.0
    north_m: float = 0.0
    error_m: float = np.nan
    deeper_m: float = 0.0
    deeper_error_m: float = np.nan
    blur_m: float = 0.0
    matched: bool = True

    @property
    def shift_m(self) -> float:
        """How far the older one has to be moved."""
        return float(np.hypot(self.east_m, self.north_m))


@dataclass(frozen=True, slots=True)
class Fit:
    """Coefficients of a robust fit with their covariance over blocks of ground."""

    values: Floats
    covariance: Floats
    spread: float

    @property
    def errors(self) -> Floats:
        """Standard errors."""
        return np.sqrt(np.diag(self.covariance))


def fitted(terms: Floats, values: Floats, block: Ints) -> Fit | None:
    """Fit values by terms, robustly, over blocks of ground; None where there are too few."""
    _, block = np.unique(block, return_inverse=True)
    count = int(block.max(initial=-1)) + 1
    if len(values) < FEWEST_POINTS or count <= terms.shape[1]:
        return None
    best, weight = huber_fit(terms, values, np.ones(len(values)))
    rest = values - terms @ best
    spread = robust_sigma(rest)
    weight = np.where(np.abs(rest) <= OUTLIERS * max(spread, 1e-9), weight, 0.0)
    size = terms.shape[1]
    normal = np.zeros((count, size, size))
    right = np.zeros((count, size))
    np.add.at(normal, block, weight[:, None, None] * terms[:, :, None] * terms[:, None, :])
    np.add.at(right, block, (weight * values)[:, None] * terms)
    try:
        best = np.linalg.solve(normal.sum(axis=0), right.sum(axis=0))
        without = np.linalg.solve(normal.sum(axis=0) - normal,
                                  (right.sum(axis=0) - right)[:, :, None])[:, :, 0]  # fmt: skip
    except np.linalg.LinAlgError:
        return None
    off = without - without.mean(axis=0)
    return Fit(best, (count - 1) / count * off.T @ off, spread)


def lie(newer: Depths, older: Depths, settled: Mask) -> Pair:
    """Find the shift of an older survey on the same cells, by ground that is settled.

    Returned: rows and columns that the older one has to be moved; standard errors along the best
        and the worst known direction; NaN where it is not known.
    """
    times = max(1, int(np.sqrt(newer.size / 2e6)))
    newer, older = (_means(one, times) for one in (newer, older))
    settled = _means(settled.astype(np.float32), times) > 0.99
    at, best = np.zeros(2), None
    sigma_m = float(np.hypot(_noise(newer), _noise(older)))
    for cells in SCALES:
        if min(newer.shape) < 8 * cells:
            continue
        surfaces = blurred(newer, cells), blurred(older, cells)
        least = _ABOVE_NOISE * sigma_m * _slope_noise(cells) / (2 * np.sqrt(np.pi) * cells)
        there, fit = _refined(*surfaces, at, settled, least)
        if fit is None or (best is not None and _worst(fit) > _worst(best)):
            break  # finer ground is noisier, and shows less
        at, best = there, fit
    if best is None:
        return np.zeros(2), np.full(2, np.nan)
    variance, ways = np.linalg.eigh(best.covariance[:2, :2])
    error = np.sqrt(np.maximum(variance, 0.0))
    known = error <= _VAGUE
    along = at @ ways
    sure = known & (np.abs(along) > np.maximum(_SURE * error, _LEAST_CELLS))
    return ways @ np.where(sure, along, 0.0) * times, np.where(known, error, np.nan) * times


def _worst(fit: Fit) -> float:
    """Variance of the shift in the direction that shows it worst."""
    return float(np.linalg.eigvalsh(fit.covariance[:2, :2])[-1])


def _refined(
    newer: Depths, older: Depths, at: Floats, settled: Mask, least: float
) -> tuple[Floats, Fit | None]:
    """Go on from a shift until it settles, in the directions that show any."""
    fit = None
    for _ in range(ROUNDS):
        last, fit = fit, _slope_fit(newer, older, at, settled, least)
        if fit is None:
            return at, last
        variance, ways = np.linalg.eigh(fit.covariance[:2, :2])
        known = np.sqrt(np.maximum(variance, 0.0)) <= _VAGUE
        step = -ways @ np.where(known, ways.T @ fit.values[:2], 0.0)
        at = at + step
        if np.abs(step).max() < SETTLED:
            break
    return at, fit


def _noise(values: Depths) -> float:
    """Typical noise from cell to cell."""

    def part(row: int, column: int, rows: int, columns: int) -> Depths:
        return values[row : row + rows, column : column + columns]

    rows, columns = values.shape
    return float(np.median(NoiseField.measured((rows, columns), part).sigma_m))


def _slope_noise(cells: float) -> float:
    """Estimate the noise of slopes of the mean of both from that of their smoothed difference."""
    return float(1 / (2 * np.sqrt(2) * cells))


def _slope_fit(newer: Depths, older: Depths, at: Floats, settled: Mask, least: float) -> Fit | None:
    """Fit the difference by slope down and across, and a level, where slopes are no noise."""
    moved = _moved(older, at)
    slopes: list[Depths] = list(np.gradient((newer + moved) / 2))
    difference = newer - moved
    good = settled & np.isfinite(difference) & np.isfinite(slopes[0]) & np.isfinite(slopes[1])
    steep = np.hypot(*slopes)
    good &= steep >= least
    chosen = _telling(np.flatnonzero(good), steep[good])
    terms = np.stack([*(one.ravel()[chosen] for one in slopes), np.ones(len(chosen))], axis=1)
    return fitted(terms.astype(float), difference.ravel()[chosen].astype(float),
                  _blocks(chosen, newer.shape))  # fmt: skip


def _telling(cells: NDArray[np.intp], slope: Depths) -> NDArray[np.intp]:
    """Choose some of the cells: half of them the steepest fifth, for flats show no shift."""
    if len(cells) <= FEWEST_POINTS:
        return cells
    steep = slope >= np.quantile(slope, 0.8)
    half = MOST_POINTS // 2
    parts = cells[steep], cells[~steep]
    return np.concatenate([one[:: max(1, -(-len(one) // half))] for one in parts])


def _blocks(cells: NDArray[np.intp], shape: tuple[int, ...]) -> Ints:
    row, column = np.divmod(cells, shape[1])
    return np.asarray(row * _BLOCKS // shape[0] * _BLOCKS + column * _BLOCKS // shape[1], np.int64)


def _moved(values: Depths, at: Floats) -> Depths:
    """Move values by rows and columns; NaN where the value there is not known."""
    if not at.any():
        return values
    void = np.isnan(values)
    out: Depths = shift(np.where(void, np.float32(0), values), at, order=1, mode="nearest")
    out[shift(void.astype(np.float32), at, order=1, cval=1.0) > 1e-6] = np.nan
    return out


def _means(values: Depths, times: int) -> Depths:
    if times == 1:
        return values
    rows, columns = (size // times for size in values.shape)
    part = values[: rows * times, : columns * times]
    return np.asarray(part.reshape(rows, times, columns, times).mean(axis=(1, 3)), np.float32)


def level_of(difference: Depths, settled: Mask) -> Fit | None:
    """Fit how much deeper the newer survey is on settled ground; None where there is too little."""
    chosen = np.flatnonzero(settled & np.isfinite(difference))
    chosen = chosen[:: max(1, len(chosen) // MOST_POINTS)]
    values = difference.ravel()[chosen].astype(float)
    return fitted(np.ones((len(chosen), 1)), values, _blocks(chosen, difference.shape))


def smoothing_of(newer: Depths, older: Depths, settled: Mask) -> float:
    """Cells of the Gaussian that makes one as smooth as the other; as `Alignment.blur_m`.

    A Gaussian of variance v changes the ground by v / 2 times its Laplacian: the difference is
    fitted by that, where the ground bends far more than its noise does.  How it bends is measured
    on the cells around each alone, whose noise is not that of its own difference.
    """
    from scipy.signal import fftconvolve  # noqa: PLC0415  (half a second, and seldom needed)

    difference = newer - older
    good = settled & np.isfinite(difference)
    if not good.any():
        return 0.0
    surface = (newer + older) / 2
    filled = np.where(good, surface - surface[good].mean(), 0).astype(np.float32)
    kernel = _bending()
    bend = fftconvolve(filled, kernel, mode="same")
    good = minimum_filter(good, len(kernel), mode="constant")
    spread = robust_sigma(difference[good].astype(float)) if good.any() else np.inf
    noise = spread / 2 * float(np.sqrt((kernel**2).sum()))
    chosen = np.flatnonzero(good & (np.abs(bend) > max(_BEND_SURE * noise, 1e-4)))
    chosen = chosen[:: max(1, len(chosen) // MOST_POINTS)]
    terms = np.stack([bend.ravel()[chosen], np.ones(len(chosen))], axis=1).astype(float)
    fit = fitted(terms, difference.ravel()[chosen].astype(float), _blocks(chosen, newer.shape))
    if fit is None or abs(fit.values[0]) < _BLUR_SURE * fit.errors[0]:
        return 0.0
    cells = float(np.sqrt(2 * abs(fit.values[0])))
    return 0.0 if cells < _LEAST_BLUR else float(np.copysign(cells, -fit.values[0]))


def _bending() -> Depths:
    """Kernel of a Laplacian by a wide mean less a near one, neither with the cell itself."""
    y, x = np.mgrid[-9:10, -9:10]
    square = x**2 + y**2
    wide, near = (np.exp(-square / 2 / cells**2) * (square > 2) for cells in (3.0, 1.5))
    kernel = wide / wide.sum() - near / near.sum()
    return np.asarray(kernel / ((kernel * square).sum() / 4), np.float32)
