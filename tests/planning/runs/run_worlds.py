"""Bottoms, tides and hazards for runs, and looks at runs by other tools than the planner's."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from affine import Affine
from pyproj import Transformer
from scipy.ndimage import map_coordinates

from layers.planning.drift.safe_water import SafeWater
from layers.planning.runs._runs import Runs
from layers.water import HighLowTable
from layers.water.times import as_utc
from seabed.grid import make_grid

START = np.datetime64("2031-06-14T08:00", "ns")
WEST, NORTH = 500_000.0, 5_116_000.0  # UTM zone 25N, open ocean
TO_DEGREES = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
PLANE = 1.0004  # metres over the ground in one of the plane's, in the middle of a zone
MPS = 10.0
RISE_S = 6 * 3600.0


def grid_of(depth, cell=10.0):
    return make_grid(
        np.asarray(depth, np.float32), transform=Affine(cell, 0, WEST, 0, -cell, NORTH),
        crs="EPSG:32625",
    )  # fmt: skip


def place(x, y):
    """Degrees of a place in metres right of and below the corner."""
    return TO_DEGREES.transform(WEST + x, NORTH - y)


def metres(longitude, latitude):
    """Metres right of and below the corner, shape (n, 2)."""
    x, y = TO_DEGREES.transform(longitude, latitude, direction="INVERSE")
    return np.column_stack([np.asarray(x) - WEST, NORTH - np.asarray(y)])


def runs_over(depth, *more, cell=10.0, **options):
    return Runs.of(SafeWater.of(grid_of(depth, cell), *more, **options), running_mps=MPS)


def tide(first_m, rise_m):
    """From one turn of the tide to the next in six hours, from START on."""
    times = as_utc(pd.to_datetime(["2031-06-14T08:00", "2031-06-14T14:00"]))
    return HighLowTable(
        times, np.array([first_m, first_m + rise_m]), np.array([rise_m < 0, rise_m > 0])
    )


def height(first_m, rise_m, times):
    """The same by the printed rule of such tables."""
    share = (times - START) / np.timedelta64(1, "s") / RISE_S
    return first_m + rise_m * (1 - np.cos(np.pi * share)) / 2


def looked_at(run, every_m=0.5):
    """Places along a run as drawn, in metres, and when the boat is there."""
    corners = metres(run.longitude, run.latitude)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    looks = np.union1d(along, np.arange(0, along[-1], every_m))
    seconds = (run.times - START) / np.timedelta64(1, "s")
    places = np.column_stack([np.interp(looks, along, part) for part in corners.T])
    at = np.interp(looks, along, seconds)
    return places, START + (at * 1e9).astype("timedelta64[ns]")


def charted(depth, places, cell=10.0):
    """Bilinear depth at places in metres; far above the water beside land and off the grid."""
    at = places.T[::-1] / cell
    inside = ((at >= 0) & (at <= np.array(depth.shape)[:, None])).all(axis=0)
    values = map_coordinates(
        np.where(np.isnan(depth), -1e6, depth), at - 0.5, order=1, mode="nearest"
    )
    return np.where(inside, values, -1e6)


def check_times(run):
    steps = np.diff(run.times) / np.timedelta64(1, "s")
    assert (steps <= 30.0).all()
    assert steps == pytest.approx(steps[0], abs=1e-6)
    longest = np.diff(metres(run.longitude, run.latitude), axis=0)
    assert (np.hypot(*longest.T) * PLANE <= MPS * steps * 1.0005).all()


def hazards_of(*rows):
    """Hazards as charts give them: (kind, depth_m, shape in metres from the corner)."""
    return gpd.GeoDataFrame(
        {
            "kind": [kind for kind, _, _ in rows], "depth_m": [depth for _, depth, _ in rows],
            "water_level": "", "restriction": "", "name": "", "description": "", "file": "",
            "chart_class": "",
        },
        geometry=gpd.GeoSeries(
            [shapely.transform(shape, lambda at: at * [1, -1] + [WEST, NORTH])
             for _, _, shape in rows],
            crs="EPSG:32625",
        ).to_crs("EPSG:4326"),
    )  # fmt: skip


def random_bottom(random, rows=62, columns=78):
    """Blocks of all depths; islands; walls with gaps; voids."""
    size = int(random.integers(3, 9))
    blocks = random.uniform(-1.0, 9.0, (-(-rows // size), -(-columns // size)))
    blocks[random.uniform(size=blocks.shape) < random.uniform(0, 0.25)] = np.nan
    depth = np.kron(blocks, np.ones((size, size)))[:rows, :columns]
    if random.uniform() < 0.5:  # a deep basin, so that more is connected
        depth = np.where(np.isnan(depth), depth, depth + 2.5)
    for _ in range(int(random.integers(0, 3))):
        across = int(random.integers(5, columns - 5))
        depth[:, across] = random.choice([np.nan, 0.3, -2.0])
        gap = int(random.integers(0, rows - 8))
        depth[gap : gap + int(random.integers(3, 8)), across] = 6.0
    return depth
