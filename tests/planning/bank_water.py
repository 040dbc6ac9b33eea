"""A bank in deep water, where drifts of a morning are known by hand."""

import numpy as np
from affine import Affine
from pyproj import Transformer

from layers.planning import DayWater, DriftLimits, SafeWater, Setting
from layers.water import Leeway
from seabed.grid import make_grid

START = np.datetime64("2031-06-14T08:00", "ns")
END = START + np.timedelta64(90, "m")
BAND = (5.0, 8.0)
TO_DEGREES = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
LEEWAY = Leeway(0.03, 0.0, 0.0, 0.0, 0.0, 0.0)
LIMITS = DriftLimits(shortest_s=240.0, longest_s=600.0, set_up_s=60.0, running_mps=10.0)


def bank(shape=(200, 200)):
    """Deep water with one bank in the band, 200 m by 600 m, long axis east-west, 10 m cells."""
    depth = np.full(shape, 20.0, np.float32)
    depth[90:110, 70:130] = 6.5
    return make_grid(
        depth, transform=Affine(10.0, 0, 500_000.0, 0, -10.0, 5_116_000.0), crs="EPSG:32625"
    )


def setting_of(currents, *, wind=None, held=None):
    water = DayWater(currents, LEEWAY, wind, held_mps=held, motor_limit_mps=0.5)
    return Setting(SafeWater.of(bank()), water, BAND, LIMITS)
