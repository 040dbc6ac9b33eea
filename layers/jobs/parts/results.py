"""What the results of several jobs have in common: the frame of their maps, and their marks."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd

from layers.area import Area
from layers.maps import Basemap, MapContent
from layers.present import Marks, write_marks


def basemap_of(area: Area) -> Basemap | None:
    """Give the area's base map; None if it names none."""
    return Basemap(area.map.basemap, area.map.basemap_credit) if area.map.basemap else None


def basemap_warnings(area: Area) -> tuple[str, ...]:
    """Say who learns what from the area's base map; nothing where there is none."""
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
) -> Marks:
    """Write marks for the plotter in the area's unit and length of names, as `write_marks`."""
    return write_marks(
        path, lines, edges, features, title=title, name_length=area.marks.name_length,
        depth_unit=area.units.depth, warnings=warnings,
    )  # fmt: skip
