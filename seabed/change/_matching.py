"""Two surveys brought to one place, smoothing and level."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr
from scipy import ndimage

from seabed.array_types import Depths, Mask
from seabed.change._alignment import Alignment, level_of, lie, smoothing_of
from seabed.change._common import blurred, laid_on
from seabed.change._patches import LEAST_CELLS, Detection, marked, noise_of, settled_of
from seabed.grid import cell_size
from seabed.terrain.chunks import contiguous

_ENOUGH: Final = 0.3
"""Share of the ground that must be left to match the surveys by, without what changed."""
_BESIDE_CELLS: Final = 8


@dataclass(frozen=True, slots=True)
class Matched:
    """Both surveys on the newer one's cells, matched as the alignment says."""

    newer: Depths
    older: Depths
    alignment: Alignment

    @property
    def difference(self) -> Depths:
        """Newer less older, the level taken off."""
        level_m = self.alignment.deeper_m if self.alignment.matched else 0.0
        return self.newer - self.older - np.float32(level_m)

    @property
    def surface(self) -> Depths:
        """The mean of both."""
        return np.asarray((self.newer + self.older) / 2, np.float32)


def matched_pair(newer: xr.DataArray, past: xr.DataArray, raw: Depths, settled: Mask) -> Matched:
    """Match an older survey to a newer one by settled ground, and again without what changed.

    raw: the older one on the newer one's cells, not yet shifted.
    """
    pair = _matched(newer, past, raw, settled)
    stayed = settled & ~_changed(pair, settled)
    if np.isnan(pair.alignment.error_m) or stayed.mean() < _ENOUGH * settled.mean():
        return pair
    again = _matched(newer, past, raw, stayed)
    return pair if np.isnan(again.alignment.error_m) else again


def _changed(pair: Matched, settled: Mask) -> Mask:
    """Ground that seems to have changed, and the ground beside it."""
    difference = pair.difference
    sigma = noise_of(difference, pair.surface, settled)
    patches = marked(difference, sigma, Detection(still=settled), LEAST_CELLS)
    wide = 2 * _BESIDE_CELLS + 1
    return np.asarray(ndimage.maximum_filter(patches.number > 0, wide), bool)


def _matched(newer: xr.DataArray, past: xr.DataArray, raw: Depths, settled: Mask) -> Matched:
    """Bring the older survey to the newer one's place, smoothing and level."""
    size, here = cell_size(newer), contiguous(newer.values)
    middle = len(size.easting) // 2
    (down, across), error = lie(here, raw, settled)
    east_m = float(across * size.easting[middle])
    north_m = float(-down * size.northing[middle])
    there = laid_on(past, newer, east_m=east_m, north_m=north_m) if east_m or north_m else raw
    blur = smoothing_of(here, there, settled)
    if blur > 0:
        here = blurred(here, blur)
    elif blur < 0:
        there = blurred(there, -blur)
    difference = here - there
    level_m = float(np.nanmedian(difference))
    sigma = noise_of(difference, Matched(here, there, Alignment()).surface, settled)
    still = settled_of(difference - np.float32(level_m), sigma, Detection(still=settled))
    fit = level_of(difference, still)
    known = error[np.isfinite(error)]
    alignment = Alignment(
        east_m=east_m,
        north_m=north_m,
        error_m=float(known.max()) * size.typical if len(known) else np.nan,
        deeper_m=level_m if fit is None else float(fit.values[0]),
        deeper_error_m=np.nan if fit is None else float(fit.errors[0]),
        blur_m=blur * size.typical,
    )
    return Matched(here, there, alignment)
