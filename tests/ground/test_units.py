"""Quantities in and out.  Factors: NIST SP 811 (2008), appendix B; SI brochure, table 8."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from seabed.errors import UnitError
from seabed.units import (
    LENGTH,
    SPEED,
    convert,
    format_quantity,
    parse_depths,
    parse_length,
    parse_range,
    parse_speed,
)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("25 ft", 7.62),
        ("25ft", 7.62),
        (" 25  feet ", 7.62),
        ("25'", 7.62),
        ("7 m", 7.0),
        ("7,5 m", 7.5),
        ("-2 m", -2.0),
        (".5 fathoms", 0.9144),
        ("1 nm", 1852.0),
        ("1 mile", 1609.344),
        ("14 in", 0.3556),
        ('14"', 0.3556),
        ("1 Metre", 1.0),
    ],
)
def test_lengths(text, metres):
    assert parse_length(text) == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "speed"),
    [
        ("1 kn", 1852 / 3600),
        ("1 mph", 0.44704),
        ("3.6 km/h", 1.0),
        ("2 m/s", 2.0),
        ("1 kts", 1852 / 3600),
    ],
)
def test_speeds(text, speed):
    assert parse_speed(text) == pytest.approx(speed, rel=1e-12)


@pytest.mark.parametrize(
    "text", ["25 fet", "25", "ft", "", "twenty ft", "25 kn", "nan ft", "1e400 m m"]
)
def test_lengths_that_do_not_parse(text):
    with pytest.raises(UnitError, match=r"like 25 ft|Use one of|Add one"):
        parse_length(text)


def test_a_bare_number_takes_the_default():
    assert parse_length(25, default="ft") == pytest.approx(7.62)
    assert parse_length("25", default="ft") == pytest.approx(7.62)


@pytest.mark.parametrize(
    "text",
    ["17-25 ft", "17 - 25ft", "25-17 ft", "17 ft - 25 ft", "17 to 25 ft", "17–25 ft", "17..25 ft"],
)
def test_ranges(text):
    assert parse_range(text) == pytest.approx((17 * 0.3048, 25 * 0.3048))


@pytest.mark.parametrize("text", ["17 ft - 25", "17ft-25", "17-25 ft", "17 ft to 25 ft"])
def test_a_unit_of_one_end_of_a_range_holds_for_both(text):
    assert parse_range(text, default="m") == pytest.approx((17 * 0.3048, 25 * 0.3048))
    assert parse_range(text) == pytest.approx((17 * 0.3048, 25 * 0.3048))
    assert parse_range("5 m - 25 ft", default="fm") == pytest.approx((5, 25 * 0.3048))


@pytest.mark.parametrize("text", ["17 ft", "17-17 ft", "17-25", "a-b ft", "17-25 fet"])
def test_ranges_that_do_not_parse(text):
    with pytest.raises(UnitError):
        parse_range(text)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("10,15,20 ft", [3.048, 4.572, 6.096]),
        ("20, 10 m", [10, 20]),
        ("10 ft, 5 m", [3.048, 5]),
        ("10:20:5 ft", [3.048, 4.572, 6.096]),
        ("10 ft and 20 ft", [3.048, 6.096]),
        ("5;5;6 m", [5, 6]),
    ],
)
def test_rows_of_depths(text, metres):
    assert parse_depths(text) == pytest.approx(metres)


@pytest.mark.parametrize(
    "text", ["", "10,fish ft", "10:5:1 ft", "10:20:0 ft", "10:20 ft", "25 fet", "0:1e9:1 m"]
)
def test_rows_that_do_not_parse(text):
    with pytest.raises(UnitError):
        parse_depths(text)


@given(st.floats(-1e5, 1e5), st.sampled_from([*LENGTH]))
@settings(deadline=None)
def test_lengths_come_back(value, unit):
    assert convert(parse_length(f"{value:.6f} {unit}"), unit) == pytest.approx(
        round(value, 6), abs=1e-9
    )


@given(st.floats(0, 100), st.sampled_from([*SPEED]))
@settings(deadline=None)
def test_speeds_come_back(value, unit):
    assert convert(parse_speed(f"{value:.6f} {unit}"), unit) == pytest.approx(
        round(value, 6), abs=1e-9
    )


def test_writing():
    assert format_quantity(7.62, "ft") == "25 ft"
    assert format_quantity(7.62, "m", digits=1) == "7.6 m"
    assert format_quantity(math.nan, "ft") == "unknown"
    with pytest.raises(UnitError, match="unknown unit 'league'"):
        format_quantity(1, "league")
