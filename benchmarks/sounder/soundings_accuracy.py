"""How right the grid of own soundings is, on surveys simulated over the demo's true bottom.

``python -m benchmarks.sounder.soundings_accuracy [SEEDS]`` prints what docs/how_well.md says of
lines 20, 50 and 100 m apart: what the lag is off by, with a receiver that wanders
by 1 m and without; and with a right tide, and one wrong by 0.2 m that swings as the tide does or
stays, what the grid errs by, the share of true depths in its bands of 90 %, and what is left of
the error of a smoothed and biased open grid where own depths are laid on it.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import rioxarray  # noqa: F401  (the accessor of CRSs)
from scipy.stats import norm

from seabed.grid.places import sample
from seabed.soundings import grid_soundings, merge_onto
from seabed.soundings.checks.lag import estimate_lag

TESTS = Path(__file__).parents[2] / "tests"
sys.path[:0] = [str(TESTS), str(TESTS / "soundings")]

from simulated_survey import old_survey, survey, true_bottom  # noqa: E402

SPACINGS_M = (20.0, 50.0, 100.0)
TIDES = (("right", 0.0), ("wave", 0.2), ("constant", 0.2))
WANDERS_M = (0.0, 1.0)
SEEDS = 3
FIRST_SEED = 300  # the tests, and the choice of what is chosen, use others
NINETY = float(norm.ppf(0.95))


def measured(truth, open_grid, *, seed: int, spacing_m: float, tide: str, wrong_m: float) -> dict:
    """One survey: what was found, against what is true."""
    sailed = survey(
        seed=seed, truth=truth, spacing_m=spacing_m, tide_error_m=wrong_m,
        tide_error="constant" if tide == "constant" else "wave",
    )  # fmt: skip
    own = grid_soundings(sailed.table(lag=False), like=truth, tide_sigma_m=wrong_m)
    error = own.depth.values - truth.reindex_like(own.depth).values
    told = np.isfinite(error)
    held = np.abs(error) < NINETY * own.uncertainty.values
    merged = merge_onto(open_grid, own)
    covered = merged.share.values > 0
    before, after = (_rms((grid - truth).values[covered]) for grid in (open_grid, merged.depth))
    return {
        "lines_m": spacing_m,
        "tide": tide,
        "rms_m": _rms(error[told]),
        "in_90": float(held[told].mean()),
        "merged_left": after / before,
    }


def lag_found(truth, *, seed: int, spacing_m: float, wander_m: float) -> dict:
    """How far off the lag is, with an open grid of cells five times as wide and 0.3 m too deep."""
    wide = truth.coarsen(x=5, y=5, boundary="trim").mean() + 0.3
    wide = wide.assign_attrs(truth.attrs).rio.write_crs(truth.rio.crs)
    sailed = survey(seed=seed, truth=truth, spacing_m=spacing_m, receiver_m=wander_m)
    fit = estimate_lag(sailed.table(), chart=lambda *at: sample(wide, *at))
    off = fit.lag_s - sailed.lag_s
    return {
        "lines_m": spacing_m,
        "wander_m": wander_m,
        "off_s": abs(off),
        "in_0.2_s": float(abs(off) <= 0.2),
        "in_2_sigma": float(abs(off) <= 2 * fit.sigma_s),
    }


def _rms(values) -> float:
    return float(np.sqrt(np.mean(values**2)))


if __name__ == "__main__":
    bottom = true_bottom()
    old = old_survey(bottom)
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else SEEDS
    rows = [
        measured(bottom, old, seed=FIRST_SEED + seed, spacing_m=spacing, tide=tide, wrong_m=wrong)
        for tide, wrong in TIDES
        for spacing in SPACINGS_M
        for seed in range(seeds)
    ]
    kinds = pd.DataFrame(rows).groupby(["tide", "lines_m"], sort=False)
    print(kinds.agg(["mean", "min", "max"]).round(2).to_string())
    rows = [
        lag_found(bottom, seed=FIRST_SEED + seed, spacing_m=spacing, wander_m=wander)
        for wander in WANDERS_M
        for spacing in SPACINGS_M
        for seed in range(4 * seeds)
    ]
    kinds = pd.DataFrame(rows).groupby(["wander_m", "lines_m"], sort=False)
    print(kinds.agg(["mean", "max"]).round(2).to_string())
