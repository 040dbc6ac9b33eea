"""A picture of own soundings: the lines over the depths, the crossovers, how sure the grid is."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from numpy.typing import NDArray
from PIL import Image
from shapely import LineString

from layers.present.soundings_legend import (
    ASIDE,
    INSIDE,
    NEXT,
    OUTSIDE,
    legend,
    meanings,
    ruler,
)
from seabed.geodesy import from_degrees
from seabed.grid import Bounds, bounds, cell_size, crs_of
from seabed.grid.places import turned_onto
from seabed.markup import markup_text
from seabed.soundings.orders import ORDER_1A
from seabed.units import format_quantity

__all__ = ["soundings_picture"]

WIDTH, PANEL, MOST_HEIGHT, TOP, GAP = 1240, 590, 760, 64, 20
MOST_POINTS: Final = 12_000
MOST_CROSSOVERS: Final = 1_500
DEPTH_SHADES: Final = ("#f2f0e4", "#bfdcd6", "#7fb5c4", "#3f7fa6", "#1d4470")
SURE_SHADES: Final = ("#1a7f5a", "#8cc084", "#f4e3a1", "#e39a5b", "#b3402f")
LABEL_HEIGHT: Final = 13
HALO: Final = 'paint-order="stroke" stroke="#ffffff" stroke-width="3" stroke-opacity="0.8"'

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Frame:
    """From degrees to places in a panel."""

    box: Bounds
    scale: tuple[float, float]
    left: float
    top: float
    to_grid: Any
    geographic: bool

    def places(self, longitude: Floats, latitude: Floats) -> tuple[Floats, Floats]:
        """Give x and y in the picture."""
        x, y = self.to_grid.transform(longitude, latitude)
        x, y = np.asarray(x, float), np.asarray(y, float)
        if self.geographic:
            x = turned_onto(x, self.box)
        return (
            self.left + (x - self.box.west) * self.scale[0],
            self.top + (self.box.north - y) * self.scale[1],
        )


def soundings_picture(
    soundings: pd.DataFrame,
    crossovers: pd.DataFrame,
    depth: xr.DataArray,
    uncertainty: xr.DataArray,
    proposals: gpd.GeoDataFrame | None = None,
    *,
    title: str,
    depth_unit: str = "m",
    distance_unit: str = "m",
) -> str:
    """Draw an SVG of two panels, north up, that loads nothing from outside.

    On the left the grid's depths, the lines sounded (flagged soundings as dots) and the
    crossovers, green where both agree as IHO S-44 order 1a allows, else red.  On the right the
    grid's uncertainty, and the lines to sound next.

    Parameters
    ----------
    soundings : DataFrame
        `seabed.soundings.SOUNDINGS`.
    crossovers : DataFrame
        `seabed.soundings.CROSSOVERS`.
    depth, uncertainty : DataArray, on the same cells
        Of the ground to show.
    proposals : GeoDataFrame, optional
        Lines to sound next, EPSG:4326, with ``line``.
    title : str
    depth_unit : {"m", "ft", "fm"}
    distance_unit : {"m", "km", "nm", "mi"}

    Returns
    -------
    str
    """
    frames, height = _frames(depth)
    across = (frames[0].box.east - frames[0].box.west) * frames[0].scale[0]
    across_m = _width_m(depth)
    deep = _limits(depth)
    unsure = _limits(uncertainty)
    parts = [
        _raster(frames[0], depth, deep, DEPTH_SHADES, "depth"),
        _raster(frames[1], uncertainty, unsure, SURE_SHADES, "uncertainty"),
        _tracks(frames[0], soundings, "#20242c", 0.9),
        _tracks(frames[1], soundings, "#20242c", 0.45),
        _flagged(frames[0], soundings),
        _crossings(frames[0], crossovers, depth_unit),
        _proposed(frames[1], proposals),
        legend(frames[0].left, TOP + height + 18, deep, DEPTH_SHADES, depth_unit, "depth"),
        legend(
            frames[1].left, TOP + height + 18, unsure, SURE_SHADES, depth_unit,
            "uncertainty, one standard deviation",
        ),
        ruler(frames[0].left, TOP + height, across, across_m, distance_unit),
    ]  # fmt: skip
    total = TOP + height + 156
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {total}" role="img" '
        f'font-family="sans-serif" font-size="14" fill="#20242c">\n'
        f"<title>{markup_text(title)}</title>\n"
        f'<rect width="{WIDTH}" height="{total}" fill="#ffffff"/>\n'
        f'<text x="{GAP}" y="34" font-size="20" font-weight="bold">{markup_text(title)}</text>\n'
        f'<text x="{GAP}" y="54">Lines sounded and crossovers</text>\n'
        f'<text x="{GAP * 2 + PANEL}" y="54">How sure the depths are</text>\n'
        + "\n".join(part for part in parts if part)
        + meanings(GAP, TOP + height + 84)
        + "\n</svg>\n"
    )


def _frames(depth: xr.DataArray) -> tuple[tuple[_Frame, _Frame], int]:
    """Both panels, and their height."""
    box, size = bounds(depth), cell_size(depth)
    width_m = _width_m(depth)
    height_m = float(size.northing.sum())
    across = min(PANEL, MOST_HEIGHT * width_m / height_m)
    height = max(int(across * height_m / width_m), 120)
    across = max(across, 40.0)
    scale = (across / (box.east - box.west), height / (box.north - box.south))
    crs = crs_of(depth)
    to_grid = from_degrees(crs)
    return (
        _Frame(box, scale, GAP, TOP, to_grid, crs.is_geographic),
        _Frame(box, scale, GAP * 2 + PANEL, TOP, to_grid, crs.is_geographic),
    ), height


def _width_m(depth: xr.DataArray) -> float:
    size = cell_size(depth)
    return float(size.easting[len(size.easting) // 2]) * depth.shape[1]


def _limits(values: xr.DataArray) -> tuple[float, float]:
    if not _any(values):
        return 0.0, 1.0
    low, high = (float(np.nanquantile(values, q)) for q in (0.01, 0.99))
    return low, max(high, low + 0.1)


def _any(values: xr.DataArray) -> bool:
    return bool(np.isfinite(values.values).any())


def _raster(
    frame: _Frame, values: xr.DataArray, limits: tuple[float, float], shades: Any, name: str
) -> str:
    step = max(1, int(np.ceil(max(values.shape) / 900)))
    array = values.values[::step, ::step].astype(np.float64)
    share = np.clip((array - limits[0]) / max(limits[1] - limits[0], 1e-9), 0, 1)
    stops = np.array([[int(s[i : i + 2], 16) for i in (1, 3, 5)] for s in shades], float)
    at = np.linspace(0, 1, len(stops))
    known = np.isfinite(share)
    bands = [np.interp(np.where(known, share, 0), at, stops[:, i]) for i in range(3)]
    pixels = np.stack([*bands, np.where(known, 255, 0)], axis=-1).astype(np.uint8)
    png = io.BytesIO()
    Image.fromarray(pixels).save(png, "PNG")
    data = base64.b64encode(png.getvalue()).decode("ascii")
    width = (frame.box.east - frame.box.west) * frame.scale[0]
    height = (frame.box.north - frame.box.south) * frame.scale[1]
    return (
        f'<rect x="{frame.left}" y="{frame.top}" width="{width:.1f}" height="{height:.1f}" '
        'fill="#e3ddcf"/>'
        f'<image x="{frame.left}" y="{frame.top}" width="{width:.1f}" height="{height:.1f}" '
        f'preserveAspectRatio="none" image-rendering="pixelated" '
        f'href="data:image/png;base64,{data}"><title>{name}</title></image>'
    )


def _tracks(frame: _Frame, soundings: pd.DataFrame, colour: str, opacity: float) -> str:
    """One path for each line, of few points."""
    placed = np.flatnonzero(np.isfinite(soundings["longitude"].to_numpy()))
    placed = placed[:: max(1, len(placed) // MOST_POINTS)]
    if not len(placed):
        return ""
    x, y = frame.places(
        soundings["longitude"].to_numpy()[placed], soundings["latitude"].to_numpy()[placed]
    )
    line = soundings["line"].to_numpy()[placed]
    fresh = np.diff(line, prepend=line[0] - 1) != 0
    inside = _inside(frame, x, y)
    fresh |= np.diff(inside, prepend=True)
    words = [
        f"{'M' if new else 'L'}{a:.1f} {b:.1f}"
        for a, b, new, seen in zip(x, y, fresh, inside, strict=True)
        if seen
    ]
    if words and words[0][0] == "L":
        words[0] = "M" + words[0][1:]
    return (
        f'<path d="{"".join(words)}" fill="none" stroke="{colour}" stroke-width="0.7" '
        f'stroke-opacity="{opacity}"/>'
    )


def _inside(frame: _Frame, x: Floats, y: Floats) -> NDArray[np.bool_]:
    right = frame.left + (frame.box.east - frame.box.west) * frame.scale[0]
    bottom = frame.top + (frame.box.north - frame.box.south) * frame.scale[1]
    return (x >= frame.left) & (x <= right) & (y >= frame.top) & (y <= bottom)


def _flagged(frame: _Frame, soundings: pd.DataFrame) -> str:
    rows = np.flatnonzero((soundings["flag"] != "").to_numpy())
    rows = rows[np.isfinite(soundings["longitude"].to_numpy()[rows])]
    rows = rows[:: max(1, len(rows) // 2000)]
    x, y = frame.places(
        soundings["longitude"].to_numpy()[rows], soundings["latitude"].to_numpy()[rows]
    )
    seen = _inside(frame, x, y)
    dots = "".join(f"M{a:.1f} {b:.1f}h0" for a, b in zip(x[seen], y[seen], strict=True))
    if not dots:
        return ""
    return (
        f'<path d="{dots}" stroke="{ASIDE}" stroke-width="2.4" stroke-linecap="round">'
        "<title>soundings set aside</title></path>"
    )


def _crossings(frame: _Frame, table: pd.DataFrame, unit: str) -> str:
    if not len(table):
        return ""
    table = table.iloc[:: max(1, len(table) // MOST_CROSSOVERS)]
    x, y = frame.places(table["longitude"].to_numpy(), table["latitude"].to_numpy())
    off = np.abs(table["difference_m"].to_numpy(np.float64))
    deep = 0.5 * (table["depth_1_m"] + table["depth_2_m"]).to_numpy(np.float64)
    good = off <= np.sqrt(2.0) * ORDER_1A.uncertainty_m(deep)
    return "\n".join(
        f'<circle cx="{a:.1f}" cy="{b:.1f}" r="4" fill="{INSIDE if fit else OUTSIDE}" '
        f'stroke="#ffffff"><title>{format_quantity(d, unit, digits=2)} apart</title></circle>'
        for a, b, fit, d, seen in zip(x, y, good, off, _inside(frame, x, y), strict=True)
        if seen
    )


def _proposed(frame: _Frame, proposals: gpd.GeoDataFrame | None) -> str:
    if proposals is None or not len(proposals):
        return ""
    drawn = []
    taken: list[tuple[float, float, float]] = []
    for name, shape in zip(proposals["line"], proposals.geometry, strict=True):
        x, y = frame.places(*np.array(shape.coords).T[:2])
        if not _inside(frame, x, y).all():
            continue
        points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
        left, base = _free_spot(LineString(np.column_stack([x, y])), str(name), taken)
        drawn.append(
            f'<polyline points="{points}" fill="none" stroke="#ffffff" stroke-width="4" '
            'stroke-opacity="0.8"/>'
            f'<polyline points="{points}" fill="none" stroke="{NEXT}" stroke-width="2" '
            f'stroke-dasharray="7 4"/><text x="{left:.1f}" y="{base:.1f}" font-size="12" '
            f'fill="{NEXT}" {HALO}>{markup_text(str(name))}</text>'
        )
    return "\n".join(drawn)


def _free_spot(
    line: LineString, name: str, taken: list[tuple[float, float, float]]
) -> tuple[float, float]:
    """Where a line's name is on no other name, noted in `taken`; else above its beginning."""
    wide = 7.5 * len(name) + 4
    spots = [
        (place.x, place.y + down)
        for place in (line.interpolate(share, normalized=True) for share in (0, 1, 0.5, 0.25, 0.75))
        for down in (-4, 15)
    ]
    free = [
        (x, y)
        for x, y in spots
        if all(
            x + wide < left or left + other < x or abs(y - base) > LABEL_HEIGHT
            for left, base, other in taken
        )
    ]
    x, y = (free or spots)[0]
    taken.append((x, y, wide))
    return x, y
