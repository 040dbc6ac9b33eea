"""The online base map that the user named, with its warning."""

from __future__ import annotations

from layers.area import Area
from layers.maps import Basemap

__all__ = ["basemap_of", "basemap_warnings"]


def basemap_of(area: Area) -> Basemap | None:
    """Give the area's base map; None if it names none."""
    return Basemap(area.map.basemap, area.map.basemap_credit) if area.map.basemap else None


def basemap_warnings(area: Area) -> tuple[str, ...]:
    """Say who learns what from the area's base map; nothing where there is none."""
    basemap = basemap_of(area)
    return () if basemap is None else (basemap.warning,)
