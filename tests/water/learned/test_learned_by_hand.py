"""Currents learned by hand: closed forms under a tide of one constituent, and dense algebra."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from scipy.stats import multivariate_normal

from layers.water import CRAFT, read_currents
from layers.water.heights._tide_parts import tide_parts
from layers.water.learned.against_table import against_table
from layers.water.learned.learned import COEFFICIENTS, COLUMNS, LearnedCurrent, columns_of
from layers.water.learned.learned_file import write_learned
from layers.water.learned.learning import (
    CHOSEN_FLOOR,
    LEEWAY_DOUBT,
    PRIOR_MPS,
    SPREADS,
    WAVE_MPS,
    _Model,
)
from layers.water.stations.harmonics import Harmonics
from layers.water.stations.station import HarmonicHeights
from seabed.errors import WaterError

HEIGHTS = HarmonicHeights(Harmonics(("M2",), np.array([1.0]), np.array([40.0])))
DAY = np.datetime64("2031-06-14", "ns")
M2_S = 12.4206012 * 3600
TIMES = DAY + np.arange(0, 25 * 6) * np.timedelta64(600, "s")
QUARTER = np.timedelta64(round(M2_S / 4), "s")


def by_hand(**others) -> LearnedCurrent:
    """0.1 m/s east all day, and 0.5 north times the height of the tide."""
    coefficients = np.zeros(COEFFICIENTS)
    coefficients[0], coefficients[COLUMNS + 3] = 0.1, 0.5
    given = {
        "coefficients": coefficients,
        "covariance": np.eye(COEFFICIENTS) * 1e-4,
        "day_spreads_mps": (0.05, 0.1),
        "usual_tide_m": 1.0,
        "seen_angles": np.linspace(-np.pi, np.pi, 60),
        "seen_hours": np.linspace(-6, 6, 60),
        "seen_sizes": (0.9, 1.1),
        "span": (DAY, DAY + np.timedelta64(3 * 24, "h")),
        "leeway_scale": (1.0, 0.1),
        "outings": 1, "drifts": 1, "pieces": 60,
        "centre": (-33.4, 46.2),
    }  # fmt: skip
    return LearnedCurrent(heights=HEIGHTS, **(given | others))


def size_of_tide(times):
    """Of one sine: the root of its square and that of a quarter earlier."""
    return np.hypot(HEIGHTS.height_m(times), HEIGHTS.height_m(times - QUARTER))


def test_velocity_and_its_doubt_in_closed_form():
    learned, size = by_hand(), size_of_tide(TIMES)
    east, north = learned.velocity(TIMES)
    assert east == pytest.approx(0.1)
    assert north == pytest.approx(0.5 * HEIGHTS.height_m(TIMES), abs=2e-3)
    # squares of the columns: 1 for the constant, the tide's, and the square of that
    variance = 1e-4 * (1 + size**2 + size**4) + 0.05**2 + 0.1**2 * size**2
    spread = learned.spread(TIMES)
    assert spread[:, 0, 0] == pytest.approx(variance, rel=0.01)
    assert spread[:, 1, 1] == pytest.approx(variance, rel=0.01)
    assert spread[:, 0, 1] == pytest.approx(0.0, abs=1e-12)


def test_a_tide_is_seen_up_to_three_tenths_beyond_those_drifted_on():
    size = float(size_of_tide(TIMES[:1])[0])
    for sizes, seen in (
        ((size / 0.7 * 0.98, 9.0), True), ((size / 0.7 * 1.02, 9.0), False),
        ((0.1, size / 1.3 * 1.02), True), ((0.1, size / 1.3 * 0.98), False),
    ):  # fmt: skip
        assert by_hand(seen_sizes=sizes).seen(TIMES[:1]).tolist() == [seen]


def test_a_stage_is_seen_within_half_an_hour_of_two_pieces():
    """15 degrees of 12.42 hours are 31 minutes, to either side of high water."""
    top = TIMES[int(HEIGHTS.height_m(TIMES[:75]).argmax())]
    high = top + np.arange(-5, 6) * np.timedelta64(60, "s")
    high = high[HEIGHTS.height_m(high).argmax()]
    moments = high + np.array([-36, -26, 0, 26, 36]) * np.timedelta64(60, "s")
    two = by_hand(seen_angles=np.zeros(2), seen_hours=np.zeros(2))
    assert two.seen(moments).tolist() == [False, True, True, True, False]
    one = by_hand(seen_angles=np.zeros(1), seen_hours=np.zeros(1))
    assert not one.seen(moments).any()


class Later:
    """The hand-made current's own north part, 35 minutes earlier and a quarter faster."""

    everywhere = True

    def speed_along(self, times):
        return 0.5 * HEIGHTS.height_m(times + np.timedelta64(2100, "s")) / 0.8


class LaterWithoutAxis:
    """As `Later`, but nothing says which way the flood runs: the faster half does."""

    everywhere = True

    def velocity(self, times, longitude=None, latitude=None):
        speed = Later().speed_along(times)
        speed = np.where(speed > 0, speed, 0.9 * speed)
        return np.zeros(speed.shape), speed


@pytest.mark.parametrize("table", [Later(), LaterWithoutAxis()])
def test_a_current_later_than_its_table_by_the_arithmetic_of_a_cosine(table):
    """0.5 cos + 0.1 turns to flood arcsin(0.2) of a circle earlier than 0.5 cos, and to ebb later:
    0.2014 / 2 pi of 12.42 h are 1,433 s.
    """
    coefficients = np.zeros(COEFFICIENTS)
    coefficients[COLUMNS], coefficients[COLUMNS + 3] = 0.1, 0.5
    size = float(size_of_tide(TIMES[:1])[0])
    shift = np.arcsin(0.1 / (0.5 * size)) / (2 * np.pi) * M2_S
    sure = by_hand(
        coefficients=coefficients, covariance=np.eye(COEFFICIENTS) * 1e-10,
        day_spreads_mps=(1e-4, 1e-4),
    )  # fmt: skip
    against = against_table(sure, table)
    assert against is not None and against.flood is not None and against.ebb is not None
    assert against.lag_s == 2100.0
    if isinstance(table, Later):
        assert against.ratio == pytest.approx((0.8, 0.8, 0.8), abs=0.005)
    assert abs((against.toward_deg + 180) % 360 - 180) < 0.1
    assert against.flood.middle_s == pytest.approx(2100 - shift, abs=40)
    assert against.ebb.middle_s == pytest.approx(2100 + shift, abs=40)
    assert against.flood.low_s < against.flood.middle_s < against.flood.high_s


@pytest.mark.parametrize(
    ("name", "right", "wrong"),
    [
        ("usual_tide_m", [0.001, 30.0], [0.0, 30.1, np.nan]),
        ("outings", [1], [0, -1]), ("drifts", [1], [0]), ("pieces", [1], [0]),
        ("day_spreads_mps", [(0.0, 0.1)], [(-0.01, 0.1), (0.1,)]),
        ("seen_sizes", [(0.0, 0.0), (1.0, 1.0)], [(-0.1, 1.0), (1.1, 1.0), (0.0, np.inf)]),
        ("leeway_scale", [(1.0, 0.0)], [(1.0, -0.1), (np.nan, 0.1)]),
        ("centre", [(360.0, 90.0)], [(361.0, 0.0), (0.0, 91.0)]),
        ("covariance", [np.zeros((14, 14))], [-np.eye(14), np.eye(13), np.eye(14) * 1e4]),
        ("coefficients", [np.zeros(14)], [np.full(14, 99.0), np.full(14, np.nan)]),
        ("seen_angles", [np.zeros(60)], [np.zeros(59), np.full(60, np.nan)]),
        ("span", [(DAY, DAY)], [(DAY, DAY - np.timedelta64(1, "h"))]),
    ],
)  # fmt: skip
def test_a_file_holds_only_what_learning_can_have_written(tmp_path, name, right, wrong):
    path = tmp_path / "learned.json"
    for value in right:
        write_learned(path, by_hand(**{name: value}))
        assert json.loads(path.read_text())["outings"] == 1
        read_currents(path, heights=HEIGHTS)
    for value in wrong:
        write_learned(path, by_hand(**{name: value}))
        with pytest.raises(WaterError, match="the learned current can't be right"):
            read_currents(path, heights=HEIGHTS)


@pytest.fixture(scope="module")
def motions() -> pd.DataFrame:
    """Two outings of three drifts of two pieces each, in a wind."""
    rng = np.random.default_rng(2)
    rows = [
        {
            "trip": f"t{number // 6}", "drift_id": f"d{number // 2}",
            "time": DAY + np.timedelta64(7 * number * 3600, "s"),
            "east_mps": rng.normal(0, 0.3), "north_mps": rng.normal(0, 0.3),
            "wind_mps": 2.0 + number % 5, "wind_from_deg": 40.0 * number,
        }
        for number in range(12)
    ]  # fmt: skip
    return pd.DataFrame(rows)


def test_drifts_chosen_for_their_likeness_do_not_say_that_outings_are_alike(motions):
    """Where nothing moved at all, what is left of the outings' spreads is what was asked for."""
    still = motions.assign(east_mps=0.0, north_mps=0.0, wind_mps=0.0)
    basis = columns_of(tide_parts(HEIGHTS, still["time"]), 1.1)
    model = _Model.of(still, basis, CRAFT["skiff, V-hull"], 0.2)
    _, doubt, alike = model.fitted(len(still), chosen=False)
    _, wider, floor = model.fitted(len(still), chosen=True)
    assert (alike[2:] < CHOSEN_FLOOR * SPREADS[2:]).any()
    assert (floor[2:] >= CHOSEN_FLOOR * SPREADS[2:]).all() and (floor[:2] == alike[:2]).all()
    assert wider[0, 0] > doubt[0, 0]


def test_the_fit_is_that_of_dense_algebra(motions):
    """The whole season as one normal distribution, its covariance filled in pair by pair.

    An outing's share of the tide is complex: its real part makes the wave A z stronger, its
    imaginary part turns it, to i A z.
    Posterior by completing the square, likelihood by scipy's density of what was seen (its constant
    is left out here).
    """
    spreads, doubt = np.array([0.03, 0.05, 0.04, 0.2]), 0.25
    weights = np.random.default_rng(3).uniform(0.3, 1.0, len(motions))
    parts = tide_parts(HEIGHTS, motions["time"])
    basis = columns_of(parts, 1.1)
    craft = CRAFT["skiff, V-hull"]
    usual = np.random.default_rng(4).normal(0, 0.5, COEFFICIENTS + 1)
    model = _Model.of(motions, basis, craft, doubt).with_tides_of(usual)
    n, m = len(motions), COEFFICIENTS + 1
    push = np.stack(craft.velocity(motions["wind_mps"], motions["wind_from_deg"]))
    design, whole = np.zeros((2 * n, m)), np.zeros((2 * n, 2 * n))
    admittances = usual[[3, COLUMNS + 3]] - 1j * usual[[4, COLUMNS + 4]]
    swing = np.stack([(parts.twice + parts.once / 2).real, (parts.twice + parts.once / 2).imag])
    swing = swing / 1.1
    tide = admittances[:, None] * (parts.twice + parts.once / 2) / 1.1
    for i in range(2 * n):
        side, a = divmod(i, n)
        design[i, side * COLUMNS : (side + 1) * COLUMNS] = basis[a]
        design[i, -1] = push[side, a]
        for j in range(2 * n):
            other, b = divmod(j, n)
            if motions["trip"][a] == motions["trip"][b]:
                whole[i, j] += doubt**2 * push[side, a] * push[other, b]
                whole[i, j] += spreads[3] ** 2 * (tide[side, a] * tide[other, b].conjugate()).real
                if side == other:
                    whole[i, j] += spreads[2] ** 2 + WAVE_MPS**2 * swing[:, a] @ swing[:, b]
            if side == other and motions["drift_id"][a] == motions["drift_id"][b]:
                whole[i, j] += spreads[1] ** 2 / np.sqrt(weights[a] * weights[b])
        whole[i, i] += spreads[0] ** 2 / weights[a]
    seen = np.concatenate([motions["east_mps"], motions["north_mps"]])
    before = np.diag(np.array([*PRIOR_MPS, *PRIOR_MPS, LEEWAY_DOUBT]) ** 2)
    first = np.append(np.zeros(m - 1), 1.0)
    gain = before @ design.T @ np.linalg.inv(whole + design @ before @ design.T)
    mean, covariance, _ = model._posterior(spreads, weights)
    assert mean == pytest.approx(first + gain @ (seen - design @ first), abs=1e-9)
    assert covariance == pytest.approx(before - gain @ design @ before, abs=1e-9)
    density = multivariate_normal(design @ first, whole + design @ before @ design.T).logpdf(seen)
    assert model._posterior(spreads, weights)[2] == pytest.approx(
        density + n * np.log(2 * np.pi), rel=1e-9
    )
