"""Zones of time that a table names above its rows, as agencies and spreadsheets write them."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import Final
from zoneinfo import ZoneInfo

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


def named_zone(name: str) -> ZoneInfo:
    """Give the zone of a name in the tz database, or raise KeyError.

    A name of another form is not looked up: the standard library imports a package for each of its
        dots.

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
