"""Hours of a launch, on a tide and a wind whose answer is worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from layers.water import FixedWind
from layers.water.boat.launch import LOW, ONSHORE, UNKNOWN, LaunchNeeds, launch_hours

START = np.datetime64("2031-06-14T00:00", "ns")
END = START + np.timedelta64(24, "h")


class Cosine:
    """A tide of 12 hours between 0 and 2 m, high at 0, 12 and 24 h."""

    notes = ()

    def height_m(self, times):
        hours = (np.asarray(times) - START) / np.timedelta64(3600, "s")
        return 1.0 + np.cos(2 * np.pi * hours / 12.0) + 1e-9


def hours_of(needs: LaunchNeeds, heights=None, wind=None):
    return launch_hours(START, END, needs, heights=heights, wind=wind)


def minutes(spans):
    return [tuple(round((t - START) / np.timedelta64(60, "s")) for t in span) for span in spans]


def test_the_tide_opens_and_shuts_it_to_the_minute() -> None:
    """1 + cos(2 pi t / 12) is 1.5 or more within 2 h of high water."""
    hours = hours_of(LaunchNeeds(1.5), Cosine())
    assert minutes(hours.spans) == [(0, 120), (600, 840), (1320, 1440)]
    assert hours.shut_at(START + np.timedelta64(3, "h")) == LOW
    assert hours.shut_at(START + np.timedelta64(11, "h")) == ""
    last = hours.last_before(START + np.timedelta64(5, "h"))
    assert last == START + np.timedelta64(2, "h")


@pytest.mark.parametrize(
    ("from_deg", "open_"), [(200, False), (250, False), (270, True), (20, True)]
)
def test_only_the_part_of_the_wind_onto_the_shore_counts(from_deg: float, open_: bool) -> None:
    """10 m/s against 6: cos 50 = 0.64 is too much, cos 70 = 0.34 is not, from the land never."""
    needs = LaunchNeeds(None, 200.0, 6.0)
    assert bool(hours_of(needs, wind=FixedWind(10.0, from_deg)).spans) is open_
    if not open_:
        assert hours_of(needs, wind=FixedWind(10.0, from_deg)).shut_at(START) == ONSHORE


def test_a_tide_that_is_not_known_shuts_it() -> None:
    hours = hours_of(LaunchNeeds(1.5))
    assert hours.spans == ()
    assert hours.shut_at(START) == UNKNOWN
    assert hours.last_before(END) is None
    assert hours.shut_at(END + np.timedelta64(1, "h")) == ""  # not looked at
