"""Crossings against brute force and by hand; what crossovers tell of the tide."""

import numpy as np
import pandas as pd
import pytest
import shapely
from simulated_survey import survey, true_bottom

from seabed.geodesy import sinusoidal_degrees
from seabed.grid.places import sample
from seabed.soundings import sounding_table
from seabed.soundings.checks.crossovers import (
    CROSSOVERS,
    crossover_statistics,
    crossovers,
    find_crossings,
)
from seabed.soundings.checks.tide_check import fit_to_chart, tide_of_crossovers
from seabed.soundings.sounding_table import empty_soundings


@pytest.fixture(scope="module")
def truth():
    return true_bottom()


def walk(seed, lines=12, count=80):
    rng = np.random.default_rng(seed)
    east, north, number = [], [], []
    for i in range(lines):
        turn = np.cumsum(rng.normal(0, 0.3, count)) + rng.uniform(0, 6)
        start = rng.uniform(-80, 80, 2)
        east.append(start[0] + np.cumsum(5.0 * np.cos(turn)))
        north.append(start[1] + np.cumsum(5.0 * np.sin(turn)))
        number.append(np.full(count, i, np.int32))
    line = pd.Series(np.concatenate(number)).to_numpy()  # read-only, as out of a table
    return np.concatenate(east), np.concatenate(north), line


@pytest.mark.parametrize("seed", range(5))
def test_against_every_pair_of_segments_in_shapely(seed):
    east, north, number = walk(seed)
    seconds = np.arange(len(east), dtype=float)
    found = find_crossings(east, north, number, seconds, apart_s=10.0, step_m=1.0)
    starts = np.flatnonzero(number[1:] == number[:-1])
    pieces = shapely.linestrings(
        np.stack([np.column_stack([east[starts + k], north[starts + k]]) for k in (0, 1)], axis=1)
    )
    wanted = set()
    for i, j in shapely.STRtree(pieces).query(pieces, predicate="crosses").T:
        apart = abs(starts[i] - starts[j])
        if i < j and (number[starts[i]] != number[starts[j]] or apart >= 10):
            wanted.add((int(starts[i]), int(starts[j])))
    got = {(int(a), int(b)) for a, b in zip(found.first, found.second, strict=True)}
    assert len(wanted) > 10
    assert got == wanted
    assert len(found) == len(got)
    for a, b, x, y in zip(found.first, found.second, found.east, found.north, strict=True):
        point = shapely.intersection(
            pieces[np.searchsorted(starts, int(a))], pieces[np.searchsorted(starts, int(b))]
        )
        assert (x, y) == pytest.approx((point.x, point.y), abs=1e-6)


def test_a_crossing_at_a_corner_counts_once_and_a_boat_at_rest_crosses_nothing():
    east = np.array([-10.0, 0.0, 10.0, 0.0, 0.0, 0.0])
    north = np.array([0.0, 0.0, 0.0, -10.0, 0.0, 10.0])
    number = pd.Series([0, 0, 0, 1, 1, 1], dtype=np.int32).to_numpy()
    assert len(find_crossings(east, north, number, np.arange(6.0), step_m=1.0)) == 1
    rng = np.random.default_rng(0)
    still = rng.normal(0, 0.5, (2, 3000))
    one = pd.Series(np.zeros(3000, np.int32)).to_numpy()
    none = find_crossings(*still, one, np.arange(3000.0), apart_s=60.0)
    assert len(none) <= 2


def crossed(depth_1, depth_2, *, hours=5.0, height=(0.0, 0.0), **columns):
    """A line to the east and one to the north that cross in the middle of a step, at (0, 0)."""
    steps = np.arange(-20.0, 20.0) * 4.0 + 2.0
    east, north = np.concatenate([steps, steps * 0]), np.concatenate([steps * 0, steps])
    longitude, latitude = sinusoidal_degrees(east, north, centre=(-33.0, 46.0))
    time = np.datetime64("2031-06-14T09:00", "ns") + (
        np.concatenate([steps / 4 + 20, steps / 4 + 20 + hours * 3600]) * 1e9
    ).astype("timedelta64[ns]")
    return sounding_table(
        time=time,
        longitude=longitude,
        latitude=latitude,
        measured_m=np.concatenate([depth_1(steps), depth_2(steps)]),
        to_surface_m=np.zeros(80),
        depth_m=np.concatenate([depth_1(steps) - height[0], depth_2(steps) - height[1]]),
        height_m=np.repeat(height, 40),
        sigma_m=np.full(80, 0.1),
        line=np.repeat([0, 1], 40),
        **columns,
    )


def test_depths_are_interpolated_at_the_crossing():
    """By hand: 10 + 0.1 x against 9 + 0.2 y, both linear, at x = y = 0: 10 against 9."""
    table = crossovers(crossed(lambda x: 10 + 0.1 * x, lambda y: 9 + 0.2 * y))
    assert list(table.columns) == list(CROSSOVERS.names)
    row = table.iloc[0]
    assert len(table) == 1
    assert (row["depth_1_m"], row["depth_2_m"]) == pytest.approx((10.0, 9.0), abs=1e-4)
    assert row["difference_m"] == pytest.approx(1.0, abs=1e-4)
    assert row["angle_deg"] == pytest.approx(90.0, abs=0.01)
    assert (row["longitude"], row["latitude"]) == pytest.approx((-33.0, 46.0), abs=1e-7)
    assert (row["time_2"] - row["time_1"]) == pd.Timedelta(hours=5)
    assert row["sigma_m"] == pytest.approx(0.1, rel=1e-3)  # half of each of two, twice


def test_flagged_soundings_have_no_say_and_gaps_have_no_depth():
    flag = np.full(80, "", object)
    flag[[19, 20]] = "spike"
    table = crossed(lambda x: 10 + 0.1 * x, lambda y: 9 + 0 * y, flag=pd.Categorical(flag))
    assert crossovers(table)["depth_1_m"].iloc[0] == pytest.approx(10.0, abs=1e-4)
    flag[5:35] = "lost bottom"
    table["flag"] = pd.Categorical(flag)
    assert len(crossovers(table)) == 0
    assert len(crossovers(empty_soundings())) == 0


def test_statistics_by_hand():
    """Differences 0.1, -0.1, 0.3, -1.0 at 20 m: 1a allows the root of 2 x 0.5636 = 0.797."""
    table = pd.DataFrame({"difference_m": [0.1, -0.1, 0.3, -1.0]})
    table["depth_1_m"] = table["depth_2_m"] = 20.0
    found = crossover_statistics(table)
    assert found.count == 4
    assert found.rms_m == pytest.approx(np.sqrt((0.01 + 0.01 + 0.09 + 1.0) / 4))
    assert found.median_m == pytest.approx(0.0)
    assert found.inside["1a"] == 0.75
    assert np.isnan(crossover_statistics(table.iloc[:0]).rms_m)


def test_a_wrong_tide_shows_and_a_right_one_does_not(truth):
    many = {"truth": truth, "visits": 6, "hours_between": 26.7, "lag_s": 0.0}
    right = tide_of_crossovers(crossovers(survey(tide_error_m=0.0, **many).table()))
    assert not right.wrong
    assert right.words() == ""
    sailed = survey(tide_error_m=0.0, **many)
    table = sailed.table()
    untaken = table.assign(depth_m=table["depth_m"] + table["height_m"])
    fit = tide_of_crossovers(crossovers(untaken))
    assert fit.wrong
    assert fit.scale == pytest.approx(1.0, abs=0.1)
    doubled = table.assign(
        depth_m=table["depth_m"] - table["height_m"], height_m=2 * table["height_m"]
    )
    fit = tide_of_crossovers(crossovers(doubled))
    assert fit.wrong
    assert fit.scale == pytest.approx(-0.5, abs=0.05)  # half of what was taken off


def test_a_constant_shows_against_a_chart_and_not_at_crossings(truth):
    """Transducer 0.4 m too deep, tide wrong by 0.2 m: found to 0.05 m against a true grid."""
    for kind in ("wave", "constant"):
        sailed = survey(truth=truth, lag_s=0.0, tide_error=kind, tide_error_m=0.2)
        table = sailed.table()
        wrong = table.assign(depth_m=table["depth_m"] + 0.4)
        np.testing.assert_allclose(
            crossovers(table)["difference_m"], crossovers(wrong)["difference_m"], atol=1e-5
        )
        charted = sample(truth, table["longitude"].to_numpy(), table["latitude"].to_numpy())
        fit = fit_to_chart(wrong, charted)
        # a constant of the tide looks as the transducer does
        assert fit.offset_m == pytest.approx(0.4 - 0.2 * (kind == "constant"), abs=0.05)
    assert fit_to_chart(wrong, charted * np.nan).pieces == 0
    first = (wrong["time"] - wrong["time"].min()).dt.total_seconds().to_numpy() < 3 * 3600
    alone = fit_to_chart(wrong[first], charted[first])
    assert (alone.scale, alone.late_s) == (0.0, 0.0)  # one outing parts nothing
