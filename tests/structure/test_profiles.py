"""Profiles across features against the analytic surfaces they are cut from."""

import numpy as np
import pytest
from affine import Affine
from pyproj import Geod

from seabed.grid import make_grid
from seabed.structure import edges, holes, humps
from seabed.structure.profiles import across_edges, across_features

CELL, X, Y = 4.0, 5e5, 6e6
MIDDLE = (X + 480.0, Y - 400.0)
SCALE = 0.9996
"""Of UTM on its central meridian: metres on the grid a metre over the ground."""


def ground():
    rows, columns = np.mgrid[:200, :240]
    return X + (columns + 0.5) * CELL, Y - (rows + 0.5) * CELL


def in_utm(depth):
    return make_grid(depth, transform=Affine(CELL, 0, X, 0, -CELL, Y), crs=32631)


def scarp(faces, along=0.0):
    x, y = ground()
    angle = np.radians(faces)
    way = (x - MIDDLE[0]) * np.sin(angle) + (y - MIDDLE[1]) * np.cos(angle)
    run = (x - MIDDLE[0]) * np.cos(angle) - (y - MIDDLE[1]) * np.sin(angle)
    return 7.5 + 1.5 * np.tanh(way / 16) + along * run


@pytest.mark.parametrize("faces", [0, 33, 90, 160, 245, 310])
def test_profile_is_the_scarp_from_shallow_to_deep(faces):
    grid = in_utm(scarp(faces))
    found = edges(grid)
    profile = across_edges(grid, found)
    offset = profile["offset_m"].to_numpy()
    truth = 7.5 + 1.5 * np.tanh(offset * SCALE / 16)
    # bilinear between cells: at most cell² / 8 times the greatest second derivative, on two axes
    bend = 1.5 / 16**2 * 4 / (3 * np.sqrt(3))
    tolerance = 2 * CELL**2 / 8 * bend + 0.02  # and the line is off by under a fifth of a metre
    assert np.abs(profile["depth_m"] - truth).max() < tolerance
    assert np.abs(profile["mean_m"] - truth).max() < tolerance
    assert profile["spread_m"].max() < 0.02
    assert (offset[0], offset[-1]) == (-30.0, 30.0) or offset[-1] == found["width_m"].item()
    assert np.diff(offset) == pytest.approx(np.diff(offset)[0])
    assert np.diff(offset)[0] <= CELL


def test_mean_and_spread_tell_of_the_bottom_along_the_edge():
    """A bottom that falls a metre in 100 m along the edge.

    Over 20 even stations from -100 to 100 m, and the middle twice, that spreads by 0.59 m.
    """
    grid = in_utm(scarp(90, along=0.01))
    profile = across_edges(grid, edges(grid), reach_m=60)
    middle = profile[profile["offset_m"] == 0].iloc[0]
    assert middle["mean_m"] == pytest.approx(middle["depth_m"], abs=0.01)
    stations = np.append(0.0, np.linspace(-1, 1, 20))
    assert middle["spread_m"] == pytest.approx(stations.std(), rel=0.02)


def test_profile_at_the_stretch_in_the_band():
    """It is where the edge says its middle is, not halfway along the line."""
    grid = in_utm(scarp(90, along=0.01))
    found = edges(grid, band=(4, 5))
    assert abs(found["middle_y"].item() - MIDDLE[1]) > 100
    profile = across_edges(grid, found)
    at = profile.loc[profile["offset_m"] == 0, "depth_m"].item()
    run = -(found["middle_y"].item() - MIDDLE[1])
    assert at == pytest.approx(7.5 + 0.01 * run, abs=0.05)


@pytest.mark.parametrize(("sign", "find"), [(1, humps), (-1, holes)])
def test_profile_of_a_hump_runs_across_its_short_side(sign, find):
    """A ridge-like lump, 3 m high, twice as long as wide, along 30 degrees."""
    x, y = ground()
    angle = np.radians(30)
    along = (x - MIDDLE[0]) * np.sin(angle) + (y - MIDDLE[1]) * np.cos(angle)
    beside = (x - MIDDLE[0]) * np.cos(angle) - (y - MIDDLE[1]) * np.sin(angle)
    depth = 9 - sign * 3 * np.exp(-((along / 120) ** 2) - (beside / 60) ** 2)
    grid = in_utm(depth)
    found = find(grid)
    profile = across_features(grid, found, reach_m=100)
    truth = 9 - sign * 3 * np.exp(-((profile["offset_m"] * SCALE / 60) ** 2))
    # the crest's cell is up to half a cell off the peak each way
    assert np.abs(profile["depth_m"] - truth).max() < 3 / 60 * CELL * 0.86
    assert set(profile["kind"]) == set(found["kind"])
    assert profile["mean_m"].to_numpy() == pytest.approx(profile["depth_m"].to_numpy())


def test_profile_in_degrees_is_in_metres():
    """At 65 north a degree of longitude is less than half as long as one of latitude."""
    step, latitude = 5e-5, 65.0
    geod = Geod(ellps="WGS84")
    width = geod.inv(0, latitude, step, latitude)[2]
    _, columns = np.mgrid[:200, :400]
    grid = make_grid(
        7.5 + 1.5 * np.tanh((columns - 199.5) * width / 10),
        transform=Affine(step, 0, -20, 0, -step, latitude + 100 * step),
        crs=4326,
    )
    profile = across_edges(grid, edges(grid))
    truth = 7.5 + 1.5 * np.tanh(profile["offset_m"] / 10)
    assert np.abs(profile["depth_m"] - truth).max() < 0.06


def test_voids_stay_unknown():
    depth = scarp(90)
    x, _ = ground()
    depth[x > MIDDLE[0] + 40] = np.nan
    grid = in_utm(depth)
    found = edges(in_utm(scarp(90)))
    profile = across_edges(grid, found, reach_m=80)
    far = profile["offset_m"] > 45
    assert profile.loc[far, ["depth_m", "mean_m"]].isna().all().all()
    assert profile.loc[profile["offset_m"] < 35, ["depth_m", "mean_m"]].notna().all().all()


def test_no_edges_no_profiles():
    grid = in_utm(np.full((200, 240), 5.0))
    for table in (across_edges(grid, edges(grid)), across_features(grid, humps(grid))):
        assert table.empty
        assert {"feature_id", "offset_m", "depth_m", "mean_m", "spread_m"} <= set(table.columns)
