"""Lengths and areas over the ground of features in a grid's CRS."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.geodesy import ellipsoid_of, unit_m
from seabed.grid import crs_of


def segment_lengths_m(points: NDArray[Any], grid: xr.DataArray) -> Floats:
    """Distance from each point to the next: geodesic, or in the plane of a projected CRS."""
    crs = crs_of(grid)
    if crs.is_geographic:
        away = ellipsoid_of(crs).inv(points[:-1, 0], points[:-1, 1], points[1:, 0], points[1:, 1])
        return np.asarray(away[2], float)
    step = np.diff(points, axis=0)
    return np.hypot(step[:, 0], step[:, 1]) * unit_m(crs)


def lengths_m(lines: NDArray[Any], grid: xr.DataArray) -> Floats:
    """Length of each line; 0 for none."""
    crs = crs_of(grid)
    if not crs.is_geographic:
        return np.asarray(shapely.length(lines), float) * unit_m(crs)
    points, owner = shapely.get_coordinates(lines, return_index=True)
    if not len(points):
        return np.zeros(len(lines))
    step = segment_lengths_m(points, grid)
    same = owner[1:] == owner[:-1]
    total = np.bincount(owner[:-1][same], weights=step[same], minlength=len(lines))
    return np.asarray(total, float)


def areas_m2(polygons: NDArray[Any], grid: xr.DataArray) -> Floats:
    """Area of each polygon, holes out: on the ellipsoid, or in the plane of a projected CRS."""
    crs = crs_of(grid)
    if not crs.is_geographic:
        return np.asarray(shapely.area(polygons), float) * unit_m(crs) ** 2
    ellipsoid = ellipsoid_of(crs)
    wound = shapely.orient_polygons(polygons)
    return np.array([abs(ellipsoid.geometry_area_perimeter(one)[0]) for one in wound], float)
