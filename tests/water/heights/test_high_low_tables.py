"""High/low tables: the half-cosine, and what is refused."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from layers.water import read_heights
from layers.water.heights.stage import stage, turns
from layers.water.times import as_utc
from seabed.errors import WaterError

TABLE = """time,height_ft,kind
2031-06-14 00:10,5.2,high
2031-06-14 06:20,0.4,low
2031-06-14 12:35,5.9,high
2031-06-14 18:50,0.1,low
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "table.csv"
    path.write_text(text, encoding="utf-8")
    return path


def utc(*words: str) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(words).tz_localize("UTC")


def test_extremes_and_middle_are_exact(tmp_path: Path) -> None:
    heights = read_heights(written(tmp_path, TABLE), timezone="Etc/GMT+2")
    at = utc("2031-06-14 02:10", "2031-06-14 08:20", "2031-06-14 05:15")
    np.testing.assert_allclose(
        heights.height_m(at), np.array([5.2, 0.4, 2.8]) * 0.3048, rtol=0, atol=1e-12
    )


def test_quarter_of_the_way_follows_the_cosine(tmp_path: Path) -> None:
    """1 - cos(45°) over 2 is 0.1464 of the range: the published hand method's own figure."""
    table = "time,height_m\n2031-01-01 00:00,4\n2031-01-01 08:00,0\n"
    heights = read_heights(written(tmp_path, table))
    assert heights.height_m(utc("2031-01-01 02:00"))[0] == pytest.approx(
        4 * (1 - 0.1464466), abs=1e-6
    )


def test_outside_the_table_is_unknown(tmp_path: Path) -> None:
    heights = read_heights(written(tmp_path, TABLE), timezone="UTC")
    at = utc("2031-06-14 00:09", "2031-06-14 18:51", "2031-06-14 18:50")
    np.testing.assert_array_equal(np.isnan(heights.height_m(at)), [True, True, False])


def test_days_left_out_are_unknown_and_not_bridged(tmp_path: Path) -> None:
    rows = TABLE + "2031-07-02 03:00,5.0,high\n2031-07-02 09:15,0.5,low\n"
    heights = read_heights(written(tmp_path, rows))
    known = ~np.isnan(
        heights.height_m(utc("2031-06-14 12:00", "2031-06-20 12:00", "2031-07-02 05:00"))
    )
    np.testing.assert_array_equal(known, [True, False, True])
    found = stage(heights, utc("2031-06-20 12:00"))
    assert found["state"][0] == ""
    assert np.isnan(found["fraction_of_range"][0])
    assert np.isnan(found["hours_from_high"][0])


def test_offsets_win_over_the_zone(tmp_path: Path) -> None:
    table = "time,height_m\n2031-06-14T00:00-02:00,4\n2031-06-14T06:00-02:00,0\n"
    heights = read_heights(written(tmp_path, table), timezone="Asia/Tokyo")
    assert heights.height_m(utc("2031-06-14 02:00"))[0] == pytest.approx(4.0)


def test_date_and_time_columns_semicolons_and_comments(tmp_path: Path) -> None:
    table = (
        "# made up\nDate;Time;Height (m);High/Low\n"
        "2031-06-14;00:00;4,0;H\n\n2031-06-14;06:00;0,0;L\n"
    )
    heights = read_heights(written(tmp_path, table))
    assert heights.height_m(utc("2031-06-14 03:00"))[0] == pytest.approx(2.0)


def test_stage_by_hand(tmp_path: Path) -> None:
    heights = read_heights(written(tmp_path, TABLE), timezone="UTC")
    found = stage(
        heights,
        utc("2031-06-14 00:20", "2031-06-14 03:15", "2031-06-14 09:20", "2031-06-14 12:35"),
    )
    assert list(found["state"]) == ["stand", "ebb", "flood", "stand"]
    np.testing.assert_allclose(
        found["hours_from_high"], [10 / 60, 3 + 5 / 60, -(3 + 15 / 60), 0.0], atol=1e-9
    )
    assert found["fraction_of_range"][1] == pytest.approx(0.5)
    assert found["fraction_of_range"][3] == pytest.approx(1.0)


@pytest.mark.parametrize("share", [1 / 12, 1 / 5, 0.0])
def test_slack_is_a_share_of_each_rise_and_fall_by_the_clock(tmp_path: Path, share: float) -> None:
    """Every minute of a day, by hand: within a twelfth of a fall of 370 or a rise of 375 minutes.

    The twelfth is common practice, no source; the minutes are counted from the table's own times.
    """
    heights = read_heights(written(tmp_path, TABLE), timezone="UTC")
    clocks = [10, 380, 755, 1130]  # minutes of the turns
    minutes = np.arange(clocks[0], clocks[-1]) + 0.5
    expected = []
    for minute in minutes:
        before = max(clock for clock in clocks if clock < minute)
        after = min(clock for clock in clocks if clock > minute)
        near = min(minute - before, after - minute)
        moving = "flood" if before == clocks[1] else "ebb"
        expected.append("stand" if near <= share * (after - before) else moving)
    times = np.datetime64("2031-06-14", "ns") + (minutes * 6e10).astype("timedelta64[ns]")
    found = stage(heights, times, stand_share=share)
    assert list(found["state"]) == expected
    # 370, 375 and 375 minutes, a share at either end of each
    assert expected.count("stand") == sum(2 * int(share * m + 0.5) for m in (370, 375, 375))


def test_the_stand_is_half_an_hour_of_six_hours_where_no_share_is_given(tmp_path: Path) -> None:
    """Common practice, no source: half an hour about each turn of a tide of six hours."""
    table = "time,height_m\n2031-01-01 00:00,4\n2031-01-01 06:00,0\n2031-01-01 12:00,4\n"
    found = stage(
        read_heights(written(tmp_path, table)),
        utc("2031-01-01 00:29", "2031-01-01 00:31", "2031-01-01 05:29", "2031-01-01 05:31",
            "2031-01-01 06:29", "2031-01-01 06:31"),
    )  # fmt: skip
    assert list(found["state"]) == ["stand", "ebb", "ebb", "stand", "stand", "flood"]


def test_turns_of_a_sine_to_a_second() -> None:
    class Sine:
        def height_m(self, times: object) -> np.ndarray:
            hours = (np.asarray(times) - np.datetime64("2031-01-01")) / np.timedelta64(3600, "s")
            return 1.5 * np.cos(2 * np.pi * (hours - 1.234) / 12.42)

    found = turns(Sine(), "2031-01-01", "2031-01-02")
    expected = pd.Timestamp("2031-01-01", tz="UTC") + pd.to_timedelta(
        1.234 + 6.21 * np.arange(4), unit="h"
    )
    assert list(found["high"]) == [True, False, True, False]
    off = np.abs((pd.DatetimeIndex(found["time"]) - expected).total_seconds())
    assert off.max() < 1.0
    np.testing.assert_allclose(np.abs(found["height_m"]), 1.5, atol=1e-4)


BAD = {
    "high after high": (
        "time,height_m,kind\n2031-01-01 00:00,4,high\n2031-01-01 06:00,4.1,high\n",
        r"line 3: a high water follows a high water\. Add the low water",
    ),
    "low not below": (
        "time,height_m,kind\n2031-01-01 00:00,4,high\n2031-01-01 06:00,4.1,low\n",
        r"line 3: this low water \(4\.10 m\) is not below the one before",
    ),
    "gap": (
        TABLE.replace("2031-06-14 06:20,0.4,low\n2031-06-14 12:35,5.9,high\n", "")
        + "2031-06-15 01:00,5,high\n2031-06-15 07:00,0,low\n",
        r"line 3: 18\.7 hours without a high or low water",
    ),
    "no unit": ("time,height\n2031-01-01 00:00,4\n2031-01-01 06:00,1\n", "no unit.*height_m"),
    "no time": (
        "hour,height_m\n2031-01-01 00:00,4\n",
        "no column for time among hour",
    ),
    "bad time": (
        "time,height_m\nyesterday,4\n",
        "line 2, column 'time': can't read .*'yesterday'",
    ),
    "bad height": ("time,height_m\n2031-01-01 00:00,much\n", "line 2, column 'height_m': .*much"),
    "not a number": ("time,height_m\n2031-01-01 00:00,nan\n", "line 2, column 'height_m': .*nan"),
    "back": (
        "time,height_m\n2031-01-01 06:00,4\n2031-01-01 00:00,1\n",
        "line 3, column 'time': the time is not after the one before",
    ),
    "short row": ("time,height_m\n2031-01-01 06:00\n", "line 2, column 'height_m': can't read ''"),
    "kind": ("time,height_m,kind\n2031-01-01 06:00,1,middling\n", "'middling' is neither high nor"),
    "empty": ("time,height_m\n", "no rows"),
}


@pytest.mark.parametrize("name", BAD)
def test_refused_with_one_clear_message(tmp_path: Path, name: str) -> None:
    text, message = BAD[name]
    with pytest.raises(WaterError, match=message) as caught:
        read_heights(written(tmp_path, text))
    assert "table.csv" in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("moment", "message"),
    [
        ("2031-10-26 00:30", "comes twice in Atlantic/Azores"),
        ("2031-03-30 00:30", "does not exist in Atlantic/Azores"),
    ],
)
def test_clock_changes_are_not_guessed(tmp_path: Path, moment: str, message: str) -> None:
    """Last Sundays of March and October, 01:00 UTC: Directive 2000/84/EC."""
    table = f"time,height_m\n{moment},4\n2031-12-01 00:00,1\n"
    with pytest.raises(WaterError, match=message):
        read_heights(written(tmp_path, table), timezone="Atlantic/Azores")


def test_unknown_zone_and_missing_file(tmp_path: Path) -> None:
    with pytest.raises(WaterError, match="unknown time zone 'Sea/Nowhere'"):
        read_heights(written(tmp_path, TABLE), timezone="Sea/Nowhere")
    with pytest.raises(WaterError, match=re.escape("nowhere.csv: no such file")):
        read_heights(tmp_path / "nowhere.csv")


@pytest.mark.parametrize(
    "word", ["0031-06-14 00:10", "3031-06-14 00:10", "1785-02-10", "9999-12-31T23:59-14:00"]
)
def test_a_year_that_cannot_be_is_refused_with_its_line(tmp_path: Path, word: str) -> None:
    text = TABLE.replace("2031-06-14 06:20", word)
    with pytest.raises(
        WaterError,
        match=f"line 3, .*'{word}': the year can't be right",
    ):
        read_heights(written(tmp_path, text), timezone="Etc/GMT+2")


def test_years_at_the_ends_are_read(tmp_path: Path) -> None:
    text = "time,height_m\n2200-12-31T20:00-12:00,2\n2200-12-31T23:59-12:00,1\n"
    heights = read_heights(written(tmp_path, text), timezone="UTC")
    at = np.array(["2201-01-01T08:00"], "datetime64[s]")
    np.testing.assert_allclose(heights.height_m(at), 2.0, rtol=0, atol=1e-12)


@pytest.mark.parametrize("year", ["0031", "1600", "2300", "9999"])
@pytest.mark.parametrize("kind", ["array", "scalar", "text", "list"])
def test_moments_that_nanoseconds_cannot_hold_do_not_wrap(year: str, kind: str) -> None:
    """A 64-bit count of nanoseconds since 1970 ends in 1677 and 2262 (numpy's documentation)."""
    word = f"{year}-06-14T00:00"
    times: object = {
        "array": np.array(["2031-06-14T00:00", word, "NaT"], "datetime64[s]"),
        "scalar": np.datetime64(word, "s"),
        "text": word,
        "list": [pd.Timestamp(word)],
    }[kind]
    with pytest.raises(WaterError, match=f"{year}-06-14T00:00:00.*can't be right"):
        as_utc(times)


def test_times_within_reach_and_none_stay() -> None:
    times = as_utc(np.array(["1900-01-01", "NaT", "2200-12-31"], "datetime64[D]"))
    assert times.dtype == np.dtype("datetime64[ns]")
    assert times.astype("datetime64[D]").astype(str).tolist() == ["1900-01-01", "NaT", "2200-12-31"]
    assert as_utc(np.array([], "datetime64[s]")).shape == (0,)


@pytest.mark.parametrize(
    "row",
    ['2031-06-14 06:20,"0.4,low', '2031-06-14 06:20,0.4,"low"er', '"2031-06-14 06:20,0.4,low'],
)
def test_a_stray_quote_is_refused_with_its_line(tmp_path: Path, row: str) -> None:
    text = "# a comment\n" + TABLE.replace("2031-06-14 06:20,0.4,low", row)
    with pytest.raises(WaterError, match="line 4: this row is not CSV"):
        read_heights(written(tmp_path, text), timezone="UTC")


class Curve:
    """A cosine of 12 h with its high at 3:00 and its low at 9:00, known from 0:00 to 12:00."""

    def height_m(self, times):
        hours = (as_utc(times) - np.datetime64("2031-06-14", "ns")) / np.timedelta64(1, "h")
        return np.where((hours >= 0) & (hours <= 12), np.cos((hours - 3) * np.pi / 6), np.nan)


def test_the_stage_is_known_between_two_turns_and_no_further() -> None:
    """Halfway down is half of the range; before the high it may have risen from any low."""
    at = np.array(["2031-06-14T01:00", "2031-06-14T06:00", "2031-06-14T11:00"], "datetime64[ns]")
    found = stage(Curve(), at)
    assert found["state"].tolist() == ["", "ebb", ""]
    assert found["hours_from_high"].tolist() == pytest.approx([-2.0, 3.0, 8.0], abs=0.02)
    assert found["fraction_of_range"].tolist() == pytest.approx(
        [np.nan, 0.5, np.nan], abs=0.01, nan_ok=True
    )
