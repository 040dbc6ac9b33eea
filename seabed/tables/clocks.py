"""Dates and times as people write them.

ISO 8601; ``14.06.2025``; ``14-Jun-25`` and ``June 14, 2025`` (months in ten languages);
``14/06/2025`` or ``6/14/2025``, of which a column itself decides if a number is above 12; with
``6:21``, ``06h21``, ``6:21 AM``, ``0621`` or ``6.21 pm`` behind, or alone.

And the zones of time that a table names above its rows, as agencies and spreadsheets write them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from seabed.tables.headings import plain

_HOURS: Final = {
    "AST": -4, "ADT": -3, "EST": -5, "EDT": -4, "CST": -6, "CDT": -5, "MST": -7, "MDT": -6,
    "PST": -8, "PDT": -7, "AKST": -9, "AKDT": -8, "HST": -10, "WET": 0, "WEST": 1, "BST": 1,
    "CET": 1, "CEST": 2, "MEZ": 1, "MESZ": 2, "EET": 2, "EEST": 3, "AEST": 10, "AEDT": 11,
    "NZST": 12, "NZDT": 13,
}  # fmt: skip
"""Hours ahead of UTC, as in the tz database (MEZ and MESZ are German for CET and CEST); read only
beside a word for time."""

_PLACE: Final = re.compile(r"\b[A-Z][A-Za-z]+/[A-Z][A-Za-z_]+(?:/[A-Z][A-Za-z_]+)?\b")
_ABOUT_TIME: Final = re.compile(
    r"\b(?:times?|time ?zone|zone|zeit\w*|uhrzeit|heures?|horas?|tijd\w*|tid\w*|or[ae]|orario"
    r"|klokk\w*)\b",
    re.IGNORECASE,
)
_UTC: Final = re.compile(r"\b(?:UTC|GMT)\b\s*(?:([+\-−])\s*(\d{1,2})(?::?(\d\d))?)?")
_LETTERS: Final = re.compile(rf"\b({'|'.join(_HOURS)})\b")
_STANDARD: Final = re.compile(
    r"\b(?:standard time|winter ?time|LST(?!/)|normalzeit|winterzeit|heure d'hiver|wintertijd|"
    r"hora (?:de invierno|solar|de inverno)|ora solare|normaltid|vintertid)\b",
    re.IGNORECASE,
)

_NAME: Final = re.compile(r"[A-Za-z0-9_+-]{1,32}(?:/[A-Za-z0-9_+-]{1,32}){0,3}")


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


def named_zone(name: str) -> ZoneInfo:
    """Give the zone of a name in the tz database.

    Raises KeyError if there is no such zone.  A name of another form is not looked up: the standard
    library imports a package for each of its dots.

    >>> named_zone("Etc/GMT+2").key
    'Etc/GMT+2'
    """
    if not _NAME.fullmatch(name):
        raise KeyError(name)
    try:
        return ZoneInfo(name)
    except (ValueError, OSError) as error:  # the name of a folder
        raise KeyError(name) from error


def zone_named(title: str, local: ZoneInfo) -> tzinfo | None:
    """Find the zone that lines above a table name; None where they name none.

    local: of which "standard time" is.

    >>> str(zone_named("All times in UTC-3", ZoneInfo("UTC")))
    'UTC-03:00'
    """
    for line in title.splitlines():
        if match := _PLACE.search(line):
            try:
                return named_zone(match[0])
            except KeyError:
                pass
        if _STANDARD.search(line):
            return _standard(local)
        if not (_ABOUT_TIME.search(line) or "(" in line):
            continue
        if match := _UTC.search(line):
            hours, minutes = int(match[2] or 0), int(match[3] or 0)
            if hours <= 14 and minutes < 60:
                away = timedelta(hours=hours, minutes=minutes)
                return timezone(away if match[1] == "+" else -away) if away else UTC
        if match := _LETTERS.search(line):
            away = _own_letters(local).get(match[1], timedelta(hours=_HOURS[match[1]]))
            return timezone(away, match[1])
    return None


def _own_letters(local: ZoneInfo) -> dict[str, timedelta]:
    """Give what a zone's own letters mean there: CST is not the same in Chicago and in Shanghai."""
    moments = [datetime(datetime.now(UTC).year, month, 1, tzinfo=local) for month in (1, 7)]
    return {str(one.tzname()): away for one in moments if (away := one.utcoffset()) is not None}


def _standard(local: ZoneInfo) -> timezone:
    """Give a zone's time without summer time: the lesser of January's and July's."""
    year = datetime.now(UTC).year
    away = [datetime(year, month, 1, tzinfo=local).utcoffset() for month in (1, 7)]
    return timezone(min(one for one in away if one is not None))
