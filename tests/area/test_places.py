"""Positions as skippers write them."""

from pathlib import Path

import pytest

from layers.area._forms import place
from layers.present.positions import degrees_minutes


@pytest.mark.parametrize(
    ("words", "longitude", "latitude"),
    [
        ("46°11.400'N 033°24.600'W", -33.41, 46.19),
        ("46°11.400'N, 033°24.600'W", -33.41, 46.19),
        ("N 46 11.4' W 33 24.6'", -33.41, 46.19),
        ("46.19 n, 33.41 w", -33.41, 46.19),
        ("46.19, -33.41", -33.41, 46.19),
        ("33°30'S 151°15'E", 151.25, -33.5),
        ("0, 0", 0.0, 0.0),
    ],
)
def test_a_position_is_read_latitude_first(words, longitude, latitude):
    assert place(words, Path()) == pytest.approx((longitude, latitude))


def test_what_a_sheet_prints_is_read_back():
    assert place(degrees_minutes(-12.345, 98.765), Path()) == pytest.approx(
        (98.765, -12.345), abs=1e-5
    )


def test_nothing_is_no_position():
    assert place("", Path()) is None


@pytest.mark.parametrize(
    "words",
    ["home", "46.19", "N 46.19 S, 33.41 W", "91, 0", "0, 181", "46°71.0'N 33°24.6'W", "-46 S, 33 W",
     [46.19, -33.41]],
)  # fmt: skip
def test_what_is_no_position_is_refused(words):
    with pytest.raises(ValueError, match="Write latitude and longitude"):
        place(words, Path())
