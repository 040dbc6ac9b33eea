"""Contours and depth bands against circles, planes, geodesics and a published count."""

from itertools import pairwise

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from pyproj import Geod

from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.structure import contours, depth_band
from seabed.structure.contours import round_levels

GEOD = Geod(ellps="WGS84")
CELL = 4.0


def in_utm(depth, cell=(CELL, CELL)):
    return make_grid(depth, transform=Affine(cell[0], 0, 5e5, 0, -cell[1], 6e6), crs="EPSG:32631")


def cone(shape=(101, 121), cell=(CELL, CELL), *, slope=0.05):
    """Depth 5 m at an off-centre tip, deeper all round; its tip and its depth grid."""
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    tip = (5e5 + 60.3 * cell[0], 6e6 - 50.7 * cell[1])
    x, y = 5e5 + (columns + 0.5) * cell[0], 6e6 - (rows + 0.5) * cell[1]
    return tip, in_utm(5 + slope * np.hypot(x - tip[0], y - tip[1]), cell)


@pytest.mark.parametrize("cell", [(4.0, 4.0), (3.0, 5.0)])
def test_contours_of_a_cone_are_circles(cell):
    tip, grid = cone(cell=cell)
    found = contours(grid, [9.0, 7.0, 11.0, 7.0])
    assert found["depth_m"].tolist() == [7.0, 9.0, 11.0]
    assert found["closed"].all()
    for row in found.itertuples():
        radius = (row.depth_m - 5) / 0.05
        points = shapely.get_coordinates(shapely.segmentize(row.geometry, 0.5))
        away = np.hypot(points[:, 0] - tip[0], points[:, 1] - tip[1])
        assert np.abs(away - radius).max() < 0.1 * min(cell)
        assert row.length_m == pytest.approx(2 * np.pi * radius, rel=0.002)
    assert found.crs.to_epsg() == 32631


def test_vertices_are_exact_on_a_plane():
    rows, columns = np.mgrid[:20, :30]
    found = contours(in_utm(10 + 0.25 * columns + 0.125 * rows), [13.3])
    points = shapely.get_coordinates(found.geometry.values)
    column, row = (points[:, 0] - 5e5) / CELL - 0.5, (6e6 - points[:, 1]) / CELL - 0.5
    assert np.abs(10 + 0.25 * column + 0.125 * row - 13.3).max() < 1e-6


def test_lines_stop_at_voids_and_open_there():
    _, grid = cone()
    grid.values[:, 60:64] = np.nan
    found = contours(grid, [7.0])
    assert len(found) == 2
    assert not found["closed"].any()
    points = shapely.get_coordinates(found.geometry.values)
    column = (points[:, 0] - 5e5) / CELL - 0.5
    assert not ((column > 59) & (column < 64)).any()
    assert (np.abs(column - 59) < 1e-6).any()


def test_short_pieces_can_be_dropped():
    depth = np.full((30, 30), 10.0)
    depth[5:7, 5:7], depth[15:25, 15:25] = 2, 2
    assert len(contours(in_utm(depth), [5.0])) == 2
    kept = contours(in_utm(depth), [5.0], min_length_m=50)
    assert len(kept) == 1
    assert kept.index.tolist() == [0]
    assert kept["length_m"][0] > 100


def test_geographic_lengths_are_geodesic():
    step = 1e-3
    rows, _ = np.mgrid[:50, :40]
    grid = make_grid(rows.astype(float), transform=Affine(step, 0, -20, 0, -step, 65), crs=4326)
    (length,) = contours(grid, [20.5])["length_m"]
    # along the parallel in 39 steps: sum of geodesics one cell long
    latitude = 65 - 21 * step
    one = GEOD.inv(-20, latitude, -20 + step, latitude)[2]
    assert length == pytest.approx(39 * one, rel=1e-9)


@pytest.mark.parametrize("depth", [np.full((8, 9), np.nan), np.full((8, 9), 3.0), np.ones((1, 5))])
def test_nothing_to_find_gives_empty_tables_with_columns(depth):
    found = contours(in_utm(depth), [7.0])
    assert found.columns.tolist() == ["depth_m", "length_m", "closed", "geometry"]
    assert found.empty
    band = depth_band(in_utm(depth), 6, 8)
    assert band.columns.tolist() == ["shallow_m", "deep_m", "area_m2", "geometry"]
    assert band.empty
    assert isinstance(band, gpd.GeoDataFrame)


def test_band_on_a_cone_is_a_ring():
    tip, grid = cone()
    found = depth_band(grid, 7, 9)
    assert len(found) == 1
    ring = found.geometry[0]
    assert len(ring.interiors) == 1
    assert not ring.contains(shapely.Point(tip))
    # radii 40 and 80 m; a many-sided ring falls short by about (cell / radius)² / 6
    assert found["area_m2"][0] == pytest.approx(np.pi * (80**2 - 40**2), rel=0.002)


def test_band_area_on_a_geographic_grid_is_the_ellipsoids():
    step = 1e-3
    grid = make_grid(np.full((21, 31), 7.0), transform=Affine(step, 0, -20, 0, -step, 70), crs=4326)
    (area,) = depth_band(grid, 5, 9)["area_m2"]
    west, north = -20 + step / 2, 70 - step / 2
    box = shapely.box(west, north - 20 * step, west + 30 * step, north)
    sides = shapely.segmentize(box, step)
    assert area == pytest.approx(abs(GEOD.geometry_area_perimeter(sides)[0]), rel=1e-6)


def test_bands_side_by_side_cover_the_ground_once():
    depth = np.random.default_rng(5).normal(10, 2, (40, 50))
    grid = in_utm(depth)
    cuts = [0, 8, 9, 10, 12, 30]
    parts = [depth_band(grid, a, b, significance=0) for a, b in pairwise(cuts)]
    total = sum(part["area_m2"].sum() for part in parts)
    assert total == pytest.approx(39 * 49 * CELL**2, rel=1e-6)
    assert all(part.geometry.is_valid.all() for part in parts)


def test_a_band_without_width_is_refused():
    with pytest.raises(GridError, match="from 8 m to 6 m has no width"):
        depth_band(in_utm(np.ones((5, 5))), 8, 6)


def test_real_survey(registry_file):
    path = registry_file("s100py", "2.0.1", "tests/s102/F00788_SR_8m.tif")
    with rasterio.open(path) as file:
        elevation = file.read(1, masked=True).filled(np.nan)
        grid = make_grid(-elevation, transform=file.transform, crs=file.crs)
    found = contours(grid, [50.0], significance=0)
    # contourpy called by itself on the elevations at -50 m: 2 lines, 1098.5 m together
    assert len(found) == 2
    assert found["length_m"].sum() == pytest.approx(1098.5, abs=0.05)


@pytest.mark.parametrize("depths", ["deep", None, [[1.0], [2.0, 3.0]], {"a": 5}])
def test_depths_that_are_no_numbers_are_refused(depths):
    with pytest.raises(GridError, match="depths of contours are numbers"):
        contours(cone(), depths)


@pytest.mark.parametrize(
    ("least", "greatest", "step"),
    [(0, 12, 1), (0, 12.1, 2), (1, 61, 5), (0, 90, 10), (3, 3.9, 0.1)],
)
def test_levels_are_a_dozen_at_most_in_round_steps(least, greatest, step):
    """By the steps that there are: the first of 1, 2, 5 times a power of ten for twelve of them."""
    levels = round_levels(least, greatest)
    assert np.diff(levels) == pytest.approx(step)
    assert least <= levels[0] < least + step
    assert greatest - step < levels[-1] <= greatest
