"""Drifts planned at a steady velocity, on a plane about their start."""

import numpy as np
from pyproj import Transformer

from layers.planning.drift._hand import Printed
from layers.water import Leeway

START = np.datetime64("2031-06-14T08:00", "ns")
PLACE = (-33.0, 46.19)
LASTS_S = 1200.0
MANY = 4096
"""Boats: plain draws would leave 1.1 % of doubt in a standard deviation, the fan's fewer."""

STILL_IN_WIND = Leeway(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
PLANE = Transformer.from_crs(
    "EPSG:4326", f"+proj=aeqd +lon_0={PLACE[0]} +lat_0={PLACE[1]} +ellps=WGS84", always_xy=True
)


def printed(east, north, *, push=(0.0, 0.0), push_end=None, lasts_s=LASTS_S):
    """Give a drift planned at a steady velocity over the ground, with a printed push."""
    seconds = np.arange(0.0, lasts_s + 1, 30.0)
    longitude, latitude = PLANE.transform(east * seconds, north * seconds, direction="INVERSE")
    ends = [np.array(push, float)[:, None], np.array(push_end or push, float)[:, None]]
    return Printed(np.array([START]), [np.array([seconds, longitude, latitude])], *ends)
