"""Smoothing scales: which make sense on a grid, and the bottom at one."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.errors import GridError
from seabed.structure.blocks.block import Block
from seabed.structure.blocks.whole import Whole
from seabed.terrain.chunks import contiguous, row_classes
from seabed.terrain.smoothing import reach_cells, smoothed_block

LEAST_WEIGHT: Final = 0.9
"""Share of the Gaussian that must fall on known cells."""

_STEPS_BEYOND: Final = 4
"""Cells a walk looks at beyond its reach, and the slope beside those."""


def scale_on(whole: Whole, usual_m: float) -> float:
    """Choose a scale: the usual one, or two cells where that is more."""
    return max(usual_m, 2 * whole.size.typical)


def at_scale(block: Block, scale_m: float) -> NDArray[np.float32]:
    """Depths of a block smoothed at a scale: with a Gaussian of half of it as standard deviation.

    Where the Gaussian is within the block, and where the grid itself ends, they are those of the
    whole to the last bit.
    """
    size = block.whole.size
    return contiguous(
        smoothed_block(
            contiguous(block.ground),
            row_classes(size.easting)[block.rows],
            float(size.northing[len(size.northing) // 2]),
            deviation_m=scale_m / 2,
            least_weight=LEAST_WEIGHT,
            level_m=block.whole.level_m,
        )
    )


def steps_of(reach_m: float, whole: Whole) -> int:
    """Count the steps of a walk of some metres, each as long as a typical cell."""
    return max(3, math.ceil(reach_m / whole.size.typical))


def margin_of(scale_m: float, reach_m: float, whole: Whole) -> int:
    """Cells that smoothing, and on it walks of some reach, look at to each side."""
    steps = steps_of(reach_m, whole) + _STEPS_BEYOND
    walk = math.ceil(steps * whole.size.typical / whole.smallest_m)
    return walk + reach_cells(scale_m / 2, whole.smallest_m)


def check_scale(scale_m: float, whole: Whole) -> None:
    """Refuse a scale that is not above zero or is finer than the cells.

    Raises GridError saying which.
    """
    if not scale_m > 0:
        raise GridError(
            f"a smoothing scale of {scale_m:g} m is too small", do="Give metres above 0."
        )
    cell_m = whole.size.typical
    if scale_m < cell_m:
        raise GridError(
            f"a smoothing scale of {scale_m:g} m is finer than the cells, {cell_m:.3g} m",
            do=f"Choose {2 * cell_m:.3g} m or more.",
        )
