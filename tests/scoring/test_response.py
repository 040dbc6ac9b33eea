"""The response model against another library, against planted truth, and silent without any."""

from __future__ import annotations

import re

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from rasterio.transform import from_origin
from scipy.interpolate import CubicSpline
from shapely.geometry import LineString
from statsmodels.genmod.families import Poisson
from statsmodels.genmod.generalized_linear_model import GLM
from thoroughness import THOROUGH

from benchmarks.worlds.responses import BAND_M, open_season
from benchmarks.worlds.responses import season as season_of_lines
from layers.scoring.ground import response_over
from layers.scoring.response import fit_response
from layers.scoring.terms import columns_of, term_of
from layers.scoring.witnesses import fit_poisson
from seabed.errors import CatchError
from seabed.grid import make_grid


def season(seed, **options):
    return open_season(np.random.default_rng(seed), **options)


@pytest.fixture(scope="module")
def response():
    found = fit_response(season(3))
    assert found is not None
    return found


def test_the_fit_is_that_of_another_library():
    random = np.random.default_rng(0)
    columns = np.c_[np.ones(500), random.normal(size=(500, 3))]
    hours = random.uniform(0.1, 2, 500)
    fish = random.poisson(hours * np.exp(columns @ [0.5, 0.4, -0.3, 0.0])).astype(float)
    ours, covariance = fit_poisson(columns, fish, hours, ridge=0.0)
    theirs = GLM(fish, columns, family=Poisson(), exposure=hours).fit()
    assert ours == pytest.approx(theirs.params, abs=1e-6)
    assert covariance == pytest.approx(theirs.cov_params(), rel=1e-4, abs=1e-9)


def test_splines_are_natural_cubics():
    """Three columns on four knots: cubic between them, straight beyond, as a natural spline is."""
    random = np.random.default_rng(2)
    term = term_of("depth_m", pd.Series(random.uniform(3, 10, 800)), np.ones(800))
    knots = np.array(term.knots)
    at = np.linspace(*term.seen, 50)
    columns = np.c_[np.ones(50), term.columns(at)]
    for values in np.eye(4):
        natural = CubicSpline(knots, values, bc_type="natural")
        inside = (at >= knots[0]) & (at <= knots[-1])
        left, *_ = np.linalg.lstsq(columns[inside], natural(at[inside]), rcond=None)
        assert columns[inside] @ left == pytest.approx(natural(at[inside]), abs=1e-8)
    beyond = term.columns(np.linspace(knots[-1], term.seen[1], 9))
    assert np.diff(beyond, n=2, axis=0) == pytest.approx(0.0, abs=1e-12)


def test_a_season_without_terms_has_one_column_of_ones():
    assert columns_of([], pd.DataFrame(index=range(3))).tolist() == [[1.0]] * 3


def test_a_sentence_gives_the_best_and_the_worst_of_eight_in_ten(response):
    for factor, words in zip(response.factors, response.sentences(), strict=True):
        curve = response.effect(factor, level=0.8)
        assert curve.equals(response.effect(factor))
        best, low, high, worst = map(float, re.search(
            r"with ([\d.]+) fish a rod-hour \(([\d.]+) to ([\d.]+)\), ([\d.]+) at worst", words
        ).groups())  # fmt: skip
        assert worst < low < best < high
        assert (worst, best) == pytest.approx((curve["rate"].min(), curve["rate"].max()), abs=0.051)


def test_the_planted_band_and_stage_are_found(response):
    assert set(response.factors) == {"depth_m", "state"}
    depth = response.effect("depth_m")
    assert BAND_M[0] <= depth.loc[depth["rate"].idxmax(), "value"] <= BAND_M[1]
    stage = response.effect("state").set_index("value")["rate"]
    assert stage.idxmax() == "flood"
    # the variance of the log of a ratio of two Poisson rates is the sum of one over each count
    # (Rothman 1986), times how bunched the fish came; three standard deviations of that
    fish = season(3).groupby("state")["fish"].sum()
    error = np.sqrt(response.scale * (1 / fish["flood"] + 1 / fish["ebb"]))
    assert abs(np.log(stage["flood"] / stage["ebb"]) - np.log(2.5)) < 3 * error
    assert response.gain > 0 and response.p["depth_m"] < 0.05
    assert any("state: best at flood" in said for said in response.sentences())


def test_silent_without_a_pattern():
    assert sum(fit_response(season(seed, pattern=False)) is None for seed in range(5)) >= 4


WORLDS = ["lines_some", "patchy_few"] + THOROUGH * ["patchy_some", "lines_few"]


@pytest.mark.parametrize("world", WORLDS)
def test_lines_and_patches_of_their_own_worth_are_no_pattern(world):
    """At most one season in five speaks by chance where one in twenty may."""
    spoken = [fit_response(season_of_lines(seed, world)) for seed in range(400, 405)]
    assert sum(response is not None for response in spoken) <= 1
    assert not any(response.elsewhere for response in spoken if response is not None)


def test_a_witness_is_a_line():
    """One line's fish a hundred times over prove no more than once (jackknife by hand)."""
    random = np.random.default_rng(1)
    depth = np.repeat(random.uniform(3, 10, 12), 100)
    worth = np.repeat(random.gamma(2.0, 0.5, 12), 100)
    table = pd.DataFrame(
        {"depth_m": depth, "rod_hours": 0.1, "line": np.repeat(np.arange(12), 100)}
    )
    table["trip"], table["drift_id"] = np.tile(np.arange(10), 120), np.arange(1200)
    table["fish"] = random.poisson(3 * worth * 0.1)
    assert fit_response(table.astype({"line": str, "trip": str, "drift_id": str})) is None


def test_good_days_alone_are_no_pattern():
    """What varies by trip only, with trips of very uneven luck, must not pass for wind."""
    table = season(5, pattern=False)
    luck = np.random.default_rng(5).gamma(0.7, 1 / 0.7, 15)
    lucky = luck[table["trip"].astype(int)]
    table["fish"] = np.random.default_rng(6).poisson(3 * lucky * table["rod_hours"])
    found = fit_response(table)
    assert found is None or "wind_along_mps" not in found.factors


def test_too_little_to_tell_from():
    table = season(1)
    assert fit_response(table[table["trip"].isin(["0", "1", "2"])]) is None
    assert fit_response(table.assign(fish=0)) is None
    assert fit_response(table.iloc[:0]) is None
    assert fit_response(table.drop(columns=["depth_m", "state"]), factors=["depth_m"]) is None


def test_what_varies_by_rounding_alone_is_no_factor():
    """A speed that is one but for its last digits, which happen to follow the fish."""
    table = season(4, pattern=False)
    table["sog_mps"] = 0.33 + 1e-7 * table["fish"] + 1e-9 * np.arange(len(table))
    assert term_of("sog_mps", table["sog_mps"], table["rod_hours"].to_numpy()) is None
    found = fit_response(table)
    assert found is None or "sog_mps" not in found.factors


def test_nothing_is_claimed_of_ground_never_fished(response):
    told = response.rate(pd.DataFrame({"depth_m": [6.0, 40.0, np.nan], "state": "flood"}))
    assert np.isfinite(told.iloc[0]).all() and told.iloc[1:].isna().all(axis=None)
    assert (told["rate_low"] <= told["rate"]).iloc[0] and (told["rate"] <= told["rate_high"]).iloc[
        0
    ]
    assert response.rate(pd.DataFrame({"depth_m": [6.0], "state": "still"})).isna().all(axis=None)
    # what is not given counts at its average
    assert np.isfinite(response.rate(pd.DataFrame({"depth_m": [6.0]}))["rate"].iloc[0])


def grid_of(depth):
    """Cells of 10 m whose first has its middle at (470000, 5116000)."""
    corner = from_origin(469_995.0, 5_116_005.0, 10, 10)
    return make_grid(np.asarray(depth, np.float32), transform=corner, crs="EPSG:32625")


def test_laid_over_another_grid(response):
    depth = np.tile([np.nan, 4.0, 6.5, 9.0, 40.0], (3, 1))
    laid = response_over(response, grid_of(depth), given={"state": "flood"})
    rate = laid["rate"].values
    assert np.isnan(rate[:, [0, 4]]).all()  # land, and deeper than was ever fished
    assert (rate[:, 2] > rate[:, 1]).all() and (rate[:, 2] > rate[:, 3]).all()
    assert (laid["rate_low"].values <= rate)[:, 1:4].all()
    table = pd.DataFrame({"depth_m": [6.5], "state": ["flood"]})
    assert rate[0, 2] == pytest.approx(response.rate(table)["rate"].iloc[0], rel=1e-5)
    raised = response_over(response, grid_of(depth), height_m=2.5, given={"state": "flood"})
    assert raised["rate"].values[0, 1] == pytest.approx(rate[0, 2], rel=1e-5)
    assert str(laid.rio.crs) == "EPSG:32625"


def test_edges_are_asked_for_where_they_are_needed():
    random = np.random.default_rng(8)
    table = season(8, pattern=False)
    near = np.abs(table["edge_m"]) < 25
    table["fish"] = random.poisson(table["rod_hours"] * np.where(near, 6.0, 0.7))
    found = fit_response(table)
    assert "edge_m" in found.factors
    depth = np.full((5, 40), 6.0)
    with pytest.raises(CatchError, match="no edges are given"):
        response_over(found, grid_of(depth))
    line = LineString([(470_200.0, 5_115_900.0), (470_200.0, 5_116_100.0)])
    edges = gpd.GeoDataFrame({"faces_deg": [90.0]}, geometry=[line], crs="EPSG:32625")
    rate = response_over(found, grid_of(depth), edges=edges)["rate"].values[2]
    assert abs(int(np.nanargmax(rate)) - 20) <= 2
