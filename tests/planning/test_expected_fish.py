"""Expected fish as the worth of a drift, against the response asked point by point."""

import numpy as np
import pandas as pd
import pytest
from affine import Affine

from benchmarks.worlds.responses import open_season
from layers.planning import DayWater
from layers.planning.ground.expected_fish import ExpectedFish, tells_ground
from layers.scoring.response import fit_response
from layers.water import FixedCurrent, HighLowTable, Leeway
from layers.water.times import as_utc
from seabed.grid import make_grid

STILL = Leeway(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
FLOOD = np.datetime64("2031-06-14T05:00", "ns")
EBB = np.datetime64("2031-06-14T11:00", "ns")
TIDE = HighLowTable(
    as_utc(pd.to_datetime([f"2031-06-14T{hour:02d}:00" for hour in (2, 8, 14)])),
    np.array([0.0, 2.0, 0.0]), np.array([False, True, False]),
)  # fmt: skip


@pytest.fixture(scope="module")
def response():
    # true rates: best between 6 and 8.5 m of water, flood two and a half times ebb
    found = fit_response(open_season(np.random.default_rng(3), trips=40))
    assert {"depth_m", "state"} <= set(found.factors)
    return found


def test_worth_is_the_response_at_the_tide_of_the_hour(response):
    depth = np.tile(np.linspace(2.0, 9.0, 60, dtype=np.float32), (4, 1))
    depth[0] = np.nan
    grid = make_grid(
        depth, transform=Affine(10.0, 0, 500_000.0, 0, -10.0, 5_116_000.0), crs="EPSG:32625"
    )
    worth = ExpectedFish(
        response, grid, None, DayWater(FixedCurrent(0.4, 90.0), STILL), TIDE, (-33.0, 46.19)
    )
    # both are three hours from low water: one metre of tide
    table = pd.DataFrame({"depth_m": depth[1] + 1.0, "state": "flood"})
    if "sog_mps" in response.factors:
        table["sog_mps"] = 0.4
    told = response.rate(table)["rate"].to_numpy()
    assert worth(FLOOD).values[1] == pytest.approx(np.nan_to_num(told), rel=1e-5)
    assert (worth(FLOOD).values[0] == 0).all()  # land
    both = (worth(FLOOD).values > 0) & (worth(EBB).values > 0)
    assert both.any()
    assert (worth(FLOOD).values[both] > worth(EBB).values[both]).all()


def test_a_response_that_knows_no_ground_lays_no_lines(response):
    assert tells_ground(response)
    assert not tells_ground(None)
