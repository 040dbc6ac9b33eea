"""The area that a job works with: its file, overruled by the request; and answers that it keeps."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Final, TypeVar

from layers.area import Area, Units, default_area, load_area
from layers.area.keys import duration, speed_range
from layers.area.loading import key_named, keys_in
from layers.jobs.options import Request, options_of
from seabed.errors import (
    AreaError,
    OutputError,
    Question,
    SeabedError,
    UnitError,
    WaterError,
)
from seabed.units import parse_length

_Read = TypeVar("_Read")

LONGEST_OFFSET_S: Final = 10 * 365.25 * 86_400.0  # more than a clock that lost its date

FARTHEST_ZONE_H: Final = 3.5
"""No place has clocks further from the sun's than west Alaska in summer, 3.4 h (from memory)."""


UNITS: Final = {
    "m": Units(depth="m", distance="km", speed="kn", fish="cm"),
    "ft": Units(depth="ft", distance="nm", speed="kn", fish="in"),
    "fm": Units(depth="fm", distance="nm", speed="kn", fish="in"),
}


def area_of(request: Request) -> Area:
    """Load the area file that a request names, or the defaults, and let the request overrule it.

    A bare number in its `contours` and `band` is in the area's unit of depth.
    """
    path: Path | None = getattr(request, "area", None)
    area = default_area() if path is None else load_area(path)
    options = options_of(type(request))
    if (units := getattr(request, "units", None)) is not None:
        area = replace(area, units=_read(lambda: _units(units), units, "units"))
    for name, option in options.items():
        value = getattr(request, name)
        if option.overrules and name != "units" and value not in (None, ()):
            area = _overruled(area, option.overrules, value, name)
    return area


def _overruled(area: Area, key: str, value: Any, name: str) -> Area:
    """Put a value in place of a key of the area, read as the key is."""
    section, word = key.split(".")
    field, spec = key_named(section, word)
    if isinstance(value, Path | tuple):
        value = str(value) if isinstance(value, Path) else [str(one) for one in value]
    if section == "depths":
        value = in_depth_unit(value, area)
    read = _read(lambda: spec.read(value, Path()), value, name)
    if section == "area":
        return replace(area, **{field: read})
    if key == "water.flood_toward":  # its ebb is then the other way
        area = replace(area, water=replace(area.water, ebb_toward_deg=None))
    return replace(area, **{section: replace(getattr(area, section), **{field: read})})


def in_depth_unit(words: str, area: Area) -> str:
    """Give depths with the area's unit where they have none."""
    return f"{words} {area.units.depth}" if words.rstrip()[-1:].isdigit() else words


def clock_offset_s(words: str | None, *, key: str = "clock_offset") -> float:
    """Read how far a clock was ahead, in seconds; with a minus, behind.  None is not at all."""
    if words is None:
        return 0.0
    sign = -1.0 if words.strip().startswith("-") else 1.0
    bare = words.strip().lstrip("+-")
    try:
        seconds = float(duration(bare, Path()))
    except ValueError as error:
        do = "Write it like '90 s', '-2 min' or '7 h'."
        raise SeabedError(f"{words!r} can't be right", key=key, do=do) from error
    if seconds > LONGEST_OFFSET_S:
        raise SeabedError(f"{words!r} is more than ten years", key=key, do="Give the difference.")
    return sign * seconds


def reading_of(area: Area) -> dict[str, Any]:
    """Give what an area says of its grids, as ``open_grid`` and its like take it."""
    from seabed.grid import Bounds

    grid = area.grid
    return {
        "box": None if grid.box is None else Bounds(*grid.box),
        "crs": grid.crs or None,
        "sign": grid.sign,
        "unit": grid.unit,
        "vertical_datum": grid.vertical_datum or None,
        "offset_m": grid.offset_m,
        "variable": grid.variable or None,
    }


def logbook_of(area: Area) -> Path:
    """Give the area's logbook; SeabedError if it names none."""
    if area.logbook.file is None:
        raise SeabedError(
            "no logbook is named",
            file=area.file,
            do="Name it with {logbook.file}.",
        )
    return area.logbook.file


def day_of(word: str, timezone: str, date_order: str = "") -> date:
    """Read a day; today in the zone if it is empty."""
    from layers.water.times import zone_of
    from seabed.tables.clocks import TwoWaysError, read_day

    today = datetime.now(zone_of(timezone)).date()
    first = date_order == "dmy" if date_order else None
    try:
        return read_day(word, today, day_first=first) if word else today
    except TwoWaysError as error:
        raise WaterError(
            f"can't read the date {word!r}: {error}",
            key="date",
            do="Write it like 2031-06-14, or set {area.date_order}.",
            question=Question("date_order", error.choices),
        ) from error
    except ValueError as error:
        raise WaterError(
            f"can't read the date {word!r}",
            key="date",
            do="Write it like 2031-06-14, 14 June 2031, tomorrow or sat.",
        ) from error


def drift_speed_mps(words: str) -> tuple[float, float]:
    """Read the least and greatest speed wanted of a drift, m/s."""
    return _read(lambda: speed_range(words, Path()), words, "drift_speed")


def length_of(words: str, key: str) -> float:
    """Read the length of a field, metres."""
    return _read(lambda: parse_length(words), words, key)


def zone_words(area: Area, when: date, longitude: float | None) -> str:
    """Say that the area's time zone is far from the sun's time at its water; else ``""``."""
    from layers.water.times import zone_of

    if longitude is None:
        return ""
    offset = datetime.combine(when, time(12), zone_of(area.timezone)).utcoffset() or timedelta()
    ahead = (offset / timedelta(hours=1) - longitude / 15.0 + 12.0) % 24.0 - 12.0
    if abs(ahead) < FARTHEST_ZONE_H:
        return ""
    way = "ahead of" if ahead > 0 else "behind"
    return (
        f"The time zone {area.timezone} is {abs(ahead):.0f} hours {way} the sun at this water. "
        "Set {timezone} to the water's own zone, and check the tables."
    )


def _units(word: str) -> Units:
    if word not in UNITS:
        raise ValueError(f"Use {', '.join(UNITS)}.")
    return UNITS[word]


def _read(read: Callable[[], _Read], words: Any, key: str) -> _Read:
    """Read a field; what is wrong with it is an error of that field."""
    try:
        return read()
    except UnitError as error:
        raise UnitError(error.what, key=key, do=error.do) from error
    except ValueError as error:
        raise SeabedError(f"{words!r} can't be right", key=key, do=str(error)) from error


NEEDED: Final = {
    "date_order": "", "length_unit": "", "heights_unit": "heights", "currents_unit": "currents",
    "flood_toward": "currents", "crs": "grid",
}  # fmt: skip
"""Fields that answer what a file leaves open, and the field that names the file where one does."""
ANSWERS: Final = (*NEEDED, "timezone", "sign", "grid_unit", "variable", "vertical_datum")
"""These, and what overrules a guess."""


def answers_of(request: Request) -> dict[str, Any]:
    """Give the answers of a request that the area file is to keep, by key.

    Those are answers that it lacks, of its own files; and all if ``keep_answers`` is set, which
    without an area file raises SeabedError.
    """
    path: Path | None = getattr(request, "area", None)
    every = bool(getattr(request, "keep_answers", False))
    if path is None:
        if every:
            raise SeabedError(
                "there is no area file to keep them in",
                key="keep_answers",
                do="Name it with {area}; write one with {seabed area}.",
            )
        return {}
    options = options_of(type(request))
    answers = {}
    for name in ANSWERS if every else NEEDED:
        value = getattr(request, name, None)
        foreign = not every and NEEDED[name] and getattr(request, NEEDED[name], None)
        if name in options and value is not None and not foreign:
            answers[options[name].overrules] = value
    known = keys_in(path) if answers and not every else ()
    return {key: value for key, value in answers.items() if key not in known}


def keep_answers(area_file: Path, answers: dict[str, Any]) -> str:
    """Write answers into an area file, whose comments stay; say which."""
    from layers.area.editing import change_area

    keys = {tuple(key.split(".")): value for key, value in answers.items()}
    try:
        change_area(area_file, keys)
    except (AreaError, OutputError) as error:
        return f"Your answers are not kept: {error}"
    lines = (f"[{section}] {key} = {json.dumps(value)}" for (section, key), value in keys.items())
    return f"Kept in {area_file}: {', '.join(lines)}."
