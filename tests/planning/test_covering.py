"""A day without a logbook: ground not yet passed first, in long drifts, never against the water."""

import numpy as np
import pytest
import shapely
from affine import Affine

from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.planning.day._covering import swept
from layers.planning.day.plan_day import STRUCTURE_SCORE
from layers.planning.ground.fished import FISHED_LINES
from layers.water import FixedCurrent, leeway_of
from seabed.geodesy import bearing_deg
from seabed.grid import make_grid

START = np.datetime64("2031-06-14T08:00", "ns")
BAND = (5.0, 8.0)
CELL = 10.0
LIMITS = DriftLimits(shortest_s=600.0, set_up_s=90.0, lines_up_s=30.0)


def ridges(slant=0.0):
    """Three ridges in the band, 300 m apart and 60 m wide, north and south but for a slant."""
    rows, columns = np.mgrid[0:300, 0:120]
    across = columns * CELL - slant * (150 - rows) * CELL
    off = np.min([np.abs(across - middle) for middle in (300.0, 600.0, 900.0)], axis=0)
    depth = np.where(off <= 30.0, 6.5, 12.0).astype(np.float32)
    return make_grid(depth, transform=Affine(CELL, 0, 5e5, 0, -CELL, 5_116_000.0), crs="EPSG:32625")


def day_over(grid, hours, *, kind=STRUCTURE_SCORE, **water):
    water = DayWater(
        FixedCurrent(0.4, 0.0), leeway_of("skiff, V-hull"), held_mps=(0.3, 0.5), **water
    )
    setting = Setting(SafeWater.of(grid), water, BAND, LIMITS)
    end = START + np.timedelta64(round(hours * 60), "m")
    cover = kind == STRUCTURE_SCORE
    return plan_day(
        setting, structure_worth(grid, BAND, []), START, end, cover=cover, worth_kind=kind
    )


@pytest.fixture(scope="module")
def upright():
    return day_over(ridges(), 4.0)


def test_each_ridge_is_drifted_once_before_any_is_drifted_again(upright):
    """Three ridges of 3 km take 2 h each at 0.4 m/s: in four hours none need be drifted twice."""
    tracks = upright.passes.to_crs("EPSG:32625").geometry
    wide = shapely.union_all(tracks.buffer(40.0, cap_style="flat").to_numpy())
    assert wide.area == pytest.approx(80.0 * tracks.length.sum(), rel=0.03)


def test_hours_in_which_no_line_of_the_logbook_runs_are_covered_as_without_one():
    """None of its lines runs in two hours, which are three slots: the ground is all new."""
    by_logbook, without = (
        day_over(ridges(), 2.0, kind=kind) for kind in (FISHED_LINES, STRUCTURE_SCORE)
    )
    assert by_logbook.passes.geometry.geom_equals(without.passes.geometry).all()
    assert (by_logbook.lines["passes"] == 1).all()


def test_ridges_are_drifted_whole_as_long_as_a_drift_may_be(upright):
    longest = upright.passes["drift_s"].sort_values(ascending=False)
    assert (longest.iloc[:3] >= 3400.0).all()
    assert (longest >= LIMITS.shortest_s).all()
    assert (upright.passes["share_in_band"] > 0.95).all()


def test_lines_up_running_settling_and_lines_down_are_in_the_account(upright):
    passes, runs = upright.passes, upright.runs
    for run in runs.itertuples():
        before = passes[passes["end"] <= run.start]["end"].max()
        after = passes[passes["start"] >= run.end]["start"].min()
        assert (run.start - before).total_seconds() >= LIMITS.lines_up_s - 1e-6
        assert (after - run.end).total_seconds() >= LIMITS.set_up_s - 1e-6


def test_the_motor_holds_the_boat_along_an_edge_that_lies_off_the_water():
    """Ridges bear 15 degrees: along the water a drift leaves one after some 250 m."""
    plan = day_over(ridges(np.tan(np.radians(15.0))), 1.0)
    (first, *_) = plan.passes.geometry
    (x, y), (to_x, to_y) = first.coords[0][:2], first.coords[-1][:2]
    assert bearing_deg(x, y, to_x, to_y) == pytest.approx(15.0, abs=1.0)
    assert plan.passes["distance_m"].iloc[0] > 1000.0


def test_ground_off_the_band_is_worth_nothing_beside_an_edge():
    grid = ridges()
    worth = structure_worth(grid, BAND, [])
    mean = swept(worth, np.ones(worth.size), 40.0)
    assert (mean.values[worth.values == 0] == 0).all()
    assert mean.values[150, 30] == pytest.approx(worth.values[150, 26:35].mean(), rel=1e-5)
