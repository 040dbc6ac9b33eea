"""The place of the sound: its grid, its zone of the map, its ramp."""

from __future__ import annotations

import numpy as np
from rasterio.warp import transform as warp

CELL = 4.0
ROWS, COLUMNS = 1200, 1500
WEST, NORTH = 466_000.0, 5_118_400.0
CRS = "EPSG:32625"
WIDTH, HEIGHT = COLUMNS * CELL, ROWS * CELL
RAMP = (840.0, 2350.0)


def degrees(places):
    """Longitudes and latitudes of places in metres from the south-west corner."""
    places = np.asarray(places)
    lon, lat = warp(CRS, "EPSG:4326", WEST + places[:, 0], NORTH - HEIGHT + places[:, 1])
    return np.array(lon), np.array(lat)


def lonlat(at):
    lon, lat = degrees([at])
    return [round(float(lon[0]), 6), round(float(lat[0]), 6)]
