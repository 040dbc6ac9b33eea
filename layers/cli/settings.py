"""The area that a command works with: its file, overruled by options."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

from layers.area import Area, Charts, GridSource, Units, default_area, load_area
from layers.area.loading import keys_of
from layers.jobs.areas import (
    boat_limits,
    calm_words,
    currents_of,
    cut_settings,
    day_of,
    drift_speed_mps,
    heights_of,
    wind_of,
)
from seabed.errors import SeabedError, UnitError
from seabed.units import parse_depths, parse_length, parse_range

if TYPE_CHECKING:
    from layers.cli.options import FormatOptions, PageOptions

__all__ = [
    "area_of",
    "boat_limits",
    "calm_words",
    "clock_offset_s",
    "currents_of",
    "cut_settings",
    "day_of",
    "drift_speed_mps",
    "heights_of",
    "length_of",
    "photo_offset_s",
    "wind_of",
]

_Read = TypeVar("_Read")

SHORTEST_NAME: Final = 4

LONGEST_OFFSET_S: Final = 10 * 365.25 * 86_400.0  # a clock that forgot its date, and then some

_KEY_OF_OPTION: Final = {"grid_unit": "unit", "offset": "offset_m"}
"""Fields of ``[grid]`` that are called otherwise than the option."""

UNITS: Final = {
    "m": Units(depth="m", distance="km", speed="kn", fish="cm"),
    "ft": Units(depth="ft", distance="nm", speed="kn", fish="in"),
    "fm": Units(depth="fm", distance="nm", speed="kn", fish="in"),
}


def area_of(
    path: Path | None,
    *,
    units: str | None = None,
    contours: str | None = None,
    band: str | None = None,
    rods: int | None = None,
    timezone: str | None = None,
    charts: Sequence[Path] | None = None,
    grid: FormatOptions | None = None,
    pages: PageOptions | None = None,
) -> Area:
    """Load the area file, or the defaults, and let options overrule it.

    A bare number in `contours` and `band` is in the area's unit of depth.

    Raises
    ------
    SeabedError
        If the file or an option can't be right.
    """
    area = default_area() if path is None else load_area(path)
    if units is not None:
        area = replace(area, units=_units(units))
    unit = area.units.depth
    if contours is not None:
        depths = tuple(_said("--contours", lambda: parse_depths(contours, default=unit)))
        area = replace(area, depths=replace(area.depths, contours_m=depths))
    if band is not None:
        metres = _said("--band", lambda: parse_range(band, default=unit))
        area = replace(area, depths=replace(area.depths, band_m=metres))
    if rods is not None:
        if not 1 <= rods <= 20:
            raise SeabedError(f"{rods} rods can't be right", where="--rods", do="Give 1 to 20.")
        area = replace(area, boat=replace(area.boat, rods=rods))
    if timezone is not None:
        area = replace(area, timezone=_zone(timezone))
    if charts:
        area = replace(area, charts=Charts(tuple(charts)))
    if pages is not None:
        area = _with_pages(area, pages)
    return area if grid is None else _with_grid(area, grid)


def photo_offset_s(words: str | None, clock_offset: str | None) -> float | None:
    """Read how far the camera was ahead; as much as the log's clock if only that was said."""
    if words is None:
        return None if clock_offset is None else clock_offset_s(clock_offset)
    return clock_offset_s(words, option="--photo-offset")


def clock_offset_s(words: str | None, *, option: str = "--clock-offset") -> float:
    """Read how far a clock was ahead, in seconds; with a minus, behind.  None is not at all."""
    from layers.area.keys import duration

    if words is None:
        return 0.0
    sign = -1.0 if words.strip().startswith("-") else 1.0
    try:
        seconds = float(duration(words.strip().lstrip("+-"), Path()))
    except ValueError as error:
        raise SeabedError(f"can't read {words!r}", where=option, do=str(error)) from error
    if seconds > LONGEST_OFFSET_S:
        raise SeabedError(
            f"{words!r} is more than ten years", where=option, do="Give the difference."
        )
    return sign * seconds


def length_of(words: str, option: str) -> float:
    """Read a length that an option gives, metres.

    Raises
    ------
    UnitError
        If it can't be read.
    """
    return _said(option, lambda: parse_length(words))


def _units(word: str) -> Units:
    if word not in UNITS:
        raise UnitError(
            f"{word!r} is no unit of depth", where="--units", do=f"Use {', '.join(UNITS)}."
        )
    return UNITS[word]


def _zone(word: str) -> str:
    from layers.area.keys import timezone

    try:
        return timezone(word, Path())
    except ValueError as error:
        raise SeabedError(f"no time zone {word!r}", where="--timezone", do=str(error)) from error


def _tiles(word: str) -> str:
    from layers.area.tiles import tile_address

    try:
        return tile_address(word, Path())
    except ValueError as error:
        raise SeabedError(
            f"{word!r} is no address of a base map", where="--basemap", do=str(error)
        ) from error


def _with_pages(area: Area, words: PageOptions) -> Area:
    if words.name_length is not None:
        if words.name_length < SHORTEST_NAME:
            raise SeabedError(
                f"names of {words.name_length} letters can't be told apart",
                where="--name-length",
                do=f"Give {SHORTEST_NAME} or more.",
            )
        area = replace(area, marks=replace(area.marks, name_length=words.name_length))
    if words.basemap is not None:
        area = replace(area, map=replace(area.map, basemap=_tiles(words.basemap)))
    if words.basemap_credit is not None:
        area = replace(area, map=replace(area.map, basemap_credit=words.basemap_credit.strip()))
    return area


def _with_grid(area: Area, words: FormatOptions) -> Area:
    """Let options overrule ``[grid]``, each read as the area file's key is."""
    keys = keys_of(GridSource)
    given = {}
    for field in fields(words):
        word, name = getattr(words, field.name), _KEY_OF_OPTION.get(field.name, field.name)
        if word is None:
            continue
        try:
            given[name] = keys[name].read(word, Path())
        except (ValueError, UnitError) as error:
            raise SeabedError(
                f"can't read {word!r}",
                where=f"--{field.name.replace('_', '-')}",
                do=str(error).replace(", in quotes", ""),
            ) from error
    return replace(area, grid=replace(area.grid, **given))


def _said(option: str, read: Callable[[], _Read]) -> _Read:
    try:
        return read()
    except UnitError as error:
        raise UnitError(error.what, where=option, do=error.do) from error
