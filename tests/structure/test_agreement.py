"""Chart contours against a grid's: lines moved by a known way, depths changed by a known amount."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from affine import Affine

from seabed.grid import make_grid
from seabed.structure import contours
from seabed.structure.agreement import Offset, chart_agreement, chart_offset
from seabed.structure.reasons import chart_words

CELL, X, Y, CRS = 4.0, 5e5, 6e6, 32631


def grid_of(depth):
    return make_grid(np.asarray(depth, float), transform=Affine(CELL, 0, X, 0, -CELL, Y), crs=CRS)


def ground():
    rows, columns = np.mgrid[:200, :240]
    return (columns + 0.5) * CELL, -(rows + 0.5) * CELL


def plane():
    """Deepens a metre in 50 toward the east."""
    return grid_of(2 + ground()[0] / 50)


def lumpy():
    x, y = ground()
    return grid_of(9 + 3 * np.sin(x / 110 + 0.3) * np.cos(y / 140) + x / 400)


def north_south(depth, east):
    line = shapely.LineString([(X + east, Y - 700), (X + east, Y - 100)])
    return gpd.GeoDataFrame({"depth_m": [float(depth)]}, geometry=[line], crs=CRS)


@pytest.mark.parametrize("away", [0.0, 15.0, -60.0])
def test_distance_is_that_between_the_lines(away):
    """On the plane, 8 m of depth is 300 m from the western border."""
    table = chart_agreement(plane(), north_south(8, 300 + away).to_crs(4326))
    (row,) = table.itertuples()
    assert row.depth_m == 8
    assert row.median_m == pytest.approx(abs(away), abs=0.02)
    assert row.most_m == pytest.approx(abs(away), abs=0.02)
    assert row.length_m == pytest.approx(600, rel=0.01)


def test_nine_tenths_lie_within_the_greater_figure():
    """A slanting line, 0 to 100 m off: half within 50 m, nine tenths within 90 m."""
    line = shapely.LineString([(X + 300, Y - 100), (X + 400, Y - 700)])
    table = gpd.GeoDataFrame({"depth_m": [8.0]}, geometry=[line], crs=CRS)
    (row,) = chart_agreement(plane(), table).itertuples()
    assert row.median_m == pytest.approx(50, abs=1)
    assert row.most_m == pytest.approx(90, abs=1)


def test_each_depth_has_its_row_and_a_depth_that_the_grid_lacks_is_infinitely_far():
    lines = [north_south(10, 410), north_south(8, 300), north_south(99, 100)]
    table = chart_agreement(plane(), pd.concat(lines, ignore_index=True))
    assert table["depth_m"].tolist() == [8, 10, 99]
    assert table["median_m"].tolist() == pytest.approx([0, 10, np.inf], abs=0.02)


def test_only_where_the_grid_has_depths():
    grid = plane().copy()
    grid[:100] = np.nan
    (row,) = chart_agreement(grid, north_south(8, 300)).itertuples()
    assert row.length_m == pytest.approx(300, abs=2 * CELL)
    elsewhere = north_south(8, 90_000)
    assert chart_agreement(grid, elsewhere).empty
    nothing = chart_offset(grid, elsewhere)
    assert nothing.points == 0
    assert np.isnan([nothing.deeper_m, nothing.shift_m]).all()


@pytest.mark.parametrize(("east", "north"), [(0, 0), (30, 0), (-12, 25), (0, -60)])
@pytest.mark.parametrize("deeper", [0.0, 0.7])
def test_a_shift_and_another_datum_are_kept_apart(east, north, deeper):
    grid = lumpy()
    chart = contours(grid, [6.5, 8, 9.5, 11])
    chart["geometry"] = chart.translate(east, north)
    chart["depth_m"] -= deeper
    found = chart_offset(grid, chart)
    # lines between cell centres are chords: 0.5 m is an eighth of a cell
    assert (found.east_m, found.north_m) == pytest.approx((east, north), abs=0.5)
    assert found.deeper_m == pytest.approx(deeper, abs=0.02)
    assert found.left_m < 0.05
    assert found.shift_m == pytest.approx(np.hypot(east, north), abs=0.5)


def test_a_few_wrong_lines_do_not_count():
    grid = lumpy()
    chart = contours(grid, [6.5, 8, 9.5, 11])
    wrong = chart.iloc[[0]].assign(depth_m=30.0)
    wrong["geometry"] = wrong.translate(100, 0)
    found = chart_offset(grid, pd.concat([chart, wrong], ignore_index=True))
    assert found.shift_m < 1
    assert abs(found.deeper_m) < 0.05


def test_on_an_even_slope_a_shift_looks_like_a_datum():
    found = chart_offset(plane(), north_south(8, 325))
    assert np.isnan(found.shift_m)
    assert found.deeper_m == pytest.approx(0.5, abs=0.01)


def test_it_is_said_in_words():
    table = pd.DataFrame(
        {"depth_m": [5.0, 10.0], "median_m": [np.inf, 8.0], "most_m": [np.inf, 22.0]}
    )
    fine = Offset(1.0, 0.0, 0.1, 0.1, 100)
    assert chart_words(table, fine, depth_unit="m") == [
        "The chart's 5.0 m line has none in the grid to compare.",
        "The chart's 10 m line is 8 m (90 %: 22 m) from ours.",
        "Warning: some are far apart. Compare the grid with the chart before you go.",
    ]
    table = table.iloc[1:]
    assert len(chart_words(table, fine)) == 1
    assert "33 ft line is 26 ft (90 %: 72 ft)" in chart_words(table, fine)[0]
    (_, shifted) = chart_words(table, Offset(0.0, -30.0, 0.1, 0.1, 100), depth_unit="m")
    assert "30 m south of the grid's" in shifted
    (_, datum) = chart_words(table, Offset(np.nan, np.nan, -0.8, 0.1, 100), depth_unit="m")
    assert "the grid is 0.8 m shallower than the chart" in datum
    assert chart_words(table.iloc[:0], fine) == [
        "The chart and the grid have no contour in common to compare."
    ]
