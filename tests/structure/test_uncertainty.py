"""Uncertainty carried from the grid to its features."""

import numpy as np
from affine import Affine

from seabed.grid import make_grid
from seabed.structure import edges, humps, uncertainty
from seabed.structure.uncertainty import with_uncertainty

TRANSFORM = Affine(4, 0, 5e5, 0, -4, 6e6)


def on_grid(values):
    return make_grid(np.asarray(values, float), transform=TRANSFORM, crs=32631)


def two_scarps():
    _, columns = np.mgrid[:100, :200]
    return on_grid(8 + np.tanh((columns - 50) / 3) + 2 * np.tanh((columns - 150) / 3))


def test_edges_lower_than_the_uncertainty_are_doubtful():
    grid = two_scarps()
    spread = np.full(grid.shape, 3.0)
    spread[:40, :] = np.nan  # unknown here: left out of the median
    found = with_uncertainty(edges(grid), on_grid(spread)).sort_values("drop_m")
    assert found["uncertainty_m"].tolist() == [3.0, 3.0]
    assert found["doubtful"].tolist() == [True, False]  # drops of 2 and 4 m


def test_uncertainty_is_that_under_the_feature():
    grid = two_scarps()
    spread = np.broadcast_to(np.where(np.arange(200) < 100, 0.5, 5.0), grid.shape)
    found = with_uncertainty(edges(grid), on_grid(spread)).sort_values("drop_m")
    assert found["uncertainty_m"].tolist() == [0.5, 5.0]
    assert found["doubtful"].tolist() == [False, True]


def test_unknown_uncertainty_casts_no_doubt():
    depth = np.full((30, 30), 9.0)
    depth[12:16, 12:16] = 6
    grid = on_grid(depth)
    found = with_uncertainty(humps(grid), on_grid(np.full(grid.shape, np.nan)))
    assert np.isnan(found["uncertainty_m"]).all()
    assert not found["doubtful"].any()
    empty = with_uncertainty(humps(grid, min_height_m=5), grid)
    assert empty.empty
    assert {"uncertainty_m", "doubtful"} <= set(empty.columns)


def test_cells_of_a_stored_grid_are_looked_up_tile_by_tile(monkeypatch):
    """In tiles of eight, against the array itself; no window reaches beyond its tile."""
    monkeypatch.setattr(uncertainty, "_TILE", 8)
    rng = np.random.default_rng(5)
    values = rng.normal(size=(30, 21)).astype(np.float32)

    class Stored:
        shape = values.shape

        def uncertainties(self, row, column, rows, columns):
            assert row // 8 == (row + rows - 1) // 8
            assert column // 8 == (column + columns - 1) // 8
            return values[row : row + rows, column : column + columns]

    row, column = rng.integers(0, 30, 60), rng.integers(0, 21, 60)
    ours = uncertainty._by_tile(Stored(), row, column)
    np.testing.assert_array_equal(ours, values[row, column])
