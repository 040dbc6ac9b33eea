"""The depth grid's contract, cell sizes and sampling, against geodesics and hand-made surfaces."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from seabed.errors import GridError
from seabed.grid import Bounds, bounds, cell_size, check_grid, crs_of, make_grid, transform_of
from seabed.grid.extent import metric_crs, window
from seabed.grid.places import sample

UTM = Affine(4, 0, 500_000, 0, -4, 4_200_000)
DEGREES = Affine(0.01, 0, 5, 0, -0.01, 60)


def flat(shape=(6, 8), transform=UTM, crs="EPSG:32631", depth=10.0):
    return make_grid(np.full(shape, depth, np.float32), transform=transform, crs=crs)


def test_contract():
    grid = flat()
    check_grid(grid)
    assert grid.name == "depth"
    assert grid.dims == ("y", "x")
    assert grid.dtype == np.float32
    assert grid.attrs["positive"] == "down"
    assert grid.attrs["vertical_datum"] == "unknown"
    assert (grid.x.values[0], grid.y.values[0]) == (500_002, 4_199_998)
    assert transform_of(grid) == UTM
    assert bounds(grid) == Bounds(500_000, 4_200_000 - 24, 500_032, 4_200_000)


@pytest.mark.parametrize("rise", [1, -1])
@pytest.mark.parametrize("run", [1, -1])
def test_rows_and_columns_are_turned_to_north_up(rise, run):
    values = np.arange(12, dtype=np.float32).reshape(3, 4)
    transform = Affine(run * 2.0, 0, 100, 0, rise * 2.0, 50)
    grid = make_grid(values, transform=transform, crs="EPSG:32631")
    check_grid(grid)
    for row in range(3):
        for column in range(4):
            x, y = 100 + run * 2 * (column + 0.5), 50 + rise * 2 * (row + 0.5)
            assert float(grid.sel(x=x, y=y)) == values[row, column]


@pytest.mark.parametrize("shape", [(3,), (0, 4), (4, 0), (2, 2, 2)])
def test_no_grid_of_other_shapes(shape):
    with pytest.raises(GridError, match="two dimensions and some cells"):
        make_grid(np.zeros(shape), transform=UTM, crs="EPSG:32631")


def test_no_rotated_grid():
    with pytest.raises(GridError, match="rotated"):
        make_grid(np.zeros((2, 2)), transform=Affine(1, 0.1, 0, 0.1, -1, 0), crs="EPSG:32631")


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda g: g.T, "dimensions must be"),
        (lambda g: g[:0], "no cells"),
        (lambda g: g.astype(float), "must be float32"),
        (lambda g: g[::-1], "y runs the wrong way"),
        (lambda g: g[:, ::-1], "x runs the wrong way"),
        (lambda g: g.isel(x=[0, 1, 5]), "not evenly spaced along x"),
        (lambda g: g.isel(y=[0, 1, 5]), "not evenly spaced along y"),
        (lambda g: g.drop_vars("spatial_ref"), "no coordinate reference system"),
    ],
)
def test_contract_broken(spoil, message):
    with pytest.raises(GridError, match=message):
        check_grid(spoil(flat()))


def test_cells_of_a_geographic_grid_are_geodesic_and_vary_by_row():
    """Against GeographicLib, an implementation of Karney (2013) apart from PROJ's."""
    size = cell_size(flat((200, 5), DEGREES, "EPSG:4326"))
    grid = flat((200, 5), DEGREES, "EPSG:4326")
    for row in (0, 99, 199):
        y = float(grid.y[row])
        east = Geodesic.WGS84.Inverse(y, 5, y, 5.01)["s12"]
        north = Geodesic.WGS84.Inverse(y - 0.005, 5, y + 0.005, 5)["s12"]
        assert size.easting[row] == pytest.approx(east, abs=1e-4)
        assert size.northing[row] == pytest.approx(north, abs=1e-4)
    assert size.easting[0] < size.easting[-1]
    assert size.typical == pytest.approx(np.sqrt(size.easting[100] * size.northing[100]))


def test_cells_of_a_grid_in_feet():
    """EPSG:2284 is in US survey feet, 1200/3937 m."""
    size = cell_size(flat(transform=Affine(10, 0, 11e6, 0, -10, 3e6), crs="EPSG:2284"))
    np.testing.assert_allclose(size.easting, 10 * 1200 / 3937)


@pytest.mark.parametrize(
    ("west", "north", "zone"),
    [(5, 60, 32631), (-123.4, 48, 32610), (151, -33, 32756), (179.9, 1, 32660)],
)
def test_metric_crs_is_the_utm_zone_of_the_middle(west, north, zone):
    grid = flat((3, 3), Affine(0.001, 0, west, 0, -0.001, north), "EPSG:4326")
    assert metric_crs(grid).to_epsg() == zone
    assert metric_crs(flat()) == crs_of(flat())


def test_window_takes_the_cells_whose_centres_lie_inside():
    part = window(flat(), Bounds(500_005, 4_199_985, 500_019, 4_199_999))
    np.testing.assert_array_equal(part.x, [500_006, 500_010, 500_014, 500_018])
    np.testing.assert_array_equal(part.y, [4_199_998, 4_199_994, 4_199_990, 4_199_986])
    with pytest.raises(GridError, match=r"no part of the grid is in.*covers"):
        window(flat(), Bounds(0, 0, 1, 1))


def sloping(values=None):
    row, column = np.mgrid[0:20, 0:30]
    depth = 5 + 0.5 * row + 0.25 * column if values is None else values
    return make_grid(depth.astype(np.float32), transform=UTM, crs="EPSG:32631")


def degrees(x, y):
    return Transformer.from_crs(32631, 4326, always_xy=True).transform(x, y)


def test_sampling_a_plane_gives_the_plane():
    rng = np.random.default_rng(1)
    x = rng.uniform(500_002, 500_118, 200)
    y = rng.uniform(4_199_922, 4_199_998, 200)
    expected = 5 + 0.5 * ((4_199_998 - y) / 4) + 0.25 * ((x - 500_002) / 4)
    np.testing.assert_allclose(sample(sloping(), *degrees(x, y)), expected, atol=1e-5)


def test_sampling_outside_and_at_nan():
    longitude, latitude = degrees(
        np.array([499_990, 500_050, 500_050]), np.array([4_199_950, 4_200_010, 4_199_950])
    )
    latitude[2] = np.nan
    assert np.isnan(sample(sloping(), longitude, latitude)).all()
    assert sample(sloping(), np.array([]), np.array([])).shape == (0,)


def test_the_outer_half_cell_holds_the_edge():
    longitude, latitude = degrees(np.array([500_000.5]), np.array([4_199_999.5]))
    assert sample(sloping(), longitude, latitude)[0] == pytest.approx(5, abs=1e-6)


def test_a_void_spoils_only_where_it_has_a_share():
    values = np.full((20, 30), 7.0)
    values[10, 15] = np.nan
    grid = sloping(values)
    x, y = float(grid.x[15]), float(grid.y[10])
    places = {(-4, 0): 7, (4, 0): 7, (0, -4): 7, (0, 4): 7, (4, 4): 7, (-4, 1.7): 7, (0, 0): np.nan,
              (2, 0): np.nan, (-3.99, 0): np.nan, (2, 2): np.nan}  # fmt: skip
    dx, dy = np.array(list(places)).T
    found = sample(grid, *degrees(x + dx, y + dy))
    np.testing.assert_allclose(found, list(places.values()), atol=1e-4)


@given(st.integers(0, 19), st.integers(0, 29), st.integers(0, 2**31))
@settings(deadline=None)
def test_at_a_cell_centre_the_cell_speaks_alone(row, column, seed):
    """All other cells NaN: the value at the centre is still the cell's own."""
    values = np.full((20, 30), np.nan)
    values[row, column] = seed % 1000
    grid = sloping(values)
    place = degrees(grid.x.values[[column]], grid.y.values[[row]])
    assert sample(grid, *place)[0] == pytest.approx(seed % 1000, abs=1e-2)


def test_longitudes_by_whole_turns():
    grid = flat((4, 40), Affine(0.5, 0, 170, 0, -0.5, 10), "EPSG:4326")
    found = sample(grid, np.array([175, -175, 185, 195, -165.0]), np.array([9, 9, 9, 9, 9.0]))
    np.testing.assert_array_equal(found, [10, 10, 10, np.nan, np.nan])
