"""Waves by fetch and current: against another formula, a root finder, and the energy equation."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.stats import norm

from layers.water import BoatLimits, FixedCurrent, FixedWind
from layers.water.day.limits import open_spans
from layers.water.sea.sea import Sea, fetches_round, likely_heights, place_in_band, sea_at
from layers.water.sea.waves import grown, on_current, wave_number, waves
from seabed.grid import make_grid

KNOT = 0.514444
G = 9.81
DAY = np.datetime64("2031-06-14T00:00", "ns")
HOURS = DAY + np.arange(24) * np.timedelta64(1, "h")


def basin(*, half_m: float = 2000.0, cell_m: float = 20.0, depth_m: float = 6.0, open_east=False):
    """A square of water with land about it; open to the east if asked for."""
    n = int(2 * half_m / cell_m) + 4
    depth = np.full((n, n), np.nan, np.float32)
    depth[1:-1, 1:-1] = -1.0  # a rim that dries
    depth[2:-2, 2:-2] = depth_m
    if open_east:
        depth[2:-2, -2:] = depth_m
    corner = Affine(cell_m, 0, 500_000.0 - n * cell_m / 2, 0, -cell_m, 5_100_000.0)
    return make_grid(depth, transform=corner, crs="EPSG:32631")


def spm(wind, fetch, depth):
    """Shallow, fetch-limited form of the Shore Protection Manual (1984), equations 3-39 and 3-40;
    from memory."""
    stress = 0.71 * wind**1.23
    far, deep = G * fetch / stress**2, G * depth / stress**2
    by_depth = np.tanh(0.530 * deep**0.75)
    height = stress**2 / G * 0.283 * by_depth * np.tanh(0.00565 * far**0.5 / by_depth)
    by_depth = np.tanh(0.833 * deep**0.375)
    period = stress / G * 7.54 * by_depth * np.tanh(0.0379 * far ** (1 / 3) / by_depth)
    return height, period


def test_growth_is_near_that_of_an_older_manual() -> None:
    """Two fits to different waters: heights within 35 %, periods within 20 %, over what a small
    boat meets; the manual is the higher in strong winds, by its factor of
    stress.  20 kn over 5 km give 0.36 m and 2.5 s.
    """
    wind, fetch, depth = np.meshgrid([4.0, 7.0, 10.0, 14.0], [1e3, 5e3, 2e4], [3.0, 6.0, 12.0])
    ours, theirs = grown(wind, fetch, depth), spm(wind, fetch, depth)
    assert np.abs(np.log(ours[0] / theirs[0])).max() < np.log(1.35)
    assert np.abs(np.log(ours[1] / theirs[1])).max() < np.log(1.2)
    height, period = grown(20 * KNOT, 5000.0, 10.0)
    assert (round(float(height), 2), round(float(period), 1)) == (0.36, 2.5)


def test_growth_has_the_limits_that_its_paper_gives() -> None:
    """Long fetch in shallow water: 3.64e-3 (tanh 0.493 delta^0.75)^1.74 of energy, whatever the
    fetch; outside 3 to 20 m/s, and without water, there is no figure.
    """
    wind, depth = 10.0, 2.0
    deep = G * depth / wind**2
    energy = 3.64e-3 * np.tanh(0.493 * deep**0.75) ** 1.74
    height = 4 * np.sqrt(energy) * wind**2 / G
    assert float(grown(wind, 1e7, depth)[0]) == pytest.approx(height, rel=1e-3)
    for wind, fetch, depth in ((2.9, 5e3, 5), (20.1, 5e3, 5), (10, 0, 5), (10, 5e3, -1)):
        assert np.isnan(grown(wind, fetch, depth)).all()


@pytest.mark.parametrize("depth", [1.0, 3.0, 30.0])
def test_dispersion_on_a_current_by_a_root_finder(depth: float) -> None:
    """The smallest root of (omega - k U)^2 = g k tanh(k d), bracketed on a fine ladder of k."""
    omega, ladder = 2 * np.pi / 2.5, np.geomspace(1e-3, 60, 60_000)
    for along in (-1.2, -0.95, -0.6, -0.2, 0.0, 0.4, 1.5):

        def off(k, along=along):
            return (omega - k * along) ** 2 - G * k * np.tanh(k * depth)

        signs = np.sign(off(ladder))
        at = np.flatnonzero((signs[1:] != signs[:-1]) & (omega - ladder[1:] * along > 0))
        ours = float(wave_number(2.5, depth, along))
        # roots past the first belong to waves that the current carries back
        if at.size and not np.isnan(ours):
            assert ours == pytest.approx(brentq(off, ladder[at[0]], ladder[at[0] + 1]), rel=1e-9)
        else:
            assert np.isnan(ours)
            assert along <= -blocking_mps(2.5, depth) + 1e-3


def blocking_mps(period_s: float, depth_m: float) -> float:
    """Opposing current that leaves no wave of a period."""
    low, high = 0.0, G * period_s
    while high - low > 1e-9:
        middle = (low + high) / 2
        blocked = np.isnan(wave_number(period_s, depth_m, -middle))
        low, high = (low, middle) if blocked else (middle, high)
    return low


def test_deep_water_stops_waves_at_a_quarter_of_their_speed() -> None:
    """Phillips (1977): -c0/4; and the amplification of Longuet-Higgins & Stewart (1961), equation
    3.18: c0 / sqrt(c (c + 2 U)).  2.5 s waves stop at 1.9 kn, and 0.36 m is 0.51 m at 1 kn.
    """
    speed = G * 2.5 / (2 * np.pi)
    assert blocking_mps(2.5, 500.0) == pytest.approx(speed / 4, rel=1e-6)
    assert blocking_mps(2.5, 500.0) / KNOT == pytest.approx(1.90, abs=0.01)
    for along in (-0.9, -KNOT, -0.1, 0.7):
        there = speed / 2 * (1 + np.sqrt(1 + 4 * along / speed))
        grows = speed / np.sqrt(there * (there + 2 * along))
        assert float(on_current(1.0, 2.5, 500.0, along)[0]) == pytest.approx(grows, rel=1e-6)
    assert float(on_current(0.36, 2.5, 10.0, -KNOT)[0]) == pytest.approx(0.514, abs=0.002)


def test_amplification_by_the_energy_equation_with_radiation_stress() -> None:
    """d/dx [E (cg + U)] + Sxx dU/dx = 0, Sxx = E (2 cg/c - 1/2), integrated along a current that
    sets in slowly (Longuet-Higgins & Stewart 1961), in deep water: in shoal water the current of
    this equation would have to well up through the bottom.
    """
    depth, period, against = 30.0, 3.0, -0.8
    omega = 2 * np.pi / period

    def state(x):
        flow = against * x
        k = brentq(lambda k: np.sqrt(G * k * np.tanh(k * depth)) + k * flow - omega, 1e-3, 2.0)
        own = np.sqrt(G * k * np.tanh(k * depth))
        speed = own / k
        group = speed / 2 * (1 + 2 * k * depth / np.sinh(2 * k * depth))
        return flow, group, speed

    def flux(x, energy_flux):
        flow, group, speed = state(x)
        energy = energy_flux / (group + flow)
        return -energy * (2 * group / speed - 0.5) * against

    first = state(0.0)[1]
    end = solve_ivp(flux, (0, 1), [first], rtol=1e-9, atol=1e-12).y[0, -1]
    flow, group, _ = state(1.0)
    assert float(on_current(1.0, period, depth, against)[0]) == pytest.approx(
        np.sqrt(end / (group + flow)), rel=1e-5
    )


def test_growth_is_known_at_both_ends_of_its_winds() -> None:
    assert np.isfinite(grown([3.0, 20.0], 5e3, 5.0)).all()


def test_eight_of_ten_waves_are_within_the_deciles_of_a_normal() -> None:
    half = norm.ppf(0.9) * 0.3 * 0.36  # a standard deviation of three tenths
    assert likely_heights(0.36) == pytest.approx((0.36 - half, 0.36 + half), rel=1e-4)


def test_a_calm_raises_no_waves_beyond_the_grid() -> None:
    grid = basin(open_east=True)
    place = place_in_band(grid, (5.0, 7.0))
    assert place is not None
    for speed, reaches in ((0.0, False), (5.0, True)):
        sea = sea_at(grid, wind=FixedWind(speed, 90.0), place=place)
        assert sea.reaches_out(HOURS[:2]).tolist() == [reaches] * 2


def test_a_sea_is_named_by_what_it_does() -> None:
    sea = waves(20 * KNOT, 5000.0, 10.0, np.array([1.0, 0.0, -1.0, -1.6, -2.5]) * KNOT)
    assert sea.words.tolist() == ["", "", "short and steep", "breaking", "breaking"]
    assert np.isnan(sea.height_m[-1])  # stopped
    assert (sea.still_m == sea.still_m[0]).all()
    assert sea.height_m[0] < sea.height_m[1] < sea.height_m[2]
    # a breaking sea's highest wave is Miche's: 0.142 of its length in deep water
    assert 1.67 * sea.height_m[3] == pytest.approx(0.142 * sea.length_m[3], rel=1e-3)
    assert waves(2.0, 5000.0, 10.0, 0.0).words.tolist() == "ripples"
    assert waves(25.0, 5000.0, 10.0, 0.0).words.tolist() == "beyond what is known"


def test_a_fetch_is_the_mean_of_nine_rays_to_the_shore() -> None:
    """In a square basin of half side L a ray at an angle from north is L / cos(angle) long."""
    grid = basin()
    place = place_in_band(grid, (5.0, 7.0))
    assert place is not None
    # grid north is 0.00 degrees off true north here: the zone's middle
    far, depth, reaches_out = fetches_round(grid, *place).toward([0.0, 90.0, 45.0, np.nan])
    rays = 2000.0 / np.cos(np.radians(np.arange(-12, 13, 3)))
    # to a cell and half, and a three-thousandth of the way
    assert far[:2] == pytest.approx(rays.mean(), abs=35.0)
    corner = 2000.0 / np.cos(np.radians(45 - np.abs(np.arange(-12, 13, 3))))
    assert far[2] == pytest.approx(corner.mean(), abs=35.0)
    assert np.isnan(far[3])
    assert depth[:3] == pytest.approx(6.0)
    assert not reaches_out.any()
    east = fetches_round(basin(open_east=True), *place).toward([90.0, 270.0], beyond_m=5000.0)
    assert east[2].tolist() == [True, False]
    assert east[0][0] > 6900.0


def test_blank_cells_beside_deep_water_may_be_water() -> None:
    """A survey that is ragged, holed or blank where one fishes: less fetch is never called land."""
    grid = basin()
    place = place_in_band(grid, (5.0, 7.0))
    assert place is not None
    whole = fetches_round(grid, *place)
    column = int(np.argmin(abs(grid["x"].values - 500_000.0)))
    holed = grid.values.copy()
    holed[:, column + 20 : column + 22] = np.nan  # narrow: a hole
    assert fetches_round(grid.copy(data=holed), *place).distance_m[30] == whole.distance_m[30]
    ragged = grid.values.copy()
    ragged[:, column + 20 : column + 40] = np.nan
    fetches = fetches_round(grid.copy(data=ragged), *place)
    assert fetches.distance_m[30] == pytest.approx(400.0, abs=50.0)  # to a cell and half
    assert fetches.open_water[30] and not fetches.open_water[90]
    assert fetches.toward([90.0], beyond_m=5000.0)[0][0] > 5000.0
    shoal = np.where(np.isnan(ragged), np.nan, 1.5).astype(np.float32)
    assert not fetches_round(grid.copy(data=shoal), *place).open_water.any()  # a shore
    blank = fetches_round(grid.copy(data=np.full(grid.shape, np.nan, np.float32)), *place)
    assert blank.open_water.all()  # nothing is known


def test_land_all_round_and_ground_that_dries_raise_no_waves() -> None:
    grid = basin()
    dry = grid.copy(data=np.full(grid.shape, np.nan, np.float32))
    assert place_in_band(dry, (5.0, 7.0)) is None
    place = place_in_band(grid, (5.0, 7.0))
    assert place is not None
    fetches = fetches_round(dry, *place)
    assert (fetches.distance_m == 0).all()
    sea = Sea(fetches, FixedWind(10.0, 90.0), None, None, *place)
    assert np.isnan(sea.at(HOURS).height_m).all()
    assert (sea.half_height_m(HOURS) == 0).all()
    flat = grid.copy(data=np.where(np.isnan(grid.values), np.nan, -0.5).astype(np.float32))
    assert (fetches_round(flat, *place).distance_m == 0).all()
    assert (fetches_round(flat, *place, height_m=1.0).distance_m > 1900).all()


def test_hours_of_higher_waves_than_the_boats_limit_are_left_out() -> None:
    grid = basin()
    place = place_in_band(grid, (5.0, 7.0))
    assert place is not None
    wind = FixedWind(19 * KNOT, 90.0)

    def hours(toward: float, **limits: float):
        currents = FixedCurrent(1.0 * KNOT, toward)
        sea = sea_at(grid, wind=wind, currents=currents, place=place)
        return open_spans(
            DAY, DAY + np.timedelta64(6, "h"), limits=BoatLimits(darkness="night", **limits),
            wind=wind, currents=currents, longitude=place[0], latitude=place[1], sea=sea,
        )  # fmt: skip

    still = float(grown(19 * KNOT, 2020.0, 6.0)[0])
    assert hours(270.0, wave_m=still).spans  # with the waves: lower
    against = hours(90.0, wave_m=still)
    assert against.spans == ()
    row = against.left_out.iloc[0]
    assert (row["limit"], row["allowed_m"]) == ("waves", still)
    assert 1.2 * still < row["greatest_m"] < 1.6 * still
    assert np.isnan(row["greatest_mps"])
