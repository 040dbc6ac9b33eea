"""Worth of bottom by band and structure, against every pair of cells looked at."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from affine import Affine

from layers.planning import structure_worth
from layers.planning.ground._worth import _outline
from seabed import make_grid

BAND_M = (8.0, 12.0)
REACH_M = 10.0


@pytest.mark.parametrize(("wide", "high"), [(5.0, 5.0), (9.0, 5.0), (4.5, 5.0)])
def test_worth_is_that_of_the_cell_nearest_to_structure(wide: float, high: float) -> None:
    rows, columns = 50, 60  # far sides are beyond what any line is felt to
    depth = np.full((rows, columns), 10.0)
    depth[:, -5:] = 20.0
    corner = Affine(wide, 0, 500_000, 0, -high, 5_100_000 + rows * high)
    grid = make_grid(depth, transform=corner, crs="EPSG:32631")
    lines = [  # through no corner of cells
        shapely.LineString([(500_013, 5_100_023), (500_061, 5_100_048)]),
        shapely.LineString([(500_052, 5_100_041), (500_088, 5_100_022)]),
        shapely.LineString([(500_002, 5_100_243), (500_031, 5_100_212)]),  # at the grid's edge
    ]
    table = gpd.GeoDataFrame({"score": [80.0, 40.0, 80.0]}, geometry=lines, crs="EPSG:32631")
    centres = np.stack(np.meshgrid(grid["x"], grid["y"]), axis=-1).reshape(-1, 2)
    half = np.array([wide, high]) / 2
    cells = shapely.box(*(centres - half).T, *(centres + half).T)
    pull = np.zeros(len(centres))
    for line, weight in zip(lines, (1.0, 0.5, 1.0), strict=True):
        on_it = centres[shapely.intersects(cells, line)]
        away = np.hypot(*(centres[:, None] - on_it[None]).transpose(2, 0, 1)).min(axis=1)
        pull = np.maximum(pull, weight * np.exp(-0.5 * (away / REACH_M) ** 2))
    expected = np.where(depth.ravel() == 10.0, 0.2 + 0.8 * pull, 0.0).astype(np.float32)

    worth = structure_worth(grid, BAND_M, [table], reach_m=REACH_M)

    # the same formula, in another order of sums: no more than the last bit of float32
    np.testing.assert_allclose(worth.values.ravel(), expected, rtol=1.2e-7)
    assert (pull < 1e-30).any()  # some cells are beyond all structure


def test_an_area_is_felt_from_its_outline_and_a_line_from_all_of_it() -> None:
    square, line = shapely.box(0, 0, 2, 2), shapely.LineString([(0, 0), (3, 4)])
    assert _outline(square).length == 8.0
    assert _outline(line) is line
    assert _outline(None) is None
