"""Where two surveys on the same cells differ by more than their noise: patches of ground.

The difference is tested on several scales, each against its own noise: the level of detection of
Brasington, Langham & Rumsby (2003, Geomorphology 53, 299-316), with noise that differs over the
ground as in Wheaton et al. (2010, Earth Surf. Process. Landforms 35, 136-156).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import generate_binary_structure, label

from seabed.array_types import Depths, Floats, Ints, Mask
from seabed.change._common import blurred, noise_left
from seabed.robust import TO_SIGMA
from seabed.structure.calm.noise import NoiseField

SCALES: Final = (1.0, 2.0, 4.0, 8.0)
"""Cells of smoothing: a small hole shows on the first, a thin layer of sand on the last."""
LEAST_M: Final = 0.2
SIGNIFICANCE: Final = 5.5
LEAST_CELLS: Final = 6.0
"""Lesser, less sure and smaller changes do not count where nothing else is asked."""
GROWN: Final = 0.5
"""Share of the limit down to which a patch is followed."""
_SURE: Final = 1.96
"""Errors of the files' own uncertainty that a change must exceed: 95 % (Lane et al. 2003)."""
_ENOUGH: Final = 0.2
"""Share of the ground that must stay, if that alone measures the noise."""
_MOST_SHARED: Final = 3.0
"""Noise that neighbours share where all ground may move: more would be its moves."""
_MOST_OFF: Final = 0.5
"""Cells by which places may be wrong in a survey: what differs more on slopes has moved."""
_STEEPEST: Final = 10
"""Classes of relief by which noise is measured."""
_TOUCHING: Final = generate_binary_structure(2, 1)


@dataclass(frozen=True, slots=True)
class Detection:
    """What counts as a change.

    least_m: lesser changes do not count, however sure.
    significance: standard deviations of the noise that a change must exceed.
    doubt_m: uncertainty of the difference by what the files themselves say.
    still: ground that the noise is measured on: sand waves, which move, are left out.
    """

    least_m: float = LEAST_M
    significance: float = SIGNIFICANCE
    doubt_m: Depths | None = None
    still: Mask | None = None


@dataclass(frozen=True, slots=True)
class Marked:
    """Patches of ground that changed.

    number: of the patch that each cell is in, from 1; 0 for none.
    sure: how many times the limit each one's clearest cell is.
    shared: how many times more of the noise a mean over many cells keeps than chance would leave.
    """

    number: Ints
    count: int
    sure: Floats
    shared: float


def noise_of(difference: Depths, surface: Depths, still: Mask | None = None) -> Depths:
    """Estimate the standard deviation of the noise of a difference, cell by cell.

    That from cell to cell, measured on tiles; and on steep or bent ground, where a small error of
    place is one of depth, what the difference scatters by there.
    """

    def part(row: int, column: int, rows: int, columns: int) -> Depths:
        return difference[row : row + rows, column : column + columns]

    rows, columns = difference.shape
    sigma = NoiseField.measured((rows, columns), part).over((rows, columns))
    relief = np.hypot(*np.gradient(surface))
    known = _telling(np.isfinite(difference) & np.isfinite(relief), still)[0]
    if known.sum() < 100 * _STEEPEST:
        return np.maximum(sigma, np.float32(1e-4))
    ends = np.quantile(relief[known], np.linspace(0, 1, _STEEPEST + 1)[1:-1])
    group = np.searchsorted(ends, np.where(known, relief, 0))
    middles, excess = [], []
    for one in range(_STEEPEST):
        chosen = known & (group == one)
        if not chosen.any():
            continue
        middles.append(float(np.median(relief[chosen])))
        off = np.abs(difference[chosen] - np.median(difference[chosen]))
        spread = TO_SIGMA * float(np.median(off))
        excess.append(max(0.0, spread**2 - float(np.median(sigma[chosen])) ** 2))
    beside = np.where(np.isfinite(relief), relief, ends[-1])  # next to a void: as on steep ground
    more = np.interp(beside, middles, np.maximum.accumulate(excess))
    more = np.minimum(more, (_MOST_OFF * beside) ** 2)
    total: Depths = np.sqrt(np.maximum(sigma, np.float32(1e-4)) ** 2 + more).astype(np.float32)
    return total


def _telling(known: Mask, still: Mask | None) -> tuple[Mask, bool]:
    """Give the known cells that show the noise, and whether they are on ground that stays."""
    if still is not None and (known & still).sum() >= _ENOUGH * known.sum():
        return known & still, True
    return known, still is None


def marked(difference: Depths, sigma: Depths, limits: Detection, least_cells: float) -> Marked:
    """Mark patches of one sign that are beyond the limit somewhere, down to half of it."""
    best, most_shared = np.zeros(difference.shape, np.float32), 1.0
    for cells in SCALES:
        if min(difference.shape) < 4 * cells:
            continue
        strength, shared, noise_m = _strength(difference, sigma, cells, limits)
        most_shared = max(most_shared, shared)
        np.copyto(best, strength, where=np.abs(strength) > np.abs(best))
        if noise_m <= limits.least_m:
            break  # noise hides nothing more: wider means would only blur
    number, count, sure = np.zeros(best.shape, np.int64), 0, [np.empty(0)]
    for sign in (1, -1):
        for patch, most in _grown(sign * best, least_cells):
            count += 1
            number[patch] = count
            sure.append(np.array([most]))
    return Marked(number, count, np.concatenate(sure), most_shared)


def _grown(
    strength: Depths, least_cells: float
) -> Iterator[tuple[tuple[NDArray[np.intp], ...], float]]:
    """Cells of each patch, and how many times the limit its clearest is."""
    areas, count = label(strength > GROWN, structure=_TOUCHING)
    if not count:
        return
    flat = areas.ravel()
    inside = np.flatnonzero(flat)
    order = inside[np.argsort(flat[inside], kind="stable")]
    ends = np.searchsorted(flat[order], np.arange(1, count + 2))
    for first, last in pairwise(ends):
        cells = order[first:last]
        most = float(strength.ravel()[cells].max())
        if most >= 1 and len(cells) >= least_cells:
            yield np.unravel_index(cells, strength.shape), most


def _strength(
    difference: Depths, sigma: Depths, cells: float, limits: Detection
) -> tuple[Depths, float, float]:
    """How many times the limit the smoothed difference is, with its sign; 0 where not known.

    The noise that smoothing leaves is measured too: more than chance would leave is noise that
    neighbours share.  Gives also how much that is, and the typical limit by noise.
    """
    smooth = blurred(difference, cells)
    left = sigma * noise_left(np.isfinite(difference), cells)
    known = np.isfinite(smooth)
    if not known.any():
        return np.zeros(smooth.shape, np.float32), 1.0, 0.0
    telling, sure = _telling(known, limits.still)
    scaled = smooth[telling] / left[telling]
    shared = max(1.0, TO_SIGMA * float(np.median(np.abs(scaled - np.median(scaled)))))
    shared = shared if sure else min(shared, _MOST_SHARED)
    limit = np.maximum(limits.significance * shared * left, np.float32(limits.least_m))
    if limits.doubt_m is not None:
        limit = np.fmax(limit, np.float32(_SURE) * limits.doubt_m)
    out = np.zeros(smooth.shape, np.float32)
    np.divide(smooth, limit, out=out, where=known & np.isfinite(limit))
    return out, shared, limits.significance * shared * float(np.median(left[known]))


def settled_of(difference: Depths, sigma: Depths, limits: Detection) -> Mask:
    """Cells that did not clearly change."""
    strength, *_ = _strength(difference, sigma, 2.0, limits)
    return np.asarray(np.isfinite(difference) & (np.abs(strength) < GROWN))
