"""Tide tables in the shapes that people have.  Truth: four turns, written out in each shape."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.water import read_heights
from seabed.errors import WaterError

TIMES = ["2031-06-14T03:12", "2031-06-14T09:20", "2031-06-14T15:40", "2031-06-14T21:55"]
FEET = [6.2, 0.3, 5.9, 1.1]
METRES = [foot * 0.3048 for foot in FEET]

IN_FEET = {
    "one turn a line, am and pm": (
        "Date,Time,Tide,Height (ft)\n"
        "06/14/2031,3:12 AM,High,6.2\n06/14/2031,9:20 AM,Low,0.3\n"
        "06/14/2031,3:40 PM,High,5.9\n06/14/2031,9:55 PM,Low,1.1\n"
    ),
    "pasted, the unit in each cell": (
        "Tollivane Sound tides\nSat 14 June 2031\n3:12 AM High Tide 6.2 ft\n"
        "9:20 AM Low Tide 0.3 ft\n"
        "3:40 PM High Tide 5.9 ft\n9:55 PM Low Tide 1.1 ft\nSunrise and moon not shown\n"
    ),
    "turn before its time": (
        "June 14, 2031\nHigh Tide: 3:12 am (6.2 ft)\nLow Tide: 9:20 am (0.3 ft)\n"
        "High Tide: 3:40 pm (5.9 ft)\nLow Tide: 9:55 pm (1.1 ft)\n"
    ),
    "height before its time": (
        "14 June 2031\nHigh 6.2 ft 3:12 AM\nLow 0.3 ft 9:20 AM\n"
        "High 5.9 ft 3:40 PM\nLow 1.1 ft 9:55 PM\n"
    ),
    "one day a line": (
        "Day,High,ft,Low,ft,High,ft,Low,ft\n14/06/2031,03:12,6.2,09:20,0.3,15:40,5.9,21:55,1.1\n"
    ),
    "one day a line, unit above": (
        "Heights in feet\nDate;1st;;2nd;;3rd;;4th;\n"
        "Sat 14/06/2031;0312;6,2;0920;0,3;1540;5,9;2155;1,1\n"
    ),
    "turn and height in a cell": (
        "date,time,tide\n2031-06-14,03:12,High Tide 6.2 ft\n2031-06-14,09:20,Low Tide 0.3 ft\n"
        "2031-06-14,15:40,High Tide 5.9 ft\n2031-06-14,21:55,Low Tide 1.1 ft\n"
    ),
}  # fmt: skip


def written(folder, text, name="tide.txt"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("shape", IN_FEET)
def test_shapes(tmp_path, shape):
    found = read_heights(written(tmp_path, IN_FEET[shape]), timezone="UTC")
    assert found.times.astype("datetime64[m]").astype(str).tolist() == TIMES
    assert found.heights_m == pytest.approx(METRES)
    assert found.high.tolist() == [True, False, True, False]


@pytest.mark.parametrize(
    ("line", "hours"),
    [
        ("All times are UTC", 0),
        ("Times in GMT+2", 2),
        ("Time zone: America/New_York", -4),
        ("Zeiten in MESZ", 2),
        ("Time: EST", -5),
        ("Local standard time all year", 0),  # Lisbon's, an hour behind its summer time
        ("Tollivane Sound, West Pier", 1),  # names none: Lisbon's summer time
    ],
)
def test_a_zone_named_above_holds(tmp_path, line, hours):
    text = f"{line}\ntime,height_m\n2031-06-14 09:20,0.3\n2031-06-14 15:40,5.9\n"
    found = read_heights(written(tmp_path, text), timezone="Europe/Lisbon")
    shown = np.datetime64("2031-06-14T09:20") - np.timedelta64(hours, "h")
    assert found.times[0] == shown
    again = read_heights(
        written(tmp_path, f"{line}\nSat 14 June 2031\n9:20 AM low 0.3 m\n3:40 PM high 5.9 m\n"),
        timezone="Europe/Lisbon",
    )
    assert again.times[0] == shown


@given(
    first=st.integers(0, 30).map(lambda x: x / 10), rise=st.integers(2, 40).map(lambda x: x / 10),
    minute=st.integers(0, 300), comma=st.booleans(), half=st.booleans(),
)  # fmt: skip
def test_what_is_typed_is_read_back(tmp_path_factory, first, rise, minute, comma, half):
    start = np.datetime64("2031-06-14T00:00") + np.timedelta64(minute, "m")
    moments = [start + np.timedelta64(372 * i, "m") for i in range(3)]
    heights = [first, round(first + rise, 1), first]
    lines = ["14.06.2031"]
    for moment, height in zip(moments, heights, strict=True):
        clock = moment.item()
        shown = f"{height:.1f} m".replace(".", "," if comma else ".")
        lines.append(f"{clock:%I:%M %p}  {shown}" if half else f"{clock:%Hh%M} - {shown}")
    path = written(tmp_path_factory.mktemp("typed"), "\n".join(lines))
    found = read_heights(path, timezone="UTC")
    assert found.times.astype("datetime64[m]").tolist() == [one.item() for one in moments]
    assert found.heights_m == pytest.approx(heights)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("hello\nworld\n", "no line holds a time of high or low water.*Give columns"),
        ("3:12 AM High Tide 6.2 ft\n", "line 1: there is no date"),
        ("14 June 2031\n3:12 AM 6.2 ft 9:20 AM\n", "line 2: 2 times and 1 heights"),
        (
            "14 June 2031\n3:12 AM high 6.2\n9:20 AM low 0.3\n",
            "6.2.*has no unit.*height_m.*heights_unit",
        ),
        ("3/4/2031\n3:12 AM high 6.2 ft\n9:20 AM low 0.3 ft\n", "day 3 of month 4.*date_order"),
    ],
)
def test_refused_with_the_cure(tmp_path, text, said):
    with pytest.raises(WaterError, match=said):
        read_heights(written(tmp_path, text), timezone="UTC")


def test_the_unit_given_answers_for_a_table_that_names_none(tmp_path):
    """A foot is 0.3048 m by definition; a unit in the table itself overrules the one given."""
    bare = "14 June 2031\n3:12 AM high 6.2\n9:20 AM low 0.3\n"
    read = read_heights(written(tmp_path, bare), unit="ft")
    assert read.bare and read.heights_m == pytest.approx([6.2 * 0.3048, 0.3 * 0.3048])
    own = read_heights(written(tmp_path, bare.replace("2031", "2031, heights in m")), unit="ft")
    assert not own.bare and own.heights_m == pytest.approx([6.2, 0.3])


def test_decimal_commas_of_a_day_in_a_line_are_not_separators(tmp_path):
    """Heights of 3,9 m were read as 9 m."""
    text = "Gezeiten\n" + "".join(
        f"{day}.06.2031  HW 03:12 3,9 m  NW 09:20 0,4 m  HW 15:40 3,8 m  NW 21:55 0,5 m\n"
        for day in (14, 15)
    )
    assert read_heights(written(tmp_path, text)).heights_m.tolist() == [3.9, 0.4, 3.8, 0.5] * 2
