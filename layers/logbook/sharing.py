"""A copy to show to others, that gives no spot away."""

from __future__ import annotations

from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point

from layers.logbook.store import Logbook
from seabed.errors import LogbookError
from seabed.geodesy import METRES_A_DEGREE

__all__ = ["coarsened", "shared_layers"]

LEAST_M: Final = 100.0
_DRIFTS: Final = ("drift_id", "trip", "duration_s", "sog_mps", "rods", "rod_hours")
_FISH: Final = ("trip", "species", "length_m", "kept", "drift_id")


def shared_layers(logbook: Logbook, coarse_m: float) -> dict[str, gpd.GeoDataFrame]:
    """Give drifts and fish for others to see.

    Parameters
    ----------
    logbook : Logbook
    coarse_m : float
        Positions are moved to the middles of squares of this size, in metres.

    Returns
    -------
    dict of GeoDataFrame, EPSG:4326
        ``drifts`` and ``catches``: points at the middles of the squares.  Left out is all that
        could tell more: the lines and tracks, courses, depths, the hour, names of files and notes.

    Raises
    ------
    LogbookError
        If `coarse_m` is less than 100 m, or the logbook can't be read.

    Examples
    --------
    >>> from layers import Logbook, clean, cut, drifts, entries_of, example_trip, tie
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> pieces = cut(fixes)
    >>> own = drifts(pieces, fixes)
    >>> book = Logbook("share.gpkg")
    >>> _ = book.add(entries_of(pieces, own, tie(catches, own, fixes), files=["trip.gpx"]))
    >>> sorted(shared_layers(book, 2000.0))
    ['catches', 'drifts']
    """
    if not coarse_m >= LEAST_M:
        raise LogbookError(
            f"{coarse_m:g} m would give the spots away", do=f"Give {LEAST_M:g} m or more."
        )
    drifts, fish = logbook.drifts(), logbook.catches()
    middles = shapely.line_interpolate_point(drifts.geometry.to_numpy(), 0.5, normalized=True)
    return {
        "drifts": _moved(drifts, shapely.get_x(middles), shapely.get_y(middles), _DRIFTS, coarse_m),
        "catches": _moved(
            fish, fish["longitude"].to_numpy(), fish["latitude"].to_numpy(), _FISH, coarse_m
        ),
    }


def coarsened(
    longitude: NDArray[np.float64], latitude: NDArray[np.float64], size_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Move positions to the middles of squares of `size_m`; NaN stays NaN.

    Rows of squares start at the equator, squares of a row at Greenwich; their sides are right to
    0.5 % (the length of a degree on the ellipsoid).

    Examples
    --------
    >>> import numpy as np
    >>> longitude, _ = coarsened(np.array([3.001, 3.002]), np.array([46.0, 46.0]), 2000.0)
    >>> bool(longitude[0] == longitude[1])
    True
    """
    step = size_m / METRES_A_DEGREE
    row = np.floor(latitude / step)
    middle = np.clip((row + 0.5) * step, -89.999, 89.999)
    wide = step / np.cos(np.radians(middle))
    column = np.floor(longitude / wide)
    return (column + 0.5) * wide, middle


def _moved(
    table: pd.DataFrame,
    longitude: NDArray[np.float64],
    latitude: NDArray[np.float64],
    columns: tuple[str, ...],
    size_m: float,
) -> gpd.GeoDataFrame:
    east, north = coarsened(longitude, latitude, size_m)
    points = [
        Point(round(x, 5), round(y, 5)) if np.isfinite(x) and np.isfinite(y) else None
        for x, y in zip(east, north, strict=True)
    ]
    kept = pd.DataFrame(table[[name for name in columns if name in table]])
    return gpd.GeoDataFrame(kept, geometry=gpd.GeoSeries(points, index=kept.index), crs="EPSG:4326")
