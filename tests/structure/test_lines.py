"""Cutting traced lines: gaps bridged or not, rings cut in their longest gap only."""

import numpy as np
import pytest
from affine import Affine

from seabed.grid import make_grid
from seabed.structure.blocks.block import crossings_of
from seabed.structure.tracing.lines import _longest_gap, traced
from seabed.structure.tracing.linking import linked, settled
from seabed.structure.tracing.marching import level_lines, marching

GRID = make_grid(np.zeros((60, 60)), transform=Affine(4, 0, 5e5, 0, -4, 6e6), crs=32631)


def straight(count, row=10.0):
    return np.column_stack([np.arange(count, dtype=float), np.full(count, row)])


@pytest.mark.parametrize(("gap_m", "pieces"), [(11.9, 2), (12.1, 1)])
def test_gaps_are_bridged_up_to_a_length(gap_m, pieces):
    good = np.ones(20, bool)
    good[8:10] = False  # from point 7 to point 10: 12 m
    found = traced(GRID, (straight(20), np.array([0, 20])), good, gap_m=gap_m)
    assert len(found.table) == pieces
    assert found.keep.tolist() == [i for i in range(20) if good[i] or pieces == 1]
    assert found.table["length_m"].sum() == pytest.approx(19 * 4 - (0 if pieces == 1 else 12))


def test_bad_ends_go_and_single_points_with_them():
    good = np.array([0, 1, 1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1, 1, 1, 0], bool)
    found = traced(GRID, (straight(18), np.array([0, 18])), good, gap_m=8)
    assert found.keep.tolist() == [1, 2, 14, 15, 16]
    assert found.line.tolist() == [0, 0, 1, 1, 1]


def test_neighbouring_lines_are_not_joined():
    points = np.concatenate([straight(5), straight(10)[5:]])
    found = traced(GRID, (points, np.array([0, 5, 10])), np.ones(10, bool), gap_m=100)
    assert found.line.tolist() == [0] * 5 + [1] * 5


def ring(count=40):
    angle = np.linspace(0, 2 * np.pi, count + 1)
    points = np.column_stack([30 + 10 * np.cos(angle), 30 + 10 * np.sin(angle)])
    points[-1] = points[0]
    return points


@pytest.mark.parametrize("start", [0, 1, 7, 25, 38])
def test_a_ring_is_cut_in_its_longest_gap_wherever_it_starts(start):
    """A long gap and a short one that is bridged: one line, of the same length for every start."""
    good = np.ones(40, bool)
    good[10:20] = False
    good[30] = False
    turned = np.concatenate(
        [np.roll(ring()[:-1], -start, axis=0), np.roll(ring()[:-1], -start, 0)[:1]]
    )
    turned_good = np.append(np.roll(good, -start), np.roll(good, -start)[0])
    found = traced(GRID, (turned, np.array([0, 41])), turned_good, gap_m=15)
    assert len(found.table) == 1
    # 29 of 40 steps of a circle of 40 m, as chords
    assert found.table["length_m"][0] == pytest.approx(29 * 2 * 40 * np.sin(np.pi / 40), rel=1e-6)


def test_a_whole_ring_stays_closed():
    found = traced(GRID, (ring(), np.array([0, 41])), np.ones(41, bool), gap_m=8)
    assert found.table.geometry[0].is_closed


def test_nothing_good_gives_no_lines():
    found = traced(GRID, (straight(5), np.array([0, 5])), np.zeros(5, bool), gap_m=8)
    assert found.table.empty
    none = traced(GRID, (np.empty((0, 2)), np.zeros(1, np.int64)), np.empty(0, bool), gap_m=8)
    assert none.table.empty


def test_each_piece_is_followed_by_one_that_starts_where_it_ends():
    """Two end and two start in one place, one goes on alone, one is free, one leads nowhere."""
    here, there, free = (4.0, 5.0), (7.0, 5.0), (np.nan, np.nan)
    ends = np.array([here, here, there, free, (9.0, 9.0)])
    starts = np.array([there, here, free, here, (8.0, 8.0)])
    onward = linked(ends, starts)
    assert sorted(onward[:2]) == [1, 3]
    assert onward[2:].tolist() == [0, -1, -1]


def test_neighbours_are_joined_however_far_apart_they_are():
    lines = traced(GRID, (straight(20), np.array([0, 20])), np.ones(20, bool), gap_m=1.0)
    assert lines.line.tolist() == [0] * 20


@pytest.mark.parametrize("seed", range(30))
def test_a_ring_begins_after_its_longest_gap(seed):
    """By going once round from each good point to the next."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(4, 12))
    good, step_m = rng.random(count) < 0.5, rng.uniform(1, 9, count)
    good[rng.choice(count, 2, replace=False)] = True, False
    ways = {}
    for first in np.flatnonzero(good):
        n, way = int(first), 0.0
        while n == first or not good[n % count]:
            way += step_m[n % count]
            n += 1
        if n - first > 1:
            ways[(int(first) + 1) % count] = way
    assert _longest_gap(good, step_m) == max(ways, key=ways.get)


@pytest.mark.parametrize(("first", "last"), [((9, 4), (2, 20)), ((2, 30), (9, 30))])
@pytest.mark.parametrize("turned", [False, True])
def test_lines_without_a_sense_begin_in_the_north_or_west(first, last, turned):
    points = np.linspace(first, last, 5)[:: -1 if turned else 1]
    lines = traced(GRID, (points, np.array([0, 5])), np.ones(5, bool), gap_m=99, sense=False)
    assert points[lines.keep[0]].tolist() == list(first)
    lines = traced(GRID, (points, np.array([0, 5])), np.ones(5, bool), gap_m=99)
    assert lines.keep.tolist() == [0, 1, 2, 3, 4]


def test_rings_without_a_sense_go_one_way_round():
    """Either way round from the eastern point: on by the north, which has the lesser rows."""
    for points in (ring(), ring()[::-1].copy()):
        lines = traced(GRID, (points, np.array([0, 41])), np.ones(41, bool), gap_m=99, sense=False)
        way = points[lines.keep]
        assert way[0].tolist() == way[-1].tolist() == ring()[0].tolist()
        assert way[1, 1] < way[-2, 1]


def test_points_settle_where_the_level_is_between_the_two_values_beside_them():
    """To the last bit, by proportion along a row, a column, or the diagonal beside a void."""
    values = np.random.default_rng(3).normal(size=(12, 15))
    values[4, 6] = values[8, 3] = np.nan
    points, _ = level_lines(marching(values), 0.1)
    places = settled(points, values, (0.1, 5.0), (40, 70))
    np.testing.assert_allclose(places, points + np.array([40, 70]), atol=1e-9)
    sloping = 0
    for (x, y), place in zip(points, places - [40, 70], strict=True):
        column, row = int(x), int(y)
        if y == row:
            one, other = values[row, column], values[row, column + 1]
            truth = column + (0.1 - one) / (other - one), row
        elif x == column:
            one, other = values[row, column], values[row + 1, column]
            truth = column, row + (0.1 - one) / (other - one)
        else:
            sloping += 1
            continue
        assert tuple(place) == pytest.approx(truth, abs=2e-14)  # the last bit of 70
    assert sloping


@pytest.mark.parametrize("away", [(1, 0), (-1, 0), (0, 1), (0, -1)])
@pytest.mark.parametrize("leaving", [True, False])
@pytest.mark.parametrize("over", [0.0, 1e-9])
def test_a_crossing_at_a_centre_moves_beside_the_neighbour_across_the_line(away, leaving, over):
    """Greater values are on the left hand of a line that leaves, columns right and rows up.

    One neighbour on the border is above the level and one below it.  A centre at the level counts
    as below it, so the line passes between it and the upper neighbour; one just over the level
    counts as above it, and the line passes on its other side.
    """
    out = np.array(away)
    hand = np.array([-out[1], out[0]]) * (1 if leaving else -1)  # to the greater values
    values, middle = np.full((5, 5), 3.0), np.array([2, 2]) + 2 * out  # column, row
    values[tuple((middle + hand)[::-1])], values[tuple((middle - hand)[::-1])] = 9.0, 1.0
    values[tuple(middle[::-1])] = 5.0 + over
    borders = tuple(
        tuple(np.nan if out[axis] != side else corner + middle[axis] for side in (-1, 1))
        for axis, corner in ((1, 70), (0, 40))
    )
    border = middle + np.array([40, 70])
    inner = border - out
    line = np.array([inner, border] if leaving else [border, inner], float)
    starts, ends = crossings_of(
        (line, np.array([0, 2])), values, 5.0, origin=(70, 40), borders=borders
    )
    toward = hand if over == 0 else -hand
    crossing, free = (ends, starts) if leaving else (starts, ends)
    assert crossing[0].tolist() == (border + 0.25 * toward).tolist()
    assert np.isnan(free).all()
