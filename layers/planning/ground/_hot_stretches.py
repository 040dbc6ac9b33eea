"""Stretches that paid before, made worth more where the water runs over them the same way."""

from __future__ import annotations

from typing import Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from rasterio.features import rasterize

from layers.water import Currents
from layers.water.motion import set_and_drift
from seabed.geodesy import bearing_deg, utm_of
from seabed.grid import crs_of, transform_of
from seabed.grid.extent import metric_crs
from seabed.units import Say, half_turned, in_metres

SAME_WAY_DEG: Final = 45.0
"""A stretch is drifted as before while the water runs within this of its course.  Our choice, no
source."""

MOST_TIMES: Final = 3.0
"""No stretch counts for more than this many times the ground about it.  Our choice, no source."""


def hot_stretches_at(
    stretches: gpd.GeoDataFrame, currents: Currents, time: np.datetime64
) -> gpd.GeoDataFrame:
    """Keep the hot stretches over which the water runs at a UTC time as their lines do."""
    hot = stretches[stretches["hot"].astype(bool)]
    if not len(hot):
        return hot
    west, south = hot["start_longitude"].to_numpy(float), hot["start_latitude"].to_numpy(float)
    east, north = hot["end_longitude"].to_numpy(float), hot["end_latitude"].to_numpy(float)
    course = bearing_deg(west, south, east, north)
    moments = np.full(len(hot), time)
    toward, _ = set_and_drift(*currents.velocity(moments, (west + east) / 2, (south + north) / 2))
    apart = np.abs(half_turned(toward - course))
    return hot[apart <= SAME_WAY_DEG]


def worth_over_hot(worth: xr.DataArray, hot: gpd.GeoDataFrame, corridor_m: float) -> xr.DataArray:
    """Multiply worth over hot stretches by how much more they paid than the rest of their lines.

    That is ``rate_here``, which is already drawn toward the line's rate, over ``rate_line``; at
    most `MOST_TIMES`.  corridor_m: to either side of the stretch.
    """
    if not len(hot):
        return worth
    around = hot.geometry.to_crs(metric_crs(worth)).buffer(corridor_m).to_crs(crs_of(worth))
    more = np.clip(hot["rate_here"] / hot["rate_line"], 1.0, MOST_TIMES).to_numpy(float)
    shapes = [(around.iloc[i], more[i]) for i in np.argsort(more, kind="stable")]
    factor = rasterize(
        shapes, out_shape=worth.shape, transform=transform_of(worth), fill=1.0, dtype="float32"
    )
    return worth.copy(data=worth.values * factor)


def shortened_to(
    line: shapely.LineString, hot: gpd.GeoDataFrame, corridor_m: float, *, say: Say = in_metres
) -> str:
    """Give the advice for a line that is mostly one hot stretch: ``""`` where it is not.

    hot: ``start_m`` and ``end_m`` are places along the line of the logbook.
    """
    if not len(hot):
        return ""
    crs = utm_of(hot)
    flat = gpd.GeoSeries([line], crs="EPSG:4326").to_crs(crs).iloc[0]
    inside = hot.geometry.to_crs(crs).buffer(corridor_m).intersection(flat).length
    share = inside.to_numpy() / max(flat.length, 1.0)
    if not share.max() > 0.5:
        return ""
    most = hot.iloc[int(share.argmax())]
    return (
        f"Hot stretch of {most['line']}: drift it shorter, "
        f"from {say(most['start_m'])} to {say(most['end_m'])} along it. "
    )
