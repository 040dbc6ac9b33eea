"""Hot stretches shorten drifts, and ground that paid counts, while the water runs their way."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from bank_water import BAND, END, START, TO_DEGREES, bank, setting_of
from pyproj import Geod, Transformer
from scipy.stats import gamma
from shapely.geometry import LineString

from layers.planning import plan_day, structure_worth
from layers.planning.ground._hot_stretches import hot_stretches_at, shortened_to, worth_over_hot
from layers.planning.ground.fished import FishedGround
from layers.water import FixedCurrent

GEOD = Geod(ellps="WGS84")


def stretch(*, hot=True, rate_here=6.0, rate_line=2.0):
    east, north = TO_DEGREES.transform([500_950.0, 501_050.0], [5_115_000.0, 5_115_000.0])
    line = LineString(zip(east, north, strict=True))  # over the middle of the bank, eastward
    return gpd.GeoDataFrame(
        {
            "line": ["E1"], "hot": [hot], "rate_here": [rate_here], "rate_line": [rate_line],
            "start_m": [40.0], "end_m": [140.0],
            "start_longitude": [line.coords[0][0]], "start_latitude": [line.coords[0][1]],
            "end_longitude": [line.coords[1][0]], "end_latitude": [line.coords[1][1]],
        },
        geometry=[line], crs="EPSG:4326",
    )  # fmt: skip


def test_a_hot_stretch_counts_only_while_the_water_runs_its_way():
    east, west = FixedCurrent(0.4, 90.0), FixedCurrent(0.4, 270.0)
    assert len(hot_stretches_at(stretch(), east, START)) == 1
    assert len(hot_stretches_at(stretch(), west, START)) == 0
    assert len(hot_stretches_at(stretch(hot=False), east, START)) == 0
    worth = structure_worth(bank(), BAND, [])
    more = worth_over_hot(worth, hot_stretches_at(stretch(rate_here=4.0), east, START), 20.0)
    factor = more.values[worth.values > 0] / worth.values[worth.values > 0]
    assert set(np.unique(factor.round(5))) == {1.0, 2.0}
    most = worth_over_hot(worth, hot_stretches_at(stretch(rate_here=50.0), east, START), 20.0)
    assert most.values.max() == pytest.approx(3 * worth.values.max())


def test_a_drift_is_shortened_to_a_hot_stretch():
    setting = setting_of(FixedCurrent(0.4, 90.0))
    worth = structure_worth(bank(), BAND, [])
    plain = plan_day(setting, worth, START, END).lines.iloc[0]
    short = plan_day(setting, worth, START, END, stretches=stretch()).lines.iloc[0]
    assert short["why"].startswith(
        "Hot stretch of E1: drift it shorter, from 40 m to 140 m along it. "
    )
    assert short["distance_m"] < plain["distance_m"]
    assert short["passes"] > plain["passes"]


@pytest.mark.parametrize(("metres", "shorter"), [(190.0, True), (230.0, False)])
def test_a_line_is_shortened_only_to_a_stretch_of_more_than_half_of_it(metres, shorter):
    """The stretch and its corridor hold 110 m of the line."""
    hot = hot_stretches_at(stretch(), FixedCurrent(0.4, 90.0), START)
    (west, south), (east, north) = hot.geometry.iloc[0].coords
    inside = GEOD.inv(west, south, east, north)[2] + 10.0
    course = GEOD.inv(west, south, east, north)[0]
    end = GEOD.fwd(west, south, course, metres / 110.0 * inside)[:2]
    line = LineString([(west, south), end])
    assert bool(shortened_to(line, hot, 10.0)) == shorter
    tenth = LineString([(west, south), hot.geometry.iloc[0].interpolate(0.1, normalized=True)])
    brief = hot.assign(line="E9", geometry=[tenth])
    both = pd.concat([brief, hot], ignore_index=True)
    assert shortened_to(line, both, 10.0) == shortened_to(line, hot, 10.0)


def fished(currents, *, rod_hours=4.0):
    """One line whose eight fish came in its first half, in samples of a hundredth of the effort."""
    line = stretch()[["line", "geometry"]]
    (west, south), (east, north) = line.geometry.iloc[0].coords
    along = np.linspace(0.0, 1.0, 100)
    samples = pd.DataFrame(
        {
            "line": "E1", "longitude": west + along * (east - west),
            "latitude": south + along * (north - south), "rod_hours": rod_hours / 100,
            "fish": np.isin(np.arange(100), np.arange(2, 50, 6)).astype(int),
        }
    )  # fmt: skip
    lines = line.assign(rod_hours=rod_hours, fish=8, rate_all=2.0, course_deg=90.0)
    worth = structure_worth(bank(), BAND, [])
    return FishedGround(worth, lines, samples, currents, 20.0)(START), samples


def test_ground_that_paid_counts_for_its_lower_limit_while_the_water_runs_its_way():
    running, samples = fished(FixedCurrent(0.4, 80.0))
    turned, _ = fished(FixedCurrent(0.4, 260.0))
    # two fish a rod-hour over all, and a quarter of that times the score on ground not fished
    assert np.unique(turned.values) == pytest.approx([0.0, 0.25 * 2.0 * 0.2])
    # the gamma's tenth centile at a cell in the rich half, weights summed one sample at a time
    x, y = (running[name].values for name in ("x", "y"))
    east, north = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True).transform(
        samples["longitude"], samples["latitude"]
    )
    row = int(np.argmin(np.abs(y - north[25])))
    column = int(np.argmin(np.abs(x - east[25])))
    weight = np.exp(-0.5 * ((east - x[column]) ** 2 + (north - y[row]) ** 2) / 20.0**2)
    fish, hours = ((weight * samples[name]).sum() for name in ("fish", "rod_hours"))
    expected = gamma(2.0 + fish, scale=1 / (2.0 / 2.0 + hours)).ppf(0.1)
    # places are put into cells of 10 m first
    assert running.values[row, column] == pytest.approx(expected, rel=0.1)
    poor = int(np.argmin(np.abs(x - east[80])))
    assert running.values[row, poor] < 0.6 * running.values[row, column]


def test_a_line_of_less_than_a_quarter_of_a_rod_hour_does_not_count():
    ground, _ = fished(FixedCurrent(0.4, 80.0), rod_hours=0.2)
    assert ground.values.max() == pytest.approx(0.25 * 8 / 0.2 * 0.2)
    ground, _ = fished(FixedCurrent(0.4, 80.0), rod_hours=0.3)
    assert ground.values.max() > 2 * (0.25 * 8 / 0.3 * 0.2)
