"""What the results of several jobs have in common: the frame of their maps, and their marks."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd

from layers.area import Area
from layers.jobs.parts.area_water import currents_of, heights_of
from layers.maps import Basemap, MapContent, MapWater, water_of_day
from layers.present import GpxContent, write_marks
from layers.water import FixedWind, leeway_of
from layers.water.times import day_bounds


def basemap_of(area: Area) -> Basemap | None:
    """Give the area's base map; None if it names none."""
    return Basemap(area.map.basemap, area.map.basemap_credit) if area.map.basemap else None


def basemap_warnings(area: Area) -> tuple[str, ...]:
    """Say who learns what from the area's base map; nothing if there is none."""
    basemap = basemap_of(area)
    return () if basemap is None else (basemap.warning,)


def area_map(area: Area, title: str, **layers: Any) -> MapContent:
    """Put layers, as `MapContent` takes them, on a map in the area's units and zone."""
    return MapContent(
        basemap=basemap_of(area), units=area.units, title=title, timezone=area.timezone, **layers
    )


def write_area_marks(
    path: Path,
    area: Area,
    title: str,
    lines: gpd.GeoDataFrame | None = None,
    *,
    edges: gpd.GeoDataFrame | None = None,
    features: gpd.GeoDataFrame | None = None,
    warnings: Sequence[str] = (),
) -> GpxContent:
    """Write marks for the plotter in the area's unit and length of names, as `write_marks`."""
    return write_marks(
        path, lines, edges, features, title=title, name_length=area.marks.name_length,
        depth_unit=area.units.depth, warnings=warnings, symbols=area.marks.symbols,
    )  # fmt: skip


def map_water(
    area: Area, day: pd.Timestamp, *, longitude: float, latitude: float
) -> MapWater | None:
    """Sample the area's water and wind over the local day of `day` (UTC); None without a source."""
    heights, currents = heights_of(area), currents_of(area)
    if heights is None and currents is None:
        return None
    start, end = day_bounds(day.tz_convert(area.timezone).date(), area.timezone)
    return water_of_day(
        start,
        end,
        heights=heights,
        currents=currents,
        longitude=longitude,
        latitude=latitude,
        wind=FixedWind(area.wind.speed_mps, area.wind.from_deg),
        leeway=leeway_of(area.boat.craft),
    )
