"""Cutting traced lines: gaps bridged or not, rings cut in their longest gap only."""

import numpy as np
import pytest
from affine import Affine

from seabed.grid import make_grid
from seabed.structure.tracing.lines import traced
from seabed.structure.tracing.linking import linked

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
