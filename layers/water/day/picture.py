"""The day as a picture: tide curve, current, windows, night; SVG, self-contained."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.cautions import CAUTIONS_SHORT
from layers.water.day._sun import SunTimes
from layers.water.times import Times, as_utc, hours_between, to_local
from seabed.markup import markup_text
from seabed.units import convert, round_step

__all__ = ["day_picture"]

Floats = NDArray[np.float64]

WIDTH: Final = 900
LEFT: Final = 64
RIGHT: Final = 20
HEIGHT_PANEL: Final = (70, 250)
CURRENT_PANEL: Final = (290, 450)
BANDS: Final = (462, 482)
BOTTOM: Final = 545
ROW: Final = 18
WIDE_WORDS: Final = 110

COLOURS: Final = {"slack": "#b9c4cf", "alone": "#2f8f5b", "motor": "#d9a441"}
NAMES: Final = {"slack": "slack", "alone": "drifts well alone", "motor": "with the motor"}


@dataclass(frozen=True, slots=True)
class _Frame:
    """From times and values to places on the picture."""

    times: Times
    timezone: str

    def x(self, times: Any) -> Floats:
        hours = hours_between(self.times[0], as_utc(times))
        whole = float(hours_between(self.times[0], self.times[-1])) or 1.0
        return LEFT + np.clip(hours / whole, 0, 1) * (WIDTH - LEFT - RIGHT)


def day_picture(
    table: pd.DataFrame,
    windows: pd.DataFrame,
    *,
    title: str,
    timezone: str,
    depth_unit: str = "ft",
    speed_unit: str = "kn",
    sun: SunTimes | None = None,
    turns: pd.DataFrame | None = None,
    beyond: str = "",
) -> str:
    """Draw a day.

    Parameters
    ----------
    table, windows : DataFrame
        As `day_of_water` and `day_windows` give them.
    title, timezone : str
    depth_unit, speed_unit : str
    sun : SunTimes, optional
        Night is shaded.
    turns : DataFrame, optional
        High and low waters to label.
    beyond : str
        That windows are beyond the boat's limits: above all else.

    Returns
    -------
    str
        An SVG document with the cautions on it.

    Examples
    --------
    >>> from datetime import date
    >>> from layers import read_heights, tide
    >>> from layers.water import day_windows, parse_current
    >>> day, zone = date(2031, 6, 14), "Etc/GMT+2"
    >>> heights = read_heights("tide_table.csv", timezone=zone)
    >>> currents = parse_current("0.8 kn toward 40")
    >>> table = tide(day, zone, heights=heights, currents=currents)
    >>> day_picture(table, day_windows(table), title="A day", timezone=zone)[:4]
    '<svg'
    """
    frame = _Frame(as_utc(table["time"]), timezone)
    height = np.array([convert(v, depth_unit) for v in table["height_m"]])
    speed = np.array([convert(v, speed_unit) for v in table["current_mps"]])
    drift = np.array([convert(v, speed_unit) for v in table["drift_mps"]])
    parts = [
        _night(frame, sun),
        _hours(frame),
        _curve(frame, [(height, "#1f5f8b", "")], HEIGHT_PANEL, f"height, {depth_unit}", floor=None),
        _labels(frame, turns, height, depth_unit),
        _curve(
            frame,
            [(speed, "#1f5f8b", "current"), (drift, "#b0413e", "boat left alone")],
            CURRENT_PANEL,
            f"speed, {speed_unit}",
            floor=0.0,
        ),
        _arrows(frame, table, speed),
        _bands(frame, windows),
    ]
    body = "\n".join(part for part in parts if part)
    above = textwrap.wrap(beyond, WIDE_WORDS)
    top = -ROW * len(above)
    said = "".join(
        f'<text x="{LEFT}" y="{top + ROW * (row + 1)}" font-weight="bold" fill="#8f1010">'
        f"{markup_text(line)}</text>\n"
        for row, line in enumerate(above)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 {top} {WIDTH} {BOTTOM - top}" '
        f'width="{WIDTH}" height="{BOTTOM - top}" font-family="sans-serif" font-size="13">\n'
        f'<rect y="{top}" width="{WIDTH}" height="{BOTTOM - top}" fill="#ffffff"/>\n'
        f"{said}"
        f'<text x="{LEFT}" y="28" font-size="18">{markup_text(title)}</text>\n'
        f"{body}\n"
        f'<text x="{LEFT}" y="{BOTTOM - 10}" font-size="11" fill="#555555">'
        f"{markup_text(CAUTIONS_SHORT)}</text>\n</svg>\n"
    )


def _scale(
    values: Floats, panel: tuple[int, int], floor: float | None
) -> tuple[Floats, float, float]:
    known = values[np.isfinite(values)]
    low = float(known.min()) if floor is None else floor
    high = max(float(known.max()), low + 0.1)
    margin = 0.08 * (high - low)
    low, high = (low - margin if floor is None else low), high + margin
    top, bottom = panel
    return bottom - (values - low) / (high - low) * (bottom - top), low, high


def _curve(
    frame: _Frame,
    lines: Sequence[tuple[Floats, str, str]],
    panel: tuple[int, int],
    label: str,
    *,
    floor: float | None,
) -> str:
    top, bottom = panel
    every = np.concatenate([values for values, _, _ in lines])
    drawn = [
        f'<text x="{LEFT}" y="{top - 8}" fill="#333333">{markup_text(label)}</text>',
        f'<rect x="{LEFT}" y="{top}" width="{WIDTH - LEFT - RIGHT}" height="{bottom - top}" '
        'fill="none" stroke="#888888"/>',
    ]
    if not np.isfinite(every).any():
        drawn.append(f'<text x="{LEFT + 10}" y="{(top + bottom) / 2}">unknown</text>')
        return "\n".join(drawn)
    _, low, high = _scale(every, panel, floor)
    for tick in _ticks(low, high):
        y = bottom - (tick - low) / (high - low) * (bottom - top)
        drawn.append(
            f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="#dddddd"/>'
            f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{tick:.4g}</text>'
        )
    x = frame.x(frame.times)
    for i, (values, colour, name) in enumerate(lines):
        y_all = bottom - (values - low) / (high - low) * (bottom - top)
        drawn += [
            f'<polyline fill="none" stroke="{colour}" stroke-width="2" points="{points}"/>'
            for points in _runs(x, y_all)
        ]
        if name:
            drawn.append(
                f'<text x="{LEFT + 130 + 90 * i}" y="{top - 8}" fill="{colour}">{name}</text>'
            )
    return "\n".join(drawn)


def _runs(x: Floats, y: Floats) -> list[str]:
    """Points of each stretch without NaN, every fifth minute and the last."""
    known = np.flatnonzero(np.isfinite(y))
    if not known.size:
        return []
    runs = np.split(known, np.flatnonzero(np.diff(known) > 1) + 1)
    return [
        " ".join(f"{x[i]:.1f},{y[i]:.1f}" for i in np.unique(np.append(run[::5], run[-1])))
        for run in runs
    ]


def _ticks(low: float, high: float) -> Floats:
    step = round_step((high - low) / 5)
    count = np.arange(np.ceil(low / step), np.floor(high / step) + 1)
    return np.asarray(count * step, np.float64)


def _hours(frame: _Frame) -> str:
    local = to_local(frame.times, frame.timezone)
    drawn = []
    for i in np.flatnonzero((local.minute == 0) & (local.hour % 3 == 0)):
        x = float(frame.x(frame.times[i]))
        drawn.append(
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{HEIGHT_PANEL[0]}" y2="{BANDS[1]}" '
            'stroke="#e6e6e6"/>'
            f'<text x="{x:.1f}" y="{BANDS[1] + 18}" text-anchor="middle">{local[i]:%H:%M}</text>'
        )
    return "\n".join(drawn)


def _night(frame: _Frame, sun: SunTimes | None) -> str:
    if sun is None:
        return ""
    first, last = frame.times[0], frame.times[-1]
    spans: list[tuple[Any, Any]] = [(first, last)] if sun.otherwise == "down all day" else []
    if sun.rises is not None:
        spans.append((first, sun.rises))
    if sun.sets is not None:
        spans.append((sun.sets, last))
    return "\n".join(
        f'<rect x="{float(frame.x(a)):.1f}" y="{HEIGHT_PANEL[0]}" fill="#eef1f6" '
        f'width="{float(frame.x(b) - frame.x(a)):.1f}" height="{BANDS[1] - HEIGHT_PANEL[0]}"/>'
        for a, b in spans
    )


def _labels(frame: _Frame, turns: pd.DataFrame | None, height: Floats, depth_unit: str) -> str:
    if turns is None or not len(turns) or not np.isfinite(height).any():
        return ""
    at = np.array([convert(v, depth_unit) for v in turns["height_m"]])
    _, low, high = _scale(height, HEIGHT_PANEL, None)
    top, bottom = HEIGHT_PANEL
    y = bottom - (at - low) / (high - low) * (bottom - top)
    local = to_local(turns["time"], frame.timezone)
    return "\n".join(
        f'<text x="{float(np.clip(x, LEFT + 40, WIDTH - RIGHT - 40)):.1f}" '
        f'y="{float(np.clip(place + (16 if is_high else -8), top + 14, bottom - 6)):.1f}" '
        f'text-anchor="middle" font-size="12">{time:%H:%M} {value:.1f}</text>'
        for x, place, value, time, is_high in zip(
            frame.x(turns["time"]), y, at, local, turns["high"], strict=True
        )
    )


def _arrows(frame: _Frame, table: pd.DataFrame, speed: Floats) -> str:
    """Arrows toward which the water runs, north up, each hour."""
    local = to_local(frame.times, frame.timezone)
    toward = table["current_toward_deg"].to_numpy(float)
    drawn = []
    for i in np.flatnonzero((local.minute == 30) & np.isfinite(toward) & np.isfinite(speed)):
        x, y = float(frame.x(frame.times[i])), CURRENT_PANEL[1] - 14
        drawn.append(
            f'<g transform="translate({x:.1f},{y}) rotate({toward[i]:.0f})" stroke="#1f5f8b" '
            'fill="none"><path d="M0,9 L0,-9 M-4,-4 L0,-9 L4,-4"/></g>'
        )
    return "\n".join(drawn)


def _bands(frame: _Frame, windows: pd.DataFrame) -> str:
    top, bottom = BANDS
    drawn = []
    for _, row in windows.iterrows():
        x, end = float(frame.x(row["start"])), float(frame.x(row["end"]))
        drawn.append(
            f'<rect x="{x:.1f}" y="{top}" width="{end - x:.1f}" height="{bottom - top}" '
            f'fill="{COLOURS[row["kind"]]}"><title>{markup_text(str(row["words"]))}</title></rect>'
        )
    for i, (kind, colour) in enumerate(COLOURS.items()):
        x = LEFT + 170 * i
        drawn.append(
            f'<rect x="{x}" y="{bottom + 28}" width="12" height="12" fill="{colour}"/>'
            f'<text x="{x + 18}" y="{bottom + 39}" font-size="12">{NAMES[kind]}</text>'
        )
    return "\n".join(drawn)
