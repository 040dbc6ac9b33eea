"""Battery: against exact power laws."""

from __future__ import annotations

import numpy as np
import pytest

from layers.water.boat.energy import charge_of, motor_curve
from seabed.errors import WaterError


@pytest.mark.parametrize("power", [2.0, 2.7, 3.0, 3.6])
def test_two_readings_of_a_power_law_give_it_back(power):
    curve = motor_curve([(1.0, 30.0), (0.5, 30.0 * 0.5**power)])
    assert curve.power == pytest.approx(power)
    speeds = np.array([0.3, 0.8, 1.1])
    assert curve.amps(speeds) == pytest.approx(30.0 * speeds**power)


def test_one_reading_takes_the_cube_and_far_beyond_it_nothing():
    curve = motor_curve([(1.0, 40.0)])
    assert float(curve.amps(0.5)) == pytest.approx(5.0)
    assert np.isnan(curve.amps(1.3))
    assert np.isnan(charge_of(curve, [0.5, 1.3], [3600, 60]).mean_ah)


def test_a_day_adds_up_and_its_interval_grows_with_the_power():
    """5 A for 2 h and 40 A for 0.5 h are 30 Ah; a cube of a push known to 15 % is known to 45 %."""
    charge = charge_of(motor_curve([(1.0, 40.0)]), [0.5, 1.0], [7200, 1800])
    assert charge.mean_ah == pytest.approx(30.0)
    sd = np.log(charge.high_ah / charge.mean_ah) / 1.2816
    assert sd == pytest.approx(np.hypot(0.1, 0.45))
    assert charge.low_ah * charge.high_ah == pytest.approx(30.0**2)
    assert charge_of(motor_curve([(1.0, 40.0)]), [], []).mean_ah == 0.0


def test_readings_that_contradict_are_refused():
    with pytest.raises(WaterError, match="contradict"):
        motor_curve([(1.0, 10.0), (0.5, 20.0)])
