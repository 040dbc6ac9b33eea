"""Features in noise, on ground that falls and on coarse cells, against the bottoms beneath."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from scipy.ndimage import binary_dilation, correlate1d, gaussian_filter
from thoroughness import THOROUGH

from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.structure import Search, contours, depth_band, edges, find_bottom, holes, humps
from seabed.structure.blocks.whole import Held
from seabed.structure.calm.calming import _NARROW, Calm
from seabed.structure.calm.lone import doubtful_cells
from seabed.structure.calm.noise import NoiseField, mask_sigmas

SQUARE_KM = 1e6


def on_cells(depth, cell_m):
    transform = Affine(cell_m, 0, 5e5, 0, -cell_m, 6e6)
    return make_grid(depth.astype(np.float32), transform=transform, crs="EPSG:32631")


def noise(shape, sigma_m, seed):
    return sigma_m * np.random.default_rng(seed).normal(size=shape)


def mask_sigma(depth):
    return mask_sigmas(depth, np.array([0]), depth.shape[1])[0]


@pytest.mark.parametrize("sigma_m", [0.05, 0.3])
def test_noise_is_measured_whatever_the_slope(sigma_m):
    row, column = np.mgrid[:200, :200]
    plane = (20 + 0.1 * row + 0.05 * column + noise(row.shape, sigma_m, 3)).astype(np.float32)
    # the median of 38,000 responses, of which neighbours share cells: within 3 %
    assert mask_sigma(plane) == pytest.approx(sigma_m, rel=0.03)


def test_smooth_hills_have_no_noise():
    row, column = np.mgrid[:200, :200]
    hills = 20 + 2 * np.sin(row / 8) * np.cos(column / 9)
    assert mask_sigma(hills.astype(np.float32)) < 0.001


@pytest.mark.parametrize("seed", range(3 if THOROUGH else 1))
def test_a_noisy_flat_has_no_humps_or_holes(seed):
    """At most two a square kilometre are allowed; 85 were found before."""
    flat = on_cells(20 + noise((500, 500), 0.3, seed), 2.0)
    assert len(humps(flat)) + len(holes(flat)) <= 2
    assert len(humps(flat, significance=0)) > 20


@pytest.mark.parametrize("cell_m", [2.0, 12.0])
def test_planted_humps_are_found_in_noise_with_their_heights(cell_m):
    rng = np.random.default_rng(7)
    row, column = np.mgrid[:300, :400].astype(float)
    clean, planted = np.full(row.shape, 25.0), []
    for r in range(50, 300, 100):
        for c in range(40, 400, 80):
            spread, height = max(rng.uniform(8, 30) / cell_m, 0.8), rng.uniform(1.5, 4)
            clean -= height * np.exp(-((row - r) ** 2 + (column - c) ** 2) / 2 / spread**2)
            planted.append((r, c, height))
    table = humps(on_cells(clean + noise(row.shape, 0.3, 1), cell_m))
    errors = []
    for r, c, height in planted:
        away = np.hypot(
            (table["peak_x"] - 5e5) / cell_m - 0.5 - c, (6e6 - table["peak_y"]) / cell_m - 0.5 - r
        )
        near = table[away < 15]
        errors += (near["height_m"] - height).tolist()[:1]
    assert len(errors) >= len(planted) - 1
    # a crest's own error is some 0.16 m (what a narrow mean leaves of 0.3 m): of 15, 0.04 m
    assert abs(np.mean(errors)) < 0.1 + 0.04


def test_lone_soundings_are_doubtful_and_humps_of_a_cell_are_not():
    rng = np.random.default_rng(2)
    row, column = np.mgrid[:200, :200]
    depth = 20 + 0.02 * row + noise(row.shape, 0.05, 4)
    lone = {(20, 30), (60, 61), (60, 62), (100, 40), (101, 41), (150, 90), (152, 90)}
    for place in lone:
        depth[place] -= rng.uniform(1.5, 3)
    for r, c in ((30, 120), (80, 120.5), (130.5, 120.5)):
        depth -= 2.4 * np.exp(-((row - r) ** 2 + (column - c) ** 2) / 2 / 0.8**2)
    depth[170, 20:60] -= 2.0  # a wall one cell wide
    cells, medians = doubtful_cells(depth.astype(np.float32), 0.05)
    ends = {(170, 20), (170, 59)}  # of the wall: nothing tells them from a pair
    assert {tuple(cell) for cell in cells.tolist()} - ends == lone
    for (r, _), median in zip(cells, medians, strict=True):
        assert median == pytest.approx(20 + 0.02 * r, abs=0.15)


def test_only_humps_are_found_among_lone_soundings():
    """Two humps of 2.4 and 1.7 m, and seven soundings of 1.5 to 3 m, six of them in pairs."""
    row, column = np.mgrid[:200, :200]
    depth = 20 + noise(row.shape, 0.05, 5)
    for r, c, height in ((60, 60, 2.4), (140, 120, 1.7)):
        depth -= height * np.exp(-((row - r) ** 2 + (column - c) ** 2) / 2 / 6**2)
    for n, place in enumerate(
        [(20, 150), (20, 151), (90, 20), (91, 20), (180, 60), (181, 61), (30, 30)]
    ):
        depth[place] -= 1.5 + 0.25 * n
    grid = on_cells(depth, 2.0)
    assert humps(grid)["height_m"].tolist() == pytest.approx([2.4, 1.7], abs=0.15)
    assert len(humps(grid, significance=0)) > 5


def test_what_is_calmed_in_a_part_is_what_is_calmed_in_the_whole():
    depth = (20 + noise((300, 260), 0.2, 6)).astype(np.float32)
    depth[100:120, 80:95] = np.nan
    calm = Calm.of(0.2, 4.5, 1.0)
    part = calm.applied(np.ascontiguousarray(depth[40:250, 30:240]))
    inner = slice(calm.reach, -calm.reach)
    whole = calm.applied(depth)[40:250, 30:240]
    np.testing.assert_array_equal(part[inner, inner], whole[inner, inner])
    assert np.isnan(whole[70, 60])
    left = np.nanstd(whole[120:, 120:])  # the kernel's root of summed squares, known beforehand
    assert left == pytest.approx(calm.left_m, rel=0.05)


def scarp(drop_m, falls_deg, sigma_m, seed):
    """A ramp 20 m wide on ground that falls."""
    across = (np.arange(240) - 120) * 2.0
    depth = 20 + np.tan(np.radians(falls_deg)) * across + drop_m * np.clip(across / 20 + 0.5, 0, 1)
    return on_cells(np.tile(depth, (200, 1)) + noise((200, 240), sigma_m, seed), 2.0)


@pytest.mark.parametrize("falls_deg", [0, 2, 5] if THOROUGH else [0, 5])
@pytest.mark.parametrize(("drop_m", "low", "high"), [(3.0, 2.8, 3.3), (1.0, 0.9, 1.1)])
def test_a_scarp_has_its_own_drop_on_ground_that_falls(falls_deg, drop_m, low, high):
    for seed in range(2):
        table = edges(scarp(drop_m, falls_deg, 0.3, seed))
        assert len(table) == 1
        assert low <= table["drop_m"][0] <= high
        assert table["width_m"][0] == pytest.approx(20, abs=2.5)  # a cell and a half of the mean
        assert table["length_m"][0] > 360


@pytest.mark.parametrize("seed", range(3 if THOROUGH else 1))
def test_an_even_slope_that_undulates_has_no_edges(seed):
    across = np.arange(500) * 2.0
    waves = gaussian_filter(np.random.default_rng(seed).normal(size=(500, 500)), 10, mode="wrap")
    depth = 20 + np.tan(np.radians(1)) * across + 0.2 * waves / waves.std()
    assert len(edges(on_cells(depth, 2.0))) <= 2  # a square kilometre
    assert len(edges(on_cells(depth, 2.0), significance=0)) > 10


@pytest.mark.parametrize("cell_m", [25.0, 100.0, 1200.0])
def test_scales_follow_coarse_cells(cell_m):
    row, column = np.mgrid[:80, :90]
    depth = 30 + 40 / (1 + np.exp(-(column - 45) / 2.0)) * cell_m / 25 + 0.01 * row
    depth -= 8 * np.exp(-((row - 40) ** 2 + (column - 15) ** 2) / 2 / 4**2)
    bottom = find_bottom(on_cells(depth, cell_m), Search(edge_scale_m=20.0, contours_m=(35.0,)))
    assert bottom.edges["drop_m"][0] == pytest.approx(40 * cell_m / 25, rel=0.05)
    assert bottom.features["kind"].tolist() == ["hump"]
    assert sum(len(table) for table in bottom.contours())
    with pytest.raises(GridError, match="finer than the cells"):
        edges(on_cells(depth, cell_m), scale_m=20.0)


def test_noise_that_can_not_be_is_refused():
    flat = on_cells(np.full((20, 20), 9.0), 2.0)
    with pytest.raises(GridError, match="significance of -1 is not a size"):
        humps(flat, significance=-1)
    with pytest.raises(GridError, match="noise of nan is not a size"):
        edges(flat, noise_m=float("nan"))


@pytest.mark.parametrize("seed", range(2 if THOROUGH else 1))
def test_lines_that_noise_alone_makes_are_left_out_and_counted(seed):
    """A flat at 51 to 53 m with noise of 0.1 m: the lines of the flat beneath are five."""
    across = np.arange(300) * 2 / 300
    flat = on_cells(51 + np.tile(across, (300, 1)) + noise((300, 300), 0.1, seed), 2.0)
    levels = [51.0, 51.5, 52.0, 52.5, 53.0]
    table, all_lines = contours(flat, levels), contours(flat, levels, significance=0)
    assert len(all_lines) > 2000
    assert len(table) < len(all_lines) / 50
    assert table.attrs["left_out"] > 20
    assert all_lines.attrs["left_out"] == 0
    for level in levels[1:-1]:  # each of the flat's own lines is there, from side to side
        assert table.loc[table["depth_m"] == level, "length_m"].max() > 550


def test_a_ring_about_ground_that_differs_stays():
    row, column = np.mgrid[:120, :120]
    depth = 20 - 0.8 * np.exp(-((row - 60) ** 2 + (column - 60) ** 2) / 2 / 8**2)
    table = contours(on_cells(depth + noise(depth.shape, 0.1, 1), 2.0), [19.5])
    assert table["closed"].tolist() == [True]


def test_a_band_on_a_noisy_flat_has_hardly_a_speck():
    """The truth is the strip of a plane between the two depths; by cells it falls to bits."""
    row, column = np.mgrid[:300, :400]
    grid = on_cells(51 + column / 200 + noise(row.shape, 0.1, 1), 2.0)
    band = depth_band(grid, 51.5, 52.2)
    true_m2 = 140 * 299 * 4.0
    assert len(band) <= 5  # a gentle slope carries the chance of a few beside the line
    assert band["area_m2"].iloc[0] == pytest.approx(true_m2, rel=0.01)
    assert len(depth_band(grid, 51.5, 52.2, significance=0)) > 100


def test_a_band_over_all_of_a_small_flat_is_no_noise():
    flat = on_cells(8.05 + noise((40, 40), 0.1, 1), 2.0)
    assert depth_band(flat, 7, 9)["area_m2"].sum() == pytest.approx((39 * 2) ** 2)


@pytest.mark.parametrize("radius", [60, 80] if THOROUGH else [60])
def test_a_noisy_patch_on_a_good_grid_has_no_humps(radius):
    """One figure for the whole grid showed 20 to 46; smaller patches than this are not seen."""
    row, column = np.mgrid[:400, :400]
    bad = np.hypot(row - 250, column - 250) < radius
    grid = on_cells(20 + noise(row.shape, 1.0, 3) * np.where(bad, 0.5, 0.02), 2.0)
    assert len(humps(grid)) + len(holes(grid)) <= 1


def test_good_soundings_beside_old_ones_keep_their_heights():
    row, column = np.mgrid[:400, :400].astype(float)
    depth = 20 + noise(row.shape, 1.0, 4) * np.where(column < 200, 0.02, 0.3)
    for south in range(50, 400, 50):
        for east in (40, 90, 140):
            depth -= 1.3 * np.exp(-((row - south) ** 2 + (column - east) ** 2) / 2 / 1.5**2)
    table = humps(on_cells(depth, 2.0))
    assert len(table) == 21
    # by the old soundings' noise they were 0.05 m too high in the mean
    assert np.abs(table["height_m"] - 1.3).mean() < 0.03


def test_chunks_of_mixed_soundings_give_the_same(tmp_path):
    row, column = np.mgrid[:260, :260].astype(float)
    depth = 20 + noise(row.shape, 1.0, 5) * np.where(column < 130, 0.02, 0.3)
    depth -= 2 * np.exp(-((row - 128) ** 2 + (column - 128) ** 2) / 2 / 6**2)
    grid = on_cells(depth, 2.0)
    search = Search(contours_m=(19.0, 20.0), band_m=(18.5, 19.5))
    whole = find_bottom(grid, search)
    parts = find_bottom(Held(grid), search, folder=tmp_path / "parts", chunk=100, jobs=1)
    for name in ("features", "band"):
        one, other = getattr(whole, name), getattr(parts, name)
        assert one.drop(columns="geometry").equals(other.drop(columns="geometry"))
    lines = [[*bottom.contours()] for bottom in (whole, parts)]
    assert sum(map(len, lines[0])) == sum(map(len, lines[1]))
    left = [sum(table.attrs["left_out"] for table in tables) for tables in lines]
    assert left[0] == left[1] > 0


def test_the_noise_of_a_long_grid_is_read_in_the_middle_of_its_tiles():
    """4,000 rows are 40 tiles of 100, of each of which 32 rows are read; the last is pushed in."""
    read = []

    def depths(row, column, rows, columns):
        read.append((row, rows))
        return noise((rows, columns), 0.1, row).astype(np.float32)

    field = NoiseField.measured((4000, 64), depths)
    assert field.step == 100
    assert sorted(read) == [(100 * tile + 34, 32) for tile in range(40)]
    assert field.sigma_m.shape == (40, 1)
    np.testing.assert_allclose(field.sigma_m, 0.1, rtol=0.15)


def test_the_narrow_mean_is_a_binomial_one_twiced():
    """Twicing (Tukey 1977): the mean, and the mean of what it leaves."""
    mean = np.array([0.25, 0.5, 0.25])
    assert _NARROW.tolist() == (2 * np.pad(mean, 1) - np.convolve(mean, mean)).tolist()


def lone(depth, limit):
    """Each cell by itself: a median, a plane, and what its neighbours share."""
    for row, column in np.ndindex(*depth.shape):
        if not (2 <= row < depth.shape[0] - 2 and 2 <= column < depth.shape[1] - 2):
            continue
        about, own = depth[row - 2 : row + 3, column - 2 : column + 3], depth[row, column]
        known = np.isfinite(about)
        away = np.mgrid[-2:3, -2:3]
        ring = known & (np.abs(away).max(axis=0) == 2)
        if np.isnan(own) or ring.sum() < 8:
            continue
        middle = np.sort(about[known])[known.sum() // 2]
        plane = np.zeros((5, 5))
        if ring.all() or ring.sum() == 16:
            terms = np.column_stack([np.ones(16), *away[:, ring]])
            _, down, across = np.linalg.lstsq(terms, about[ring], rcond=None)[0]
            plane = down * away[0] + across * away[1]
        off, off_plane = own - middle, own - about[ring].mean()
        if min(abs(off), abs(off_plane)) < limit or off * off_plane < 0:
            continue
        near = known & (np.abs(away).max(axis=0) == 1)
        shares = np.sort(((about - middle - plane) / off)[near])
        most = max(shares[-1], 0.0) if len(shares) else 0.0
        if len(shares) < 2 or (shares.sum() - most) / (len(shares) - 1) < 0.1:
            yield row, column


@pytest.mark.parametrize("seed", range(4 if THOROUGH else 2))
def test_doubtful_cells_are_those_that_each_cell_by_itself_shows(seed):
    rng = np.random.default_rng(seed)
    row, column = np.mgrid[:24, :26]
    depth = 20 + 0.1 * row - 0.2 * column + noise(row.shape, 0.05, seed)
    for _ in range(14):  # lone ones, pairs, and steps that neighbours share in part
        r, c = rng.integers(0, 23), rng.integers(0, 25)
        depth[r : r + rng.integers(1, 3), c : c + rng.integers(1, 3)] += rng.uniform(-3, 3)
    for _ in range(6):
        r, c = rng.integers(0, 22), rng.integers(0, 24)
        depth[r : r + rng.integers(1, 5), c : c + rng.integers(1, 3)] = np.nan
    depth = depth.astype(np.float32)
    cells, medians = doubtful_cells(depth, 0.05)
    assert list(map(tuple, cells.tolist())) == list(lone(depth.astype(float), 0.5))
    assert len(medians) == len(cells) > 1


def test_what_the_gaussian_loses_comes_back_where_it_is_a_deviation_beyond_the_significance():
    """By scipy, on bumps about a cell wide, small ones to large."""
    sigma_m, significance = 0.2, 4.5
    calm = Calm.of(sigma_m, significance, 1.0)
    row, column = np.mgrid[:40, :220]
    depth = np.full((40, 220), 20.0, np.float32)
    for c, height in zip(range(20, 220, 20), np.linspace(0.4, 2.5, 10), strict=True):
        depth -= height * np.exp(-((row - 20) ** 2 + (column - c) ** 2) / 2 / 0.8**2)

    def mean(values, kernel):
        return correlate1d(correlate1d(values, kernel, 0), kernel, 1)

    smooth = mean(depth.astype(float), calm.kernel)
    back = mean(depth - smooth, _NARROW)
    narrow = sigma_m * (_NARROW**2).sum()
    above, below = (
        (np.abs(back) > (significance + more) * narrow).any(axis=0).sum() for more in (-1, 1)
    )
    assert above > below > 0
    marked = binary_dilation(np.abs(back) > (significance + 1) * narrow, np.ones((3, 3)))
    truth = smooth + np.where(marked, back, 0)
    truth = np.where(np.abs(depth - truth) > 6 * sigma_m, depth, truth)
    np.testing.assert_allclose(calm.applied(depth), truth, atol=1e-4)


@pytest.mark.parametrize(("height", "count"), [(1.5, 0), (0.0, 1)])
def test_two_neighbours_among_voids_are_enough_to_share(height, count):
    depth = np.full((7, 7), 20.0, np.float32)
    depth[2:5, 2:5] = np.nan
    depth[2, 3] = depth[4, 3] = 20.0 - height
    depth[3, 3] = 17.0
    assert len(doubtful_cells(depth, 0.05)[0]) == count


@pytest.mark.parametrize(("height", "count"), [(0.8, 0), (0.4, 1)])
def test_what_neighbours_share_is_measured_over_the_slope(height, count):
    """By hand: the median is 0.5 or 0.4 over the middle, so that 0.12 of 2.5 m, or 0, is shared."""
    ground = np.tile(0.5 * np.arange(-3, 4)[:, None], (1, 7))
    ground[2:5, 2:5] += height
    ground[3, 3] = 3.0
    for depth in (ground, ground.T):
        cells, _ = doubtful_cells(np.ascontiguousarray(20 + depth, np.float32), 0.05)
        assert len(cells) == count
