"""The wind in the words of forecasts.  Truth: the Beaufort table of WMO-No. 306, table 1100."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.water import parse_wind
from layers.water.wind.wind_words import wind_notes
from seabed.errors import WaterError

KNOT = 1852 / 3600
LIMITS = [0, 1, 4, 7, 11, 17, 22, 28, 34, 41, 48, 56, 64]  # first knot of each force
NAMES = ["north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest"]


def read(*words):
    wind = parse_wind(list(words), "2031-06-14", timezone="UTC", default_unit="kn")
    at = "2031-06-14T10:00"
    speed, from_deg = wind.at(at)
    return float(speed) / KNOT, float(from_deg), float(wind.gusts(at)) / KNOT


@given(force=st.integers(1, 11), name=st.integers(0, 7), form=st.sampled_from(
    ["{n} force {f}", "F{f} {p}", "{p} F{f}", "{f} bft {p}", "{n}erly beaufort {f}",
     "Force {f} from the {n}"],
))  # fmt: skip
def test_forces(force, name, form):
    point = ["n", "ne", "e", "se", "s", "sw", "w", "nw"][name].upper()
    low, high = LIMITS[force], LIMITS[force + 1] - 1
    words = form.format(n=NAMES[name], p=point, f=force)
    assert read(words) == pytest.approx(((low + high) / 2, name * 45.0, high))
    assert "is taken as" in wind_notes([words])[0]


@given(
    low=st.integers(1, 40), more=st.integers(1, 30), degrees=st.integers(0, 359),
    to=st.sampled_from(["-", " to ", "–"]), unit=st.sampled_from(["kn", "kts", "knots"]),
)  # fmt: skip
def test_ranges(low, more, degrees, to, unit):
    middle = low + more / 2
    for words in (
        f"{degrees} {low}{to}{low + more} {unit}",
        f"{low}{to}{low + more} {unit} from {degrees}",
    ):
        assert read(words) == pytest.approx((middle, degrees, low + more))


@pytest.mark.parametrize(
    ("words", "speed", "from_deg", "gust"),
    [
        ("SW 10-15 kn", 12.5, 225, 15),
        ("southwest force 4", 13.5, 225, 16),
        ("F4 WNW", 13.5, 292.5, 16),
        ("SW F4-5", 16, 225, 21),
        ("4-5 bft SW", 16, 225, 21),
        ("SW 12 gusting 20", 12, 225, 20),
        ("SW 10-15 gusting 25 kn", 12.5, 225, 25),
        ("12 mph from the west", 12 * 1609.344 / 1852, 270, 12 * 1609.344 / 1852),
        ("west-south-west 8 kn", 8, 247.5, 8),
        ("south westerly 8 kn", 8, 225, 8),
        ("wind SW at 8 kn", 8, 225, 8),
        ("variable 3 kn", 0, 0, 3),
        ("light and variable", 0, 0, 0),
        ("VRB 2-4 kn", 0, 0, 4),
        ("6am SW 10-15 kn", 12.5, 225, 15),
        ("0600 F4 WNW", 13.5, 292.5, 16),
        ("6:30 pm SW 8 kn", 8, 225, 8),
    ],
)
def test_words_of_forecasts(words, speed, from_deg, gust):
    assert read(words) == pytest.approx((speed, from_deg, gust))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("variable 12 kn", "has no direction, and is too strong"),
        ("force 13 SW", "can't read the wind"),
        ("force 4", "is not a wind direction"),
        ("10-15 kn", "can't read the wind"),
        ("SW 15-10 kn", "can't read the wind"),
        ("13pm SW 8 kn", "is not a time of day"),
    ],
)
def test_words_refused(words, said):
    with pytest.raises(WaterError, match=said):
        read(words)


def test_plain_winds_need_no_note():
    assert (
        wind_notes(["SW 8 kn", "SW 12 gusting 20 kn", "12 mph from the west", "6:00 SW 8 kn"]) == []
    )
    assert wind_notes(["variable 3 kn"]) == ["The wind 'variable 3 kn' is taken as a calm."]


def test_a_force_is_given_back_with_its_point_in_capitals():
    assert wind_notes(["sw 3 bft"]) == ["The wind 'sw 3 bft' is taken as SW 8.5 kn gusting 10 kn."]
