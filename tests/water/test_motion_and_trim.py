"""Vector triangles: set and drift, and the motor's push."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.water.currents.currents import vector
from layers.water.motion import set_and_drift, trim, wind_and_water

KNOT = 1852 / 3600
ANY = (0.0, 0.0)


def over_ground(course: float, speed: float, set_deg: float, drift: float) -> tuple[float, float]:
    one, other = vector(speed, course), vector(drift, set_deg)
    toward, made_good = set_and_drift(one[0] + other[0], one[1] + other[1])
    return float(toward), float(made_good)


def test_current_sailing_track_and_speed_made_good() -> None:
    """American Practical Navigator (Bowditch, Pub. No. 9), current sailing, first example: course
    080 at 10 kn, set 140, drift 2 kn; plotted answer: track 089, 11.2 kn.  Recalled from memory; a
    plot is good to half a degree and a tenth of a knot.
    """
    track, speed = over_ground(80.0, 10.0, 140.0, 2.0)
    assert track == pytest.approx(89.0, abs=0.5)
    assert speed == pytest.approx(11.2, abs=0.1)


@pytest.mark.parametrize(
    ("track", "speed", "set_deg", "drift", "course", "through_water"),
    [
        (265.0, 15.0, 185.0, 3.0, 276.0, 14.8),  # Bowditch, third example of the same; from memory
        (90.0, 3.0, 0.0, 4.0, 180 - np.degrees(np.arctan(3 / 4)), 5.0),  # a 3-4-5 triangle
    ],
)
def test_course_and_speed_to_make_good(
    track: float, speed: float, set_deg: float, drift: float, course: float, through_water: float
) -> None:
    found = trim(
        vector(drift, set_deg), ANY, speed_mps=(speed, speed), limit_mps=20.0, along_deg=track
    )
    assert float(found.heading_deg) == pytest.approx(course, abs=0.6)
    assert float(found.push_mps) == pytest.approx(through_water, abs=0.05)
    assert bool(found.held)


def test_no_push_where_none_is_needed() -> None:
    found = trim(vector(0.4, 30.0), ANY, speed_mps=(0.2, 0.5), limit_mps=1.0)
    assert float(found.push_mps) == pytest.approx(0.0, abs=1e-12)
    assert np.isnan(found.heading_deg)
    assert float(found.ground_mps) == pytest.approx(0.4)


def test_too_fast_a_current_is_held_back() -> None:
    """1.0 m/s of water, 0.45 wanted: the push is 0.55 against it."""
    found = trim(vector(1.0, 30.0), ANY, speed_mps=(0.22, 0.45), limit_mps=0.5)
    assert float(found.push_mps) == pytest.approx(0.55)
    assert float(found.heading_deg) == pytest.approx(210.0)
    assert not bool(found.held)


def test_still_water_has_no_line_but_one_can_be_given() -> None:
    still = trim(ANY, vector(0.2, 90.0), speed_mps=(0.2, 0.4), limit_mps=1.0)
    assert not bool(still.held)
    along = trim(ANY, vector(0.2, 90.0), speed_mps=(0.2, 0.4), limit_mps=1.0, along_deg=0.0)
    assert float(along.heading_deg) == pytest.approx(315.0)
    assert float(along.push_mps) == pytest.approx(0.2 * np.sqrt(2))


@given(
    water=st.tuples(st.floats(0.05, 2.0), st.floats(0, 360)),
    wind=st.tuples(st.floats(0.0, 0.6), st.floats(0, 360)),
    low=st.floats(0.1, 0.5),
)
def test_no_other_speed_needs_less(
    water: tuple[float, float], wind: tuple[float, float], low: float
) -> None:
    """Brute force over 400 speeds of the wanted range: none needs a smaller push; and the push with
    water and leeway gives the velocity along the line that it says.
    """
    current, leeway = vector(*water), vector(*wind)
    found = trim(current, leeway, speed_mps=(low, low + 0.3), limit_mps=9.0)
    way = np.radians(water[1])
    speeds = np.linspace(low, low + 0.3, 400)
    push = np.hypot(
        speeds * np.sin(way) - current[0] - leeway[0],
        speeds * np.cos(way) - current[1] - leeway[1],
    )
    assert float(found.push_mps) <= push.min() + 1e-9
    made = vector(found.push_mps, np.nan_to_num(found.heading_deg))
    east, north = (c + d + p for c, d, p in zip(current, leeway, made, strict=True))
    np.testing.assert_allclose([east, north], vector(float(found.ground_mps), water[1]), atol=1e-6)


@pytest.mark.parametrize(
    ("toward", "wind_from", "words"),
    [
        (40.0, 220.0, "wind with the tide"),
        (40.0, 45.0, "wind against the tide"),
        (350.0, 80.0, "wind across the tide"),
        (10.0, 325.0 - 180.0, "wind with the tide"),
        (0.0, 180.0 + 50.0, "wind across the tide"),
        (0.0, 50.0, "wind across the tide"),
        (np.nan, 0.0, ""),
    ],
)
def test_wind_and_water_in_words(toward: float, wind_from: float, words: str) -> None:
    assert wind_and_water(toward, wind_from) == words


def test_no_speed_has_no_direction() -> None:
    toward, speed = set_and_drift([0.0, 1.0, -1.0], [0.0, 0.0, 0.0])
    np.testing.assert_array_equal(speed, [0.0, 1.0, 1.0])
    np.testing.assert_allclose(toward, [np.nan, 90.0, 270.0])
