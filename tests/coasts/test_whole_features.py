"""A grid in chunks gives what the whole grid gives: none cut, none double."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pandas as pd
import pytest
import shapely
from coast_bottoms import Held, coast

from seabed.coasts import Wanted, scout_coast
from seabed.coasts.plan import planned
from seabed.grid import crs_of
from seabed.structure import contours, depth_band, edges, holes, humps
from seabed.terrain import smoothing

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
    # of ways that are level, or go out from one cell, either may be called the open one
    assert (ours["open"] != whole["open"]).sum() <= (len(whole) if name == "steps" else 1)
    for column in ("area_m2", "long_axis_m", "short_axis_m", "peak_x", "peak_y"):
        np.testing.assert_allclose(ours[column], whole[column], rtol=1e-6, err_msg=column)
    apart = shapely.symmetric_difference(ours.geometry.values, whole.geometry.values)
    assert (shapely.area(apart) <= 1e-6 * whole.area.to_numpy()).all()


@pytest.fixture(scope="module")
def edges_about():
    """Edges of a whole grid, smoothed about a depth of one's choice instead of its mean."""

    def found(grid, level_m):
        smooth = partial(smoothing.smoothed_block, level_m=level_m)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(smoothing, "smoothed_block", smooth)
            return edges(grid, band=WANTED.band_m)

    return found


def paired(whole, ours):
    """Second table in the order of the first, each the image of one, and how far lines are off."""
    apart = shapely.hausdorff_distance(
        whole.geometry.to_numpy()[:, None], ours.geometry.to_numpy()[None, :]
    )
    same = apart.argmin(axis=1)
    assert sorted(same) == list(range(len(ours)))
    return ours.iloc[same], apart.min(axis=1)


def test_edges_are_the_same_about_the_same_depth(bottom, found, edges_about):
    """One level, one rounding: what is left is float64, 1e-16 of 6e6 m, 1e-9 m of a northing.

    So all lines but one must keep within 1e-5 m.  One may end a vertex, a cell's diagonal, sooner:
    whether slope is greatest there hangs on the last bit of its place.
    """
    _, grid = bottom
    chunk, coast_ = found
    whole = edges_about(grid, planned(Held(grid), WANTED, chunk=chunk).level_m)
    assert in_several(whole, grid, chunk).sum() >= 3
    ours, away = paired(whole, coast_.edges)
    unit = 1.3e-5 if crs_of(grid).is_geographic else 1.0  # degrees of longitude in a metre there
    assert away.max() < CELL_M * 2**0.5 * unit
    same = away < 1e-5 * unit
    assert (~same).sum() <= 1
    ours, whole = ours[same], whole[same]
    for column in whole.columns.drop(["edge_id", "geometry", "in_band"]):
        np.testing.assert_allclose(
            ours[column], whole[column], rtol=1e-6, atol=1e-5, err_msg=column
        )
    assert (ours["in_band"].to_numpy() == whole["in_band"].to_numpy()).all()


def test_edges_about_another_depth_are_off_by_its_rounding(bottom, found):
    """Smoothing about another depth rounds the smoothed bottom otherwise, by some 2e-6 m.

    That moves the zero of D_vv by (4 * 2e-6 / h^2) / D_vvv: with cells of h = 4 m and the gentlest
    slope followed, 0.0087 over a deviation of 10 m, D_vvv is 8.7e-5 and the shift 6 mm.  Where the
    maximum of slope is flatter there is no such bound, and a line may end a vertex sooner: a cell.
    """
    name, grid = bottom
    whole = edges(grid, band=WANTED.band_m)
    ours, away = paired(whole, found[1].edges)
    unit = 1.3e-5 if name == "geographic" else 1.0
    assert np.median(away) < 0.006 * unit
    assert away.max() < CELL_M * 2**0.5 * unit
    assert np.abs(ours["length_m"].to_numpy() - whole["length_m"].to_numpy()).max() < 2 * CELL_M


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
