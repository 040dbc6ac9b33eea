"""The area that a job works with: its file, overruled by the request."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

from layers.area import Area, Units, default_area, load_area
from layers.area.keys import duration, speed_range
from layers.area.loading import key_named
from layers.jobs.options import Request, options_of
from seabed.errors import (
    AreaError,
    Question,
    SeabedError,
    TrackError,
    UnitError,
    WaterError,
)
from seabed.tables.spreadsheets import is_table_name
from seabed.units import parse_length

if TYPE_CHECKING:
    from layers.tracks import CutSettings
    from layers.water import BoatLimits, Currents, Heights, Wind


_Read = TypeVar("_Read")

LONGEST_OFFSET_S: Final = 10 * 365.25 * 86_400.0  # a clock that forgot its date, and then some

FARTHEST_ZONE_H: Final = 3.5
"""No place has clocks further from the sun than west Alaska in summer, 3.4 hours (from memory)."""

WAYS_TO_A_CURRENT: Final = (
    "Give {water.currents}, one of: a table of slacks, floods and ebbs, "
    '"current_table.csv"; a fixed set and drift, "0.8 kn toward 40"; hours from '
    'high water, "HW-5 0.5 kn toward 340, HW-2 0.9 kn toward 340, HW+1 0.4 kn toward 160, HW+4 0.9 '
    'kn toward 160", which take tide heights; or a current learned from your own drifts, '
    '"current/learned_current.json", by {seabed learn}.'
)
"""Every way to name a current, each with an example."""

UNITS: Final = {
    "m": Units(depth="m", distance="km", speed="kn", fish="cm"),
    "ft": Units(depth="ft", distance="nm", speed="kn", fish="in"),
    "fm": Units(depth="fm", distance="nm", speed="kn", fish="in"),
}


def area_of(request: Request) -> Area:
    """Load the area file that a request names, or the defaults, and let the request overrule it.

    A bare number in its `contours` and `band` is in the area's unit of depth.

    Raises SeabedError if the file or a field can't be right.
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


def cut_settings(area: Area) -> CutSettings:
    """Give the thresholds of cleaning and cutting; AreaError if they contradict each other."""
    from layers.tracks import CutSettings

    try:
        return CutSettings(**asdict(area.tracks))
    except TrackError as error:
        raise AreaError(error.what, file=area.file, where="[tracks]", do=error.do) from error


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


def heights_of(
    area: Area, place: tuple[float | None, float | None] = (None, None)
) -> Heights | None:
    """Read the area's tide heights at a place; None if it names none."""
    from layers.water import read_heights

    if area.water.heights is None:
        return None
    heights = read_heights(
        area.water.heights,
        timezone=area.timezone,
        date_order=area.date_order,
        unit=area.water.heights_unit,
        longitude=place[0],
        latitude=place[1],
    )
    return pressed(area, heights)


def pressed(area: Area, heights: Heights) -> Heights:
    """Move heights by the pressure of the air, where the area names one."""
    from layers.water.heights.pressure import PressedHeights

    hpa = area.water.pressure_hpa
    return heights if hpa is None else PressedHeights(heights, hpa)


def currents_of(area: Area, heights: Heights | None = None) -> Currents | None:
    """Read the area's currents; None if it names none.

    A current that is tied to a tide takes `heights`, else the area's own.
    """
    from layers.water.sources import needs_tide

    path = area.water.currents
    if path is None:
        return None
    if heights is None and needs_tide(path):
        heights = heights_of(area)
    heights = getattr(heights, "tide", heights)  # a learned current is tied to the tide alone
    currents = _read_currents(area, path, heights)
    return _filled(area, currents)


def _read_currents(area: Area, path: Path | str, heights: Heights | None) -> Currents:
    from layers.water import read_currents

    return read_currents(
        path,
        timezone=area.timezone,
        date_order=area.date_order,
        unit=area.water.currents_unit,
        flood_toward=area.water.flood_toward_deg,
        ebb_toward=area.water.ebb_toward_deg,
        heights=heights,
    )


def station_currents_of(area: Area) -> Currents | None:
    """Read the currents of the area's station, to hold a learned current against; None for none."""
    path = area.water.station_currents
    return None if path is None else _read_currents(area, path, None)


def _filled(area: Area, currents: Currents) -> Currents:
    """Fill the stages that a learned current has not seen by its station, where that is named."""
    from layers.water import LearnedCurrent
    from layers.water.learned.against_table import FilledCurrent, against_table

    table = station_currents_of(area) if isinstance(currents, LearnedCurrent) else None
    if table is None or not isinstance(currents, LearnedCurrent):
        return currents
    against = against_table(currents, table)
    return currents if against is None else FilledCurrent(currents, table, against)


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
    """Name the area's logbook.

    Raises SeabedError if it names none.
    """
    if area.logbook.file is None:
        raise SeabedError(
            "no logbook is named",
            file=area.file,
            do="Name it with {logbook.file}.",
        )
    return area.logbook.file


def day_of(word: str, timezone: str, date_order: str = "") -> date:
    """Read a day; today in the zone if it is empty.

    Raises WaterError if it can't be read.
    """
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
    """Read the least and greatest speed wanted of a drift, m/s.

    Raises SeabedError if they can't be read.
    """
    return _read(lambda: speed_range(words, Path()), words, "drift_speed")


def length_of(words: str, key: str) -> float:
    """Read the length of a field, metres.

    Raises SeabedError if it can't be read.
    """
    return _read(lambda: parse_length(words), words, key)


def wind_of(area: Area, words: Sequence[str] | None, day_start: Any = None) -> Wind:
    """Read the wind that is asked for; the area's own if none is.

    words: ``"SW 8 kn"``, ``"SW 12 gusting 20 kn"``; by hour, ``"6:00 SW 8 kn"`` each; or the name
        of a CSV file.
    day_start: the midnight that hours count from; without it a wind by hour is refused.

    Raises WaterError if it can't be read, or can't be right.
    """
    from layers.water import parse_wind

    if not words:
        return _to_10_m(_own_wind(area), area)
    wind = parse_wind(
        list(words), day_start, timezone=area.timezone, default_unit=area.units.speed,
        date_order=area.date_order,
    )  # fmt: skip
    return wind if is_table_name(words[0].strip()) else _to_10_m(wind, area)


def _to_10_m(wind: Wind, area: Area) -> Wind:
    """Bring a typed wind from the height of its meter to 10 m, which leeway and waves ask for."""
    from layers.water import FixedWind, WindTable
    from layers.water.wind.log_law import at_10_m

    height = area.wind.measured_at_m
    if height == 10.0 or not isinstance(wind, FixedWind | WindTable):
        return wind
    gust = None if wind.gust_mps is None else at_10_m(height, wind.gust_mps)
    if isinstance(wind, FixedWind):
        speed = float(at_10_m(height, wind.speed_mps))
        return replace(
            wind, speed_mps=speed, gust_mps=float("nan") if gust is None else float(gust)
        )
    return replace(wind, speed_mps=at_10_m(height, wind.speed_mps), gust_mps=gust)


def _own_wind(area: Area) -> Wind:
    from layers.water import FixedWind

    wind = area.wind
    if wind.gust_mps is None:
        return FixedWind(wind.speed_mps, wind.from_deg)
    if wind.gust_mps < wind.speed_mps:
        raise AreaError(
            "the gusts are below the mean wind",
            file=area.file,
            where="[wind] gust",
            do="Give gusts of the wind's speed or more, or leave the key out.",
        )
    return FixedWind(wind.speed_mps, wind.from_deg, wind.gust_mps)


def ends_inside(
    area: Area, heights: Heights | None, currents: Currents | None, start: Any, end: Any
) -> tuple[str, ...]:
    """Say which table of water begins or ends within the hours from `start` to `end`.

    Raises WaterError if a table holds none of them.
    """
    import pandas as pd

    warnings = []
    for what, source, path in (
        ("tide heights", heights, area.water.heights), ("currents", currents, area.water.currents),
    ):  # fmt: skip
        times = getattr(source, "times", None)
        if times is None or not len(times):
            continue
        first, last = (
            f"{pd.Timestamp(time, tz='UTC').tz_convert(area.timezone):%Y-%m-%d %H:%M}"
            for time in (times[0], times[-1])
        )
        words = f"table of {what} runs from {first} to {last}"
        if times[-1] < start or times[0] > end:
            raise WaterError(f"the {words}", file=path, do="Change {date}, or name another table.")
        if times[-1] < end or times[0] > start:
            warnings.append(f"The {words}; outside of that it is unknown.")
    return tuple(warnings)


def tables_hold(area: Area, start: Any, end: Any) -> None:
    """Refuse, before any work, tables of water that hold none of the hours.

    Raises WaterError as `ends_inside`; other sources say later what they do not know.
    """
    heights, currents = area.water.heights, area.water.currents
    ends_inside(
        area,
        heights_of(area) if heights is not None and is_table_name(heights) else None,
        currents_of(area) if currents is not None and is_table_name(currents) else None,
        start,
        end,
    )


def boat_limits(area: Area) -> BoatLimits:
    """Give what the area's boat may be out in."""
    from layers.water import BoatLimits

    boat = area.boat
    return BoatLimits(
        boat.wind_limit_mps, boat.gust_limit_mps, boat.current_limit_mps, boat.darkness_limit,
        boat.wave_limit_m,
    )  # fmt: skip


def calm_words(area: Area, words: Sequence[str] | None) -> str:
    """Say what is taken of a wind: a calm if none is named, a range's middle; else ``""``."""
    if words:
        from layers.water.wind.wind_words import wind_notes

        return " ".join(wind_notes(words))
    if area.wind.speed_mps > 0:
        return ""
    return "No wind is given, so a calm is assumed. Give {wind}, or the usual one: {wind.speed}."


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
