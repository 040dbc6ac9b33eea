"""Sand waves of known wavelength, height and bearing; and bottoms that have none."""

import numpy as np
import pandas as pd
import pytest
from affine import Affine
from scipy.ndimage import gaussian_filter
from thoroughness import THOROUGH

from seabed.errors import GridError
from seabed.grid import make_grid
from seabed.structure import sand_waves
from seabed.structure.sandwaves import _harmonics


def in_utm(depth, cell=(4.0, 4.0)):
    return make_grid(depth, transform=Affine(cell[0], 0, 5e5, 0, -cell[1], 6e6), crs=32631)


def waved(wavelength, height, bearing, *, shape=(160, 200), cell=(4.0, 4.0), noise=0.1, seed=0):
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    east, north = columns * cell[0], -rows * cell[1]
    angle = np.radians(bearing + 90)
    way = east * np.sin(angle) + north * np.cos(angle)
    depth = 20 + 0.01 * east - 0.02 * north + height / 2 * np.sin(2 * np.pi * way / wavelength)
    return depth + noise * np.random.default_rng(seed).normal(size=depth.shape)


@pytest.mark.parametrize("bearing", [0.0, 25.0, 90.0, 140.0] if THOROUGH else [0.0, 140.0])
@pytest.mark.parametrize("wavelength", [24.0, 60.0, 90.0])
def test_waves_are_measured(wavelength, bearing):
    found = sand_waves(in_utm(waved(wavelength, 1.2, bearing)), window_m=400)
    assert len(found) == 9  # windows of 100 cells start at 0, 50, 60 down and 0, 50, 100 across
    np.testing.assert_allclose(found["wavelength_m"], wavelength, rtol=0.04)
    np.testing.assert_allclose(found["height_m"], 1.2, rtol=0.07)
    off = (found["crest_bearing_deg"] - bearing + 90) % 180 - 90
    assert np.abs(off).max() < 2


def folded(way, wavelength, height, rises):
    """Straight faces: depth over a wave whose rise to the crest takes a share of its length."""
    part = (way / wavelength) % 1
    up = np.where(part < rises, part / rises, (1 - part) / (1 - rises))
    return -height * (up - 0.5)


@pytest.mark.parametrize(("wavelength", "height"), [(60, 1.0), (150, 1.5), (300, 3.0), (400, 3.0)])
@pytest.mark.parametrize("rises", [0.5, 0.8])
def test_long_and_lopsided_waves_are_measured(wavelength, height, rises):
    """From 60 m to a quarter of the greatest window, 10 % off in length and 20 % in height.

    Three harmonics of straight faces reach 8 / pi^2 (1 + 1/9) = 0.90 of their height.
    """
    cell = 10.0 if wavelength > 100 else 5.0
    rows, columns = np.mgrid[:220, :220] * cell
    angle = np.radians(123)
    way = columns * np.sin(angle) - rows * np.cos(angle)
    depth = 30 + 0.005 * columns + folded(way, wavelength, height, rises)
    depth += 0.1 * np.random.default_rng(wavelength).normal(size=depth.shape)
    found = sand_waves(in_utm(depth, (cell, cell)))
    assert len(found) >= 4
    np.testing.assert_allclose(found["wavelength_m"], wavelength, rtol=0.1)
    np.testing.assert_allclose(found["height_m"], height, rtol=0.2)
    assert np.abs(found["crest_bearing_deg"] - 33).max() < 5
    if rises == 0.5:
        assert found["asymmetry"].max() < 0.1
    else:
        assert found["asymmetry"].min() > 0.3
        assert np.abs(found["steep_faces_deg"] - 123).max() < 5  # down the way, past the crest


def test_cells_need_not_be_square():
    cell = (3.0, 5.0)
    found = sand_waves(in_utm(waved(50, 1.0, 60, cell=cell), cell))
    assert len(found) > 3
    np.testing.assert_allclose(found["wavelength_m"], 50, rtol=0.04)
    assert np.abs(found["crest_bearing_deg"] - 60).max() < 2


@pytest.mark.parametrize("bearing", [0.0, 90.0])
def test_long_waves_over_fine_cells_have_their_length(bearing):
    """Windows of 270 by 540 cells are looked at in squares of two; crests run north, then east."""
    depth = waved(200.0, 1.5, bearing, shape=(270, 540), cell=(4.0, 2.0))
    found = sand_waves(in_utm(depth, (4.0, 2.0)), window_m=1080, wavelengths_m=(60, 300))
    assert len(found) >= 1
    np.testing.assert_allclose(found["wavelength_m"], 200, rtol=0.06)
    off = (found["crest_bearing_deg"] - bearing + 90) % 180 - 90
    assert np.abs(off).max() < 3


def test_only_the_waved_half_is_named():
    depth = waved(40, 1.0, 0, shape=(120, 400))
    depth[:, 200:] = 20 + 0.1 * np.random.default_rng(1).normal(size=(120, 200))
    found = sand_waves(in_utm(depth))
    east = found.geometry.bounds["minx"] - 5e5
    assert len(found) >= 3
    assert (east < 800).all()


@pytest.mark.parametrize("seed", range(4 if THOROUGH else 1))
@pytest.mark.parametrize("smooth", [0, 3, 12])
def test_rough_bottoms_without_waves_have_none(seed, smooth):
    """White and red noise of a metre: at p < 0.001 a window, one false one in 1,000 is expected."""
    depth = np.random.default_rng(seed).normal(size=(300, 300))
    depth = gaussian_filter(depth, smooth) if smooth else depth
    assert len(sand_waves(in_utm(20 + depth / depth.std()))) <= 1


@pytest.mark.parametrize("faces", [0.0, 35.0])
def test_a_lone_scarp_is_no_wave(faces):
    rows, columns = np.mgrid[:160, :200]
    angle = np.radians(faces)
    way = (columns - 100) * 4 * np.sin(angle) + (80 - rows) * 4 * np.cos(angle)
    assert sand_waves(in_utm(20 + 1.5 * np.tanh(way / 10))).empty


def test_geographic_grid():
    step = 1e-4  # at 60 north: 5.6 m by 11.1 m
    rows, columns = np.mgrid[:120, :240]
    east, north = columns * 5.58, -rows * 11.14
    angle = np.radians(30 + 90)
    way = east * np.sin(angle) + north * np.cos(angle)
    depth = 20 + 0.5 * np.sin(2 * np.pi * way / 90)
    grid = make_grid(depth, transform=Affine(step, 0, -20, 0, -step, 60), crs=4326)
    found = sand_waves(grid, window_m=600)
    assert len(found) > 3
    np.testing.assert_allclose(found["wavelength_m"], 90, rtol=0.04)
    assert np.abs(found["crest_bearing_deg"] - 30).max() < 2


def test_few_voids_are_borne_many_are_not():
    depth = waved(40, 1.0, 10, shape=(100, 100))
    few, many = depth.copy(), depth.copy()
    few[np.random.default_rng(0).random(depth.shape) < 0.05] = np.nan
    many[:, :20] = np.nan
    assert len(sand_waves(in_utm(few), window_m=400)) == 1
    assert sand_waves(in_utm(many), window_m=400).empty


def test_nothing_to_find_gives_an_empty_table_with_columns():
    for depth in (np.full((120, 120), np.nan), np.full((120, 120), 9.0)):
        found = sand_waves(in_utm(depth))
        assert found.empty
        assert found.columns.tolist() == [
            "window_id",
            "wavelength_m",
            "height_m",
            "asymmetry",
            "steep_faces_deg",
            "crest_bearing_deg",
            "p_value",
            "depth_m",
            "geometry",
        ]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"window_m": 50}, "fewer than 16 cells"),
        ({"window_m": 400, "wavelengths_m": (4, 40)}, "can't be seen"),
        ({"window_m": 400, "wavelengths_m": (40, 300)}, "can't be seen"),
    ],
)
def test_impossible_windows_are_refused(options, message):
    with pytest.raises(GridError, match=message):
        sand_waves(in_utm(np.ones((120, 120))), **options)


@pytest.mark.parametrize(
    ("long", "short", "height", "turned", "window", "harmonic"),
    [
        (60, 30, 0.5, 0, 200, True), (60, 20, 0.5, 170, 200, True), (60, 10, 0.5, 0, 200, False),
        (60, 24, 0.5, 0, 200, False), (60, 30, 0.9, 0, 200, False), (60, 30, 0.5, 20, 200, False),
        (60, 58, 0.9, 0, 200, True), (60, 58, 0.9, 0, 400, False), (60, 130, 0.5, 0, 200, False),
    ],
)  # fmt: skip
def test_harmonics_are_shorter_by_a_whole_number_lower_and_run_the_same_way(
    long, short, height, turned, window, harmonic
):
    """Of a wave of 1 m in a window of 400 m; a sixth part is not looked for.

    Nearly as long, it is the same wave if its own window is smaller.
    """
    box = {"w": 0, "e": 100, "n": 0, "s": 100}
    table = pd.DataFrame([
        {"wavelength_m": long, "height_m": 1.0, "towards": 10.0, "window_m": 400.0, **box},
        {"wavelength_m": short, "height_m": height, "towards": 10.0 + turned, "window_m": window,
         **box},
    ])  # fmt: skip
    assert _harmonics(table).tolist() == [False, harmonic]


@pytest.mark.parametrize(("rows", "waved_too"), [(8, True), (7, False)])
def test_a_strip_of_eight_cells_shows_waves_along_it(rows, waved_too):
    depth = 12 + np.sin(2 * np.pi * np.arange(80) * 4 / 20) * np.ones((rows, 1))
    table = sand_waves(in_utm(depth), window_m=320, significance=0)
    assert (len(table) > 0) == waved_too
    assert np.abs(table["wavelength_m"] - 20).max() < 1 or not waved_too
