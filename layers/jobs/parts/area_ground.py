"""The ground of an area, as its files show it, kept for the next job on the same files.

A process that does one job after another, as the desk's does, reads and searches the ground once.
"""

from __future__ import annotations

import os
from functools import cached_property
from typing import Any

import geopandas as gpd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.structure import (
    Structure,
    find_structure,
    hazards_of,
    open_area_surface,
    search_of,
)
from layers.jobs.progress import Step
from seabed.loaders import Surface
from seabed.structure import Bottom, find_bottom
from seabed.tables.spreadsheets import split_sheet


class AreaGround:
    """What an area's files say of the ground; each part is worked out when it is first asked for.

    step: called with the work that begins.
    """

    def __init__(self, area: Area, step: Step = lambda doing: None) -> None:
        self.area = area
        self.step = step

    @cached_property
    def surface(self) -> Surface:
        """Depths, with their uncertainty."""
        return open_area_surface(self.area)

    @property
    def grid(self) -> xr.DataArray:
        """Depths alone."""
        return self.surface.depth

    @cached_property
    def hazards(self) -> gpd.GeoDataFrame | None:
        """Hazards of the charts; None where no chart is named."""
        return hazards_of(self.area, self.grid)

    @cached_property
    def bottom(self) -> Bottom:
        """All that can be looked for on the bottom."""
        return find_bottom(self.grid, search_of(self.area))

    @cached_property
    def structure(self) -> Structure:
        """Contours, band, edges, humps and holes."""
        return find_structure(self.grid, self.area, self.step, bottom=self.bottom)


def area_ground(area: Area, step: Step = lambda doing: None) -> AreaGround:
    """Give the ground of an area: the last one again, where its files and settings are the same."""
    files = [*area.grid.files, *area.charts.files]
    sections = area.grid, area.charts, area.depths, area.structure, area.units
    key = (sections, [stamp_of(path) for path in files])
    if not _last or _last[0][0] != key:
        _last[:] = [(key, AreaGround(area))]
    ground = _last[0][1]
    ground.area, ground.step = area, step
    return ground


_last: list[tuple[Any, AreaGround]] = []


def bottom_of(area: Area, step: Step) -> tuple[Structure | None, gpd.GeoDataFrame | None]:
    """Find the structure, and read the hazards, where the area has a grid."""
    if not area.grid.files:
        return None, None
    ground = area_ground(area, step)
    hazards = ground.hazards
    return ground.structure, hazards


def stamp_of(path: Any) -> Any:
    """Tell one state of a file and of those beside it, as a chart's updates, from another.

    None, words and addresses of the network stand for themselves.
    """
    try:
        file = split_sheet(path)[0]
        with os.scandir(file.parent) as folder:
            found = [one for one in folder if one.name.startswith(f"{file.stem}.")]
        states = [(one.name, one.stat()) for one in sorted(found, key=lambda one: one.name)]
    except (OSError, TypeError):
        return path
    return str(file), tuple((name, of.st_mtime_ns, of.st_size, of.st_ino) for name, of in states)
