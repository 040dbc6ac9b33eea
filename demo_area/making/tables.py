"""The tables of tide and current, as an almanac prints them, and of the wind that blew."""

from __future__ import annotations

import numpy as np

from making.clock import to_the_minute
from making.water import height_at, stream_at


def turning_points(series):
    """Indexes of the extremes of an evenly sampled series."""
    rise = np.sign(np.diff(series))
    return np.flatnonzero(np.diff(rise) != 0) + 1


def tide_rows(h):
    """High and low water, of moments a minute apart."""
    level = height_at(h)
    for i in turning_points(level):
        kind = "high" if level[i] > level[i - 30] else "low"
        yield f"{to_the_minute(h[i])},{level[i]:.2f},{kind}"


def current_rows(h):
    """Slacks and greatest streams, of moments a minute apart."""
    speed = stream_at(h)
    events = [(i, "flood" if speed[i] > 0 else "ebb", abs(speed[i])) for i in turning_points(speed)]
    events += [(i, "slack", 0.0) for i in np.flatnonzero(np.diff(np.sign(speed)) != 0)]
    last = None
    for i, event, mps in sorted(events):
        if event != last:  # of a double peak the table gives the first only
            knots = f"{mps / 0.514444:.2f}" if mps else ""
            yield f"{to_the_minute(h[i])},{event},{knots}"
        last = event


def wind_rows(plans):
    """The wind of each outing's day, by the hour."""
    for plan in plans:
        for hour in range(6, 23):
            yield f"{plan['date']}T{hour:02d}:00Z,{plan['wind_kn']:g},{plan['wind_from']:g}"


def write_tables(folder, plans):
    h = np.arange(0.0, 31 * 24.0, 1 / 60.0)
    for name, head, rows in (
        ("tide_table.csv", "time,height_m,kind", tide_rows(h)),
        ("current_table.csv", "time,event,speed_kn", current_rows(h)),
        ("wind_table.csv", "time,speed_kn,from", wind_rows(plans)),
    ):
        (folder / name).write_text("\n".join([head, *rows]) + "\n", newline="\n")
