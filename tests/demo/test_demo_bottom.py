"""The bottom of the shipped grid and the chart of it, against the hidden truth."""

from __future__ import annotations

import numpy as np
import pyogrio
import pytest
from scipy.ndimage import gaussian_filter
from shipped import CELL, TO_GRID, TRUTH, depth_at


def test_depths_are_whole_centimetres_and_of_a_sound(grid):
    depth = grid[0]
    assert depth.shape == (1200, 1500)
    assert np.abs(depth * 100 - np.round(depth * 100)).max() < 1e-3
    feet = depth / 0.3048
    assert 0.05 < (feet <= 0).mean() < 0.2  # shore and island
    assert 0.2 < ((feet > 18) & (feet < 26)).mean() < 0.6  # the band that fish lie in
    assert 0.1 < ((feet > 8) & (feet < 18)).mean() < 0.5
    x, y = TO_GRID.transform(*np.array(TRUTH["channel"]).T)
    channel = depth_at(grid, x, y) / 0.3048
    assert 37 < channel.min() < channel.max() < 60


def test_humps_and_hole_stand_out_by_what_the_truth_says(grid):
    # against a ring two to three radii off; the roughness has a standard deviation of 0.26 m,
    # and the ground round a hump slopes
    truth = [(hump["lon_lat"], -hump["height_m"]) for hump in TRUTH["humps"]]
    truth.append((TRUTH["hole"]["lon_lat"], TRUTH["hole"]["depth_m"]))
    angle = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    for place, step in truth:
        x, y = TO_GRID.transform(*place)
        rings = [depth_at(grid, x + r * np.sin(angle), y + r * np.cos(angle)) for r in (180, 240)]
        assert float(depth_at(grid, [x], [y])[0]) - np.mean(rings) == pytest.approx(
            step, abs=0.75
        ), place


def test_the_scarp_drops_as_the_truth_says(grid):
    x, y = (np.array(axis) for axis in TO_GRID.transform(*np.array(TRUTH["scarp"]).T))
    off = TRUTH["scarp_width_m"]
    drop = depth_at(grid, x + off, y) - depth_at(grid, x - off, y)
    # the flat deepens, and the channel's side begins, within these 92 m: about a metre more
    assert 0 < np.median(drop) - TRUTH["scarp_drop_m"] < 1.5
    assert (drop > 0.9 * TRUTH["scarp_drop_m"]).all()
    steepest = [
        across[np.argmax(np.diff(gaussian_filter(depth_at(grid, a + across, b), 3)))]
        for a, b in zip(x, y, strict=True)
        for across in (np.arange(-60.0, 61.0, 2.0),)
    ]
    assert np.median(np.abs(steepest)) < 10


def test_sand_waves_have_the_wavelength_of_the_truth(grid):
    x, y = TO_GRID.transform(*TRUTH["sand_waves"]["lon_lat"])
    along = np.arange(-512.0, 512.0, 4.0)
    profile = np.mean([depth_at(grid, x + dx, y + along) for dx in (-40, 0, 40)], axis=0)
    profile = (profile - np.polyval(np.polyfit(along, profile, 3), along)) * np.hanning(along.size)
    power = np.abs(np.fft.rfft(profile, 4096)) ** 2
    wavelength = 1 / np.fft.rfftfreq(4096, 4.0)[1 + np.argmax(power[1:])]
    assert wavelength == pytest.approx(TRUTH["sand_waves"]["wavelength_m"], rel=0.05)


def test_charted_dangers_lie_where_the_bottom_lets_them(grid):
    wreck = pyogrio.read_dataframe(CELL, layer="WRECKS").iloc[0]
    x, y = TO_GRID.transform([wreck.geometry.x], [wreck.geometry.y])
    # it is over the bottom by its 2.4 m, and is right to a decimetre
    assert depth_at(grid, x, y) - wreck["VALSOU"] == pytest.approx(2.4, abs=0.2)
    rock = pyogrio.read_dataframe(CELL, layer="UWTROC").iloc[0]
    x, y = TO_GRID.transform([rock.geometry.x], [rock.geometry.y])
    assert 0 < depth_at(grid, x, y) < 5


def test_charted_contours_lie_near_their_depth(grid):
    """Drawn coarsely, on the bottom smoothed over 20 m and more: within half a metre mostly."""
    lines = pyogrio.read_dataframe(CELL, layer="DEPCNT")
    assert set(lines["VALDCO"]) == {5.0, 10.0}
    for line in lines.itertuples():
        points = [
            line.geometry.interpolate(part, normalized=True) for part in np.linspace(0, 1, 99)
        ]
        x, y = TO_GRID.transform([p.x for p in points], [p.y for p in points])
        off = depth_at(grid, np.array(x), np.array(y)) - line.VALDCO
        assert np.nanmedian(np.abs(off)) < 0.5
