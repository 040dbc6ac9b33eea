"""Runs over safe water, against geometry worked out by hand and by other libraries."""

import numpy as np
import pytest
from affine import Affine
from pyproj import Transformer
from shapely.geometry import LineString

from layers.planning.runs import Runs
from layers.planning.safe import SafeWater
from seabed.grid import make_grid

START = np.datetime64("2031-06-14T08:00", "ns")
WEST, NORTH = 500_000.0, 5_116_000.0  # UTM zone 25N, open ocean
TO_DEGREES = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
MPS = 10.0


def grid_of(depth, cell=10.0):
    return make_grid(
        np.asarray(depth, np.float32), transform=Affine(cell, 0, WEST, 0, -cell, NORTH),
        crs="EPSG:32625",
    )  # fmt: skip


def place(x, y):
    """Degrees of a place in metres right of and below the corner."""
    return TO_DEGREES.transform(WEST + x, NORTH - y)


def metres(run):
    """Vertices in metres right of and below the corner, shape (n, 2)."""
    x, y = TO_DEGREES.transform(run.longitude, run.latitude, direction="INVERSE")
    return np.column_stack([x - WEST, NORTH - y])


def runs_over(depth, **options):
    return Runs.of(SafeWater.of(grid_of(depth), **options), running_mps=MPS)


def test_a_run_over_open_water_is_straight_and_its_time_follows():
    run = runs_over(np.full((80, 80), 8.0)).between(place(100, 100), place(700, 400), START)
    assert run.caution == ""
    assert run.distance_m == pytest.approx(np.hypot(600, 300), rel=1e-3)  # the plane's scale
    assert run.seconds == pytest.approx(run.distance_m / MPS)
    assert run.least_water_m == pytest.approx(8.0)
    steps = np.diff(run.times) / np.timedelta64(1, "s")
    assert steps.max() <= 30.0
    assert steps == pytest.approx(steps[0])
    assert run.times[0] == START


def test_a_run_goes_round_the_end_of_a_spit():
    """A spit of land, 10 m wide and 900 m long; a cell more on each side is looked at as land."""
    depth = np.full((120, 120), 8.0)
    depth[:90, 60] = np.nan
    run = runs_over(depth).between(place(100, 200), place(1000, 200), START)
    # taut string round (590, 910) and (620, 910)
    shortest = np.hypot(490, 710) + 30 + np.hypot(380, 710)
    assert run.caution == ""
    assert shortest <= run.distance_m * 1.0004 <= 1.01 * shortest
    assert run.least_water_m == pytest.approx(8.0)


def test_backing_up_goes_round_the_line():
    runs = runs_over(np.full((100, 100), 8.0))
    line = LineString([place(300, 300), place(300, 700)])
    run = runs.between(place(300, 700), place(300, 300), START, around=line)
    x, y = metres(run).T
    assert run.caution == ""
    middle = (y > 352) & (y < 648)
    assert np.abs(x[middle] - 300).min() >= 50
    assert run.distance_m < 400 + 2 * 75


def test_a_launch_that_is_not_known_has_a_caution():
    depth = np.full((60, 60), 8.0)
    depth[:, 40:] = 0.4
    runs = runs_over(depth)
    off = runs.between(place(-200, 100), place(200, 100), START)
    assert off.caution.startswith("starts off the grid")
    assert np.isnan(off.least_water_m)
    shallow = runs.between(place(200, 100), place(500, 100), START)
    assert shallow.caution.startswith("ends in water too shallow at that hour")
    assert shallow.least_water_m == pytest.approx(0.4, abs=1e-3)
    assert shallow.distance_m == pytest.approx(300, rel=1e-3)
    assert metres(shallow)[:, 0].max() < 400
