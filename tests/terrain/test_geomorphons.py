"""Landforms on made-up ground whose form is beyond doubt, and a slow reading of the definition."""

import numpy as np
import pytest
from affine import Affine

from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.terrain import Landform, geomorphons

SIDE = 41
ROWS, COLUMNS = np.mgrid[:SIDE, :SIDE] - SIDE // 2


def in_utm(depth, cell=(4.0, 4.0)):
    return make_grid(depth, transform=Affine(cell[0], 0, 5e5, 0, -cell[1], 0), crs=32631)


@pytest.mark.parametrize(
    ("form", "depth"),
    [
        (Landform.FLAT, 10 + 0.0 * ROWS),
        (Landform.PEAK, 10 + 0.5 * np.hypot(ROWS, COLUMNS)),
        (Landform.PIT, 10 - 0.5 * np.hypot(ROWS, COLUMNS)),
        (Landform.RIDGE, 10 + 0.5 * np.abs(COLUMNS)),
        (Landform.VALLEY, 10 - 0.5 * np.abs(COLUMNS)),
        (Landform.SLOPE, 10 + 0.5 * COLUMNS),
        (Landform.SHOULDER, 10 + 0.5 * np.maximum(COLUMNS, 0)),
        (Landform.FOOTSLOPE, 10 + 0.5 * np.minimum(COLUMNS, 0)),
        (Landform.SPUR, 10 + 0.5 * COLUMNS + 0.3 * np.abs(ROWS)),
        (Landform.HOLLOW, 10 + 0.5 * COLUMNS - 0.3 * np.abs(ROWS)),
    ],
)
def test_each_form_is_called_by_its_name(form, depth):
    found = geomorphons(in_utm(depth), search_m=40).values[SIDE // 2, SIDE // 2]
    assert Landform(int(found)) is form


F, P, R, H, S, L, W, T, V, D = Landform
# the lookup table of Jasiewicz & Stepinski (2013): a row for each number of directions seen higher,
# in it a form for each number seen lower; compared value by value with the table in an open GIS's
# module of the same method (GRASS, raster/r.geomorphon/geom.c); the paper itself was not read
TABLE = [
    [F, F, F, H, H, R, R, R, P],
    [F, F, H, H, H, R, R, R],
    [F, T, L, L, S, S, R],
    [T, T, L, L, L, S],
    [T, T, W, L, L],
    [V, V, W, W],
    [V, V, V],
    [V, V],
    [D],
]


def test_forms_are_numbered_as_in_the_paper():
    """1 flat to 10 pit, as GRASS writes them too."""
    names = "flat peak ridge shoulder spur slope hollow footslope valley pit".split()  # noqa: SIM905
    assert [form.name.lower() for form in Landform] == names
    assert [int(form) for form in Landform] == list(range(1, 11))


def slow(depth, cell, search, flat_deg, skip):
    """Angles, not tangents, one cell and direction at a time."""
    out = np.full(depth.shape, np.nan)
    forms = {(higher, n): form for higher, row in enumerate(TABLE) for n, form in enumerate(row)}
    for row, column in np.argwhere(~np.isnan(depth)):
        signs = []
        for down in (-1, 0, 1):
            for right in (-1, 0, 1):
                if down == right == 0:
                    continue
                angles = []
                for n in range(1, 100):
                    r, c = row + n * down, column + n * right
                    away = n * np.hypot(down * cell[1], right * cell[0])
                    if away > search or not (0 <= r < depth.shape[0] and 0 <= c < depth.shape[1]):
                        break
                    if away >= skip and not np.isnan(depth[r, c]):
                        angles.append(
                            np.degrees(np.arctan2(depth[row, column] - depth[r, c], away))
                        )
                if angles:
                    up, under = max(angles), max(-a for a in angles)
                    signs.append(0 if max(up, under) <= flat_deg else np.sign(up - under))
        if len(signs) == 8:
            out[row, column] = forms[signs.count(1), signs.count(-1)]
    return out


@pytest.mark.parametrize(
    ("cell", "skip"), [((4.0, 4.0), 0.0), ((3.0, 5.0), 6.5), ((3.0, 4.0), 8.0)]
)
def test_by_the_definition(cell, skip):
    """The last case skips to just two cells downwards, which are looked at."""
    depth = np.random.default_rng(5).normal(20, 0.4, (26, 28)).astype(np.float32)
    depth[8, 9] = np.nan
    depth[15:20, 15:17] = np.nan
    found = geomorphons(in_utm(depth, cell), search_m=22, flat_deg=2, skip_m=skip).values
    np.testing.assert_array_equal(found, slow(depth.astype(float), cell, 22, 2, skip))


def test_a_degree_is_flat_where_nothing_else_is_said():
    """Planes of 0.9 and 1.45 degrees, of which the diagonals see 1.03: the default is one."""
    for degrees, form in ((0.9, Landform.FLAT), (1.45, Landform.SLOPE)):
        plane = 10 + np.tan(np.radians(degrees)) * 4.0 * COLUMNS
        assert geomorphons(in_utm(plane), search_m=20).values[SIDE // 2, SIDE // 2] == form


def test_chunks_leave_no_trace():
    depth = np.random.default_rng(2).normal(20, 1, (40, 50))
    depth[12, 13] = np.nan
    grid = make_grid(depth, transform=Affine(1e-3, 0, -20, 0, -1e-3, 60), crs=4326)
    lazy = geomorphons(grid.chunk(y=13, x=16), search_m=400)
    assert lazy.chunks is not None
    np.testing.assert_array_equal(lazy.values, geomorphons(grid, search_m=400).values)


def test_too_short_a_search_is_refused():
    """Cells of 3 by 4 m have a diagonal of 5 m, which is far enough."""
    peak = 10 + np.abs(ROWS) + np.abs(COLUMNS)
    middle = (SIDE // 2, SIDE // 2)
    assert geomorphons(in_utm(peak, (3.0, 4.0)), search_m=5).values[middle] == Landform.PEAK
    with pytest.raises(GridError, match="passes over no cell"):
        geomorphons(in_utm(np.ones((5, 5))), search_m=5)
