"""Dates and times in every form: what the datetime module writes is read back."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from seabed.tables.clocks import (
    TwoWaysError,
    day_first,
    has_time,
    read_clock,
    read_day,
    read_time,
    utc_of,
)

DAYS = ["%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%d.%m.%Y", "%d.%m.%y", "%d-%b-%y", "%d %B %Y",
        "%d. %b %Y", "%B %d, %Y", "%a %d %b %Y", "%a, %d.%m.%Y"]  # fmt: skip
TIMES = ["%H:%M", "%H:%M:%S", "%Hh%M", "%H%M", "%I:%M %p", "%I.%M %p", "%I:%M%p", "%H:%M Uhr",
         "%H.%M", "kl. %H.%M", "%H.%M Uhr", "%H.%M.%S"]  # fmt: skip
MOMENTS = st.datetimes(datetime(1970, 1, 1), datetime(2069, 12, 31)).map(
    lambda moment: moment.replace(microsecond=0)
)


@given(moment=MOMENTS, day=st.sampled_from(DAYS), clock=st.sampled_from(TIMES))
def test_days_and_times(moment, day, clock):
    moment = moment if "%S" in clock else moment.replace(second=0)
    assert read_clock(f"{moment:{day}} {moment:{clock}}") == moment
    assert has_time(f"{moment:{day}} {moment:{clock}}")
    assert read_clock(f"{moment:{day}}") == datetime.combine(moment, time())
    assert not has_time(f"{moment:{day}}")


@given(moment=MOMENTS, clock=st.sampled_from(TIMES))
def test_times_of_day(moment, clock):
    moment = moment if "%S" in clock else moment.replace(second=0)
    assert read_time(f"{moment:{clock}}") == moment.time()


@given(moment=MOMENTS, first=st.booleans(), mark=st.sampled_from("/-"))
def test_numbers_in_either_order(moment, first, mark):
    form = f"%d{mark}%m{mark}%Y %H:%M:%S" if first else f"%m{mark}%d{mark}%Y %H:%M:%S"
    word = moment.strftime(form)
    assert read_clock(word, day_first=first) == moment
    decided = moment.day > 12
    assert day_first([word]) is (first if decided else None)
    if decided or moment.day == moment.month:
        assert read_clock(word) == moment
    else:
        with pytest.raises(ValueError, match="may be"):
            read_clock(word)


@given(moment=MOMENTS, minutes=st.integers(-14 * 60, 14 * 60))
def test_offsets(moment, minutes):
    placed = moment.replace(tzinfo=timezone(timedelta(minutes=minutes)))
    for word in (placed.isoformat(), placed.strftime("%d.%m.%Y %H:%M:%S %z")):
        assert read_clock(word) == placed
        assert utc_of(read_clock(word), ZoneInfo("Asia/Tokyo")) == np.datetime64(
            moment - timedelta(minutes=minutes), "ns"
        )


MONTHS = {
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "nl": "januari februari maart april mei juni juli augustus september oktober november december",
    "da": "januar februar marts april maj juni juli august september oktober november december",
    "no": "januar februar mars april mai juni juli august september oktober november desember",
    "sv": "januari februari mars april maj juni juli augusti september oktober november december",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre "
    "diciembre",
    "pt": "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro "
    "dezembro",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre "
    "dicembre",
}  # fmt: skip


@pytest.mark.parametrize("language", MONTHS)
def test_months(language):
    for month, name in enumerate(MONTHS[language].split(), 1):
        for word in (f"14 {name} 2031 08:30", f"14. {name} 2031 08:30", f"14-{name}-31 08:30"):
            assert read_clock(word) == datetime(2031, month, 14, 8, 30)
    assert read_clock(f"14 de {MONTHS['es'].split()[0]} de 2031 8:30").month == 1


@pytest.mark.parametrize(
    "word",
    ["", "noon", "6", "14", "25:00", "2031-06-31", "2031-06-14 13:30 pm", "14.13.2031", "14 Foo 31",
     "0031-06-14", "2300-01-01", "2031-06-14 08:61", "08:30"],
)  # fmt: skip
def test_no_moment(word):
    with pytest.raises(ValueError, match=r"\w"):
        read_clock(word)


def test_dates_of_two_orders():
    with pytest.raises(ValueError, match="'13/4/2031' puts the day first, '4/13/2031' the month"):
        day_first(["13/4/2031", "4/13/2031"])
    assert day_first(["3/4/2031", "2031-06-14", "noon", ""]) is None


@pytest.mark.parametrize(("clock", "why"), [((10, 26), "comes twice"), ((3, 30), "does not exist")])
def test_clock_changes(clock, why):
    """Last Sundays of March and October, 01:00 UTC: Directive 2000/84/EC."""
    with pytest.raises(ValueError, match=f"{why} in Atlantic/Azores"):
        utc_of(datetime(2031, *clock, 0, 30), ZoneInfo("Atlantic/Azores"))


@given(today=st.dates(date(1980, 1, 1), date(2090, 12, 31)), away=st.integers(0, 6))
def test_days_in_words(today, away):
    """The next day of that name, by the calendar of the datetime module."""
    day = today + timedelta(days=away)
    for word in (f"{day:%A}", f"{day:%a}", f"{day:%Y-%m-%d}", f"{day:%d.%m.%Y}", f"{day:%d %B %Y}"):
        assert read_day(word, today) == day
    assert read_day("Tomorrow", today) == today + timedelta(days=1)
    assert read_day("today", today) == today


def test_days_that_are_none_or_two():
    today = date(2031, 6, 12)
    assert read_day("14/06/2031", today) == date(2031, 6, 14)
    assert read_day("3/4/2031", today, day_first=True) == date(2031, 4, 3)
    with pytest.raises(TwoWaysError, match="day 3 of month 4, or day 4 of month 3"):
        read_day("3/4/2031", today)
    for word in ("soon", "t", "2031-06-14 08:00", ""):
        with pytest.raises(ValueError, match=r"not a day|not a date"):
            read_day(word, today)
