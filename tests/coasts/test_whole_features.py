"""A grid in chunks gives what the whole grid gives: none cut, none double."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely
from coast_bottoms import Held, coast

from seabed.coasts import Wanted, scout_coast
from seabed.structure import contours, depth_band, edges, holes, humps

pytestmark = pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS")

WANTED = Wanted(contours_m=(18.0, 10.0, 15.0, 22.0), band_m=(14.0, 19.0), hump_min_height_m=0.5)
CELL_M = 4.0
BOTTOMS = {
    "projected": (128, {}),
    "geographic": (97, {"geographic": True}),
    "rough": (210, {"seed": 5, "noise_m": 0.3}),
    # depths in whole steps: lines run through the very centres of cells
    "steps": (113, {"steps_m": 0.5}),
}
"""Chunk, and what the bottom is like."""


@pytest.fixture(scope="module", params=BOTTOMS)
def bottom(request):
    return request.param, coast(330, 400, **BOTTOMS[request.param][1])


@pytest.fixture(scope="module")
def found(bottom, tmp_path_factory):
    folder, chunk = tmp_path_factory.mktemp("coast"), BOTTOMS[bottom[0]][0]
    return chunk, scout_coast(Held(bottom[1]), WANTED, folder=folder, chunk=chunk, jobs=1)


def in_several(table, grid, chunk):
    """Which features reach over a border between chunks."""
    west, south, east, north = table.geometry.bounds.to_numpy().T
    x, y = grid["x"].values, grid["y"].values
    columns = (np.stack([west, east]) - x[0]) / (x[1] - x[0])
    rows = (np.stack([north, south]) - y[0]) / (y[1] - y[0])
    return (columns // chunk != columns[0] // chunk).any(axis=0) | (
        rows // chunk != rows[0] // chunk
    ).any(axis=0)


def test_contours_are_the_same_lines(bottom, found):
    name, grid = bottom
    chunk, coast_ = found
    ours = pd.concat(list(coast_.contours()), ignore_index=True)
    whole = contours(grid, WANTED.contours_m)
    assert in_several(whole, grid, chunk).sum() >= 5
    assert list(ours["depth_m"]) == sorted(ours["depth_m"])
    for depth, lines in whole.groupby("depth_m"):
        part = ours[ours["depth_m"] == depth]
        assert part["length_m"].sum() == pytest.approx(lines["length_m"].sum(), rel=1e-9)
        if name == "steps":  # where lines touch, which goes on as which is open
            assert abs(len(part) - len(lines)) <= 2
            continue
        np.testing.assert_allclose(np.sort(part["length_m"]), np.sort(lines["length_m"]), rtol=1e-9)
        assert part["closed"].sum() == lines["closed"].sum()
        vertices = [
            np.unique(shapely.get_coordinates(t.geometry.values).round(6), axis=0)
            for t in (part, lines)
        ]
        assert vertices[0].shape == vertices[1].shape
        np.testing.assert_allclose(*vertices, atol=2e-6)


def test_band_covers_the_same_ground(bottom, found):
    grid = bottom[1]
    chunk, coast_ = found
    whole = depth_band(grid, *WANTED.band_m)
    assert in_several(whole, grid, chunk).any()
    assert len(coast_.band) == len(whole)
    np.testing.assert_allclose(coast_.band["area_m2"], whole["area_m2"], rtol=1e-9, atol=1e-6)
    assert coast_.band.is_valid.all()
    apart = coast_.band.union_all().symmetric_difference(whole.union_all()).area
    assert apart <= 1e-9 * whole.area.sum()


@pytest.mark.parametrize(("kind", "function"), [("hump", humps), ("hole", holes)])
def test_humps_and_holes_are_the_very_same(bottom, found, kind, function):
    name, grid = bottom
    chunk, coast_ = found
    whole = function(grid, min_height_m=WANTED.hump_min_height_m)
    ours = coast_.features[coast_.features["kind"] == kind].reset_index(drop=True)
    assert in_several(whole, grid, chunk).any()
    exact = ["feature_id", "crest_depth_m", "saddle_depth_m", "height_m", "parent_id"]
    pd.testing.assert_frame_equal(
        pd.DataFrame(ours[exact]), pd.DataFrame(whole[exact]), check_exact=True
    )
    if name != "steps":  # of cells that are level, which is the saddle's is open
        assert (ours["open"] == whole["open"]).all()
    for column in ("area_m2", "long_axis_m", "short_axis_m", "peak_x", "peak_y"):
        np.testing.assert_allclose(ours[column], whole[column], rtol=1e-6, err_msg=column)
    apart = shapely.symmetric_difference(ours.geometry.values, whole.geometry.values)
    assert (shapely.area(apart) <= 1e-6 * whole.area.to_numpy()).all()


def test_edges_are_the_same_but_for_rounding(bottom, found):
    """Smoothing about another depth rounds the smoothed bottom otherwise, by some 2e-6 m.

    That moves the zero of D_vv by (4 * 2e-6 / h^2) / D_vvv: with cells of h = 4 m and the gentlest
    slope followed, 0.0087 over a deviation of 10 m, D_vvv is 8.7e-5 and the shift 6 mm.  Noise
    may make the maximum of slope flatter: 0.1 m is allowed nine lines in ten, for one 17 times
    flatter; half must keep within 6 mm; and one may end a vertex, a cell at most, sooner.
    """
    grid = bottom[1]
    chunk, coast_ = found
    whole, ours = edges(grid, band=WANTED.band_m), coast_.edges
    assert in_several(whole, grid, chunk).sum() >= 3
    assert len(ours) == len(whole)
    apart = shapely.hausdorff_distance(
        whole.geometry.to_numpy()[:, None], ours.geometry.to_numpy()[None, :]
    )
    same = apart.argmin(axis=1)
    assert sorted(same) == list(range(len(ours)))  # each is the image of one
    ours, away = ours.iloc[same], apart.min(axis=1)
    longer = np.abs(ours["length_m"].to_numpy() - whole["length_m"].to_numpy())
    assert longer.max() < CELL_M * 2**0.5
    assert np.median(longer) < 0.01
    for column in ("top_depth_m", "foot_depth_m", "depth_min_m", "depth_max_m", "width_m"):
        off = np.abs(ours[column].to_numpy() - whole[column].to_numpy())
        # where a flank hardly eases, rounding may put the break a step further on
        tolerance = 0.01 * np.maximum(whole["width_m"], whole["drop_m"]).to_numpy()
        assert (off <= tolerance + 2e-3).all(), column
        assert np.median(off) <= 2e-3, column
    np.testing.assert_allclose(ours["slope_max_deg"], whole["slope_max_deg"], rtol=0.05)
    for column, turn in (("bearing_deg", 180), ("faces_deg", 360)):
        apart = np.mod(ours[column].to_numpy() - whole[column].to_numpy() + turn / 2, turn)
        np.testing.assert_allclose(apart, turn / 2, atol=2.0, err_msg=column)
    assert (ours["in_band"].to_numpy() == whole["in_band"].to_numpy()).all()
    unit = 1.3e-5 if bottom[0] == "geographic" else 1.0  # degrees of longitude in a metre there
    assert away.max() < CELL_M * 2**0.5 * unit
    assert np.quantile(away, 0.9) < 0.1 * unit
    assert np.median(away) < 0.006 * unit


def test_overview_is_the_mean_of_what_is_known(bottom, found):
    grid = bottom[1]
    _, coast_ = found
    assert coast_.overview.attrs["reduced"] == 1
    np.testing.assert_allclose(coast_.overview.values, grid.values, rtol=1e-6)
    assert coast_.depth_range_m == (float(grid.min()), float(grid.max()))


def test_a_reduced_overview_has_means_and_the_same_ground(monkeypatch, tmp_path):
    from seabed.coasts import plan

    monkeypatch.setattr(plan, "OVERVIEW_CELLS", 2000)
    grid = coast(150, 170)
    found = scout_coast(
        Held(grid), replace(WANTED, contours_m=()), folder=tmp_path, chunk=64, jobs=1
    )
    step = found.overview.attrs["reduced"]
    assert step == 4
    for row, column in ((0, 0), (15, 16), (16, 15), (37, 42)):
        block = grid.values[row * step : (row + 1) * step, column * step : (column + 1) * step]
        if np.isfinite(block).any():
            assert found.overview.values[row, column] == pytest.approx(np.nanmean(block), rel=1e-6)
        else:
            assert np.isnan(found.overview.values[row, column])
    assert float(found.overview["x"][1]) == pytest.approx(float(grid["x"][4:8].mean()))
