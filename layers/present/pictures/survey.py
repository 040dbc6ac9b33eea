"""A picture of own soundings: the lines over the depths, the crossovers, how sure the grid is."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from PIL import Image
from shapely import LineString

from layers.cautions import CAUTIONS
from layers.present.looks import INKS, MARKS, WHITE, channels, shade
from layers.present.pictures.drawing import (
    Box,
    Disc,
    Drawing,
    Part,
    Raster,
    Stroke,
    Words,
    known_runs,
    svg,
)
from seabed.array_types import Floats
from seabed.geodesy import from_degrees
from seabed.grid import Bounds, bounds, cell_size, crs_of
from seabed.grid.places import turned_onto
from seabed.soundings.orders import ORDER_1A
from seabed.units import convert, format_quantity, round_step

WIDTH, PANEL, MOST_HEIGHT, TOP, GAP = 1240.0, 590.0, 760.0, 64.0, 20.0
MOST_POINTS: Final = 12_000
MOST_CROSSOVERS: Final = 1_500
MOST_DOTS: Final = 2_000
LABEL_HEIGHT: Final = 13


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

    soundings, crossovers: as `seabed.soundings` describes them.
    depth, uncertainty: of the ground to show, on the same cells.
    proposals: lines to sound next, EPSG:4326, with ``line``.
    """
    size = cell_size(depth)
    wide_m = float(size.easting[len(size.easting) // 2]) * depth.shape[1]
    high_m = float(size.northing.sum())
    height = max(int(min(PANEL, MOST_HEIGHT * wide_m / high_m) * high_m / wide_m), 120)
    width = max(min(PANEL, MOST_HEIGHT * wide_m / high_m), 40.0)
    deep, sure = (_Panel.of(depth, left, (width, height)) for left in (GAP, GAP * 2 + PANEL))
    foot = TOP + height
    parts = [
        Words(GAP, 34, title, 20, bold=True),
        Words(deep.left, 54, "Lines sounded and crossovers", 14),
        Words(sure.left, 54, "How sure the depths are", 14),
        *deep.raster(depth, "depth", "depth", depth_unit),
        *sure.raster(uncertainty, "doubt", "uncertainty, one standard deviation", depth_unit),
        *deep.tracks(soundings, 0.9),
        *sure.tracks(soundings, 0.45),
        *deep.flagged(soundings),
        *deep.crossings(crossovers, depth_unit),
        *sure.proposed(proposals),
        *_ruler(deep.left, foot, width, wide_m, distance_unit),
        *_meanings(GAP, foot + 84),
    ]
    return svg(Drawing(WIDTH, foot + 156, parts, title, "px"), alone=True)


@dataclass(frozen=True, slots=True)
class _Panel:
    """From degrees to places in a panel."""

    box: Bounds
    left: float
    width: float
    height: float
    to_grid: Any
    geographic: bool

    @classmethod
    def of(cls, grid: xr.DataArray, left: float, size: tuple[float, float]) -> _Panel:
        crs = crs_of(grid)
        return cls(bounds(grid), left, *size, from_degrees(crs), crs.is_geographic)

    def places(self, table: pd.DataFrame) -> tuple[Floats, Floats]:
        """Give x and y of positions; NaN where they are not in the panel."""
        return self.placed(table["longitude"].to_numpy(), table["latitude"].to_numpy())

    def placed(self, longitude: Floats, latitude: Floats) -> tuple[Floats, Floats]:
        east, north = (np.asarray(a, float) for a in self.to_grid.transform(longitude, latitude))
        east = turned_onto(east, self.box) if self.geographic else east
        across = (east - self.box.west) / (self.box.east - self.box.west)
        down = (self.box.north - north) / (self.box.north - self.box.south)
        seen = (across >= 0) & (across <= 1) & (down >= 0) & (down <= 1)
        return (
            np.where(seen, self.left + across * self.width, np.nan),
            np.where(seen, TOP + down * self.height, np.nan),
        )

    def raster(self, values: xr.DataArray, ramp: str, what: str, unit: str) -> Iterator[Part]:
        """Paint a grid in a ramp from its 1st to its 99th hundredth, and beneath it the ramp."""
        known = np.isfinite(values.values)
        low, high = np.nanquantile(values, [0.01, 0.99]).tolist() if known.any() else (0.0, 1.0)
        high = max(high, low + 0.1)
        step = max(1, int(np.ceil(max(values.shape) / 900)))
        share = (values.values[::step, ::step].astype(np.float64) - low) / (high - low)
        yield Box(self.left, TOP, self.width, self.height, fill=INKS["land"])
        yield Raster(self.left, TOP, self.width, self.height, painted(share, ramp), what)
        y = TOP + self.height + 18
        yield Raster(self.left, y, 220, 12, painted(np.linspace(0, 1, 220)[None], ramp))
        low, high = convert(low, unit), convert(high, unit)
        yield Words(self.left, y + 28, f"{low:.1f}", 14)
        yield Words(self.left + 220, y + 28, f"{high:.1f} {unit}", 14, "end")
        yield Words(self.left + 234, y + 11, what, 14)

    def tracks(self, soundings: pd.DataFrame, opacity: float) -> Iterator[Part]:
        placed = soundings[np.isfinite(soundings["longitude"].to_numpy())]
        placed = placed.iloc[:: max(1, len(placed) // MOST_POINTS)]
        x, y = self.places(placed)
        ends = np.flatnonzero(np.diff(placed["line"].to_numpy())) + 1
        for across, down in zip(np.split(x, ends), np.split(y, ends), strict=True):
            for points in known_runs(across, down):
                yield Stroke(points, 0.7, INKS["ink"], opacity=opacity)

    def flagged(self, soundings: pd.DataFrame) -> Iterator[Part]:
        aside = soundings[(soundings["flag"] != "").to_numpy()]
        x, y = self.places(aside.iloc[:: max(1, len(aside) // MOST_DOTS)])
        seen = np.isfinite(x)
        for across, down in zip(x[seen].tolist(), y[seen].tolist(), strict=True):
            yield Disc(across, down, 1.2, MARKS["aside"].colour)

    def crossings(self, table: pd.DataFrame, unit: str) -> Iterator[Part]:
        if not len(table):
            return
        table = table.iloc[:: max(1, len(table) // MOST_CROSSOVERS)]
        off = np.abs(table["difference_m"].to_numpy(np.float64))
        deep = 0.5 * (table["depth_1_m"] + table["depth_2_m"]).to_numpy(np.float64)
        good = off <= np.sqrt(2.0) * ORDER_1A.uncertainty_m(deep)
        for x, y, fit, metres in zip(*self.places(table), good, off, strict=True):
            if np.isfinite(x):
                colour = MARKS["agrees" if fit else "differs"].colour
                apart = f"{format_quantity(metres, unit, digits=2)} apart"
                yield Disc(float(x), float(y), 4, colour, 1, title=apart)

    def proposed(self, proposals: gpd.GeoDataFrame | None) -> Iterator[Part]:
        if proposals is None or not len(proposals):
            return
        colour = MARKS["way"].colour
        taken: list[tuple[float, float, float]] = []
        for name, shape in zip(proposals["line"], proposals.geometry, strict=True):
            x, y = self.placed(*np.array(shape.coords).T[:2])
            if np.isnan(x).any():
                continue
            points = list(zip(x.tolist(), y.tolist(), strict=True))
            left, base = _free_spot(LineString(points), str(name), taken)
            yield Stroke(points, 4, WHITE, opacity=0.8)
            yield Stroke(points, 2, colour, (7, 4))
            yield Words(left, base, str(name), 12, halo=True, colour=colour)


def painted(share: Floats, ramp: str) -> bytes:
    """Paint shares of a ramp as PNG, NaN clear."""
    table = np.array([channels(shade(ramp, step / 255)) for step in range(256)], np.uint8)
    known = np.isfinite(share)
    steps = np.rint(255 * np.clip(np.where(known, share, 0), 0, 1)).astype(int)
    pixels = np.dstack([table[steps], np.where(known, 255, 0).astype(np.uint8)])
    png = io.BytesIO()
    Image.fromarray(pixels).save(png, "PNG")
    return png.getvalue()


def _ruler(left: float, bottom: float, across: float, across_m: float, unit: str) -> Iterator[Part]:
    """Draw a round length of a panel that is so many pixels and metres across."""
    length = round_step(convert(max(across_m / 8, 10.0), unit))
    wide = length / convert(across_m, unit) * across
    left, y = left + 12, bottom - 12
    yield Box(left - 6, y - 22, max(wide, 48) + 12, 29, fill=WHITE, opacity=0.85)
    yield Stroke([(left, y), (left + wide, y)], 3)
    yield Words(left, y - 6, f"{length:g} {unit}", 12)


def _meanings(left: float, top: float) -> Iterator[Part]:
    """Say what each sign means, and beneath it the cautions."""
    for x, look, words in (
        (0, "agrees", "two lines agree as IHO S-44 order 1a allows"),
        (360, "differs", "they don't agree"),
        (540, "aside", "sounding set aside"),
    ):
        yield Disc(left + x + 6, top - 5, 5, MARKS[look].colour, 1)
        yield Words(left + x + 22, top, words, 14)
    ends = [(left + 736, top - 5), (left + 756, top - 5)]
    yield Stroke(ends, 2, MARKS["way"].colour, (7, 4))
    yield Words(left + 762, top, "line to sound next", 14)
    for i, line in enumerate(textwrap.wrap(CAUTIONS, 190)):
        yield Words(left, top + 24 + 16 * i, line, 11.5)


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
