"""Company of shapes far longer than what is around a place."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from seabed.structure.company import ground_about, nearest, of_smallest
from seabed.structure.tracing import runs as runs_module
from seabed.structure.tracing.runs import LONG, in_runs


def blob(rng, count, x, y, radius):
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    reach = radius * (1 + 0.3 * np.sin(7 * angle) + 0.01 * rng.normal(size=count))
    return shapely.polygons(np.column_stack([x + reach * np.cos(angle), y + reach * np.sin(angle)]))


@pytest.fixture(scope="module")
def shapes():
    """Two long outlines, one with a hole, one long line, and many small areas in and about them."""
    rng = np.random.default_rng(1)
    small = [blob(rng, 40, *rng.uniform(-1500, 1500, 2), 30) for _ in range(200)]
    large = blob(rng, 3000, 0, 0, 900)
    holed = shapely.difference(large, shapely.Point(200, 200).buffer(150, quad_segs=300))
    along = np.linspace(-1500, 1500, 2000)
    line = shapely.linestrings(np.column_stack([along, 300 * np.sin(along / 75)]))
    return np.array([large, *small, holed, line, blob(rng, 2000, 500, 0, 300)], object)


@pytest.mark.parametrize("at_once", [1_000_000, 2_500])
def test_runs_have_the_very_segments(shapes, at_once, monkeypatch):
    monkeypatch.setattr(runs_module, "AT_ONCE", at_once)
    runs, owner, areas = in_runs(shapes)
    assert (shapely.get_num_coordinates(runs) <= LONG).all()
    assert list(areas) == [0, 201, 203]
    for row, shape in enumerate(shapes):
        length = shapely.length(runs[owner == row]).sum()
        assert length == pytest.approx(shape.length, rel=1e-12)


@pytest.mark.parametrize("sharing", [True, False])
def test_nearest_is_what_every_pair_says(shapes, sharing):
    ground = ground_about(shapes, shapely.point_on_surface(shapes))
    own = np.arange(len(shapes))
    away = shapely.distance(ground[:, None], shapes[None, :])  # each with each, whole
    away[own, own] = np.inf
    away[(away > 150) | ((away == 0) & (not sharing))] = np.inf
    found = nearest(ground, shapes, within_m=150.0, sharing=sharing, own=own)
    known = np.isfinite(away.min(axis=1))
    assert 20 < known.sum() < len(shapes)
    np.testing.assert_array_equal(found.row >= 0, known)
    np.testing.assert_array_equal(found.away_m[known], away.min(axis=1)[known])
    np.testing.assert_array_equal(found.row[known], away.argmin(axis=1)[known])


def test_the_smallest_area_that_holds_a_place(shapes):
    areas = shapes[:-2]
    places = shapely.point_on_surface(shapes)
    holds = shapely.contains(areas[None, :], places[:, None])
    size = np.where(holds, shapely.area(areas)[None, :], np.inf)
    expected = np.where(holds.any(axis=1), size.argmin(axis=1), -1)
    assert len(np.unique(expected)) > 50
    np.testing.assert_array_equal(of_smallest(places, areas), expected)
