"""The current by hour of the tide as a rose: a picture, and arrows for the map."""

from __future__ import annotations

from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

from layers.cautions import CAUTIONS_SHORT
from layers.present.looks import INKS, MARKS
from layers.present.pictures.drawing import Disc, Drawing, Part, Words, arrow, svg
from seabed.geodesy import ahead
from seabed.schema import Table
from seabed.units import convert

ROSE: Final = Table.of(
    "rose",
    "layers.present.pictures.rose.rose_lines",
    """
    hours_from_high ["Hours from high water" .1] of the arrow
    speed_mps of the water
    toward_deg ["Toward"] where it runs
    low_mps, high_mps speeds between which it is, 9 times of 10
    geometry [LineString] from the middle of the drifts
    """,
)

SIZE: Final = 480.0
MIDDLE: Final = SIZE / 2
RADIUS: Final = 170.0


def rose_lines(
    by_hour: pd.DataFrame, centre: tuple[float, float], *, seconds: float = 3600.0
) -> gpd.GeoDataFrame:
    """Give arrows of the current by known hour for the map, from the middle of the drifts.

    Each is as long as the water runs in so many seconds.
    """
    known = by_hour[np.isfinite(by_hour["speed_mps"]) & (by_hour["words"] == "")]
    known = known.reset_index(drop=True)
    ways = zip(known["toward_deg"], known["speed_mps"], strict=True)
    ends = [ahead(*centre, toward, max(speed * seconds, 0.01)) for toward, speed in ways]
    return ROSE.frame(known.assign(geometry=[LineString([centre, end]) for end in ends]))


def rose_picture(by_hour: pd.DataFrame, *, title: str, speed_unit: str = "kn") -> str:
    """Draw an arrow an hour, north up, dashed before high water as on the map; an SVG document."""
    speed = convert(by_hour["speed_mps"].to_numpy(float), speed_unit)
    top = float(np.nanmax(speed)) if np.isfinite(speed).any() else 1.0
    parts: list[Part] = [Words(12, 24, title, 16)]
    for share in (0.5, 1.0):
        reach = RADIUS * share
        words = f"{top * share:.1f} {speed_unit}"
        parts += [
            Disc(MIDDLE, MIDDLE, reach, "none", 1, INKS["line"]),
            Words(MIDDLE - reach * 0.707, MIDDLE + reach * 0.707, words, 11, "end",
                  colour=INKS["soft"]),
        ]  # fmt: skip
    parts.append(Words(MIDDLE, MIDDLE - RADIUS - 30, "N", 13, "middle"))
    for hour, toward, value, words in zip(
        by_hour["hours_from_high"], by_hour["toward_deg"], speed, by_hour["words"], strict=True
    ):
        if np.isfinite(value) and not words:
            parts += _hour(float(hour), float(toward), RADIUS * float(value) / top)
    unknown = by_hour.loc[by_hour["words"] != "", "hours_from_high"]
    missing = ", ".join(f"{hour:+.0f}" for hour in unknown) or "none"
    parts += [
        Words(12, SIZE - 30, "Numbers are hours from high water; arrows before it are dashed.", 12),
        Words(12, SIZE - 14, f"Not known: {missing}.", 12),
        Words(12, SIZE + 8, CAUTIONS_SHORT, 11, colour=INKS["soft"]),
    ]
    return svg(Drawing(SIZE, SIZE + 30, parts, title, "px"), alone=True)


def _hour(hour: float, toward: float, length: float) -> list[Part]:
    turn, colour = np.radians(toward), MARKS["current"].colour
    x, y = MIDDLE + (length + 12) * np.sin(turn), MIDDLE - (length + 12) * np.cos(turn) + 4
    dash = (6, 4) if hour < 0 else ()
    return [
        *arrow((MIDDLE, MIDDLE), toward, length, head=7.0, width=2.0, dash=dash),
        Words(float(x), float(y), f"{hour:+.0f}", 12, "middle", colour=colour),
    ]
