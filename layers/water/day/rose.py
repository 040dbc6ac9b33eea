"""The current by hour of the tide as a rose: a picture, and arrows for the map."""

from __future__ import annotations

from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

from layers.cautions import CAUTIONS_SHORT
from seabed.geodesy import ahead
from seabed.markup import markup_text
from seabed.units import convert

__all__ = ["rose_lines", "rose_picture"]

SIZE: Final = 480
RADIUS: Final = 170


def rose_lines(
    by_hour: pd.DataFrame, centre: tuple[float, float], *, seconds: float = 3600.0
) -> gpd.GeoDataFrame:
    """Arrows of the current for the map, from the middle of the drifts.

    Parameters
    ----------
    by_hour : DataFrame
        As `LearnedCurrent.by_hour` gives it.
    centre : (longitude, latitude)
        Degrees.
    seconds : float
        Each arrow is as long as the water runs in that time: an hour.

    Returns
    -------
    GeoDataFrame, EPSG:4326
        ``hours_from_high``, ``speed_mps``, ``toward_deg``, ``low_mps``, ``high_mps``, geometry
        LineString.  Hours that are not known have no arrow.
    """
    known = by_hour[np.isfinite(by_hour["speed_mps"]) & (by_hour["words"] == "")]
    geometry = []
    for _, row in known.iterrows():
        end = ahead(*centre, row["toward_deg"], max(row["speed_mps"] * seconds, 0.01))
        geometry.append(LineString([centre, end]))
    names = ["hours_from_high", "speed_mps", "toward_deg", "low_mps", "high_mps"]
    return gpd.GeoDataFrame(known[names].reset_index(drop=True), geometry=geometry, crs="EPSG:4326")


def rose_picture(by_hour: pd.DataFrame, *, title: str, speed_unit: str = "kn") -> str:
    """Draw the rose: an arrow an hour, north up, longest the fastest; an SVG document."""
    speed = np.array([convert(value, speed_unit) for value in by_hour["speed_mps"]])
    top = float(np.nanmax(speed)) if np.isfinite(speed).any() else 1.0
    middle = SIZE / 2
    parts = [
        f'<circle cx="{middle}" cy="{middle}" r="{RADIUS * share:.0f}" fill="none" '
        f'stroke="#cccccc"/><text x="{middle - RADIUS * share * 0.707:.0f}" '
        f'y="{middle + RADIUS * share * 0.707:.0f}" fill="#777777" text-anchor="end" '
        f'font-size="11">{top * share:.1f} {markup_text(speed_unit)}</text>'
        for share in (0.5, 1.0)
    ]
    parts.append(f'<text x="{middle - 5}" y="{middle - RADIUS - 30}">N</text>')
    for hour, toward, value, words in zip(
        by_hour["hours_from_high"], by_hour["toward_deg"], speed, by_hour["words"], strict=True
    ):
        if np.isfinite(value) and not words:
            parts.append(_arrow(float(hour), float(toward), RADIUS * float(value) / top))
    unknown = by_hour.loc[by_hour["words"] != "", "hours_from_high"]
    told = ", ".join(f"{hour:+.0f}" for hour in unknown) or "none"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIZE} {SIZE + 30}" '
        f'width="{SIZE}" height="{SIZE + 30}" font-family="sans-serif" font-size="13">\n'
        f'<rect width="{SIZE}" height="{SIZE + 30}" fill="#ffffff"/>\n'
        f'<text x="12" y="24" font-size="16">{markup_text(title)}</text>\n'
        + "\n".join(parts)
        + f'\n<text x="12" y="{SIZE - 14}" font-size="12">Numbers are hours from high water. Not '
        f"known: {told}.</text>\n"
        f'<text x="12" y="{SIZE + 8}" font-size="11" fill="#555555">'
        f"{markup_text(CAUTIONS_SHORT)}</text>"
        "\n</svg>\n"
    )


def _arrow(hour: float, toward: float, length: float) -> str:
    middle, angle = SIZE / 2, np.radians(toward)
    colour = "#1f5f8b" if hour < 0 else "#b0413e"
    x, y = (
        middle + (length + 12) * np.sin(angle) - 8,
        middle - (length + 12) * np.cos(angle) + 4,
    )
    return (
        f'<g transform="translate({middle},{middle}) rotate({toward:.0f})" stroke="{colour}" '
        f'fill="none" stroke-width="2"><path d="M0,0 L0,{-length:.1f} M-5,{8 - length:.1f} '
        f'L0,{-length:.1f} L5,{8 - length:.1f}"/></g>'
        f'<text x="{x:.0f}" y="{y:.0f}" font-size="12" fill="{colour}">{hour:+.0f}</text>'
    )
