"""The online base map that the user named, with the warning."""

from __future__ import annotations

import typer

from layers.area import Area
from layers.maps import Basemap

__all__ = ["basemap_of"]


def basemap_of(area: Area) -> Basemap | None:
    """Give the area's base map, and say on screen who learns what; None if it names none."""
    if not area.map.basemap:
        return None
    basemap = Basemap(area.map.basemap, area.map.basemap_credit)
    typer.echo(basemap.warning, err=True)
    return basemap
