"""A picture of speed against time with the pieces, to see why a track was cut as it was."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.present.looks import INKS, MARKS, tint
from layers.present.pictures.drawing import (
    Box,
    Drawing,
    Part,
    Placing,
    Stroke,
    Words,
    known_runs,
    svg,
)
from layers.tracks import CutSettings
from layers.tracks.motion import local_lines, noise_of, seconds_of, smoothing_s
from seabed.array_types import Floats
from seabed.geodesy import local_metres
from seabed.units import convert

WIDTH: Final = 1200.0
LEFT, RIGHT, TOP, BOTTOM = 50.0, WIDTH - 15.0, 34.0, 190.0
HEIGHT: Final = 220.0  # of one outing
MOST_POINTS: Final = 2000
PALE: Final = 0.65
"""White in the colour of a piece, so that the line over it is seen."""
MARKED: Final = (0.5, 1, 2, 5, 10, 20, 30, 50)


def speed_picture(
    pieces: gpd.GeoDataFrame,
    fixes: pd.DataFrame,
    *,
    settings: CutSettings | None = None,
    timezone: str = "UTC",
    unit: str = "kn",
) -> str:
    """Draw speed over the ground against time, a strip an outing, as a whole SVG document.

    Pieces are coloured by kind, drifts numbered in their outing; dashes show the slowest and
    fastest drift.  The scale is of square roots, so that drifts show beside runs.
    """
    settings = settings or CutSettings()
    between = [convert(bound, unit) for bound in settings.drift_speed_mps]
    parts: list[Part] = []
    outings = [own for _, own in pieces.groupby("outing", sort=True)]
    for number, own in enumerate(outings):
        part = fixes.iloc[int(own["first_fix"].iloc[0]) : int(own["last_fix"].iloc[-1]) + 1]
        time_s = seconds_of(part["time"])
        moments, speed = _speeds(part, time_s)
        speed = convert(speed, unit)
        top, fastest = number * HEIGHT, 1.05 * max(float(speed.max()), between[1])
        strip = _Strip(
            own,
            Placing(float(time_s[0]), float(time_s[-1]), LEFT, RIGHT),
            Placing(0.0, fastest, top + BOTTOM, top + TOP, root=True),
        )
        zone = ZoneInfo(timezone)
        parts += [
            *strip.pieces(),
            Words(8, top + TOP - 5, unit, 11),
            *strip.speeds(between),
            *strip.times(zone),
            Words(LEFT, top + 14, _heading(part, zone), 11, bold=True),
            *strip.line(moments, speed),
        ]
    label = "Speed over the ground against time, with the pieces of the track"
    return svg(Drawing(WIDTH, max(1, len(outings)) * HEIGHT, parts, label, "px"), alone=True)


@dataclass(frozen=True, slots=True)
class _Strip:
    """The strip of one outing: its pieces, and the scales of its times and speeds."""

    own: gpd.GeoDataFrame
    x: Placing
    y: Placing

    def line(self, moments: Floats, speed: Floats) -> Iterator[Part]:
        """Draw the speed, apart at gaps."""
        gaps = self.own[self.own["kind"] == "gap"]
        lost = np.zeros(len(moments), bool)
        for start, end in zip(seconds_of(gaps["start"]), seconds_of(gaps["end"]), strict=True):
            lost |= (moments > start) & (moments < end)
        for points in known_runs(self.x(moments), np.where(lost, np.nan, self.y(speed))):
            yield Stroke(points, 1, INKS["ink"])

    def pieces(self) -> Iterator[Part]:
        number = 0
        starts, ends = seconds_of(self.own["start"]), seconds_of(self.own["end"])
        for kind, start, end in zip(self.own["kind"], starts, ends, strict=True):
            left, right = float(self.x(start)), float(self.x(end))
            look, gap = MARKS[kind], kind == "gap"
            yield Box(
                left, self.y.end, right - left, BOTTOM - TOP,
                fill=INKS["paper"] if gap else tint(look.colour, PALE),
                line=float(gap), colour=look.colour, dash=(3, 3) if gap else (),
                title=f"{kind}, {(end - start) / 60:.1f} min",
            )  # fmt: skip
            number += kind == "drift"
            label = f"#{number}" if kind == "drift" else kind
            if right - left > 7 * len(label):
                yield Words((left + right) / 2, self.y.end - 5, label, 11, "middle")

    def speeds(self, between: Sequence[float]) -> Iterator[Part]:
        """Mark round speeds, and by dashes those between which a drift is."""
        last = float("inf")
        for mark in MARKED:
            y = float(self.y(mark))
            if mark < self.y.high and last - y > 10:
                last = y
                yield Words(LEFT - 6, y + 4, f"{mark:g}", 11, "end")
                yield Stroke([(LEFT - 3, y), (LEFT, y)], 1)
        for bound in between:
            y = float(self.y(bound))
            yield Stroke([(LEFT, y), (RIGHT, y)], 1, MARKS["drift"].colour, (5, 4))

    def times(self, zone: ZoneInfo) -> Iterator[Part]:
        first, last = self.x.low, self.x.high
        steps = (60, 300, 600, 1800, 3600, 7200)
        step = next((s for s in steps if (last - first) / s <= 14), 14400)
        for moment in np.arange(np.ceil(first / step) * step, last, step).tolist():
            clock = pd.Timestamp(moment, unit="s", tz="UTC").tz_convert(zone)
            x, y = float(self.x(moment)), self.y.start
            yield Stroke([(x, y), (x, y + 4)], 1)
            yield Words(x, y + 16, f"{clock:%H:%M}", 11, "middle")


def _heading(part: pd.DataFrame, zone: ZoneInfo) -> str:
    """Give the day of an outing, and its files."""
    files = pd.unique(part["file"]) if "file" in part else ()
    names = ", ".join(Path(str(name)).name for name in files)
    return f"{part['time'].iloc[0].tz_convert(zone):%Y-%m-%d}  {names}"


def _speeds(part: pd.DataFrame, time_s: Floats) -> tuple[Floats, Floats]:
    """Moments and smoothed speeds, m/s."""
    x, y = local_metres(part["longitude"].to_numpy(), part["latitude"].to_numpy())
    half_s = smoothing_s(time_s, noise_of(time_s, x, y))
    moments = np.linspace(time_s[0], time_s[-1], min(MOST_POINTS, 4 * len(time_s)))
    _, _, vx, vy = local_lines(time_s, x, y, moments, half_s)
    return moments, np.hypot(vx, vy)
