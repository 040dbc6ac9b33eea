"""Walks down faces and up the sides of axes, on surfaces whose slopes and bends are known."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator
from scipy.ndimage import gaussian_filter

from seabed.structure.tracing.axes import _chains, axis_lines, sides
from seabed.structure.tracing.faces import mean_faces
from seabed.structure.tracing.ridges import across, at_point, bends

LEFT, TOP = 30, 70
"""Column and row of the first cell in the whole."""


def test_depths_between_cells_are_bilinear_and_unknown_outside():
    depth = np.random.default_rng(1).normal(size=(5, 7)).astype(np.float32)
    whole = RegularGridInterpolator(
        (TOP + np.arange(5), LEFT + np.arange(7)), depth, bounds_error=False
    )
    columns, rows = LEFT + np.arange(-0.5, 7.1, 0.25), TOP + np.arange(-0.5, 5.1, 0.25)
    for row, column in itertools.product(rows, columns):
        ours = at_point(depth, column, row, LEFT, TOP)
        assert ours == pytest.approx(whole([row, column])[0], abs=1e-6, nan_ok=True)


def test_bends_are_exact_on_a_quadric():
    """Second derivative along the gradient, g' H g over g' g, of a quadric on cells not square."""
    width, height = np.full(9, 2.0), np.full(9, 3.0)
    y, x = np.mgrid[4:-5:-1, -5:6] * np.array([3.0, 2.0])[:, None, None]
    depth = 0.3 * x**2 - 0.4 * x * y + 0.1 * y**2 + 0.7 * x - 0.2 * y
    gradient = np.stack([0.6 * x - 0.4 * y + 0.7, -0.4 * x + 0.2 * y - 0.2])
    hessian = np.array([[0.6, -0.4], [-0.4, 0.2]])
    square = (gradient**2).sum(axis=0)
    truth = np.einsum("irc,ij,jrc->rc", gradient, hessian, gradient) / square
    truth[square < 4] = np.nan
    truth[[0, -1]] = truth[:, [0, -1]] = np.nan
    assert np.isnan(truth[1:-1, 1:-1]).any()
    ours = bends(depth.astype(np.float32), width, height, 2.0)
    np.testing.assert_allclose(ours, truth, atol=1e-4)


STEEPEST, FLANK, KNEE = 0.5, 0.1, 40
"""Slopes of a face that eases evenly from its middle to its knees, so many metres away."""


def face(x):
    """Depth: 20 m in the middle, a slope that eases by 0.01 a metre to the flank's."""
    near = np.minimum(np.abs(x), KNEE)
    eased = STEEPEST * near - (STEEPEST - FLANK) * near**2 / (2 * KNEE)
    return 20 + np.sign(x) * (eased + FLANK * (np.abs(x) - near))


@pytest.mark.parametrize("flank_m", [0.0, 4.0])
@pytest.mark.parametrize("westward", [False, True])
def test_a_face_breaks_where_a_twentieth_of_its_slope_is_left(flank_m, westward):
    """A step of 1 m to both sides sees 0.495 in the middle: of the 0.395 over the flank a twentieth
    is left where the slope is 0.11975, at 38.025 m.  Depths between cells are a chord's, off by
    0.01 / 8; the flank's line begins at 39 m, where the curve is 0.01 / 2 off it."""
    way = 38.025
    depth = np.tile(face(np.arange(-90, 91)), (3, 1)).astype(np.float32)
    if westward:
        depth = np.ascontiguousarray(depth[:, ::-1])
    points = np.array([[LEFT + 90.0, TOP + 1.0]])
    profile = across(depth, points, np.ones(3), np.ones(3), step_m=1.0, reach_m=60.0,
                     flank_m=flank_m, corner=(LEFT, TOP))  # fmt: skip
    assert profile.distinct.all()
    assert profile.east[0] == pytest.approx(-1 if westward else 1)
    assert profile.north[0] == pytest.approx(0, abs=1e-6)
    assert profile.gradient[0] == pytest.approx(0.495, abs=1e-5)
    assert profile.width[0] == pytest.approx(2 * way, abs=0.002)
    assert profile.foot_depth[0] == pytest.approx(face(way), abs=0.0013)
    assert profile.top_depth[0] == pytest.approx(face(-way), abs=0.0013)
    if flank_m:
        line = face(80.0) - FLANK * 80
        assert profile.top_slope[0] == pytest.approx(FLANK, abs=1e-5)
        assert profile.foot_slope[0] == pytest.approx(FLANK, abs=1e-5)
        assert profile.foot_line[0] == pytest.approx(line, abs=0.005)
        assert profile.top_line[0] == pytest.approx(40 - line, abs=0.005)


def test_the_usual_slope_of_a_flank_is_taken_from_its_break_on():
    """A flank whose slope rises by 0.0005 a metre from the knee on, and strides of 4 m: the median
    of eight is that 16 m beyond the break, which is at 38 m, the first step below 0.1202."""
    x = np.arange(-90, 91)
    depth = face(x) + np.maximum(x - KNEE, 0) ** 2 * 0.0005 / 2
    points = np.array([[90.0, 1.0]])
    profile = across(np.tile(depth, (3, 1)).astype(np.float32), points, np.ones(3), np.ones(3),
                     step_m=1.0, reach_m=60.0, flank_m=4.0)  # fmt: skip
    assert profile.foot_slope[0] == pytest.approx(FLANK + 0.0005 * (38 + 16 - KNEE), abs=1e-5)
    assert profile.top_slope[0] == pytest.approx(FLANK, abs=1e-5)


def test_a_mean_face_is_measured_over_its_flanks():
    """Between level flanks an even ramp of 10 m: 80 % of its drop in 8 m.  Two stretches."""
    x = np.arange(-30.0, 31)
    ramps = [20 + drop * np.clip(x / 10, -0.5, 0.5) + slope * x
             for drop, slope in ((3.0, 0.0), (2.0, 0.05))]  # fmt: skip
    depth = np.repeat(ramps, 4, axis=0).astype(np.float32)
    points = np.array([[LEFT + 30.0, TOP + row] for row in (1.0, 2.0, 5.0, 6.0)])
    lines = np.array([[18.5, 21.5], [19.0, 21.0]])
    slopes = np.array([[0.0, 0.0], [0.05, 0.05]])
    faces = mean_faces(
        depth, points, np.tile([1.0, 0.0], (4, 1)), np.array([0, 0, 1, 1]), lines, slopes,
        cells=np.ones((8, 2)), step_m=1.0, reach_m=np.full(2, 12.0), corner=(LEFT, TOP),
    )  # fmt: skip
    assert faces.width == pytest.approx([10, 10], abs=1e-4)
    assert faces.steepest == pytest.approx([0.3, 0.25], abs=1e-5)


@pytest.mark.parametrize("bearing", [0.0, 30.0, 75.0, 120.0])
def test_sides_are_climbed_at_right_angles_to_the_axis(bearing):
    """One side of a parabola ends 45 m from its axis, the other goes on beyond the walk's 60 m, and
    the axis falls.

    Rims have 95 % of the rise.  A bend of 0.002 between cells of 0.5 x 0.8 m is drawn too shallow
    by 0.002 (0.5² + 0.8²) / 8 = 0.00022 m, which moves the rims, where 0.09 and 0.12 rise in a
    metre, by 0.0025 and 0.0019 m."""
    width, height = 0.5, 0.8
    rows, columns = np.mgrid[:161, :261]
    angle = np.radians(bearing)
    off = (columns - 130) * width * np.cos(angle) - (80 - rows) * height * np.sin(angle)
    along = (columns - 130) * width * np.sin(angle) + (80 - rows) * height * np.cos(angle)
    depth = (4 - np.minimum(off, 45) ** 2 / 1000 + along / 200).astype(np.float32)
    points = np.array([[LEFT + 130.0, TOP + 80.0]])
    found = sides(depth, points, np.full(161, width), np.full(161, height), step_m=0.5, steps=120,
                  corner=(LEFT, TOP))  # fmt: skip
    assert found.depth[0] == 4
    assert found.height[0] == pytest.approx(45**2 / 1000, abs=0.0003)
    assert found.width[0] == pytest.approx(np.sqrt(0.95) * (45 + 60), abs=0.006)


@pytest.mark.parametrize("seed", range(6))
def test_each_axis_is_all_that_hangs_together(seed):
    """Crossings around a square are paired in its order; what pairs join is one line, in order."""
    field = gaussian_filter(np.random.default_rng(seed).normal(size=(20, 24)), 1.5)
    depth, cell = field.astype(np.float32), np.ones(20)
    (points, offsets), between = axis_lines(
        depth, cell, cell, own=(slice(0, 20), slice(0, 24)), corner=(0, 0)
    )
    number = {tuple(place): n for n, place in enumerate(between.tolist())}
    assert len(number) == len(points)  # each once
    beside = {n: set() for n in range(len(points))}
    for r, c in np.ndindex(19, 23):
        around = [(r, c, 0), (r, c + 1, 1), (r + 1, c, 0), (r, c, 1)]
        there = [number[one] for one in around if one in number]
        for one, other in zip(there[::2], there[1::2], strict=False):
            beside[one].add(other)
            beside[other].add(one)
    assert len(offsets) > 5
    for first, last in itertools.pairwise(offsets):
        line = range(first, last)
        assert all(b in beside[a] for a, b in itertools.pairwise(line))
        assert all(beside[n] <= set(line) for n in line)


def test_an_arch_whose_first_crossing_is_in_its_middle_is_one_axis():
    """Numbered row by row: two on top, the right leg, of one crossing, and the left one, of two."""
    number = np.full((2, 4, 5), -1, np.int32)
    number[1, 0, 1], number[1, 0, 2] = 0, 1
    number[0, 1, 2] = 2
    number[0, 1, 0], number[0, 2, 0] = 3, 4
    order, starts = np.empty(6, np.int32), np.empty(6, np.int32)
    assert _chains(number, 5, order, starts) == (5, 1)
    assert order[:5].tolist() == [2, 1, 0, 3, 4]
