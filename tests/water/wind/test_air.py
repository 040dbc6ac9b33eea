"""Wind by height and water by pressure, against published figures."""

from __future__ import annotations

import numpy as np
import pytest

from layers.water import HighLowTable
from layers.water.heights.derived import PressedHeights
from layers.water.heights.stage import turns
from layers.water.wind.log_law import at_10_m, roughness, wind_at

DAY = np.datetime64("2031-06-14T00:00", "ns")


@pytest.mark.parametrize("wind", [8.0, 12.0, 16.0, 20.0])
def test_drag_of_the_law_is_that_of_another_fit(wind):
    """(0.4 / ln(10/z0))^2 against 0.61e-3 + 0.063e-3 U of Smith (1980), measured at sea from 6 to
    22 m/s; from memory.  Within a tenth, the scatter of such measurements.
    """
    drag = (0.4 / np.log(10.0 / float(roughness(wind)))) ** 2
    assert drag == pytest.approx((0.61 + 0.063 * wind) * 1e-3, rel=0.1)


def test_a_smooth_sea_has_the_roughness_of_a_smooth_wall():
    """In light air 0.11 nu / u* alone is left (Nikuradse 1933), to 3 %."""
    length = float(roughness(1.0))
    friction = 0.4 / np.log(10.0 / length)
    assert length == pytest.approx(0.11 * 1.5e-5 / friction, rel=0.03)


def test_two_heights_are_each_others_inverse_and_bounds_are_kept():
    winds = np.array([0.5, 3.0, 8.0, 20.0])
    assert at_10_m(2.0, wind_at(2.0, winds)) == pytest.approx(winds, rel=1e-6)
    assert wind_at(10.0, winds) == pytest.approx(winds)
    assert (wind_at(2.0, winds) / winds).round(2).max() < 0.9
    assert np.isnan(wind_at(2.0, [-1.0, 26.0])).all()
    assert np.isnan(wind_at(0.1, 8.0)).all()


def test_pressure_moves_heights_and_turns_alike():
    """1 hPa is 100 / (1025 x 9.81) m of water, 0.99 cm; the usual 1013.25 moves nothing."""
    times = DAY + np.array([0, 6, 12]) * np.timedelta64(3600 * 10**9, "ns")
    tide = HighLowTable(times, np.array([0.2, 2.0, 0.3]), np.array([False, True, False]))
    assert PressedHeights(tide, 1013.25).shift_m == 0.0
    low = PressedHeights(tide, 983.25)
    assert low.shift_m == pytest.approx(30 * 100 / (1025 * 9.81), rel=1e-3)
    at = times[:1] + np.timedelta64(3600 * 10**9, "ns")
    assert low.height_m(at) - tide.height_m(at) == pytest.approx([low.shift_m])
    own, moved = (turns(heights, times[0], times[-1]) for heights in (tide, low))
    assert (moved["height_m"] - own["height_m"]).to_numpy() == pytest.approx(low.shift_m)
    assert (moved["time"] == own["time"]).all()
