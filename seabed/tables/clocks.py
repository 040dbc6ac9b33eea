"""Dates and times as people write them.

ISO 8601; ``14.06.2025``; ``14-Jun-25`` and ``June 14, 2025`` (months in ten languages);
``14/06/2025`` or ``6/14/2025``, of which a column itself decides if a number is above 12; with
``6:21``, ``06h21``, ``6:21 AM``, ``0621`` or ``6.21 pm`` behind, or alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import Final

import numpy as np

from seabed.tables.headings import plain


class TwoWaysError(ValueError):
    """A date that may be of two days.

    choices: what each order of day and month makes of it, by its word.
    """

    def __init__(self, word: str, first: int, second: int, year: int) -> None:
        super().__init__(
            f"{word!r} may be day {first} of month {second}, or day {second} of month {first}"
        )
        self.choices = {
            order: f"{word} is {date(year, month, day):%d %B %Y}".replace(" 0", " ")
            for order, day, month in (("dmy", first, second), ("mdy", second, first))
        }


FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2200
"""A year outside these is a slip of the pen; nanoseconds can't hold most of them."""

CENTURY_FROM: Final = 70
"""Years of two digits from this on are of the 20th century."""

_MONTHS: Final = (
    "jan jan ene gen", "feb fev fevr", "mar mrt maa mae mars", "apr avr abr", "may mai mei maj mag",
    "jun juin giu", "jul juil lug", "aug aou ago", "sep set sept", "okt oct out ott",
    "nov", "dec dez dic des",
)  # fmt: skip
"""How the months begin in ten languages, without accents."""
_MONTH_OF: Final = {
    name: number for number, names in enumerate(_MONTHS, 1) for name in names.split()
}
_NEAR_DAYS: Final = {"yesterday": -1, "today": 0, "tomorrow": 1}
_WEEKDAYS: Final = (
    "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday",
)  # fmt: skip
_WEEKDAY: Final = re.compile(r"^[^\W\d_]{2,}\.?,?\s+(?=\d)")
_OFFSET: Final = r"\s*(?P<offset>Z|UTC|GMT|[+-]\d\d:?\d\d)?"
_TIME: Final = re.compile(
    r"(?:T|\s+|,\s*|^)(?:at\s+|kl\.?\s*)?"
    r"(?P<hour>\d{1,2})(?:\s*(?P<mark>[:.h])\s*(?P<minute>\d\d)(?:[:.](?P<second>\d\d)"
    r"(?:[.,](?P<part>\d{1,9}))?)?|(?P<packed>\d\d))?\s*(?P<letter>[hu])?(?:hr)?"
    r"\s*(?P<half>[ap]\.?\s?m?\.?)?" + _OFFSET + r"\s*$",
    re.IGNORECASE,
)
_HOUR_POINT: Final = re.compile(r"[T ]\d\d[.,]")
_YEAR_FIRST: Final = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})$")
_NUMBERS: Final = re.compile(r"(\d{1,2})([-/.])\s?(\d{1,2})\2\s?(\d{4}|\d{2})$")
_DAY_NAMED: Final = re.compile(
    r"(\d{1,2})\.?[-/.\s]*(?:de\s+)?([^\W\d_]{3,})\.?,?[-/.\s]*(?:de\s+)?(\d{4}|\d{2})$"
)
_NAMED_DAY: Final = re.compile(r"([^\W\d_]{3,})\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})$")


def read_clock(word: str, *, day_first: bool | None = None) -> datetime:
    """Read a moment; with its offset if it names one, else as a clock on the wall.

    word: a date, and perhaps a time of day; a date alone is its midnight.
    day_first: whether 3/4/2025 is the third of April.  Where it is None such a date is refused.

    Raises ValueError where it can't be read, or read in two ways, or its year can't be right.

    >>> str(read_clock("14.06.2031 8.30 pm"))
    '2031-06-14 20:30:00'
    """
    clock = _clock(" ".join(word.split()), day_first)
    if not FIRST_YEAR <= clock.year <= LAST_YEAR:
        raise ValueError("the year can't be right")
    return clock


def _clock(text: str, day_first: bool | None) -> datetime:
    if not _HOUR_POINT.search(text):  # which python reads as an hour and nothing
        with suppress(ValueError):
            return datetime.fromisoformat(text)
    text = _without_weekday(text)
    problem: ValueError | None = None
    for match in (_TIME.search(text, at) for at in _breaks(text)):
        if match is not None and match.start():
            try:
                day = _date(text[: match.start()].rstrip(" ,"), day_first)
            except ValueError as error:
                problem = problem or error
                continue
            return datetime.combine(day, _time(match), _zone(match["offset"]))
    try:
        return datetime.combine(_date(text, day_first), time())
    except ValueError as error:
        raise problem or error from None


def read_time(word: str) -> time:
    """Read a time of day.  ValueError where it can't be read."""
    match = _TIME.match(" ".join(word.split()))
    if match is None:
        raise ValueError(f"{word!r} is not a time of day")
    return _time(match)


def read_day(word: str, today: date, *, day_first: bool | None = None) -> date:
    """Read a day: a date, ``today``, ``tomorrow``, or a weekday, the next one from today on.

    Raises ValueError where it can't be read, or read in two ways.

    >>> read_day("sat", date(2031, 6, 12))
    datetime.date(2031, 6, 14)
    """
    name = plain(word)
    if name in _NEAR_DAYS:
        return today + timedelta(days=_NEAR_DAYS[name])
    for number, weekday in enumerate(_WEEKDAYS):
        if len(name) >= 2 and weekday.startswith(name):
            return today + timedelta(days=(number - today.weekday()) % 7)
    if has_time(word):
        raise ValueError(f"{word!r} is not a day")
    return read_clock(word, day_first=day_first).date()


def has_time(word: str) -> bool:
    """Whether a moment names a time of day, and not a date alone."""
    try:
        _date(_without_weekday(" ".join(word.split())), True)
    except ValueError:
        return True
    return False


def day_first(words: Iterable[str]) -> bool | None:
    """Tell from a column whether its dates put the day first; None where none decides.

    Raises ValueError where some put the day first and others the month.
    """
    seen: dict[bool, str] = {}
    for word in words:
        match = _NUMBERS.match(re.split("[ T]", _without_weekday(word.strip()))[0])
        if match and match[2] != ".":
            first, second = int(match[1]), int(match[3])
            if (first > 12) != (second > 12):
                seen.setdefault(first > 12, word)
    if len(seen) == 2:
        raise ValueError(f"{seen[True]!r} puts the day first, {seen[False]!r} the month")
    return next(iter(seen), None)


def utc_of(clock: datetime, zone: tzinfo) -> np.datetime64:
    """Bring a moment to UTC; one without an offset is of the zone.

    Raises ValueError where the zone has that time twice or never.
    """
    if clock.tzinfo is None:
        early, late = (clock.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
        if early.utcoffset() != late.utcoffset():
            back = early.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
            why = "comes twice" if back == clock else "does not exist"
            raise ValueError(f"it {why} in {zone}, whose clocks change then")
        clock = early
    return np.datetime64(clock.astimezone(UTC).replace(tzinfo=None), "ns")


def _without_weekday(text: str) -> str:
    match = _WEEKDAY.match(text)
    if match is None or plain(match[0])[:3] in _MONTH_OF:
        return text
    return text[match.end() :]


def _breaks(text: str) -> list[int]:
    """Places where a date may end and a time begin."""
    return [at for at, letter in enumerate(text) if letter in " T,"]


def _zone(offset: str | None) -> timezone | None:
    if not offset:
        return None
    if offset[0] not in "+-":
        return UTC
    digits = offset[1:].replace(":", "")
    away = timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
    return timezone(away if offset[0] == "+" else -away)


def _time(match: re.Match[str]) -> time:
    hour = int(match["hour"])
    minute = int(match["minute"] or match["packed"] or 0)
    if match["half"]:
        if not 1 <= hour <= 12:
            raise ValueError(f"{match[0].strip()!r} is not a time of day")
        hour = hour % 12 + (12 if match["half"][0].lower() == "p" else 0)
    elif not (match["minute"] or match["packed"] or match["letter"]):
        raise ValueError(f"{match[0].strip()!r} is not a time of day")
    part = int((match["part"] or "0").ljust(9, "0")[:6])
    try:
        return time(hour, minute, int(match["second"] or 0), part)
    except ValueError as error:
        raise ValueError("there is no such time") from error


def _date(text: str, day_first: bool | None) -> date:
    if match := _YEAR_FIRST.match(text):
        return _day(int(match[1]), int(match[3]), int(match[4]))
    if match := _NUMBERS.match(text):
        return _numbers(match, day_first)
    if match := _DAY_NAMED.match(text):
        return _day(_year(match[3]), _month(match[2]), int(match[1]))
    if match := _NAMED_DAY.match(text):
        return _day(int(match[3]), _month(match[1]), int(match[2]))
    raise ValueError(f"{text!r} is not a date")


def _day(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError as error:
        raise ValueError("there is no such day") from error


def _numbers(match: re.Match[str], day_first: bool | None) -> date:
    first, second, year = int(match[1]), int(match[3]), _year(match[4])
    if match[2] == "." or first > 12:
        return _day(year, second, first)
    if second > 12:
        return _day(year, first, second)
    if day_first is None and first != second:
        raise TwoWaysError(match[0], first, second, year)
    return _day(year, second, first) if day_first else _day(year, first, second)


def _year(word: str) -> int:
    year = int(word)
    if len(word) == 4:
        return year
    return year + (1900 if year >= CENTURY_FROM else 2000)


def _month(word: str) -> int:
    name = plain(word)
    for length in (4, 3):
        if name[:length] in _MONTH_OF:
            return _MONTH_OF[name[:length]]
    raise ValueError(f"{word!r} is not a month")
