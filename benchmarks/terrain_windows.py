"""Slope, position index and the rest of the moving windows, on 4096 x 4096 cells."""

from __future__ import annotations

import numpy as np
import xrspatial
from scipy.signal import oaconvolve

from benchmarks.bottom import bottom
from benchmarks.rows import Row, copy_seconds, seconds
from seabed.terrain import aspect, position_index, slope
from seabed.terrain.smoothing import smoothed

SIDE = 4096


def run() -> list[Row]:
    grid = bottom(SIDE)
    copy = copy_seconds(grid.values)
    rows = []
    for name, work in {
        "slope": lambda: slope(grid),
        "aspect": lambda: aspect(grid),
        "smoothing, 10 m": lambda: smoothed(grid, deviation_m=10),
        "position index, ring to 25 cells": lambda: position_index(grid, inner_m=40, outer_m=100),
        "position index, ring to 100 cells": lambda: position_index(grid, inner_m=40, outer_m=400),
    }.items():
        rows.append(Row.of(f"{name}, {SIDE}²", "copy", seconds(work), copy))
    theirs = seconds(lambda: xrspatial.slope(grid), times=1)
    rows.append(Row.of(f"slope, {SIDE}²", "xarray-spatial", seconds(lambda: slope(grid)), theirs))
    theirs = seconds(lambda: _ring_mean(grid.values), times=1)
    ours = seconds(lambda: position_index(grid, inner_m=40, outer_m=100), times=2)
    rows.append(
        Row.of(f"position index, ring to 25 cells, {SIDE}²", "scipy oaconvolve", ours, theirs)
    )
    return rows


def _ring_mean(depth):
    """Without voids or borders, which ours minds."""
    down, across = np.mgrid[-25:26, -25:26]
    away = np.hypot(down, across)
    ring = ((away >= 10) & (away <= 25)).astype(np.float32)
    return oaconvolve(depth, ring / ring.sum(), mode="same") - depth
