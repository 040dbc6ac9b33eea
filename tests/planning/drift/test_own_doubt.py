"""Currents that know their own doubt, as one that was learned from drifts."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import pytest
from affine import Affine
from steady_drifts import LASTS_S, MANY, PLANE, START, STILL_IN_WIND, printed

from layers.jobs.plan._inputs import Hours, check_known
from layers.planning import DayWater, Doubt
from layers.planning.drift._fan import fans
from layers.planning.drift._hand import Hand
from layers.planning.drift.doubt import SureCurrents
from layers.planning.ground.proven_lines import RotatedCurrents
from layers.water import CRAFT, FixedCurrent, FixedWind
from layers.water.currents.currents import own_spread
from layers.water.learned.learned import too_doubtful
from seabed.errors import WaterError
from seabed.grid import make_grid

COVARIANCE = np.array([[0.04**2, 0.5 * 0.04 * 0.06], [0.5 * 0.04 * 0.06, 0.06**2]])
"""Deviations of 0.04 and 0.06 m/s, correlation 0.5."""


@dataclass(frozen=True)
class Learned:
    """0.3 m/s east at first, falling by 0.1 m/s an hour; unknown after four hours."""

    everywhere: bool = True

    def velocity(self, times, longitude=None, latitude=None):
        hours = (np.asarray(times, "datetime64[ns]") - START) / np.timedelta64(1, "h")
        return np.where(hours <= 4.0, 0.3 - 0.1 * hours, np.nan), np.zeros(hours.shape)

    def spread(self, times):
        return np.broadcast_to(COVARIANCE, (np.size(times), 2, 2))


def test_its_covariance_spreads_the_ends_in_place_of_share_and_angle():
    """Errors that last through a drift: the ends' covariance is the current's times its square."""
    (boats,) = fans(
        printed(0.3, 0.0), currents=Learned(), wind=None, leeway=STILL_IN_WIND,
        hand=Hand(np.inf), members=MANY, doubt=Doubt(0.15, 10.0, 0.0, 0.0),
    )  # fmt: skip
    ends = np.array(PLANE.transform(boats.longitude[:, -1], boats.latitude[:, -1]))
    np.testing.assert_allclose(np.cov(ends) / LASTS_S**2, COVARIANCE, rtol=0.05)


def test_nothing_is_planned_where_it_may_run_any_way():
    """1.645 x 0.04 m/s of doubt along the way, against 0.3 less 0.1 an hour.

    It is known till 2 h 20 min, and from 3 h 40 min on, when it runs the other way.
    """
    minutes = np.arange(0, 300, 5)
    times = START + minutes.astype("timedelta64[m]")
    for velocity in (SureCurrents(Learned()).velocity, DayWater(Learned(), STILL_IN_WIND).velocity):
        known = np.isfinite(velocity(times, np.zeros(60), np.zeros(60))[0])
        least = 1.6448536 * 0.04
        speed = np.abs(0.3 - 0.1 * minutes / 60)
        np.testing.assert_array_equal(known, (speed >= least) & (minutes <= 240))
        assert known[minutes == 140] and not known[minutes == 145]


def test_a_table_has_no_doubt_of_its_own():
    assert own_spread(FixedCurrent(0.01, 90.0), np.array([START])) is None
    east, _ = SureCurrents(FixedCurrent(0.01, 90.0)).velocity(np.array([START]))
    assert east[0] == pytest.approx(0.01)


def test_a_water_that_a_line_s_drifts_turned_brings_its_doubt_along():
    """Twice as fast and a right angle to the left: north is east before, west is north before."""
    spread = RotatedCurrents(Learned(), 2j).spread(np.array([START]))
    east, north, both = COVARIANCE[0, 0], COVARIANCE[1, 1], COVARIANCE[0, 1]
    np.testing.assert_allclose(spread[0], 4 * np.array([[north, -both], [-both, east]]))


@pytest.mark.parametrize(
    ("east", "north", "doubtful"),
    [
        (0.1, 0.0, False),  # 1.645 x 0.04 = 0.066 along
        (0.06, 0.0, True),
        (0.0, 0.1, False),  # 1.645 x 0.06 = 0.099 along
        (0.0, -0.095, True),
        (np.nan, np.nan, False),
    ],
)
def test_too_doubtful_is_by_the_doubt_along_the_way(east, north, doubtful):
    found = too_doubtful(np.array([east]), np.array([north]), COVARIANCE[None])
    assert found[0] == doubtful


def test_the_wind_has_its_doubt_beside_it():
    """Leeway's spread adds to the covariance.

    Downwind it is 3.33 cm/s.  Across, half the boats go off by -1.33 cm/s, give or take 2.53, half
    by -2.07, give or take 3.05 (Allen & Plourde 1999): about straight downwind the means count.
    """
    (boats,) = fans(
        printed(0.3, 0.0), currents=Learned(), wind=FixedWind(5.0, 270.0),
        leeway=CRAFT["skiff, V-hull"], hand=Hand(np.inf), members=MANY,
        doubt=Doubt(0.0, 0.0, 0.0, 0.0),
    )  # fmt: skip
    ends = np.array(PLANE.transform(boats.longitude[:, -1], boats.latitude[:, -1]))
    right = 0.0253**2 + (0.0032 * 5.0 - 0.0293) ** 2
    left = 0.0305**2 + (-0.0062 * 5.0 + 0.0103) ** 2
    added = np.diag([0.0333**2, (right + left) / 2])
    np.testing.assert_allclose(np.cov(ends) / LASTS_S**2, COVARIANCE + added, rtol=0.05)


@pytest.mark.parametrize(
    ("hours", "refused"), [((0, 1), None), ((2, 5), None), ((2.5, 3.5), 0), ((4.2, 5), 1)]
)
def test_hours_too_doubtful_to_plan_are_refused_with_the_cure(hours, refused):
    begin, end = (START + np.timedelta64(round(hour * 60), "m") for hour in hours)
    when = Hours(date(2031, 6, 14), begin, end)
    grid = make_grid(
        np.full((4, 4), 6.5, np.float32), transform=Affine(1e-4, 0, -33.0, 0, -1e-4, 46.19),
        crs="EPSG:4326",
    )  # fmt: skip
    water = DayWater(Learned(), STILL_IN_WIND)
    if refused is None:
        check_known(water, when, grid)
        return
    words = (
        r"too doubtful at all of these hours.*log more drifts",
        "the current is not known through",
    )
    with pytest.raises(WaterError, match=words[refused]):
        check_known(water, when, grid)
