"""Humps and holes against brute force, Gaussians and ellipses."""

import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from pyproj import Geod
from scipy.ndimage import label

from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.structure import holes, humps
from seabed.structure.highs import _parents
from seabed.structure.tree import basins
from seabed.structure.tree.basins import PINHOLE_CELLS
from seabed.structure.tree.mergetree import Peaks, reduced

CELL = 4.0
GEOD = Geod(ellps="WGS84")
EIGHT = np.ones((3, 3), int)


def in_utm(depth):
    return make_grid(depth, transform=Affine(CELL, 0, 5e5, 0, -CELL, 6e6), crs=32631)


def sloping(shape=(160, 200)):
    """A bottom that shoals to all sides of the grid, so that closed highs stay inside."""
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    away = np.hypot((rows - shape[0] / 2) / shape[0], (columns - shape[1] / 2) / shape[1])
    return rows, columns, 30 - 60 * away**4


def outside_of(depth):
    """Void cells that are not pinholes, by labels."""
    names, count = label(np.isnan(depth), EIGHT)
    out = np.zeros(depth.shape, bool)
    for name in range(1, count + 1):
        part = names == name
        rim = part[0].any() or part[-1].any() or part[:, 0].any() or part[:, -1].any()
        out |= part & (rim or part.sum() > PINHOLE_CELLS)
    return out


def brute_force(depth):
    """Saddle of every peak: flood each level in turn until higher ground is met."""
    around = np.pad(outside_of(depth), 1, constant_values=True)
    level_of = np.pad(np.where(outside_of(depth), -np.inf, depth), 1, constant_values=-np.inf)
    flat = depth.ravel()
    found = {}
    for cell in np.flatnonzero(~np.isnan(flat)):
        row, column = divmod(cell, depth.shape[1])
        for level in np.unique(flat[flat >= flat[cell]]):
            names, _ = label(level_of <= level, EIGHT)
            ground = names == names[row + 1, column + 1]
            others = np.flatnonzero((ground & ~around)[1:-1, 1:-1])
            higher = any((flat[o], o) < (flat[cell], cell) for o in others if not np.isnan(flat[o]))
            if higher or (ground & around).any():
                found[cell] = level
                break
    return {cell: level for cell, level in found.items() if level > flat[cell]}


def all_peaks(depth):
    """The tree of a grid in one block, the outside all around."""
    return reduced(depth, basins.outside_of(depth), np.ones(4, bool), least_height=0.0)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("kind", ["rough", "steps", "voids", "from a corner"])
def test_saddles_by_brute_force(seed, kind):
    rng = np.random.default_rng(seed)
    depth = rng.normal(10, 3, (8, 9))
    if kind != "rough":
        depth = np.round(depth)  # many equal depths
    if kind == "voids":
        depth[rng.random(depth.shape) < 0.1] = np.nan
    if kind == "from a corner":
        depth = np.add.outer(np.arange(8), np.arange(9)) + 0.3 * depth
    depth = depth.astype(np.float32)
    peaks = all_peaks(depth)
    found = {
        cell: saddle
        for cell, saddle, crest in zip(peaks.cell, peaks.saddle, peaks.crest, strict=True)
        if np.isfinite(saddle) and saddle > crest
    }
    assert found == brute_force(depth)


def test_large_void_is_outside_in_brute_force_too():
    depth = np.random.default_rng(9).normal(10, 3, (11, 12)).astype(np.float32)
    depth[3:8, 4:8] = np.nan  # 20 cells: not a pinhole
    assert PINHOLE_CELLS < 20
    peaks = all_peaks(depth)
    found = {c: s for c, s, k in zip(peaks.cell, peaks.saddle, peaks.crest, strict=True) if s > k}
    assert found == brute_force(depth)


def test_gaussian_humps_have_their_heights_to_the_grid():
    rows, columns, depth = sloping()
    tops = [(60, 70, 3.0), (90, 130, 5.0), (110, 60, 2.0)]
    for row, column, height in tops:
        depth -= height * np.exp(-((rows - row) ** 2 + (columns - column) ** 2) / 2 / 6**2)
    grid = in_utm(depth)
    found = humps(grid, min_height_m=0.5)
    assert found["height_m"].tolist() == sorted(found["height_m"], reverse=True)
    truth = brute_levels(grid.values, found)
    np.testing.assert_array_equal(found["saddle_depth_m"], truth)
    np.testing.assert_array_equal(
        found["height_m"], found["saddle_depth_m"] - found["crest_depth_m"]
    )
    assert len(found) == 3
    column = ((found["peak_x"] - 5e5) / CELL - 0.5).astype(int)
    row = ((6e6 - found["peak_y"]) / CELL - 0.5).astype(int)
    np.testing.assert_array_equal(grid.values[row, column], found["crest_depth_m"])
    assert {(r, c) for r, c in zip(row, column, strict=True)} == {
        (r, c) for r, c, _ in tops
    } or all(
        min(abs(r - tr) + abs(c - tc) for tr, tc, _ in tops) <= 2
        for r, c in zip(row, column, strict=True)
    )


def brute_levels(depth, found):
    """Key saddle of each found crest by bisection over the depths of the grid."""
    levels = np.unique(depth)
    saddles = []
    for x, y, crest in zip(found.peak_x, found.peak_y, found.crest_depth_m, strict=True):
        at = (int((6e6 - y) / CELL), int((x - 5e5) / CELL))
        low, high = np.searchsorted(levels, crest), len(levels) - 1
        while low < high:
            middle = (low + high) // 2
            names, _ = label(depth <= levels[middle], EIGHT)
            ground = names == names[at]
            rim = ground[0].any() or ground[-1].any() or ground[:, 0].any() or ground[:, -1].any()
            if rim or (depth[ground] < np.float32(crest)).any():
                high = middle
            else:
                low = middle + 1
        saddles.append(levels[low])
    return np.array(saddles, float)


@pytest.mark.parametrize("bearing", [0.0, 30.0, 90.0, 155.0])
def test_footprint_of_an_elliptic_hump(bearing):
    rows, columns = np.mgrid[:161, :161]
    east, north = (columns - 80) * CELL, (80 - rows) * CELL
    angle = np.radians(bearing)
    along = east * np.sin(angle) + north * np.cos(angle)
    beside = east * np.cos(angle) - north * np.sin(angle)
    away = np.hypot(along / 150, beside / 60)
    depth = 15 + 5 * away
    depth[80, 81:] = np.minimum(depth[80, 81:], 20)  # a causeway to the border sets the saddle
    (hump,) = humps(in_utm(depth), min_height_m=2).itertuples()
    assert hump.height_m == pytest.approx(5, abs=1e-5)
    assert hump.long_axis_m == pytest.approx(300, rel=0.02)
    assert hump.short_axis_m == pytest.approx(120, rel=0.03)
    assert hump.area_m2 == pytest.approx(np.pi * 150 * 60, rel=0.03)
    assert abs((hump.bearing_deg - bearing + 90) % 180 - 90) < 1.0
    assert hump.geometry.is_valid


def test_lesser_hump_lies_in_the_greater():
    rows, columns, depth = sloping()
    depth -= 6 * np.exp(-((rows - 80) ** 2 + (columns - 90) ** 2) / 2 / 20**2)
    depth -= 4 * np.exp(-((rows - 80) ** 2 + (columns - 120) ** 2) / 2 / 5**2)
    found = humps(in_utm(depth), min_height_m=0.5)
    assert len(found) == 2
    greater, lesser = found.iloc[0], found.iloc[1]
    assert (greater.parent_id, lesser.parent_id) == (-1, greater.feature_id)
    assert greater.geometry.contains(lesser.geometry)
    assert not found["geometry"].is_empty.any()


def test_humps_side_by_side_have_no_parent():
    depth = np.full((30, 60), 12.0)
    depth[:3] = depth[-3:] = 5  # higher ground
    depth[12:18, 10:16] = 8.0
    depth[12:18, 40:46] = 9.0
    depth[15, 30] = 11.0
    found = humps(in_utm(depth), min_height_m=0.5, significance=0)
    assert found["height_m"].tolist() == [4.0, 3.0, 1.0]
    assert found["parent_id"].tolist() == [-1, -1, -1]


def test_of_equal_crests_the_first_is_the_higher():
    depth = np.full((12, 30), 12.0)
    depth[:, [0, -1]] = depth[[0, -1]] = 5  # higher ground
    depth[5, 6], depth[5, 20] = 8.0, 8.0
    depth[5, 7:20] = 10.0
    found = humps(in_utm(depth), min_height_m=0.5, significance=0)
    assert found["peak_x"].tolist() == [5e5 + 6.5 * CELL, 5e5 + 20.5 * CELL]
    assert found["saddle_depth_m"].tolist() == [12.0, 10.0]
    assert found["parent_id"].tolist() == [-1, 0]


def test_hump_joined_at_its_neighbours_own_saddle_has_no_parent():
    """Footprints at one and the same depth lie side by side, whichever was joined first."""
    depth = np.array([9.0, 8.0, 7.0], np.float32)
    peaks = Peaks(
        cell=np.arange(3, dtype=np.int32),
        crest=depth,
        saddle=np.array([12.0, 12.0, 13.0], np.float32),
        absorber=np.array([1, 2, -1], np.int32),
        open=np.zeros(3, bool),
    )
    assert _parents(peaks, np.array([0, 1, 2])).tolist() == [2, 2, -1]
    assert _parents(peaks, np.array([0, 1])).tolist() == [-1, -1]


def test_high_that_runs_out_of_the_grid_is_none():
    rows, columns = np.mgrid[:40, :50]
    depth = 20 - 8 * np.exp(-((rows - 0) ** 2 + (columns - 25) ** 2) / 2 / 8**2)
    assert humps(in_utm(depth)).empty


def test_high_that_closes_inside_counts_as_far_as_it_closes():
    rows, columns = np.mgrid[:60, :70]
    depth = 20 - 8 * np.exp(-((rows - 12) ** 2 + (columns - 35) ** 2) / 2 / 8**2)
    grid = in_utm(depth)
    (hump,) = humps(grid).itertuples()
    assert hump.open
    # the highest cell of the border is where its ground runs out
    rim = np.concatenate([grid.values[[0, -1]].ravel(), grid.values[:, [0, -1]].ravel()])
    assert hump.saddle_depth_m == rim.min()
    assert hump.height_m == pytest.approx(rim.min() - 12, abs=1e-6)


def test_closed_high_is_not_open():
    rows, columns, depth = sloping()
    depth -= 3 * np.exp(-((rows - 60) ** 2 + (columns - 80) ** 2) / 2 / 6**2)
    assert not humps(in_utm(depth))["open"].any()


def test_land_and_large_voids_are_the_outside_pinholes_are_not():
    rows, columns = np.mgrid[:60, :70]
    depth = 20 - 8 * np.exp(-((rows - 30) ** 2 + (columns - 35) ** 2) / 2 / 6**2)
    pinhole, large = depth.copy(), depth.copy()
    pinhole[28:31, 38:40] = np.nan
    large[26:35, 42:46] = np.nan
    (whole,) = humps(in_utm(depth)).itertuples()
    (holed,) = humps(in_utm(pinhole)).itertuples()
    (cut,) = humps(in_utm(large)).itertuples()
    assert holed.height_m == whole.height_m
    assert holed.geometry.equals(whole.geometry)
    assert cut.height_m < whole.height_m
    assert cut.open
    beside = in_utm(large).values[25:36, 41:47]
    assert cut.saddle_depth_m == np.nanmin(beside)


def test_footprint_leaves_out_a_second_hump_and_keeps_its_low():
    """A ring-shaped bank with a basin inside: the outline goes round it, islet and all."""
    rows, columns = np.mgrid[:81, :81]
    away = np.hypot(rows - 40, columns - 40)
    depth = 20 - 6 * np.exp(-((away - 20) ** 2) / 2 / 3**2)
    depth -= 4 * np.exp(-(away**2) / 2 / 2**2)  # an islet in the basin
    depth[40, 60] = 13.9  # the crest, on the ring's eastern side
    found = humps(in_utm(depth), min_height_m=3)
    ring = found.iloc[0]
    assert ring.crest_depth_m == pytest.approx(13.9)
    centre = shapely.Point(5e5 + 40.5 * CELL, 6e6 - 40.5 * CELL)
    assert ring.geometry.contains(centre)
    assert ring.geometry.is_valid
    assert ring.area_m2 > np.pi * (20 * CELL) ** 2


@pytest.mark.parametrize("seed", range(5))
def test_every_footprint_is_valid_and_holds_its_own_cells_only(seed):
    depth = np.round(np.random.default_rng(seed).normal(10, 2, (40, 50)), 1)
    grid = in_utm(depth)
    found = humps(grid, min_height_m=1.5, significance=0)
    assert len(found) > 5
    assert found.geometry.is_valid.all()
    x, y = np.meshgrid(grid["x"].values, grid["y"].values)
    for hump in found.itertuples():
        at = (int((6e6 - hump.peak_y) / CELL), int((hump.peak_x - 5e5) / CELL))
        names, _ = label(grid.values < hump.saddle_depth_m, EIGHT)
        own = names == names[at]
        inside = shapely.contains_xy(hump.geometry, x, y)
        assert inside[own].all()
        # what else is inside is a low or an islet within, not ground that reaches the rim
        assert hump.area_m2 > 0


def test_holes_are_humps_of_the_bottom_turned_over():
    depth = np.random.default_rng(4).normal(10, 2, (60, 70))
    high = humps(in_utm(-depth), min_height_m=2, significance=0)
    low = holes(in_utm(depth), min_height_m=2, significance=0)
    assert len(low) > 10
    assert set(low["kind"]) == {"hole"}
    np.testing.assert_array_equal(low["height_m"], high["height_m"])
    np.testing.assert_array_equal(low["crest_depth_m"], -high["crest_depth_m"])
    assert low.geometry.geom_equals(high.geometry).all()
    assert (low["crest_depth_m"] > low["saddle_depth_m"]).all()


def test_areas_can_be_limited():
    grid = in_utm(np.random.default_rng(4).normal(10, 2, (60, 70)))
    found = humps(grid, min_height_m=2, min_area_m2=100, max_area_m2=500, significance=0)
    assert found["area_m2"].between(100, 500).all()
    assert found["feature_id"].tolist() == list(range(len(found)))
    assert (found["parent_id"] < len(found)).all()


def test_geographic_grid_measures_over_the_ground():
    rows, columns = np.mgrid[:81, :81]
    step = 1e-4
    width, height = GEOD.inv(0, 60, step, 60)[2], GEOD.inv(0, 60, 0, 60 + step)[2]
    assert height > 1.9 * width
    away = np.hypot((rows - 40) * height, (columns - 40) * width)
    grid = make_grid(10 + away / 20, transform=Affine(step, 0, -20, 0, -step, 60.00405), crs=4326)
    (hump,) = humps(grid).itertuples()
    radius = 40 * width  # where the cone runs out of the grid
    assert hump.open
    assert hump.long_axis_m == pytest.approx(2 * radius, rel=0.01)
    assert hump.short_axis_m == pytest.approx(2 * radius, rel=0.01)
    assert hump.area_m2 == pytest.approx(np.pi * radius**2, rel=0.01)


@pytest.mark.parametrize("depth", [np.full((9, 9), np.nan), np.full((9, 9), 4.0), np.ones((1, 4))])
def test_nothing_to_find_gives_an_empty_table_with_columns(depth):
    found = humps(in_utm(depth))
    assert found.empty
    assert {"feature_id", "kind", "height_m", "parent_id", "geometry"} <= set(found.columns)


def test_no_height_is_refused():
    with pytest.raises(GridError, match="would keep every ripple"):
        humps(in_utm(np.ones((5, 5))), min_height_m=0)


def test_real_survey_by_bisection(registry_file):
    path = registry_file("s100py", "2.0.1", "tests/s102/F00788_SR_8m.tif")
    with rasterio.open(path) as file:
        depth = -file.read(1, masked=True).filled(np.nan)
        grid = make_grid(depth, transform=file.transform, crs=file.crs)
    found = humps(grid, min_height_m=1, significance=0)
    assert len(found) >= 3
    outside = outside_of(depth)
    near = np.pad(outside, 1, constant_values=True)
    doors = np.zeros(depth.shape, bool)
    for r in range(3):
        for c in range(3):
            doors |= near[r : r + depth.shape[0], c : c + depth.shape[1]]
    for hump in found.itertuples():
        at = rasterio.transform.rowcol(file.transform, hump.peak_x, hump.peak_y)
        below, _ = label(depth < np.float32(hump.saddle_depth_m), EIGHT)
        ground = below == below[at]
        assert not (ground & doors).any()
        assert np.nanmin(depth[ground]) == np.float32(hump.crest_depth_m)
        meets, _ = label(depth <= np.float32(hump.saddle_depth_m), EIGHT)
        wider = meets == meets[at]
        assert (wider & doors).any() or np.nanmin(depth[wider]) < np.float32(hump.crest_depth_m)
