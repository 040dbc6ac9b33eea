"""A small bottom in chunks against the same in one piece, kind by kind, and what is read of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
import pytest
import shapely
from affine import Affine
from scipy.ndimage import binary_dilation, correlate1d, gaussian_filter, label

from seabed.grid import make_grid, transform_of
from seabed.structure.band import Band
from seabed.structure.blocks.block import REACH, read_block
from seabed.structure.blocks.canvas import Canvas
from seabed.structure.blocks.kind import found
from seabed.structure.blocks.whole import SAMPLE, Held, Whole
from seabed.structure.calm.calming import Calm, Calms, _put_back, _smooth
from seabed.structure.calm.noise import NoiseField, NoiseSettings
from seabed.structure.channels import Axes
from seabed.structure.contours import ContourLines
from seabed.structure.edges import Edges
from seabed.structure.highs import Highs, _outside
from seabed.structure.overview import Overview, overview_of
from seabed.structure.tree.basins import PINHOLE_CELLS, doors_of, outside_of
from seabed.structure.tree.outline import outline

AFFINE = Affine(5, 0, 4e5, 0, -5, 5e6)
CALM = NoiseSettings(0.0)
KINDS = {
    "band": Band(-0.3, 0.6),
    "contours": ContourLines((-0.5, 0.4)),
    "edges": Edges(16.0, 20.0, 0.1, 0.5, None),
    "humps": Highs("hump", 0.2),
    "holes": Highs("hole", 0.2),
    "axes": Axes(scale_m=12.0, min_length_m=20.0, min_height_m=0.1),
}


def rough(seed=4, rows=48, columns=61):
    rng = np.random.default_rng(seed)
    depth = gaussian_filter(rng.normal(size=(rows, columns)), 2.5)
    depth /= depth.std()
    depth[20:23, 27:34] = depth[40:, 5:9] = np.nan
    return make_grid(depth.astype(np.float32), transform=AFFINE, crs="EPSG:32631")


class Bounded(Held):
    """A grid of which nothing is read that is not there."""

    def depths(self, row, column, rows, columns):
        assert row >= 0 and column >= 0 and rows > 0 and columns > 0
        assert row + rows <= self.shape[0] and column + columns <= self.shape[1]
        return super().depths(row, column, rows, columns)


def tables_of(kind, chunk, grid=None):
    """What is found; contours by depth and place, since their order is left open."""
    tables = found(kind, Whole(Bounded(rough() if grid is None else grid), chunk, CALM))
    if isinstance(kind, ContourLines):
        table = pd.concat(tables)
        table = table.set_geometry(shapely.normalize(table.geometry.to_numpy()))
        key = shapely.to_wkb(table.geometry.to_numpy())
        return [table.assign(key=key).sort_values(["depth_m", "key"], ignore_index=True)]
    return tables if kind is KINDS["axes"] else [tables]


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_each_kind_is_the_same_in_chunks(kind):
    for one, other in zip(tables_of(kind, 100), tables_of(kind, 17), strict=True):
        assert len(one) > 2
        pd.testing.assert_frame_equal(pd.DataFrame(one), pd.DataFrame(other))


def test_lines_through_the_centres_of_cells_are_the_same_length_in_chunks():
    """Depths in whole steps: where lines touch, either may go on as either."""
    grid = rough()
    grid = grid.copy(data=np.round(grid.values * 2) / 2)
    for level in (-0.5, 0.0, 0.5):
        (whole,), (parts,) = (tables_of(ContourLines((level,)), chunk, grid) for chunk in (100, 17))
        assert parts["length_m"].sum() == pytest.approx(whole["length_m"].sum(), rel=1e-9)
        assert abs(len(parts) - len(whole)) <= 2
    (whole,), (parts,) = (tables_of(Band(-0.5, 0.5), chunk, grid) for chunk in (100, 17))
    apart = parts.union_all().symmetric_difference(whole.union_all()).area
    assert apart <= 1e-9 * whole.area.sum()


@dataclass
class Counted:
    """A grid that notes which cells are read."""

    held: Held
    windows: list[tuple[int, int, int, int]] = field(default_factory=list)

    def __getattr__(self, name):
        return getattr(self.held, name)

    def depths(self, *window):
        self.windows.append(window)
        return self.held.depths(*window)


def test_a_chunk_reads_itself_and_a_margin():
    blocks = Counted(Held(rough(rows=90, columns=100)))
    whole = Whole(blocks, 40, CALM)
    margin = 3
    for chunk in whole.chunks:
        block = read_block(whole, chunk, margin)
        rows, columns = (
            range(max(first - margin, 0), min(first + size + margin, end))
            for first, size, end in (
                (chunk.row, chunk.rows, 90), (chunk.column, chunk.columns, 100),
            )
        )  # fmt: skip
        assert block.depth.shape == (len(rows), len(columns))
        assert (block.row, block.column) == (rows[0], columns[0])
        row, column, height, width = blocks.windows.pop()
        assert (row, column) == (
            max(chunk.row - margin - REACH, 0), max(chunk.column - margin - REACH, 0),
        )  # fmt: skip
        assert row + height == min(chunk.row + chunk.rows + margin + REACH, 90)
        assert column + width == min(chunk.column + chunk.columns + margin + REACH, 100)
        assert not blocks.windows


@pytest.mark.parametrize("shape", [(SAMPLE + 60, 40), (40, SAMPLE + 60), (5 * SAMPLE, 30)])
def test_the_typical_depth_is_that_of_four_by_four_blocks(shape):
    """By hand on depths that grow ever faster with row and column; five blocks leave gaps."""
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    depth = 5.0 + (0.01 * rows) ** 2 + (0.02 * columns) ** 2
    depth[SAMPLE + 20 : SAMPLE + 21] = 500.0
    sides = [min(size, SAMPLE) for size in shape]
    firsts = [
        sorted({math.floor(at * (size - side) / 3) for at in range(4)})
        for size, side in zip(shape, sides, strict=True)
    ]
    blocks = [
        depth[row : row + sides[0], column : column + sides[1]]
        for row in firsts[0]
        for column in firsts[1]
    ]
    whole = Whole.of(make_grid(depth, transform=AFFINE, crs="EPSG:32631"))
    assert whole.level_m == pytest.approx(np.mean(blocks), rel=1e-6)
    assert whole.sampled_range_m == pytest.approx((np.min(blocks), np.max(blocks)), rel=1e-6)


@pytest.mark.parametrize(("most", "step"), [(10**6, 1), (1000, 2), (300, 4)])
def test_an_overview_of_chunks_is_the_mean_of_known_cells(most, step):
    grid = rough()
    overview, (least, greatest) = found(Overview(most), Whole(Held(grid), 18, CALM))
    depth = np.full([-(-size // step) * step for size in grid.shape], np.nan)
    depth[: grid.shape[0], : grid.shape[1]] = grid.values
    high, wide = depth.shape[0] // step, depth.shape[1] // step
    squares = depth.reshape(high, step, wide, step).swapaxes(1, 2).reshape(high, wide, -1)
    known = np.isfinite(squares).any(axis=2)
    assert np.isfinite(overview.values).tolist() == known.tolist()
    np.testing.assert_allclose(
        overview.values[known], np.nanmean(squares[known], axis=1), rtol=1e-5, atol=1e-6
    )
    assert (least, greatest) == (np.nanmin(depth), np.nanmax(depth))
    assert transform_of(overview) == AFFINE @ Affine.scale(step)


def test_the_overview_of_a_small_grid_is_the_grid():
    grid = rough()
    np.testing.assert_array_equal(overview_of(Held(grid)).values, grid.values)


@pytest.mark.parametrize(("row", "column"), [(0, 0), (5, 59), (16, 16), (47, 31), (31, 60)])
def test_a_tile_of_the_canvas_holds_a_cell_and_all_that_touch_it(row, column):
    grid = rough()
    whole = Whole(Held(grid), 100, CALM)
    canvas = Canvas(whole, Calms(whole.field, 0.0, 1.0), sign=-1.0, tile=16)
    for _ in range(2):  # read, then kept
        depth, top, left = canvas(row, column)
        first, start = row // 16 * 16, column // 16 * 16
        assert (top, left) == (max(first - 1, 0), max(start - 1, 0))
        np.testing.assert_array_equal(
            depth, -grid.values[top : first + 17, left : start + 17], strict=True
        )


def test_a_tile_of_the_canvas_is_calm_as_the_whole_is():
    rng = np.random.default_rng(3)
    depth = (20 + rng.normal(size=(90, 100))).astype(np.float32)
    whole = Whole(Held(make_grid(depth, transform=AFFINE, crs="EPSG:32631")), 200)
    calms = Calms(whole.field, whole.noise.significance, 1.0)
    assert calms.reach > 1
    ground = calms.applied(depth, 0, 0)
    part, top, left = Canvas(whole, calms, tile=32)(40, 70)
    np.testing.assert_allclose(part, ground[31:65, 63:97], rtol=1e-6)
    assert (top, left) == (31, 63)


@pytest.mark.parametrize("chunk", [20, 100])
def test_the_outside_of_a_chunk_is_that_of_the_whole(chunk):
    """Voids of more than 25 cells, and those that reach the grid's rim, by labels."""
    depth = rough(rows=60, columns=70).values.copy()
    depth[12:22, 15:24] = depth[33:36, 50:56] = np.nan
    grid = make_grid(depth, transform=AFFINE, crs="EPSG:32631")
    names, count = label(np.isnan(depth), np.ones((3, 3), int))
    outside = np.ones((62, 72), bool)
    outside[1:-1, 1:-1] = False
    for name in range(1, count + 1):
        part = names == name
        rim = part[0].any() or part[-1].any() or part[:, 0].any() or part[:, -1].any()
        outside[1:-1, 1:-1] |= part & (rim or part.sum() > PINHOLE_CELLS)
    whole, kind = Whole(Held(grid), chunk, CALM), KINDS["humps"]
    for one in whole.chunks:
        own = outside[one.row : one.row + one.rows + 2, one.column : one.column + one.columns + 2]
        ours = _outside(read_block(whole, one, kind.margin(whole)))
        if ours.size:
            np.testing.assert_array_equal(ours, own, strict=True)
        else:
            assert not own[1:-1, 1:-1].any()


@pytest.mark.parametrize("kind", ["hump", "hole"])
@pytest.mark.parametrize("seed", range(3))
def test_highs_over_the_borders_of_tiny_chunks(seed, kind):
    """White noise in chunks of five cells: nearly every pass is at a border."""
    depth = np.random.default_rng(seed).normal(10, 3, (14, 17))
    depth[3:5, 9] = depth[11, 4] = np.nan
    grid = make_grid(depth.astype(np.float32), transform=AFFINE, crs="EPSG:32631")
    one, other = (found(Highs(kind, 0.01), Whole(Bounded(grid), chunk, CALM)) for chunk in (20, 5))
    assert len(one) > 15
    pd.testing.assert_frame_equal(pd.DataFrame(one), pd.DataFrame(other))


def test_an_outline_through_tiles_is_that_of_the_whole():
    grid = rough(seed=5)
    depth, whole = grid.values, Whole(Held(grid), 100, CALM)
    canvas = Canvas(whole, Calms(whole.field, 0.0, 1.0), tile=4)
    level = float(np.nanquantile(depth, 0.4))
    lows, count = label(depth < level, np.ones((3, 3), int))
    tried = 0
    for name in range(1, count + 1):
        part = lows == name
        edge = part[0].any() or part[-1].any() or part[:, 0].any() or part[:, -1].any()
        if edge:
            continue
        row, column = map(int, np.argwhere(part)[0])
        through = outline(canvas, row, column, level)
        np.testing.assert_array_equal(
            through, outline(lambda *_: (depth, 0, 0), row, column, level)
        )
        tried += np.ptp(through, axis=0).max() > 4
    assert tried > 2


def test_what_is_beyond_chance_is_put_back_with_a_cell_around_it():
    """By scipy: a narrow mean of the rest by its kernel, dilated by a cell where it is clear."""
    rng = np.random.default_rng(8)
    smooth, rest = rng.normal(size=(2, 24, 31)).astype(np.float32)
    kernel = np.array([0.1, 0.2, 0.4, 0.2, 0.1], np.float32)
    depth = smooth + 2 * rest
    out = np.empty_like(depth)
    limits = np.float32(0.5), np.float32(3.0)
    _put_back(0, 24, depth, smooth, rest, kernel, *limits, out)
    narrow = correlate1d(correlate1d(rest, kernel, 0, mode="constant"), kernel, 1, mode="constant")
    marked = binary_dilation(np.abs(narrow) > 0.5, np.ones((3, 3)))
    assert 0.1 < marked.mean() < 0.9
    value = smooth + np.where(marked, narrow, 0)
    alone = np.abs(depth - value) > 3.0
    assert 0.02 < alone.mean() < 0.9
    np.testing.assert_allclose(out, np.where(alone, depth, value), atol=1e-5)


@pytest.mark.parametrize("walls", ["", "north", "south east", "west"])
def test_doors_are_border_cells_at_a_wall_or_beside_the_outside(walls):
    walls = tuple(side in walls for side in ("north", "south", "west", "east"))
    depth = np.zeros((7, 9), np.float32)
    depth[2, 8] = depth[6, 3] = np.nan
    outside = outside_of(depth, walls)
    beside = binary_dilation(outside, np.ones((3, 3)))[1:-1, 1:-1]
    for wall, rim in zip(walls, (np.s_[0], np.s_[-1], np.s_[:, 0], np.s_[:, -1]), strict=True):
        beside[rim] |= wall
    doors = doors_of(outside, np.array(walls), depth.shape)
    for ours, theirs in zip(
        doors, (beside[0], beside[-1], beside[:, 0], beside[:, -1]), strict=True
    ):
        assert ours.tolist() == theirs.tolist()


def test_a_gaussian_over_voids_and_rims_is_the_mean_of_what_is_known():
    """By scipy: the sum over known cells by the weight they carry; NaN below 0.35 of it."""
    rng = np.random.default_rng(2)
    depth = (20 + rng.normal(size=(33, 29))).astype(np.float32)
    depth[:12, 20:] = depth[20:, :4] = depth[15, 9] = np.nan
    depth[5, 25] = 20.0  # alone among voids
    void, kernel = np.isnan(depth), Calm(0.3, 4.5, 1.5).kernel
    total, weight = (
        correlate1d(correlate1d(one, kernel, 0, mode="constant"), kernel, 1, mode="constant")
        for one in (np.where(void, 0, depth).astype(float), (~void).astype(float))
    )
    known = ~void & (weight >= 0.35)
    assert 0 < (~known & ~void).sum() < 40
    out = np.empty_like(depth)
    _smooth(0, 33, np.nan_to_num(depth), void, void.any(axis=1), kernel, out)
    assert np.isfinite(out).tolist() == known.tolist()
    np.testing.assert_allclose(out[known], (total / weight)[known], rtol=1e-5)


def test_the_height_that_is_clear_of_the_noise():
    """By hand: four left deviations, and the height looked for, less of it on calmed ground."""
    field = NoiseField(8, np.array([[0.0, 0.1], [0.3, 0.1]]))
    calms = Calms(field, 4.0, 0.5)
    row, column = np.array([0, 0, 9, 15]), np.array([0, 8, 0, 15])
    left = [calms.of(sigma_m).left_m for sigma_m in (0.0, 0.1, 0.3, 0.1)]
    np.testing.assert_allclose(calms.left_m(row, column), left)
    truth = [max(0.5 * share, 4 * one) for share, one in zip((1, 0.2, 0.2, 0.2), left, strict=True)]
    np.testing.assert_allclose(calms.clear_m(row, column, 0.2), truth)


@pytest.mark.parametrize(("row", "column"), [(0, 0), (3, 5), (8, 16), (15, 1), (7, 23)])
def test_zones_cover_each_cell_of_a_block_once_with_its_own_noise(row, column):
    field = NoiseField(8, np.array([[0.1, 0.1, 0.2], [0.1, 0.1, 0.2], [0.3, 0.1, 0.1]]))
    shape = 9, 17
    given = np.zeros(shape)
    for rows, columns, sigma_m in field.zones(row, column, shape):
        assert given[rows, columns].size
        assert not given[rows, columns].any()
        given[rows, columns] = sigma_m
    rows, columns = np.mgrid[:9, :17]
    np.testing.assert_array_equal(given, field.at(rows + row, columns + column))


def test_levels_of_noise_are_steps_from_the_usual():
    """The upper quartile serves up to a step beside it, rounded up beyond, and 12 steps down."""
    sigma_m = np.array([[0.0, 0.05, 0.09], [0.1, 0.1, 0.1], [0.13, 0.2, 0.9]])
    levels = NoiseField(8, sigma_m).levelled.sigma_m
    usual = np.quantile(sigma_m, 0.75)
    assert usual == pytest.approx(0.13)
    down = [usual / 1.4**n for n in (12, 2, 1)]
    expected = [*down, *[usual] * 4, usual * 1.4**2, usual * 1.4**6]
    np.testing.assert_allclose(levels.ravel(), expected)
