"""Vector ruggedness against direct sums of normals."""

import numpy as np
import pytest
from affine import Affine
from pyproj import Geod

from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.terrain import aspect, slope, vector_ruggedness


def in_utm(depth, cell=(4.0, 4.0)):
    return make_grid(depth, transform=Affine(cell[0], 0, 5e5, 0, -cell[1], 0), crs=32631)


def by_hand(grid, half_rows, half_columns):
    """Sappington et al. (2007): from slope and aspect to vectors, summed window by window."""
    steep, towards = np.radians(slope(grid).values.astype(float)), np.radians(aspect(grid).values)
    towards = np.where(np.isnan(towards), 0, towards)
    vectors = np.stack(
        [np.sin(steep) * np.sin(towards), np.sin(steep) * np.cos(towards), np.cos(steep)]
    )
    out = np.full(grid.shape, np.nan)
    for row, column in np.argwhere(~np.isnan(steep)):
        part = vectors[
            :,
            max(row - half_rows, 0) : row + half_rows + 1,
            max(column - half_columns, 0) : column + half_columns + 1,
        ].reshape(3, -1)
        part = part[:, ~np.isnan(part[2])]
        out[row, column] = 1 - np.linalg.norm(part.sum(axis=1)) / part.shape[1]
    return out


@pytest.mark.parametrize(
    ("cell", "radius", "half"), [((4.0, 4.0), 4.0, (1, 1)), ((2.0, 5.0), 11.0, (2, 6))]
)
def test_windows_by_hand(cell, radius, half):
    depth = np.random.default_rng(1).normal(20, 1, (30, 34))
    depth[10:13, 20:22] = np.nan
    grid = in_utm(depth, cell)
    found = vector_ruggedness(grid, radius_m=radius).values
    truth = by_hand(grid, *half)
    np.testing.assert_array_equal(np.isnan(found), np.isnan(truth))
    assert np.nanmax(np.abs(found - truth)) < 1e-6


def test_steep_plane_is_even():
    rows, columns = np.mgrid[:20, :20]
    found = vector_ruggedness(in_utm(20 + 2.0 * rows + 1.0 * columns), radius_m=12).values
    assert np.nanmax(found) < 1e-6


def test_window_follows_the_rows_of_a_geographic_grid():
    depth = np.random.default_rng(1).normal(20, 1, (40, 60))
    grid = make_grid(depth, transform=Affine(0.01, 0, -20, 0, -0.01, 80), crs=4326)
    # at 79.6 north cells are 200 m wide and 1117 m high: 1200 m is one row and six columns
    found = vector_ruggedness(grid, radius_m=1200).values
    truth = by_hand(grid, 1, 6)
    assert np.abs(found - truth)[18:22, 8:-8].max() < 1e-6


def test_rows_of_the_window_are_counted_where_its_own_row_is():
    """The radius is 1.5 rows of the middle's height; those 10 degrees poleward are 0.16 % higher.

    At 30 north a cell of one degree is 110.85 km high and 96.5 km wide (WGS 84).
    """
    depth = np.random.default_rng(4).normal(0, 5e4, (61, 21))  # as steep as a rough bottom
    grid = make_grid(depth, transform=Affine(1, 0, -20, 0, -1, 60.5), crs=4326)
    height = Geod(ellps="WGS84").inv(0, 29.5, 0, 30.5)[2]
    found = vector_ruggedness(grid, radius_m=1.5005 * height).values[30, 10]
    assert found == pytest.approx(by_hand(grid, 2, 2)[30, 10], abs=1e-6)


def test_chunks_leave_no_trace():
    depth = np.random.default_rng(2).normal(20, 1, (40, 50))
    depth[12, 13] = np.nan
    grid = make_grid(depth, transform=Affine(1e-3, 0, -20, 0, -1e-3, 60), crs=4326)
    lazy = vector_ruggedness(grid.chunk(y=13, x=16), radius_m=300)
    assert lazy.chunks is not None
    np.testing.assert_allclose(
        lazy.values, vector_ruggedness(grid, radius_m=300).values, rtol=0, atol=1e-7
    )


def test_no_radius_is_refused():
    with pytest.raises(GridError, match="a radius of 0 m is too small"):
        vector_ruggedness(in_utm(np.ones((5, 5))), radius_m=0)
