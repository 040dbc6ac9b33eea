"""Contours, humps and edges on 4096 x 4096 cells; peaks also against a library on fewer cells."""

from __future__ import annotations

import shapely
from contourpy import LineType, contour_generator
from skimage.morphology import reconstruction

from benchmarks.bottom import bottom
from benchmarks.rows import Row, copy_seconds, seconds
from seabed.structure import contours, edges, humps

SIDE = 4096
LEVELS = [10.0, 14.0, 18.0, 22.0, 26.0, 30.0]


def run() -> list[Row]:
    grid = bottom(SIDE, noise_m=0.0, hill_cells=48)
    rough = bottom(SIDE)
    copy = copy_seconds(grid.values)
    found = contours(grid, LEVELS)
    vertices = int(shapely.get_num_coordinates(found.geometry.values).sum())
    ours = seconds(lambda: contours(grid, LEVELS), times=2)
    theirs = seconds(lambda: _bare_contours(grid.values), times=2)
    rows = [
        Row.of(
            f"contours, 6 levels, {vertices} vertices, {SIDE}²", "contourpy, bare", ours, theirs
        ),
        Row.of(f"edges, smooth, {SIDE}²", "copy", seconds(lambda: edges(grid), times=1), copy),
        Row.of(f"edges, noisy, {SIDE}²", "copy", seconds(lambda: edges(rough), times=1), copy),
    ]
    for name, ground in {"smooth": grid, "noisy": rough}.items():
        ours = seconds(lambda ground=ground: humps(ground), times=2)
        count = len(humps(ground))
        rows.append(Row.of(f"humps, {name}, {count} found, {SIDE}²", "copy", ours, copy))
    small = rough[:1024, :1024]
    ours = seconds(lambda: humps(small))
    theirs = seconds(lambda: _highs_by_reconstruction(-small.values), times=1)
    rows.append(Row.of("humps, noisy, 1024²", "scikit-image reconstruction", ours, theirs))
    return rows


def _bare_contours(depth):
    generator = contour_generator(z=depth, name="serial", line_type=LineType.ChunkCombinedOffset)
    return [generator.lines(level) for level in LEVELS]


def _highs_by_reconstruction(elevation):
    """Which cells belong to a high of a metre or more: no saddles, no outlines, no nesting."""
    return elevation - reconstruction(elevation - 1, elevation) >= 1
