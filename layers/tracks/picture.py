"""A picture of speed against time with the pieces, to see why a track was cut as it was."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.tracks.motion import local_lines, noise_of, seconds_of, smoothing_s
from layers.tracks.settings import CutSettings
from seabed.geodesy import local_metres
from seabed.markup import markup_text
from seabed.units import SPEED

__all__ = ["speed_picture"]

Floats = NDArray[np.float64]

_WIDTH: Final = 1200
_LEFT, _RIGHT, _TOP, _BOTTOM = 50, 15, 34, 30
_HEIGHT: Final = 220  # of one outing
_MOST_POINTS: Final = 2000
_FILL: Final = {"run": "#d9dee4", "drift": "#8fd0b5", "hold": "#f3cf8f", "gap": "#ffffff"}
_MARKS: Final = (0.5, 1, 2, 5, 10, 20, 30, 50)


def speed_picture(
    pieces: gpd.GeoDataFrame,
    fixes: pd.DataFrame,
    *,
    settings: CutSettings | None = None,
    timezone: str = "UTC",
    unit: str = "kn",
) -> str:
    """Draw speed over the ground against time, a strip an outing, as SVG.

    Pieces are coloured by kind, drifts numbered in their outing; dashes show the speeds between
    which a drift lies.  The scale is of square roots, so that drifts can be seen beside runs.

    Parameters
    ----------
    pieces, fixes : from `cut` and `clean`
    settings : CutSettings, optional
        Those that the track was cut with.
    timezone : str
        Of the times shown.
    unit : str
        Of speed: ``"kn"``, ``"mph"``, ``"m/s"`` or ``"km/h"``.

    Returns
    -------
    str
        A whole SVG document, with nothing from outside.

    Examples
    --------
    >>> from layers import clean, cut, example_trip
    >>> fixes, _ = clean(example_trip()[0])
    >>> speed_picture(cut(fixes), fixes)[:4]
    '<svg'
    """
    settings = settings or CutSettings()
    outings = [own for _, own in pieces.groupby("outing", sort=True)]
    strips: list[str] = []
    for number, own in enumerate(outings):
        strips.append(f'<g transform="translate(0 {number * _HEIGHT})">')
        strips.extend(_strip(own, fixes, settings, ZoneInfo(timezone), unit))
        strips.append("</g>")
    height = max(1, len(outings)) * _HEIGHT
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" '
            'font-family="sans-serif" font-size="11" role="img" '
            'aria-label="Speed over the ground against time, with the pieces of the track">',
            f'<rect width="{_WIDTH}" height="{height}" fill="#ffffff"/>',
            *strips,
            "</svg>",
            "",
        ]
    )


def _strip(
    own: gpd.GeoDataFrame, fixes: pd.DataFrame, settings: CutSettings, zone: ZoneInfo, unit: str
) -> Iterator[str]:
    first, last = int(own["first_fix"].iloc[0]), int(own["last_fix"].iloc[-1])
    part = fixes.iloc[first : last + 1]
    time_s = seconds_of(part["time"])
    moments, speed = _speeds(part, time_s)
    speed = speed / SPEED[unit]
    fastest = max(float(speed.max()), settings.drift_speed_mps[1] / SPEED[unit]) * 1.05
    x, y = _scales(time_s, fastest)
    yield from _pieces(own, x)
    yield from _speed_axis(y, fastest, settings, unit)
    yield from _time_axis(time_s, x, zone)
    day = part["time"].iloc[0].tz_convert(zone)
    names = (
        ", ".join(Path(str(name)).name for name in pd.unique(part["file"]))
        if "file" in part
        else ""
    )
    yield f'<text x="{_LEFT}" y="14" font-weight="bold">{day:%Y-%m-%d}  {markup_text(names)}</text>'
    gaps = own[own["kind"] == "gap"]
    for one, two in _unbroken(moments, seconds_of(gaps["start"]), seconds_of(gaps["end"])):
        points = " ".join(
            f"{x(m):.1f},{y(s):.1f}" for m, s in zip(moments[one:two], speed[one:two], strict=True)
        )
        yield f'<polyline points="{points}" fill="none" stroke="#123a5a" stroke-width="1"/>'


def _speeds(part: pd.DataFrame, time_s: Floats) -> tuple[Floats, Floats]:
    """Moments and smoothed speeds, m/s."""
    x, y = local_metres(part["longitude"].to_numpy(), part["latitude"].to_numpy())
    half_s = smoothing_s(time_s, noise_of(time_s, x, y))
    moments = np.linspace(time_s[0], time_s[-1], min(_MOST_POINTS, 4 * len(time_s)))
    _, _, vx, vy = local_lines(time_s, x, y, moments, half_s)
    return moments, np.hypot(vx, vy)


class _Scale:
    """From values to places on the picture, straight or by square roots."""

    def __init__(self, low: float, high: float, start: float, end: float, *, root: bool) -> None:
        self.low, self.span, self.start, self.run = low, max(high - low, 1e-9), start, end - start
        self.root = root

    def __call__(self, value: float) -> float:
        share = (value - self.low) / self.span
        return self.start + self.run * (max(share, 0.0) ** 0.5 if self.root else share)


def _scales(time_s: Floats, fastest: float) -> tuple[_Scale, _Scale]:
    return (
        _Scale(float(time_s[0]), float(time_s[-1]), _LEFT, _WIDTH - _RIGHT, root=False),
        _Scale(0.0, fastest, _HEIGHT - _BOTTOM, _TOP, root=True),
    )


def _pieces(own: gpd.GeoDataFrame, x: _Scale) -> Iterator[str]:
    number = 0
    for kind, start, end in zip(
        own["kind"], seconds_of(own["start"]), seconds_of(own["end"]), strict=True
    ):
        left, right = x(start), x(end)
        dashes = ' stroke="#888888" stroke-dasharray="3 3"' if kind == "gap" else ""
        yield (
            f'<rect x="{left:.1f}" y="{_TOP}" width="{right - left:.1f}" '
            f'height="{_HEIGHT - _BOTTOM - _TOP}" fill="{_FILL[kind]}"{dashes}>'
            f"<title>{kind}, {(end - start) / 60:.1f} min</title></rect>"
        )
        number += kind == "drift"
        label = f"#{number}" if kind == "drift" else kind
        if right - left > 7 * len(label):
            yield (
                f'<text x="{(left + right) / 2:.1f}" y="{_TOP - 5}" text-anchor="middle" '
                f'fill="#333333">{label}</text>'
            )


def _speed_axis(y: _Scale, fastest: float, settings: CutSettings, unit: str) -> Iterator[str]:
    last = float("inf")
    for mark in _MARKS:
        if mark < fastest and last - y(mark) > 10:
            last = y(mark)
            yield (
                f'<text x="{_LEFT - 6}" y="{y(mark) + 4:.1f}" text-anchor="end">{mark:g}</text>'
                f'<line x1="{_LEFT - 3}" x2="{_LEFT}" y1="{y(mark):.1f}" y2="{y(mark):.1f}" '
                'stroke="#333333"/>'
            )
    yield f'<text x="8" y="{_TOP - 5}">{markup_text(unit)}</text>'
    for bound in settings.drift_speed_mps:
        at = y(bound / SPEED[unit])
        yield (
            f'<line x1="{_LEFT}" x2="{_WIDTH - _RIGHT}" y1="{at:.1f}" y2="{at:.1f}" '
            'stroke="#1b7a55" stroke-dasharray="5 4"/>'
        )


def _time_axis(time_s: Floats, x: _Scale, zone: ZoneInfo) -> Iterator[str]:
    long = float(time_s[-1] - time_s[0])
    step = next((s for s in (60, 300, 600, 1800, 3600, 7200) if long / s <= 14), 14400)
    for moment in np.arange(np.ceil(time_s[0] / step) * step, time_s[-1], step).tolist():
        clock = pd.Timestamp(moment, unit="s", tz="UTC").tz_convert(zone)
        yield (
            f'<line x1="{x(moment):.1f}" x2="{x(moment):.1f}" y1="{_HEIGHT - _BOTTOM}" '
            f'y2="{_HEIGHT - _BOTTOM + 4}" stroke="#333333"/>'
            f'<text x="{x(moment):.1f}" y="{_HEIGHT - _BOTTOM + 16}" text-anchor="middle">'
            f"{clock:%H:%M}</text>"
        )


def _unbroken(moments: Floats, starts: Floats, ends: Floats) -> Iterator[tuple[int, int]]:
    """Stretches of moments outside the gaps."""
    inside = np.zeros(len(moments), bool)
    for start, end in zip(starts, ends, strict=True):
        inside |= (moments > start) & (moments < end)
    bounds = np.flatnonzero(np.diff(np.concatenate([[True], inside, [True]]).astype(np.int8)))
    yield from zip(bounds[::2].tolist(), bounds[1::2].tolist(), strict=True)
