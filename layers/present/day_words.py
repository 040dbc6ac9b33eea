"""The day in words and rows: for the screen, for CSV and for machines."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from layers.water import SunTimes, rows_every, to_local
from seabed.units import convert

__all__ = ["day_records", "day_rows", "day_sheet"]

POINT_NAMES: Final = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip

EVENTS: Final = {
    "slack": "slack",
    "flood": "greatest flood",
    "ebb": "greatest ebb",
    "weakest": "weakest",
    "strongest": "strongest",
}

BEYOND: Final = "beyond limits"
_NONE: Final = "No windows: the current is unknown, or too strong all day."
_NONE_WITHIN: Final = "No windows within the boat's limits."
DRIFTING: Final = {"": "unknown", "alone": "good alone", "motor": "with motor", "no": "can't hold"}


def day_rows(
    table: pd.DataFrame,
    *,
    timezone: str,
    every_minutes: int = 30,
    depth_unit: str = "ft",
    speed_unit: str = "kn",
) -> pd.DataFrame:
    """Rows of a day in the zone's time and the user's units, for CSV and people.

    Returns
    -------
    DataFrame
        ``time`` (ISO 8601 with offset), ``height_<unit>``, ``stage``, ``hours_from_high``,
        ``current_<unit>``, ``current_toward``, ``wind_<unit>``, ``wind_from``, ``gust_<unit>``,
        ``boat_<unit>``, ``boat_toward``, ``motor_<unit>``, ``motor_heading``, ``drifting``,
        ``limit`` (of the boat, that is passed); directions in degrees true.  Units are spelled
        ``kn``, ``mph``, ``kmh``, ``mps``, ``ft``, ``m``, ``fm``.

    Examples
    --------
    >>> from datetime import date
    >>> from layers import read_heights, tide
    >>> from layers.water import parse_current
    >>> day, zone = date(2031, 6, 14), "Etc/GMT+2"
    >>> heights = read_heights("tide_table.csv", timezone=zone)
    >>> currents = parse_current("0.8 kn toward 40")
    >>> table = tide(day, zone, heights=heights, currents=currents)
    >>> len(day_rows(table, timezone=zone, every_minutes=120))
    12
    """
    part = rows_every(table, every_minutes, timezone)
    deep, fast = depth_unit, speed_unit.replace("/", "").replace("ms", "mps")

    def speed(name: str) -> list[float]:
        return [round(convert(value, speed_unit), 2) for value in part[name]]

    def degrees(name: str) -> pd.Series:
        return part[name].round(0)

    return pd.DataFrame(
        {
            "time": [time.isoformat() for time in to_local(part["time"], timezone)],
            f"height_{deep}": [round(convert(v, depth_unit), 2) for v in part["height_m"]],
            "stage": part["state"],
            "hours_from_high": part["hours_from_high"].round(2),
            f"current_{fast}": speed("current_mps"),
            "current_toward": degrees("current_toward_deg"),
            f"wind_{fast}": speed("wind_mps"),
            "wind_from": degrees("wind_from_deg"),
            f"gust_{fast}": speed("gust_mps"),
            f"boat_{fast}": speed("drift_mps"),
            "boat_toward": degrees("drift_toward_deg"),
            f"motor_{fast}": speed("push_mps"),
            "motor_heading": degrees("push_heading_deg"),
            "drifting": part["drifting"],
            "limit": part.get("limit", ""),
        }
    )


def day_sheet(
    table: pd.DataFrame,
    windows: pd.DataFrame,
    *,
    timezone: str,
    turns: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    sun: SunTimes | None = None,
    every_minutes: int = 60,
    depth_unit: str = "ft",
    speed_unit: str = "kn",
) -> str:
    """Write a day as plain text: sun, high and low waters, slacks, the hours, the windows.

    Parameters
    ----------
    table, windows : from `day_of_water` and `day_windows`
    timezone : str
        Of the clock times.
    turns, events, sun : optional
        From `layers.water.turns`, `current_events` and `sun_times`; what is not given is not told.
    every_minutes : int
        Between the rows of the hours.
    depth_unit, speed_unit : str

    Returns
    -------
    str
        Lines for a screen of 80 columns; "unknown" where a number is NaN.

    Examples
    --------
    >>> from datetime import date
    >>> from layers import read_heights, tide
    >>> from layers.water import day_windows, parse_current
    >>> day, zone = date(2031, 6, 14), "Etc/GMT+2"
    >>> heights = read_heights("tide_table.csv", timezone=zone)
    >>> currents = parse_current("0.8 kn toward 40")
    >>> table = tide(day, zone, heights=heights, currents=currents)
    >>> len(day_sheet(table, day_windows(table), timezone=zone).splitlines()) > 24
    True
    """
    moments = _turn_moments(turns, depth_unit) + _current_moments(events, speed_unit)
    lines = _sun_lines(sun, timezone)
    lines += [
        f"{_clock(time, timezone)}  {words}" for time, words in sorted(moments, key=lambda m: m[0])
    ]
    lines += ["", *_hour_lines(table, timezone, every_minutes, depth_unit, speed_unit), ""]
    lines += [_window_line(row, timezone, speed_unit) for _, row in windows.iterrows()]
    if not len(windows):
        left_out = "limit" in table and (table["limit"] != "").any()
        lines.append(_NONE_WITHIN if left_out else _NONE)
    return "\n".join(lines) + "\n"


def day_records(
    table: pd.DataFrame,
    windows: pd.DataFrame,
    *,
    timezone: str,
    turns: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    sun: SunTimes | None = None,
    left_out: pd.DataFrame | None = None,
    every_minutes: int = 10,
) -> dict[str, Any]:
    """Give a day for machines: SI, times in ISO 8601 with the zone's offset, None for unknown.

    Examples
    --------
    >>> from datetime import date
    >>> from layers import read_heights, tide
    >>> from layers.water import day_windows, parse_current
    >>> day, zone = date(2031, 6, 14), "Etc/GMT+2"
    >>> heights = read_heights("tide_table.csv", timezone=zone)
    >>> currents = parse_current("0.8 kn toward 40")
    >>> table = tide(day, zone, heights=heights, currents=currents)
    >>> sorted(day_records(table, day_windows(table), timezone=zone))[:3]
    ['beyond_limits', 'current_events', 'high_and_low_waters']
    """
    return {
        "beyond_limits": _plain(left_out, timezone),
        "timezone": timezone,
        "sunrise": None if sun is None else _iso(sun.rises, timezone),
        "sunset": None if sun is None else _iso(sun.sets, timezone),
        "high_and_low_waters": _plain(turns, timezone),
        "current_events": _plain(events, timezone),
        "windows": _plain(windows, timezone),
        "rows": _plain(rows_every(table, every_minutes, timezone), timezone),
    }


def _plain(table: pd.DataFrame | None, timezone: str) -> list[dict[str, Any]]:
    if table is None:
        return []
    return [
        {key: _value(value, timezone) for key, value in row.items()} for _, row in table.iterrows()
    ]


def _value(value: Any, timezone: str) -> Any:
    if isinstance(value, pd.Timestamp):
        return _iso(value, timezone)
    if isinstance(value, float | np.floating):
        return None if np.isnan(value) else round(float(value), 4)
    return value.item() if isinstance(value, np.generic) else value


def _iso(time: Any, timezone: str) -> str | None:
    return None if time is None else str(to_local(time, timezone)[0].round("s").isoformat())


def _clock(time: Any, timezone: str) -> str:
    return str(to_local(time, timezone).round("min")[0].strftime("%H:%M"))


def _speed(mps: float, unit: str) -> str:
    return "   -   " if np.isnan(mps) else f"{convert(mps, unit):.1f} {unit}"


def _way(degrees: float) -> str:
    """``"SW (225)"``: the nearest point of the compass, and degrees true."""
    if np.isnan(degrees):
        return "-"
    return f"{POINT_NAMES[round(degrees / 22.5) % 16]} ({degrees:03.0f})"


def _sun_lines(sun: SunTimes | None, timezone: str) -> list[str]:
    if sun is None:
        return []
    if sun.otherwise:
        return [f"Sun {sun.otherwise}", ""]
    named = (("Sunrise", sun.rises), ("Sunset", sun.sets))
    times = [f"{name} {_clock(time, timezone)}" for name, time in named if time is not None]
    return [", ".join(times), ""]


def _turn_moments(turns: pd.DataFrame | None, depth_unit: str) -> list[tuple[pd.Timestamp, str]]:
    if turns is None:
        return []
    return [
        (
            row["time"],
            f"{'high water' if row['high'] else 'low water':<15} "
            f"{convert(row['height_m'], depth_unit):.1f} {depth_unit}",
        )
        for _, row in turns.iterrows()
    ]


def _current_moments(
    events: pd.DataFrame | None, speed_unit: str
) -> list[tuple[pd.Timestamp, str]]:
    if events is None:
        return []
    return [
        (
            row["time"],
            EVENTS[row["event"]]
            if row["event"] == "slack"
            else f"{EVENTS[row['event']]:<15} {_speed(row['speed_mps'], speed_unit)}",
        )
        for _, row in events.iterrows()
    ]


def _hour_lines(
    table: pd.DataFrame, timezone: str, every_minutes: int, depth_unit: str, speed_unit: str
) -> list[str]:
    head = f"{'Time':<6}{'Height':>9}  {'Stage':<7}{'Current':<20}{'Boat left alone':<20}"
    lines = [f"{head}{'Motor':<20}Drifting"]
    for _, row in rows_every(table, every_minutes, timezone).iterrows():
        height = convert(row["height_m"], depth_unit)
        written = "-" if np.isnan(height) else f"{height:.1f} {depth_unit}"
        moves = "".join(
            f"{_speed(row[speed], speed_unit).strip() + ' ' + _way(row[way]):<20}"
            for speed, way in (
                ("current_mps", "current_toward_deg"),
                ("drift_mps", "drift_toward_deg"),
                ("push_mps", "push_heading_deg"),
            )
        )
        word = BEYOND if row.get("limit") else DRIFTING.get(row["drifting"], row["drifting"])
        lines.append(
            f"{_clock(row['time'], timezone):<6}{written:>9}  {row['state'] or '-':<7}{moves}{word}"
        )
    return lines


def _window_line(row: pd.Series, timezone: str, speed_unit: str) -> str:
    span = f"{_clock(row['start'], timezone)}-{_clock(row['end'], timezone)}"
    words = str(row["words"])
    more = "" if row["kind"] == "slack" else f", boat alone {_speed(row['drift_mps'], speed_unit)}"
    push = f", push up to {_speed(row['push_mps'], speed_unit)}" if row["kind"] == "motor" else ""
    return f"{span}  {words}{more}{push}"
