"""The wind as a skipper gives it: in words, by hour, or as a CSV."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np

from layers.water._tables import TimedTable, read_table
from layers.water.times import hours_between, moment
from layers.water.wind._forecast_words import LIGHT_KN, UNITS, plain_wind, variable_words
from layers.water.wind._wind import FixedWind, Wind, WindTable
from seabed.array_types import Floats
from seabed.errors import UnitError, WaterError
from seabed.tables.clocks import read_time
from seabed.tables.headings import read_heading
from seabed.tables.positions import Side, east_letter
from seabed.tables.spreadsheets import is_table_name
from seabed.units import SPEED, parse_speed

POINTS: Final = (
    "n", "nne", "ne", "ene", "e", "ese", "se", "sse",
    "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw",
)  # fmt: skip

_LETTERS: Final = str.maketrans({"z": "s", "v": "w", "ø": "e", "ö": "e", "l": "e"})
"""Zuid, vest, øst, öst, leste."""

STRONGEST_MPS: Final = 100.0 * SPEED["kn"]
"""A stronger wind, or gust, is a slip of the pen.  Our choice, no source."""

DAY_HOURS: Final = 25.0  # the longest day there is, when clocks go back

LIKE: Final = 'Write where it comes from, then its speed: "SW 8 kn".'

_NUMBER: Final = r"[+-]?[\d.,]+"
_COULD_BE_SPEED: Final = r"\d{1,2}([.,]\d*)?|100"
_FORCE_UNITS: Final = {"bft", "beaufort", "force"}
_SPEED: Final = rf"(?P<speed>{_NUMBER})\s*(?P<unit>{UNITS})?"
_GUST: Final = (
    r"(?:\s*(?:gusting|gusts?|g)\s*(?:to\s+|of\s+)?"
    rf"(?P<gust>{_NUMBER})\s*(?P<gust_unit>{UNITS})?)?"
)
_DIRECTION_FIRST: Final = re.compile(
    rf"(?:from\s+)?(?P<direction>\S+)\s+{_SPEED}{_GUST}", re.IGNORECASE
)
_SPEED_FIRST: Final = re.compile(
    rf"{_SPEED}{_GUST}\s+(?:from\s+)?(?P<direction>(?!(?:{UNITS})$)\S+)", re.IGNORECASE
)
_CLOCK: Final = re.compile(
    rf"\s*(\d{{4}}|\d{{1,2}}(?:[:.h]\d{{1,2}})?(?:\s*[ap]\.?m\.?)?)\s+"
    rf"((?!(?:{UNITS})\b)\S.*)",
    re.IGNORECASE | re.DOTALL,
)
_TOWARD: Final = re.compile(r"\b(?:to|towards?)\s+\S+$", re.IGNORECASE)


def parse_direction(text: str | float, *, o_is: Side | None = None) -> float:
    """Read the degrees true a wind comes from: ``230``, ``"230°"``, ``"SW"`` in ten languages.

    o_is: what an O means (Ost, Ouest); None refuses it.
    """
    word = str(text).strip().casefold().removesuffix("°").removesuffix("deg").strip()
    if re.fullmatch("[nseolwzvøö]{1,3}", word):
        point = word.translate(_LETTERS)
        if "o" in point and o_is is None:
            raise WaterError(
                f"the O in the wind {str(text)!r} may be east or west", do="Write E or W."
            )
        point = point.replace("o", "e" if o_is == "east" else "w")
        if point in POINTS:
            return POINTS.index(point) * 22.5
    if re.fullmatch(r"\d+(\.\d+)?", word) and float(word) <= 360.0:
        return float(word) % 360.0
    raise WaterError(
        f"{str(text)!r} is not a wind direction",
        do="Write degrees true from 0 to 360, or a point like N, NE or SSW: where it comes from.",
    )


def wind_by_hour(
    words: Sequence[str], day_start: Any, *, default_unit: str | None = None
) -> WindTable:
    """Read a wind by hour, such as ``["6:00 SW 8 kn", "12:00 W 12 gusting 20 kn"]``.

    The first holds from the day's start, the last to the day's end.  day_start: the moment that
    0:00 of these clock times is; None refuses them.
    """
    if day_start is None:
        raise WaterError(
            "the wind of several outings can't be given by hour",
            key="wind",
            do="Give it as a CSV with columns time, speed_kn and from.",
        )
    start = moment(day_start)
    times: list[np.datetime64] = []
    winds: list[FixedWind] = []
    for word in words:
        match = _CLOCK.fullmatch(word)
        if match is None:
            raise WaterError(f"can't read the wind {word!r}", do="Write it like 6:00 SW 8 kn.")
        clock, rest = match.groups()
        times.append(start + np.timedelta64(_minutes(clock, word), "m"))
        winds.append(_wind_of(rest.strip(), default_unit))
    if not times or np.any(np.diff(times) <= np.timedelta64(0, "ns")):
        raise WaterError("the hours of the wind do not rise", do="Put them in order, each once.")
    if times[0] > start:
        times.insert(0, start)
        winds.insert(0, winds[0])
    moments = np.array(times, "datetime64[ns]")
    lasts_hours = DAY_HOURS - float(hours_between(start, moments[-1]))
    columns = _columns(winds)
    return WindTable(moments, *columns, longest_gap_hours=DAY_HOURS, lasts_hours=lasts_hours)


def _columns(winds: Sequence[FixedWind]) -> tuple[Floats, Floats, Floats]:
    """Speeds, directions and gusts."""
    rows = np.array([(wind.speed_mps, wind.from_deg, wind.gust_mps) for wind in winds])
    return rows[:, 0], rows[:, 1], rows[:, 2]


def parse_wind(
    words: Sequence[str],
    day_start: Any,
    *,
    timezone: str,
    default_unit: str | None = None,
    date_order: str = "",
) -> Wind:
    """Read the wind as a skipper gives it for a day.

    Parameters
    ----------
    words : sequence of str
        One ``"SW 8 kn"`` for the whole day, or ``"8 kn from 225"``, ``"SW 12 gusting 20 kn"``,
        ``"southwest force 4"``, ``"SW 10-15 kn"``, ``"variable 3 kn"``, ``"calm"``; several with
        clock times, as `wind_by_hour`; or one table.
    day_start, default_unit
        As `wind_by_hour`.
    timezone : str
        The zone of times in a CSV.
    date_order : str
        As `seabed.tables.text_table.TextTable.moments` takes it.

    Raises
    ------
    WaterError
        If it can't be read, or can't be right.

    Examples
    --------
    >>> wind = parse_wind(["SW 8 kn"], "2031-06-14T00:00", timezone="UTC")
    >>> round(wind.speed_mps, 2), wind.from_deg
    (4.12, 225.0)
    """
    first = words[0].strip()
    if len(words) == 1 and is_table_name(first):
        return read_wind(first, timezone=timezone, date_order=date_order)
    if len(words) > 1 or _has_clock(first):
        return wind_by_hour(words, day_start, default_unit=default_unit)
    return _wind_of(first, default_unit)


def read_wind(path: str | Path, *, timezone: str = "UTC", date_order: str = "") -> WindTable:
    """Read a table of wind.

    Columns: ``time``, ``speed_kn`` (or ``speed_mps``, ``speed_bft``), ``from`` (degrees true or a
    point of the compass) and perhaps ``gust_kn``, which may be empty; or one column ``wind`` as
    `parse_wind` takes it, like ``SW 12 kn`` or ``W/28``. timezone: of times without an offset.
    date_order: ``"dmy"`` or ``"mdy"``.
    """
    table = read_table(path, timezone=timezone, date_order=date_order)
    text, like = table.text, "time,speed_kn,from"
    in_words = text.column("speed") is None and text.column("wind") is not None
    column = "wind" if in_words else "speed"
    unit, words = text.unit(column), table.needed(column, like=like)
    alone = in_words and text.column("from") is None
    points = words if alone else table.needed("from", like=like)
    letters = (letter for word in points for letter in "".join(word.split()[:1]))
    o_is = east_letter(letters, [read_heading(heading).name for heading in text.headings])
    if alone or unit in _FORCE_UNITS:
        force = " bft" * (unit in _FORCE_UNITS)
        whole = words if alone else map("n {}".format, words)
        winds = _winds_of(table, [f"{word}{force}" for word in whole], column, unit, o_is)
    else:
        speeds = table.quantities(column, words, partial(parse_speed, default=None))
        winds = [FixedWind(float(speed), 0.0) for speed in speeds]
    if not alone:
        winds = [
            replace(wind, from_deg=_direction(table, row, point, o_is))
            for row, (wind, point) in enumerate(zip(winds, points, strict=True))
        ]
    gusts = _gusts_of(table, winds, unit)
    winds = [replace(wind, gust_mps=gust) for wind, gust in zip(winds, gusts.tolist(), strict=True)]
    for row, wind in enumerate(winds):
        try:
            _check_speeds(wind)
        except WaterError as error:
            table.refuse(row, error.what, error.do or "")
    return WindTable(table.times, *_columns(winds))


def _winds_of(
    table: TimedTable, words: Sequence[str], column: str, unit: str, o_is: Side | None
) -> list[FixedWind]:
    """Read winds in words, in the heading's unit where they name none."""
    winds = []
    for row, word in enumerate(words):
        try:
            winds.append(_wind_of(word, unit or None, o_is=o_is))
        except UnitError as error:
            cure = "Name it in the heading, like wind_kn or wind_bft, or behind each number."
            table.refuse(row, error.what, cure, meaning=column)
        except WaterError as error:
            table.refuse(row, error.what, error.do or "", meaning=column)
    return winds


def _direction(table: TimedTable, row: int, word: str, o_is: Side | None) -> float:
    try:
        return parse_direction(word, o_is=o_is)
    except WaterError as error:
        table.refuse(row, error.what, error.do or "")


def _gusts_of(table: TimedTable, winds: Sequence[FixedWind], unit: str) -> Floats:
    """Read the column of gusts; where a row has none, those that its wind names; else NaN."""
    own = np.array([wind.gust_mps for wind in winds])
    words = table.text.words("gust")
    if words is None:
        return own
    unit = table.text.unit("gust") or unit
    in_unit = partial(parse_speed, default=None if unit in _FORCE_UNITS else unit or None)
    gusts = table.quantities("gust", [word or "0 kn" for word in words], in_unit)
    return np.where([word != "" for word in words], gusts, own)


def _has_clock(word: str) -> bool:
    """Say whether words begin with a time of day, and not with a speed or a direction."""
    return bool(_CLOCK.fullmatch(word)) and not (_parts(word) or _TOWARD.search(word))


def _minutes(clock: str, word: str) -> int:
    try:
        time = read_time(f"{clock}:00" if re.fullmatch(r"\d{1,2}", clock) else clock)
    except ValueError as error:
        raise WaterError(
            f"{clock} in the wind {word!r} is not a time of day", do="Write 0:00 to 23:59."
        ) from error
    return time.hour * 60 + time.minute


def _parts(word: str) -> re.Match[str] | None:
    """Take the words of one wind apart: where from, then number and unit of speed and of gusts."""
    plain = plain_wind(word)
    for text in (plain, word) if plain != word.casefold() else (word,):
        match = _DIRECTION_FIRST.fullmatch(text) or _SPEED_FIRST.fullmatch(text)
        if match is not None:
            return match
    return None


def _wind_of(word: str, default_unit: str | None, *, o_is: Side | None = None) -> FixedWind:
    """Read one wind, without a time."""
    if word.lower() in {"calm", "none", "0"}:
        return FixedWind(0.0, 0.0)
    if (variable := variable_words(word)) is not None:
        return _light(*variable, word, default_unit)
    match = _parts(word)
    if match is None:
        if _TOWARD.search(word):
            raise WaterError(f"the wind {word!r} says where it blows to", do=LIKE)
        raise WaterError(
            f"can't read the wind {word!r}",
            do='Write it like "SW 8 kn" or "SW 12 gusting 20 kn", by hour like "6:00 SW 8 kn", or '
            "name a table.",
        )
    direction, speed, gust = match["direction"], match["speed"], match["gust"]
    unit = match["unit"] or match["gust_unit"]
    if unit is None and re.fullmatch(_COULD_BE_SPEED, direction):
        raise WaterError(
            f"the wind {word!r} does not say which number is the speed",
            do="Add the unit of the speed: 225 8 kn.",
        )
    from_deg = parse_direction(direction, o_is=o_is)
    mean = parse_speed(f"{speed} {unit or ''}".strip(), default=default_unit)
    gusting = float("nan")
    if gust:
        gusting = parse_speed(f"{gust} {match['gust_unit'] or unit or ''}", default=default_unit)
    wind = FixedWind(mean, from_deg, gusting)
    _check_speeds(wind, word)
    return wind


def _light(speed: str, unit: str, word: str, default_unit: str | None) -> FixedWind:
    """Take a light wind of no direction as a calm with gusts."""
    mps = parse_speed(f"{speed} {unit}", default=default_unit)
    if mps > LIGHT_KN * SPEED["kn"]:
        raise WaterError(
            f"the wind {word!r} has no direction, and is too strong to be taken as a calm",
            do=f"Name where it comes from for the drifts that you plan. {LIKE}",
        )
    return FixedWind(0.0, 0.0, mps)


def wind_notes(words: Sequence[str]) -> list[str]:
    """Say how winds given as a range, a force or without direction are read."""
    notes = []
    for word in words:
        clock = _CLOCK.fullmatch(word) if _has_clock(word) else None
        bare = clock[2].strip() if clock else word.strip()
        if variable_words(bare) is not None:
            notes.append(f"The wind {bare!r} is taken as a calm.")
        elif not is_table_name(word) and _DIRECTION_FIRST.fullmatch(bare) is None:
            plain = plain_wind(bare)
            if "gusting" in plain and "gust" not in bare.casefold():
                point, _, speeds = plain.partition(" ")
                notes.append(f"The wind {bare!r} is taken as {point.upper()} {speeds}.")
    return notes


def _check_speeds(wind: FixedWind, word: str = "") -> None:
    """Refuse a wind below zero or stronger than any, and gusts below their wind."""
    where = f" in {word!r}" if word else ""
    for what, mps in (("wind", wind.speed_mps), ("gust", wind.gust_mps)):
        if mps < 0 or mps > STRONGEST_MPS:
            raise WaterError(
                f"a {what} of {mps / SPEED['kn']:.0f} kn{where} can't be right",
                do=f"Give 0 to {STRONGEST_MPS / SPEED['kn']:.0f} kn. {LIKE}",
            )
    if wind.gust_mps < wind.speed_mps:
        raise WaterError(
            f"gusts of {wind.gust_mps / SPEED['kn']:.0f} kn{where} are below the mean wind",
            do='Write the mean wind first, then its gusts: "SW 12 gusting 20 kn".',
        )
