"""A small bottom worked by hand.

Two scarps run north: one of 3 m that faces east in the band, one of 12 m below it; a hump between.
"""

from __future__ import annotations

import numpy as np
from affine import Affine

WEST, NORTH, CELL = 466_000.0, 5_118_400.0, 4.0
TRANSFORM = Affine(CELL, 0, WEST, 0, -CELL, NORTH)


def bottom():
    rows, columns = np.mgrid[:150, :300]
    depth = 6 + 1.5 * np.tanh((columns - 75) / 3) + 4 + 4 * np.tanh((columns - 225) / 3)
    return depth - 2.5 * np.exp(-(((columns - 150) / 12) ** 2 + ((rows - 75) / 8) ** 2))
