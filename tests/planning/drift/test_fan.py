"""The fan: how far boats spread, against answers in closed form.

A boat's errors are the same through its drift, so that in a uniform current and a steady wind its
end point is its error times the drift's length: means and deviations of the ends are known.
"""

from dataclasses import replace

import numpy as np
import pytest
from affine import Affine
from pyproj import Transformer
from scipy.stats import norm
from steady_drifts import LASTS_S, MANY, PLACE, PLANE, START, STILL_IN_WIND, printed
from thoroughness import THOROUGH

from layers.planning import DayWater, Doubt, SafeWater, Setting
from layers.planning.drift._drift import DriftTracks
from layers.planning.drift._fan import (
    boats_stopped,
    chance_of_staying,
    fans,
    share_in_band,
    too_many_stopped,
)
from layers.planning.drift._hand import Hand, Printed
from layers.planning.drift.safe_water import Ended
from layers.water import CRAFT, FixedCurrent, FixedWind, HighLowTable, Leeway
from seabed.grid import make_grid

BAND = (5.0, 8.0)
NO_CELLS = np.empty((0, 0), np.int64)
PLANE_M = 0.05
"""East is no straight line on a plane: over 480 m at 46 degrees a parallel bends by 2 cm."""

NO_DOUBT = Doubt(0.0, 0.0, 0.0, 0.0, 0.0)
NEVER = Hand(correct_every_s=np.inf)


def drifted(plan, *, current=(0.0, 0.0), wind=None, leeway=STILL_IN_WIND, hand=NEVER, **options):
    """Give east and north of all boats at all points, shape (boats, moments), metres."""
    toward = np.degrees(np.arctan2(*current))
    (boats,) = fans(
        plan, currents=FixedCurrent(np.hypot(*current), toward), wind=wind, leeway=leeway,
        hand=hand, members=MANY, **options,
    )  # fmt: skip
    return PLANE.transform(boats.longitude, boats.latitude)


def test_without_doubt_all_boats_go_one_way():
    east, north = drifted(printed(0.3, 0.2), current=(0.3, 0.2), doubt=NO_DOUBT)
    assert np.ptp(east[:, -1]) < 1e-6
    assert east[0, -1] == pytest.approx(0.3 * LASTS_S, abs=PLANE_M)
    assert north[0, -1] == pytest.approx(0.2 * LASTS_S, abs=PLANE_M)


def test_the_current_s_doubt_spreads_boats_along_and_across():
    """Share s and turn t, both normal: along v(1+s)cos t, across v(1+s)sin t."""
    doubt = Doubt(0.15, 10.0, 0.0, 0.0, 0.0)
    east, north = drifted(printed(0.4, 0.0), current=(0.4, 0.0), doubt=doubt)
    way, turn = 0.4 * LASTS_S, np.radians(10.0)
    square = 1 + 0.15**2  # mean of (1+s)^2
    across = way * np.sqrt(square * (1 - np.exp(-2 * turn**2)) / 2)
    mean = way * np.exp(-(turn**2) / 2)
    along = np.sqrt(way**2 * square * (1 + np.exp(-2 * turn**2)) / 2 - mean**2)
    assert east[:, -1].mean() == pytest.approx(mean, rel=0.005)
    assert east[:, -1].std() == pytest.approx(along, rel=0.02)
    assert north[:, -1].std() == pytest.approx(across, rel=0.02)


@pytest.mark.parametrize("speed", [4.0, 8.0] if THOROUGH else [8.0])
def test_the_wind_s_doubt_spreads_boats_along_and_across(speed):
    """As the current's: leeway of 3 % without a spread of its own is a velocity like any other."""
    doubt = Doubt(0.0, 0.0, 0.20, 15.0, 0.0)
    east, north = drifted(
        printed(0.03 * speed, 0.0), wind=FixedWind(speed, 270.0),
        leeway=Leeway(0.03, 0, 0, 0, 0, 0), doubt=doubt,
    )  # fmt: skip
    way, turn = 0.03 * speed * LASTS_S, np.radians(15.0)
    square = 1 + 0.20**2
    across = way * np.sqrt(square * (1 - np.exp(-2 * turn**2)) / 2)
    mean = way * np.exp(-(turn**2) / 2)
    along = np.sqrt(way**2 * square * (1 + np.exp(-2 * turn**2)) / 2 - mean**2)
    assert east[:, -1].mean() == pytest.approx(mean, rel=0.005)
    assert east[:, -1].std() == pytest.approx(along, rel=0.02)
    assert north[:, -1].std() == pytest.approx(across, rel=0.02)


@pytest.mark.parametrize("speed", [3.0, 6.0, 12.0] if THOROUGH else [3.0, 12.0])
@pytest.mark.parametrize(
    ("craft", "down_cm", "right", "left"),
    [
        ("skiff, outboard", 2.20, (1.29, 0.0, 2.20), (-1.29, 0.0, 2.20)),
        ("skiff, V-hull", 3.33, (0.32, -2.93, 2.53), (-0.62, 1.03, 3.05)),
        ("skiff, aluminium", 3.87, (1.07, -3.58, 5.82), (-1.07, 3.58, 5.82)),
        ("kayak with a person", 4.12, (0.41, 0.0, 4.39), (-0.41, 0.0, 4.39)),
    ],
)
def test_leeway_spreads_boats_as_the_field_trials_did(speed, craft, down_cm, right, left):
    """Figures of Allen & Plourde (1999) and Allen (2005), written here anew: %, cm/s, cm/s.

    To which side of downwind a boat goes off can't be known: half the boats take each branch, and
    about straight downwind the mean of a branch counts as spread, so that it grows with the wind.
    """
    east, north = drifted(
        printed(0.1, 0.0), wind=FixedWind(speed, 270.0), leeway=CRAFT[craft], doubt=NO_DOUBT
    )
    deviates = norm.ppf((np.arange(20_000) + 0.5) / 20_000)
    across = np.concatenate(
        [percent * speed + offset + spread * deviates for percent, offset, spread in (right, left)]
    )
    assert east[:, -1].std() / LASTS_S == pytest.approx(down_cm / 100, rel=0.02)
    assert north[:, -1].std() / LASTS_S == pytest.approx(
        np.sqrt((across**2).mean()) / 100, rel=0.02
    )


def test_the_printed_push_is_held_and_changes_evenly():
    """Push 0.2 east at the start, 0.4 at the end: 0.3 on the whole, the square of time in it."""
    plan = printed(0.3, 0.0, push=(0.2, 0.0), push_end=(0.4, 0.0))
    east, _ = drifted(plan, doubt=NO_DOUBT)
    assert east[0, -1] == pytest.approx(0.3 * LASTS_S, abs=0.01)
    half = LASTS_S / 2
    assert east[0, 20] == pytest.approx(0.2 * half + 0.2 * half**2 / (2 * LASTS_S), abs=0.01)


def test_the_hand_comes_back_to_the_line_and_keeps_its_speed():
    """Planned 0.4 m/s east; the water sets 0.1 m/s north and 0.05 east beside.

    At the first look, after 300 s, the boat is 30 m off the line and 15 m ahead.  At the second it
    is on the line, still 15 m ahead, and so it stays.
    """
    plan = printed(0.4, 0.0, push=(0.4, 0.0))
    east, north = drifted(plan, current=(0.05, 0.1), hand=Hand(300.0), doubt=NO_DOUBT)
    ahead = east[0] - 0.4 * np.arange(0.0, LASTS_S + 1, 30.0)
    assert north[0, 10] == pytest.approx(30.0, abs=0.01)
    assert ahead[10] == pytest.approx(15.0, abs=0.01)
    np.testing.assert_allclose(north[0, [20, 25, 30, 40]], 0.0, atol=0.02)
    np.testing.assert_allclose(ahead[[20, 25, 30, 40]], 15.0, atol=0.02)


def test_a_hand_that_never_corrects_is_set_off_for_good():
    plan = printed(0.4, 0.0, push=(0.4, 0.0))
    _, north = drifted(plan, current=(0.05, 0.1), doubt=NO_DOUBT)
    assert north[0, -1] == pytest.approx(0.1 * LASTS_S, abs=PLANE_M)


def test_the_hand_never_pushes_beyond_the_motor_s_limit():
    """Against 0.5 m/s from the side a motor of 0.45 m/s loses 0.05 m/s at the least."""
    plan = printed(0.4, 0.0, push=(0.4, 0.0))
    east, north = drifted(plan, current=(0.0, 0.5), hand=Hand(300.0, 0.45), doubt=NO_DOUBT)
    speed = np.hypot(np.diff(east[0]), np.diff(north[0]) - 0.5 * 30.0) / 30.0
    assert speed.max() < 0.45 + 1e-4
    assert np.diff(north[0])[10:].min() > 0.05 * 30.0 - 1e-3


def test_looks_need_not_fall_on_steps():
    """Corrected every 70 s in steps of at most 30: on the line at every look from the second on."""
    plan = printed(0.4, 0.0, push=(0.4, 0.0))
    (boats,) = fans(
        plan, currents=FixedCurrent(0.1, 0.0), wind=None, leeway=STILL_IN_WIND,
        hand=Hand(70.0), members=1, doubt=NO_DOUBT,
    )  # fmt: skip
    seconds = (boats.times - START) / np.timedelta64(1, "s")
    assert seconds[-1] == LASTS_S
    assert np.diff(seconds).max() <= 30.0
    _, north = PLANE.transform(boats.longitude[0], boats.latitude[0])
    looks = np.isin(np.round(seconds / 70.0, 6), np.arange(2, 18))
    assert looks.sum() == 16
    np.testing.assert_allclose(north[looks], 0.0, atol=0.01)
    assert north[np.round(seconds, 3) == 70.0] == pytest.approx(7.0, abs=0.01)


def test_drifts_of_other_lengths_and_hours_are_as_if_alone():
    """Three drifts at once, the boats of each as when it is followed by itself."""
    later = np.timedelta64(3, "h")
    each = [
        replace(
            printed(0.4, 0.1, push=(0.1, 0.0), lasts_s=lasts_s),
            begins=np.array([START + number * later]),
        )
        for number, lasts_s in enumerate([1200.0, 420.0, 600.0])
    ]
    water = {
        "currents": FixedCurrent(0.35, 80.0), "wind": FixedWind(5.0, 200.0),
        "leeway": CRAFT["skiff, V-hull"], "hand": Hand(200.0), "members": 16,
    }  # fmt: skip
    for own, together in zip(each, fans(Printed.joined(each), **water), strict=True):
        (alone,) = fans(own, **water)
        np.testing.assert_array_equal(together.times, alone.times)
        assert together.times[0] == own.begins[0]
        np.testing.assert_allclose(together.longitude, alone.longitude, rtol=0, atol=1e-9)
        np.testing.assert_allclose(together.latitude, alone.latitude, rtol=0, atol=1e-9)


def plane_of(depth):
    """Give a bottom of 10 m cells whose middle is near `PLACE`."""
    x, y = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True).transform(*PLACE)
    rows, columns = depth.shape
    return make_grid(
        depth.astype(np.float32),
        transform=Affine(10, 0, x - 5 * columns, 0, -10, y + 5 * rows), crs="EPSG:32625",
    )  # fmt: skip


def test_the_boats_that_meet_a_shoal_are_counted():
    """Drifting east at 0.4 m/s give or take 15 %, a wall 560 m away stops 1 boat in 8.7.

    Cells count as their shoalest neighbour: a boat is stopped 10 to 20 m before it, which is why
    the wall is put 15 m beyond; 5 m either way are 0.007 of the chance.
    """
    depth = np.full((60, 300), 8.0)
    wall = round((0.4 * LASTS_S * 1.18 + 15.0) / 10.0)
    depth[:, 150 + wall :] = 0.5
    safe = SafeWater.of(plane_of(depth), least_water_m=1.5)
    (boats,) = fans(
        printed(0.4, 0.0), currents=FixedCurrent(0.4, 90.0), wind=None, leeway=STILL_IN_WIND,
        hand=NEVER, members=MANY, doubt=Doubt(0.15, 0.0, 0.0, 0.0), safe=safe,
    )  # fmt: skip
    chance = 0.1151  # of a normal deviate above 0.18 / 0.15 = 1.2
    assert boats_stopped(boats) / MANY == pytest.approx(chance, abs=0.02)
    assert too_many_stopped(boats)


def test_a_tide_lower_than_predicted_counts_against_the_least_water():
    """2 m of water, 1.5 wanted, tide at 0.5 m below: nothing to spare, and none with the doubt.

    With 0.1 m to spare and a doubt of 0.1 m the chance is that of a deviate below -1: 0.159.
    """
    grid = plane_of(np.full((60, 300), 2.0))
    times = START + np.array([-6, 6, 18], "timedelta64[h]")
    heights = HighLowTable(times, np.array([-0.4, -0.399, -0.4]), np.array([False, True, False]))
    safe = SafeWater.of(grid, heights, least_water_m=1.5)

    def stopped(height_m):
        (boats,) = fans(
            printed(0.4, 0.0), currents=FixedCurrent(0.4, 90.0), wind=None, leeway=STILL_IN_WIND,
            hand=NEVER, members=MANY, doubt=Doubt(0.0, 0.0, 0.0, 0.0, height_m), safe=safe,
        )  # fmt: skip
        return boats_stopped(boats) / MANY

    assert stopped(0.0) == 0.0
    assert stopped(0.1) == pytest.approx(0.1587, abs=0.01)


def test_boats_stopped_are_those_of_land_shoal_and_hazard():
    ended = np.array([Ended.TIME, Ended.SHOAL, Ended.HAZARD, Ended.UNKNOWN_WATER], np.int8)
    nothing = np.full((4, 2), np.nan)
    tracks = DriftTracks(START + np.arange(2), nothing, nothing, nothing, ended, NO_CELLS)
    assert boats_stopped(tracks) == 2


@pytest.mark.parametrize(("stopped", "too_many"), [(0, False), (2, False), (3, True)])
def test_more_than_one_boat_in_fifty_is_too_many(stopped, too_many):
    ended = np.repeat([Ended.SHOAL, Ended.TIME], [stopped, 100 - stopped]).astype(np.int8)
    nothing = np.full((100, 2), np.nan)
    tracks = DriftTracks(START + np.arange(2), *[nothing] * 3, ended, NO_CELLS)
    assert too_many_stopped(tracks) == too_many


def test_the_share_in_the_band_is_of_time():
    """Depth changes evenly between points; one that was stopped is out of the band from then on.

    First boat: in the band till it is deeper than 8 m, half way to the last point: 90 s.  Second:
    from 5 m on, a quarter of its only minute in: 45 s.  135 of 240.
    """
    nan = np.nan
    tracks = DriftTracks(
        times=START + np.arange(3) * np.timedelta64(60, "s"),
        longitude=np.array([[0.0, 0.1, 0.2], [0.0, 0.1, nan]]),
        latitude=np.array([[0.0, 0.0, 0.0], [0.0, 0.0, nan]]),
        depth_m=np.array([[6.0, 7.0, 9.0], [4.0, 8.0, nan]]),
        ended=np.array([Ended.TIME, Ended.SHOAL], np.int8),
        cells=NO_CELLS,
    )
    assert share_in_band(tracks, BAND) == pytest.approx(135 / 240)
    assert chance_of_staying(tracks, BAND, of_time=0.7) == 0.5


def test_an_even_depth_is_in_the_band_or_not():
    depth = np.array([[5.0, 5.0], [8.0, 8.0], [8.01, 8.01], [6.0, 6.0]])
    tracks = DriftTracks(
        START + np.arange(2) * np.timedelta64(60, "s"),
        depth,
        depth,
        depth,
        np.zeros(4, np.int8),
        NO_CELLS,
    )
    assert share_in_band(tracks, BAND) == 0.75


def test_a_setting_s_fan_is_that_of_its_printed_trim():
    """Wind from abeam: the push printed for the start is the opposite of the leeway."""
    water = DayWater(
        FixedCurrent(0.4, 90.0), Leeway(0.03, 0, 0, 0, 0, 0), FixedWind(5.0, 180.0),
        held_mps=(0.2, 0.5), doubt=NO_DOUBT,
    )  # fmt: skip
    setting = Setting(SafeWater.of(plane_of(np.full((200, 300), 8.0))), water, BAND)
    boats = setting.fan(*PLACE, START, LASTS_S)
    east, north = PLANE.transform(boats.longitude[:, -1], boats.latitude[:, -1])
    np.testing.assert_allclose(east, 0.4 * LASTS_S, atol=PLANE_M)
    np.testing.assert_allclose(north, 0.0, atol=PLANE_M)  # 180 m without the push
    np.testing.assert_allclose(boats.depth_m, 8.0)
