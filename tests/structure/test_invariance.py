"""What must not change what is found: level, mirror, quarter turns; cells and angle by little."""

import numpy as np
import pytest
import shapely
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter
from thoroughness import examples

from seabed.grid import make_grid
from seabed.structure import contours, depth_band, edges, holes, humps
from seabed.terrain import aspect, curvature, geomorphons, position_index, slope, vector_ruggedness

CELL = 4.0
FEW = settings(max_examples=examples(12), deadline=None)
SEEDS = st.integers(0, 2**31)


def bottom(seed, shape=(60, 60)):
    """Hills in steps of 1/64 m, which float32 holds exactly with whole metres added."""
    rough = gaussian_filter(np.random.default_rng(seed).normal(size=shape), 4)
    return np.round((20 + 3 * rough / rough.std()) * 64) / 64


def in_utm(depth, cell=CELL):
    # symmetric about the central meridian, where grid north is true north
    side = depth.shape[1] * cell / 2
    return make_grid(depth, transform=Affine(cell, 0, 5e5 - side, 0, -cell, 6e6 + side), crs=32631)


WINDOWED = [
    slope,
    curvature,
    lambda g: position_index(g, inner_m=8, outer_m=30),
    lambda g: vector_ruggedness(g, radius_m=8),
    lambda g: geomorphons(g, search_m=24.0),
]
TURNS = {
    "east-west mirror": lambda d: d[:, ::-1],
    "north-south mirror": lambda d: d[::-1],
    "quarter turn": np.rot90,
}


@FEW
@given(SEEDS, st.integers(-3, 500))
def test_windows_mind_no_level(seed, metres):
    depth = bottom(seed)
    for work in WINDOWED:
        np.testing.assert_allclose(
            work(in_utm(depth + metres)).values, work(in_utm(depth)).values, rtol=0, atol=2e-5
        )


@FEW
@given(SEEDS, st.sampled_from(sorted(TURNS)))
def test_windows_turn_with_the_grid(seed, name):
    depth, turn = bottom(seed), TURNS[name]
    for work in WINDOWED:
        np.testing.assert_allclose(
            work(in_utm(turn(depth))).values, turn(work(in_utm(depth)).values), rtol=0, atol=2e-5
        )


@FEW
@given(SEEDS)
def test_aspect_turns_with_the_grid(seed):
    depth = bottom(seed)
    known = aspect(in_utm(depth)).values
    for name, expected in {
        "east-west mirror": -known,
        "north-south mirror": 180 - known,
        "quarter turn": known - 90,
    }.items():
        turned = aspect(in_utm(TURNS[name](depth))).values
        off = (turned - TURNS[name](expected) + 180) % 360 - 180
        assert np.nanmax(np.abs(off)) < 0.05
        np.testing.assert_array_equal(np.isnan(turned), TURNS[name](np.isnan(known)))


def pairs(one, other, columns):
    """Both tables' columns, rows in order of their values."""
    first = one.sort_values(columns)[columns].to_numpy(float)
    second = other.sort_values(columns)[columns].to_numpy(float)
    assert len(first) == len(second)
    return first, second


@FEW
@given(SEEDS, st.integers(-3, 500))
def test_features_mind_no_level(seed, metres):
    here, there = in_utm(bottom(seed)), in_utm(bottom(seed) + metres)
    for work in (humps, holes):
        one, other = work(here, min_height_m=0.5), work(there, min_height_m=0.5)
        assert one["parent_id"].tolist() == other["parent_id"].tolist()
        np.testing.assert_array_equal(other["crest_depth_m"], one["crest_depth_m"] + metres)
        np.testing.assert_array_equal(other["height_m"], one["height_m"])
        np.testing.assert_allclose(other["area_m2"], one["area_m2"], rtol=1e-5)
    one, other = contours(here, [20.01]), contours(there, [20.01 + metres])
    np.testing.assert_allclose(other["length_m"].sum(), one["length_m"].sum(), rtol=1e-4)
    one, other = depth_band(here, 18.01, 20.01), depth_band(there, 18.01 + metres, 20.01 + metres)
    np.testing.assert_allclose(other["area_m2"].sum(), one["area_m2"].sum(), rtol=1e-4)


@FEW
@given(SEEDS, st.sampled_from(sorted(TURNS)))
def test_humps_turn_with_the_grid(seed, name):
    depth = bottom(seed)
    one = humps(in_utm(depth), min_height_m=0.5)
    other = humps(in_utm(TURNS[name](depth)), min_height_m=0.5)
    first, second = pairs(one, other, ["height_m", "crest_depth_m"])
    np.testing.assert_array_equal(first, second)
    first, second = pairs(one, other, ["height_m", "area_m2"])
    np.testing.assert_allclose(first, second, rtol=1e-4)


@settings(max_examples=examples(8), deadline=None)
@given(SEEDS, st.sampled_from(sorted(TURNS)))
def test_edges_turn_with_the_grid(seed, name):
    """Rounding decides here and there where a line ends, so lengths are compared, not vertices."""
    depth = bottom(seed, (90, 90))
    options = {"min_length_m": 40, "min_drop_m": 0.5}
    one, other = edges(in_utm(depth), **options), edges(in_utm(TURNS[name](depth)), **options)
    total = one["length_m"].sum()
    assert other["length_m"].sum() == pytest.approx(total, rel=0.02, abs=60)
    if len(one):
        weighted = (one["drop_m"] * one["length_m"]).sum() / total
        again = (other["drop_m"] * other["length_m"]).sum() / other["length_m"].sum()
        assert again == pytest.approx(weighted, rel=0.03)


def invented(x, y):
    """One bottom as a function of place: a bent scarp, humps, a hole; metres from the middle."""
    depth = 8 + 1.5 * np.tanh((x - 60 * np.sin(y / 200)) / 12)
    depth -= 2.5 * np.exp(-((x + 250) ** 2 + (y - 120) ** 2) / 2 / 40**2)
    depth -= 2.0 * np.exp(-((x - 260) ** 2 / 60**2 + (y + 80) ** 2 / 30**2) / 2)
    depth += 3.0 * np.exp(-((x + 230) ** 2 + (y + 200) ** 2) / 2 / 50**2)
    return depth - 6 * (np.hypot(x, y) / 700) ** 8  # shoals all round


def sampled(cell, turned_deg=0.0, half=500.0):
    """The invented bottom on a grid whose cells and heading are chosen; turned back on return."""
    count = int(2 * half / cell)
    u = (np.arange(count) + 0.5) * cell - half
    x, y = np.meshgrid(u, -u)
    angle = np.radians(turned_deg)
    depth = invented(x * np.cos(angle) - y * np.sin(angle), x * np.sin(angle) + y * np.cos(angle))
    return make_grid(depth, transform=Affine(cell, 0, -half, 0, -cell, half), crs=32631)


def turned_back(table, turned_deg):
    return table.geometry.rotate(turned_deg, origin=(0, 0))


@pytest.mark.parametrize(("cell", "turned"), [(2.0, 0), (8.0, 0), (4.0, 27), (4.0, 63), (8.0, 41)])
def test_same_bottom_on_another_grid(cell, turned):
    """From 2 to 8 m, and turned: how far what is found moves."""
    known, grid = sampled(4.0), sampled(cell, turned)
    one = edges(known, min_length_m=400)
    other = edges(grid, min_length_m=400)
    assert len(one) == len(other) == 1
    # the scarp itself, clear of where the circle of shoals cuts it off
    disc = shapely.Point(0, 0).buffer(400)
    first, second = one.geometry[0] & disc, turned_back(other, turned)[0] & disc
    assert first.hausdorff_distance(second) < 1.0  # metres
    assert other["drop_m"][0] == pytest.approx(one["drop_m"][0], rel=0.02)
    assert other["width_m"][0] == pytest.approx(one["width_m"][0], abs=0.5 * cell + 0.5)
    assert other["slope_max_deg"][0] == pytest.approx(one["slope_max_deg"][0], rel=0.15)
    for work in (humps, holes):
        one, other = work(known, min_height_m=0.8), work(grid, min_height_m=0.8)
        assert len(one) == len(other)
        np.testing.assert_allclose(other["height_m"], one["height_m"], atol=0.06)
        centres = turned_back(other, turned).centroid
        away = one.geometry.centroid.distance(centres)
        np.testing.assert_array_less(away, 6.0)
        np.testing.assert_allclose(other["area_m2"], one["area_m2"], rtol=0.06)
