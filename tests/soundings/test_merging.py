"""Own soundings laid onto an open grid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_soundings import cells, centres, lines, soundings_at
from simulated_survey import old_survey, survey, true_bottom
from thoroughness import THOROUGH

from seabed import example_grid
from seabed.errors import GridError
from seabed.grid import check_grid
from seabed.loaders import open_surface
from seabed.soundings import grid_soundings, merge_onto
from seabed.soundings.surface._bias import fit_misfit
from seabed.soundings.surface.lattice import finer
from seabed.soundings.surface.merging import write_merged
from seabed.soundings.surface.owngrid import write_own


@pytest.fixture(scope="module")
def truth():
    return true_bottom()


@pytest.fixture(scope="module")
def coarse(truth):
    return old_survey(truth)


def rms(values):
    return float(np.sqrt(np.nanmean(np.asarray(values, float) ** 2)))


@pytest.mark.parametrize(
    "shape", [{}, {"spacing_m": 100.0}, {"box": (1500.0, 1500.0, 2300.0, 2300.0)}]
)
def test_it_is_better_where_covered_and_the_same_beyond(truth, coarse, shape):
    for seed in (1, 2) if THOROUGH else (1,):
        table = survey(seed=seed, truth=truth, **shape).table(lag=False)
        merged = merge_onto(coarse, grid_soundings(table, like=coarse))
        check_grid(merged.depth)
        covered = merged.share.values > 0
        before, after = (grid.values - truth.values for grid in (coarse, merged.depth))
        assert merged.covered == covered.sum() > 5000
        own_cells = merged.provenance.values == 2
        assert rms(after[covered]) < 0.7 * rms(before[covered])
        assert rms(after[own_cells]) < 0.4 * rms(before[own_cells])
        np.testing.assert_array_equal(merged.depth.values[~covered], coarse.values[~covered])


def flat(own_depth, open_depth=10.0, **options):
    """Own depths of lines over a flat bottom merged onto an open grid that says another depth."""
    x, y = lines(spacing=8)
    open_grid = cells(values=np.full((100, 100), open_depth))
    own = grid_soundings(
        soundings_at(x, y, np.full(len(x), own_depth)), like=open_grid,
        tide_sigma_m=options.pop("tide_sigma_m", 0.2), reach_m=12,
    )  # fmt: skip
    return own, merge_onto(open_grid, own, **options), open_grid


def test_depths_are_weighed_by_variance():
    """Own 10.0 within 0.3 m, open 11.0 within 0.4: (10 x 0.16 + 11 x 0.09) / 0.25 = 10.36, and
    the variance of the mixture 0.64 x 0.09 + 0.36 x 0.16 + 0.64 x 0.36 x 1 = 0.3456."""
    own, _, open_grid = flat(10.0, 11.0)
    stated = own.uncertainty.copy(data=np.where(own.depth.notnull(), 0.3, np.nan))
    merged = merge_onto(
        open_grid, replace(own, uncertainty=stated), open_uncertainty=0.4, bias="none"
    )
    at_x, at_y = centres(open_grid)
    inside = (np.abs(at_x - 145) < 80) & (np.abs(at_y - 150) < 80)
    np.testing.assert_allclose(merged.depth.values[inside], 10.36, atol=2e-3)
    np.testing.assert_allclose(merged.uncertainty.values[inside] ** 2, 0.3456, atol=2e-3)


def test_worse_own_depths_hardly_move_a_good_grid():
    own, _, open_grid = flat(10.0, 11.0)
    sloppy = own.uncertainty.copy(data=np.where(own.depth.notnull(), 2.0, np.nan))
    merged = merge_onto(
        open_grid, replace(own, uncertainty=sloppy), open_uncertainty=0.2, bias="none"
    )
    assert np.abs(merged.depth.values - 11.0).max() < 0.011  # 0.04 / 4.04 of a metre
    assert set(np.unique(merged.provenance.values)) <= {1, 3}


def test_no_cell_is_surer_than_the_surer_of_the_two(truth, coarse):
    own = grid_soundings(survey(seed=1, truth=truth).table(lag=False), like=coarse)
    merged = merge_onto(coarse, own, open_uncertainty=0.5)
    mine = own.uncertainty.reindex_like(coarse, method="nearest", tolerance=0.1).values
    best = np.fmin(mine, 0.5)
    assert (merged.uncertainty.values >= best - 0.01)[np.isfinite(merged.depth.values)].all()
    assert (np.isnan(merged.uncertainty.values) == np.isnan(merged.depth.values)).all()


def test_the_bias_is_found_and_taken_off_as_asked():
    """Own depths 0.8 m too shallow by a datum that is not known: "own" moves them by all of it."""
    _, merged, _ = flat(10.0, 10.8, bias="own", open_uncertainty=0.1)
    assert merged.bias_m == pytest.approx(-0.8, abs=0.02)
    assert merged.shift_m == pytest.approx(0.8, abs=0.02)
    np.testing.assert_allclose(merged.depth.values, 10.8, atol=0.02)
    _, merged, _ = flat(10.0, 10.8, bias="none", open_uncertainty=0.1)
    assert merged.shift_m == 0
    _, merged, _ = flat(10.0, 10.8, bias="shared", open_uncertainty=0.2)
    assert merged.shift_m == pytest.approx(0.4, abs=0.03)  # both within 0.2: they share it
    assert "0.80 m shallower" in merged.notes[-1]


def test_a_datum_that_is_all_ours_makes_the_open_grid_no_less_sure():
    """Two flat bottoms 0.8 m apart: as own depths without a datum, or as an open grid in doubt."""
    _, ours, _ = flat(10.0, 10.8, bias="own")
    assert ours.open_sigma_m < 0.15
    _, shared, _ = flat(10.0, 10.8, bias="shared")
    assert shared.open_sigma_m == pytest.approx(0.8, abs=0.1)


def test_the_robust_fit_does_not_see_a_wreck():
    rng = np.random.default_rng(0)
    difference = 0.5 + rng.normal(0, 0.1, (60, 60))
    difference[:15, :15] += 8.0  # a sixteenth of the cells
    fit = fit_misfit(difference, np.full((60, 60), 0.1))
    assert fit.at_middle == pytest.approx(0.5, abs=0.02)


def test_a_tilted_bias_is_fitted_as_a_plane():
    row, column = np.indices((60, 80))
    difference = 0.3 + 0.004 * row - 0.002 * column
    fit = fit_misfit(difference, np.ones((60, 80)), plane=True)
    np.testing.assert_allclose(fit.values, difference, atol=1e-6)


def test_the_seam_is_feathered_inside_the_own_cells():
    own, merged, open_grid = flat(10.0, 11.0, bias="none", open_uncertainty=0.5, feather_m=40.0)
    row = merged.depth.values[50] - 11.0
    touched = np.flatnonzero(row)
    assert np.isfinite(own.depth.reindex_like(open_grid).values[50, touched]).all()
    steps = np.abs(np.diff(row))
    assert steps.max() < 0.2  # 1 m over 40 m by a smooth ramp: 1.5 x 4 / 44
    _, hard, _ = flat(10.0, 11.0, bias="none", open_uncertainty=0.5, feather_m=0.0)
    assert np.abs(np.diff(hard.depth.values[50])).max() > 0.3


def test_land_and_voids_of_the_open_grid_are_only_filled_where_sounded():
    x, y = lines(spacing=40)
    values = np.full((100, 100), 11.0)
    values[40:60, :] = np.nan
    open_grid = cells(values=values)
    own = grid_soundings(soundings_at(x, y, np.full(len(x), 10.0)), like=open_grid, reach_m=40)
    merged = merge_onto(open_grid, own, bias="none")
    count = own.count.reindex_like(open_grid, fill_value=0).values
    filled = np.isfinite(merged.depth.values[40:60])
    assert filled.any()
    np.testing.assert_array_equal(filled, count[40:60] > 0)
    np.testing.assert_allclose(merged.depth.values[40:60][filled], 10.0, atol=0.01)
    assert (merged.provenance.values[40:60][filled] == 2).all()
    assert (merged.provenance.values[40:60][~filled] == 0).all()


def test_grids_of_other_cells_are_refused():
    own, _, _ = flat(10.0)
    with pytest.raises(GridError, match="cells are not those of the open grid"):
        merge_onto(cells(cell=5.0), own)
    with pytest.raises(GridError, match="cells are not those of the open grid"):
        merge_onto(cells(west=470_001.0), own)
    with pytest.raises(GridError, match="greater than 0"):
        merge_onto(cells(values=np.full((100, 100), 10.0)), own, open_uncertainty=-1.0)


def test_without_common_ground_no_bias_is_given():
    x, y = lines(spacing=8)
    open_grid = cells(values=np.full((100, 100), np.nan))
    open_grid.values[0, 0] = 3.0
    own = grid_soundings(soundings_at(x, y, np.full(len(x), 10.0)), like=open_grid)
    merged = merge_onto(open_grid, own)
    assert np.isnan(merged.bias_m)
    assert "no bias" in merged.notes[0]


def test_a_finer_grid_keeps_planes_and_voids():
    values = np.add.outer(np.arange(20) * 0.4, np.arange(20) * 0.2) + 5
    values[5, 5] = np.nan
    grid = cells(values=values)
    split = finer(grid, 3)
    check_grid(split)
    assert split.shape == (60, 60)
    assert np.isnan(split.values[15:18, 15:18]).all()
    assert np.isnan(split.values).sum() == 9
    at = split.interp(x=grid.x[10:], y=grid.y[10:])
    np.testing.assert_allclose(at.values, grid.values[10:, 10:], atol=1e-4)
    inner = split.values[-30:-1, -30:-1]
    np.testing.assert_allclose(np.diff(inner, axis=1)[:, :-1], 0.2 / 3, atol=1e-4)
    assert finer(grid, 1) is grid


def test_files_open_again_as_they_were(tmp_path):
    own, merged, _ = flat(10.0, 11.0)
    write_own(tmp_path / "own.tif", own, caution="Not for navigation.")
    write_merged(tmp_path / "merged.tif", merged, caution="Not for navigation.")
    for name, surface in {"own": own.surface, "merged": merged.surface}.items():
        again = open_surface(tmp_path / f"{name}.tif")
        np.testing.assert_array_equal(again.depth.values, surface.depth.values)
        np.testing.assert_array_equal(again.uncertainty.values, surface.uncertainty.values)
        assert again.depth.attrs["guesses"] == []
    assert open_surface(tmp_path / "merged.tif").depth.attrs["vertical_datum"] == (
        "datum of the test"
    )


def test_a_bare_array_is_not_taken_for_own_soundings():
    grid = example_grid()
    with pytest.raises(GridError, match="a grid of them, not DataArray"):
        merge_onto(grid, grid)
