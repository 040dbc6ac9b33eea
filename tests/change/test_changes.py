"""Two simulated surveys of one ground: what moved, how far, and nothing where nothing did."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from pyproj import Transformer
from scipy.ndimage import gaussian_filter
from shapely import Point
from thoroughness import THOROUGH

from seabed import changes_since, make_grid
from seabed.errors import GridError
from tests.change.two_surveys import laid, noisy, ripples, still_ground

SMALL = {"side_m": 400.0}  # for what does not depend on the number of places
MOUND = 2.5 * 2 * np.pi * 15**2  # the volume of a Gaussian hole of 2.5 m and 15 m


def hole(east, south, *, at=(200, 200), spread_m=15.0, deep_m=2.5):
    return deep_m * np.exp(-((east - at[0]) ** 2 + (south - at[1]) ** 2) / 2 / spread_m**2)


def scarp(east, *, at_m):
    return 3 * np.clip((east - at_m) / 20 + 0.5, 0, 1)


@pytest.fixture(scope="module", params=[0, 1] if THOROUGH else [0])
def moved(request):
    """Older noisier, 3 m east and 5 m south of the truth, and 0.4 m shallower."""
    seed = request.param

    def before(east, south):
        ground = still_ground(seed)(east, south) + hole(east, south)
        return ground + scarp(east, at_m=400) + ripples(east, south, 0.0)

    def after(east, south):
        shifted = 12 * ((south > 250) & (south < 550))
        ground = still_ground(seed)(east, south) + scarp(east, at_m=400 + shifted)
        return ground + ripples(east, south, 8.0)

    newer = noisy(laid(after), 0.1, seed)
    older = noisy(laid(before, east_m=3.0, south_m=5.0) - 0.4, 0.2, seed + 10)
    return changes_since(newer, older)


def test_level_and_place_of_the_older_survey_are_given(moved):
    lie = moved.alignment
    # the stated errors are of a fit; between cells, depths lie on straight lines: a tenth of a cell
    assert lie.east_m == pytest.approx(-3, abs=0.2)
    assert lie.north_m == pytest.approx(5, abs=0.2)
    assert lie.deeper_m == pytest.approx(0.4, abs=0.01)
    assert lie.blur_m == 0


def test_a_hole_that_filled_has_its_volume(moved):
    here = moved.patches.contains(Point(5e5 + 200, 6e6 - 200))
    (row,) = moved.patches[here].to_dict("records")
    assert (row["kind"], row["about"]) == ("filled", "a hole that is gone")
    # what is below half the limit at the rim is cut off: a Gaussian loses that share of its depth
    assert row["volume_m3"] == pytest.approx(-MOUND, rel=0.06)
    # unmatched, the newer survey is 0.4 m deeper everywhere
    assert row["as_surveyed_m"] - row["change_m"] == pytest.approx(0.4, abs=0.15)


def test_a_stretch_of_edge_that_moved_has_its_distance(moved):
    edges = moved.moves[moved.moves["kind"] == "edge"]
    right = [row for row in edges.itertuples() if near(row.geometry, 412, 400, 60)]
    assert right
    assert right[0].moved_m == pytest.approx(12, abs=0.6)
    assert np.cos(np.radians(right[0].toward_deg - 91.5)) > np.cos(
        np.radians(6)
    )  # of the line's own bends


def test_crests_of_sand_waves_that_moved_are_found(moved):
    waves = moved.moves[moved.moves["kind"] == "sand waves"]
    assert len(waves) >= 2
    assert waves["moved_m"].median() == pytest.approx(8, abs=0.8)
    assert abs(np.sin(np.radians(waves["toward_deg"] - 91.5))).max() < 0.1


def near(line, east, south, within):
    x, y = line.coords[-1]
    return np.hypot(x - 5e5 - east, 6e6 - y - south) < within


@pytest.mark.parametrize(
    ("sigmas", "shift", "older_cell"),
    [((0.05, 0.3), (3, -5), 2.0), ((0.1, 0.2), (2, 1), 5.0)]
    + THOROUGH * [((0.1, 0.1), (0, 0), 2.0)],
)
def test_unmoved_ground_shows_no_change(sigmas, shift, older_cell):
    """Square kilometres of it; each patch would be by chance, or by the shift."""
    side = {} if THOROUGH else {"side_m": 600.0}
    for seed in (3, 4) if THOROUGH else (3,):
        ground = still_ground(seed)
        newer = noisy(laid(ground, **side), sigmas[0], seed)
        older = laid(ground, cell_m=older_cell, east_m=shift[0], south_m=shift[1], **side)
        changes = changes_since(newer, noisy(older - 0.3, sigmas[1], seed + 50))
        assert len(changes.patches) <= 1
        assert not len(changes.moves)


def test_a_shift_left_in_shows_on_slopes_and_a_level_everywhere():
    ground = still_ground(3)
    newer, older = laid(ground, **SMALL), laid(ground, east_m=6.0, **SMALL)
    both = [changes_since(noisy(newer, 0.05, 1), noisy(older - 0.4, 0.05, 2), matched=matched)
            for matched in (True, False)]  # fmt: skip
    assert len(both[0].patches) == 0
    assert both[1].alignment.deeper_m == pytest.approx(0.4, abs=0.02)  # stated all the same
    assert both[1].patches["area_m2"].sum() > 0.9 * newer.size * 4


def test_no_shift_is_claimed_on_a_flat():
    flat = laid(lambda east, south: 20 + 0 * east, **SMALL)
    changes = changes_since(noisy(flat, 0.1, 1), noisy(flat, 0.1, 2))
    assert (changes.alignment.shift_m, len(changes.patches)) == (0, 0)
    assert np.isnan(changes.alignment.error_m)


def test_waves_that_all_moved_are_not_taken_for_a_shift_of_the_survey():
    def waved(phase_m):
        wave = 2 * np.pi / 60
        return laid(lambda east, _: 20 + 0.6 * np.sin(wave * (east - phase_m)), **SMALL)

    changes = changes_since(noisy(waved(9.0), 0.05, 1), noisy(waved(0.0), 0.05, 2))
    assert changes.alignment.shift_m == 0
    assert changes.moves["moved_m"].median() == pytest.approx(9, abs=0.5)


def test_voids_and_an_older_grid_in_degrees_are_no_change():
    """Truth is the same surface; in degrees its cells are some 2 m and lie askew."""
    ground = still_ground(5)
    newer = noisy(laid(ground, side_m=600.0), 0.05, 1)
    newer[100:140, 50:90] = np.nan
    turn = Transformer.from_crs("EPSG:32631", "EPSG:4326", always_xy=True)
    west, south = turn.transform(5e5 - 20, 6e6 - 820)
    step = 3e-5, 2e-5
    longitude = west + (np.arange(460) + 0.5) * step[0]
    latitude = south + (np.arange(400, 0, -1) - 0.5) * step[1]
    x, y = turn.transform(*np.meshgrid(longitude, latitude), direction="INVERSE")
    older = make_grid(
        ground(x - 5e5, 6e6 - y).astype(np.float32),
        transform=Affine(step[0], 0, west, 0, -step[1], south + 400 * step[1]), crs="EPSG:4326",
    )  # fmt: skip
    changes = changes_since(newer, noisy(older, 0.05, 2))
    assert changes.alignment.shift_m <= 0.3
    assert len(changes.patches) == 0


def test_what_the_files_doubt_is_no_change():
    ground = still_ground(3)
    deeper = laid(lambda east, south: ground(east, south) + hole(east, south), **SMALL)
    older, newer = noisy(laid(ground, **SMALL), 0.05, 1), noisy(deeper, 0.05, 2)
    doubt = newer.copy(data=np.full(newer.shape, 1.5, np.float32))
    assert len(changes_since(newer, older).patches) == 1
    assert len(changes_since(newer, older, uncertainty=doubt).patches) == 0


def test_a_smoother_survey_is_reported_and_no_change():
    ground = still_ground(1)
    older = noisy(laid(ground, **SMALL), 0.05, 1)
    older = older.copy(data=gaussian_filter(older.values, 3.0))
    changes = changes_since(noisy(laid(ground, **SMALL), 0.05, 2), older)
    assert changes.alignment.blur_m == pytest.approx(6, rel=0.15)
    assert len(changes.patches) <= 1


def test_grids_of_other_waters_are_refused():
    one = laid(still_ground(0))
    other = one.assign_coords(x=one["x"] + 50_000)
    with pytest.raises(GridError, match="share 0 cells"):
        changes_since(one, other)
