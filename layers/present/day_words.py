"""The day in words and rows: for the screen, for CSV and for machines."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import numpy as np
import pandas as pd

from layers.water import DAY, WINDOWS
from layers.water.currents.events import EVENTS
from layers.water.day.day_of_water import rows_every
from layers.water.day.moon import MoonTimes
from layers.water.day.sun import SunTimes
from layers.water.heights.stage import TURNS
from layers.water.times import to_local
from seabed.units import percent

POINT_NAMES: Final = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip

EVENT_WORDS: Final = {"flood": "greatest flood", "ebb": "greatest ebb"}
BEYOND: Final = "beyond limits"
_NONE: Final = "No windows: the current is unknown, or too strong all day."
_NONE_WITHIN: Final = "No windows within the boat's limits."
DRIFTING: Final = {"": "unknown", "alone": "well alone", "motor": "with motor", "no": "can't hold"}
MOVES: Final = (
    ("current_mps", "current_toward_deg"),
    ("drift_mps", "drift_toward_deg"),
    ("push_mps", "push_heading_deg"),
)


def day_rows(
    table: pd.DataFrame,
    *,
    timezone: str,
    every_minutes: int = 30,
    depth_unit: str = "ft",
    speed_unit: str = "kn",
) -> pd.DataFrame:
    """Give rows of a day in the zone's time and the user's units, for CSV and people.

    The columns of `DAY` with their units in their names (``current_kn``, ``height_ft``), a decimal
    more than people read; ``time`` in ISO 8601 with its offset.
    """
    part = rows_every(table, every_minutes, timezone)
    rows = DAY.in_units(part, {"depth": depth_unit, "speed": speed_unit})
    return rows.assign(time=[time.isoformat() for time in to_local(part["time"], timezone)])


def in_zone(table: pd.DataFrame, timezone: str) -> pd.DataFrame:
    """Give a table with its times in a zone, to the second."""
    times = [name for name in table if isinstance(table[name].dtype, pd.DatetimeTZDtype)]
    return table.assign(
        **{str(name): table[name].dt.tz_convert(timezone).dt.round("s") for name in times}
    )


def day_sheet(
    table: pd.DataFrame,
    windows: pd.DataFrame,
    *,
    timezone: str,
    turns: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    sun: SunTimes | None = None,
    moon: MoonTimes | None = None,
    every_minutes: int = 60,
    depth_unit: str = "ft",
    speed_unit: str = "kn",
) -> str:
    """Write what is given of a day as plain text; NaN is "-" or "unknown"."""
    units = {"depth": depth_unit, "speed": speed_unit}
    moments = [
        (row.time, f"{'high water' if row.high else 'low water':<15} {_height(row, units)}")
        for row in _rows(turns)
    ]
    moments += [(row.time, _event(row, units)) for row in _rows(events)]
    lines = [*light_words(sun, moon, timezone), ""] if sun or moon else []
    lines += [
        f"{_clock(time, timezone)}  {words}" for time, words in sorted(moments, key=lambda m: m[0])
    ]
    hours = rows_every(table, every_minutes, timezone)
    head = f"{'Time':<6}{'Height':>9}  {'Stage':<7}"
    head += "".join(f"{DAY[speed].label:<20}" for speed, _ in MOVES)
    head += f"{'Waves':<14}" if hours["wave_m"].notna().any() else ""
    lines += ["", f"{head}Drifting"]
    seas = [_waves(row, units) for row in _rows(hours)]
    seas = [f"{sea or '-':<14}" if any(seas) else "" for sea in seas]
    lines += [
        _hour_line(row, timezone, units, sea) for row, sea in zip(_rows(hours), seas, strict=True)
    ]
    lines += ["", *(_window_line(row, timezone, units) for row in _rows(windows))]
    if not len(windows):
        lines.append(_NONE_WITHIN if (table["limit"] != "").any() else _NONE)
    return "\n".join(lines) + "\n"


def _rows(table: pd.DataFrame | None) -> list[Any]:
    return [] if table is None else list(table.itertuples())


def _clock(time: Any, timezone: str) -> str:
    return str(to_local(time, timezone).round("min")[0].strftime("%H:%M"))


def _height(row: Any, units: dict[str, str]) -> str:
    return f"{TURNS.words(row, 'height_m', units) or '-'} {units['depth']}"


def _event(row: Any, units: dict[str, str]) -> str:
    words = EVENT_WORDS.get(row.event, row.event)
    if row.event == "slack":
        return str(words)
    return f"{words:<15} {EVENTS.words(row, 'speed_mps', units)} {units['speed']}"


def _way(degrees: float) -> str:
    """``"SW (225)"``: the nearest point of the compass, and degrees true."""
    if np.isnan(degrees):
        return "-"
    exact = DAY["current_toward_deg"].words(degrees, {})
    return f"{POINT_NAMES[round(degrees / 22.5) % 16]} ({exact})"


def _move(row: Any, speed: str, way: str, units: dict[str, str]) -> str:
    amount = DAY.words(row, speed, units)
    return f"{amount} {units['speed']} {_way(getattr(row, way))}" if amount else "- -"


def light_words(sun: SunTimes | None, moon: MoonTimes | None, timezone: str) -> list[str]:
    """Say when it is light, and what the moon does: a line each, none of what is not given."""
    lines = []
    if sun is not None:
        named = (
            ("civil twilight from", sun.dawn), ("sunrise", sun.rises), ("sunset", sun.sets),
            ("civil twilight to", sun.dusk),
        )  # fmt: skip
        above = f"sun {sun.otherwise}" if sun.otherwise else ""
        lines.append(_sentence([*_at(named, timezone), above]))
    if moon is not None:
        times = _at((("moonrise", moon.rises), ("moonset", moon.sets)), timezone)
        above = f"moon {moon.otherwise}" if moon.otherwise else ""
        lines.append(_sentence([*times, above, f"{moon.phase}, {percent(moon.lit)} lit"]))
    return lines


def _at(named: Iterable[tuple[str, Any]], timezone: str) -> list[str]:
    return [f"{name} {_clock(time, timezone)}" for name, time in named if time is not None]


def _sentence(parts: list[str]) -> str:
    words = ", ".join(filter(None, parts))
    return words[:1].upper() + words[1:]


def _waves(row: Any, units: dict[str, str]) -> str:
    units = {"depth": "m" if units["depth"] == "m" else "ft"}  # nobody gives them in fathoms
    height = DAY.words(row, "wave_m", units)
    return f"{height} {units['depth']} {row.wave_period_s:.1f} s" if height else ""


def _hour_line(row: Any, timezone: str, units: dict[str, str], sea: str) -> str:
    height = DAY.words(row, "height_m", units)
    height = f"{height} {units['depth']}" if height else "-"
    moves = "".join(f"{_move(row, *names, units):<20}" for names in MOVES)
    word = BEYOND if row.limit else DRIFTING.get(row.drifting, row.drifting)
    return f"{_clock(row.time, timezone):<6}{height:>9}  {row.state or '-':<7}{moves}{sea}{word}"


def _window_line(row: Any, timezone: str, units: dict[str, str]) -> str:
    line = f"{_clock(row.start, timezone)}-{_clock(row.end, timezone)}  {row.words}"
    if row.kind != "slack":
        line += f", boat left alone {WINDOWS.words(row, 'drift_mps', units)} {units['speed']}"
    if row.kind == "motor":
        line += f", push up to {WINDOWS.words(row, 'push_mps', units)} {units['speed']}"
    return line
