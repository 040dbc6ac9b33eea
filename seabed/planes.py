"""Planes to measure on: a coordinate reference system in metres for a grid or a table."""

from __future__ import annotations

from typing import Any

import xarray as xr
from pyproj import CRS, Transformer

from seabed.grid import bounds, crs_of

__all__ = ["in_metres", "metric_crs", "utm_of", "utm_zone"]


def metric_crs(grid: xr.DataArray) -> CRS:
    """Give a CRS in metres fit for measuring over this grid.

    The grid's own if it is projected in metres; else the UTM zone of its middle (WGS 84).
    """
    crs = crs_of(grid)
    if in_metres(crs):
        return crs
    longitude, latitude = Transformer.from_crs(crs, "EPSG:4326", always_xy=True).transform(
        *bounds(grid).middle
    )
    return utm_zone(longitude, latitude)


def utm_zone(longitude: float, latitude: float) -> CRS:
    """Give the UTM zone (WGS 84) of a place in degrees."""
    zone = int(((longitude + 180) % 360) // 6) + 1
    return CRS.from_epsg((32600 if latitude >= 0 else 32700) + zone)


def utm_of(table: Any) -> CRS:
    """Give the UTM zone (WGS 84) of the middle of a table's geometry.

    A look at the bounds, where geopandas looks through the whole register of EPSG, for a tenth of a
    second.

    Raises
    ------
    ValueError
        Where no geometry has coordinates.
    """
    west, south, east, north = table.total_bounds
    middle = (west + east) / 2, (south + north) / 2
    if table.crs != "EPSG:4326":
        middle = Transformer.from_crs(table.crs, "EPSG:4326", always_xy=True).transform(*middle)
    return utm_zone(*middle)


def in_metres(crs: CRS) -> bool:
    """Say whether a CRS is projected, and counts in metres."""
    return bool(crs.is_projected and crs.axis_info[0].unit_conversion_factor == 1.0)
