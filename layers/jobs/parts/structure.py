"""The bottom of an area: its grids opened, its structure found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.settings import reading_of
from layers.jobs.progress import Step
from layers.present import Tables
from seabed.errors import GridError
from seabed.grid import degree_bounds
from seabed.loaders import Surface, open_surface, read_hazards
from seabed.schema import joined_tables
from seabed.structure import Bottom, Search, find_bottom
from seabed.structure.calm.noise import NoiseSettings
from seabed.units import LENGTH

STRUCTURE_STEPS = 5
"""Of reading a grid and finding its structure."""

DEEPEST_M = 11_100.0

POINT_TABLES: Final = {".xyz", ".csv", ".txt", ".dat", ".tsv", ".pts"}
"""Files that are read whole: a point a line."""

LEAST_CELLS = 3  # slope takes a cell and those around it


@dataclass(frozen=True, slots=True)
class Structure:
    """The bottom of an area.

    grid: depth grid.
    contours, band, edges, features: in the grid's CRS; `features` are humps and holes.  The
        contours of a large grid come in several tables.
    bottom: all that was looked for, banks, channels and sand waves too.
    """

    grid: xr.DataArray
    contours: Tables
    band: gpd.GeoDataFrame
    edges: gpd.GeoDataFrame
    features: gpd.GeoDataFrame
    bottom: Bottom

    @property
    def layers(self) -> dict[str, Tables]:
        """Every table by name."""
        return {
            "contours": self.contours,
            "band": self.band,
            "edges": self.edges,
            "features": self.features,
        }

    @property
    def on_map(self) -> dict[str, Any]:
        """Grid and tables as the map takes them."""
        return {"grid": self.grid, **self.layers}


def open_area_grid(
    area: Area,
    sources: Sequence[str | Path] = (),
) -> xr.DataArray:
    """Open the depths alone, as `open_area_surface`."""
    surface = open_area_surface(area, sources, with_uncertainty=False)
    return surface.depth


def open_area_surface(
    area: Area,
    sources: Sequence[str | Path] = (),
    *,
    with_uncertainty: bool = True,
) -> Surface:
    """Open the grids that are named, else the area's own, as one, with their uncertainty.

    Raises GridError for no grid, one that can't be read, a mere strip, or depths beyond any sea.
    """
    files = list(sources) or list(area.grid.files)
    if not files:
        raise GridError(
            "no depth grid is named",
            file=area.file,
            do="Name one with {grid.files}.",
        )
    surface = open_surface(
        files,
        **reading_of(area),
        with_uncertainty=with_uncertainty,
    )
    check_size(surface.depth.shape, files[0])
    check_deepest(float(surface.depth.max()), files[0])
    return surface


def check_size(shape: Sequence[int], source: str | Path) -> None:
    """Refuse a grid that is no more than a strip."""
    rows, columns = shape
    if min(rows, columns) < LEAST_CELLS:
        raise GridError(
            f"{rows} rows of {columns} cells are too few to show the bottom",
            file=source,
            do=f"Give a grid or a box of {LEAST_CELLS} cells or more each way.",
        )


def check_deepest(deepest_m: float, source: str | Path) -> None:
    """Refuse a grid that is deeper than any sea."""
    if deepest_m > DEEPEST_M:
        raise GridError(
            f"a depth of {deepest_m:,.0f} m is deeper than any sea",
            file=source,
            do="Perhaps its void number is not declared, or its unit is another: {unit}.",
        )


def find_structure(
    grid: xr.DataArray,
    area: Area,
    step: Step = lambda doing: None,
    *,
    bottom: Bottom | None = None,
) -> Structure:
    """Find contours, band, edges, humps and holes by the area's settings, or use a `bottom`."""
    bottom = bottom or find_bottom(grid, search_of(area))
    step("tracing contours")
    tables = [*bottom.contours()]
    lines = joined_tables(tables)
    lines.attrs["left_out"] = sum(table.attrs["left_out"] for table in tables)
    step("outlining the depth band")
    band = bottom.band
    step("finding edges")
    edges = bottom.edges
    step("finding humps and holes")
    return Structure(grid, lines, band, edges, bottom.features, bottom)


def search_of(area: Area) -> Search:
    """Give what an area looks for on the bottom."""
    wanted = area.structure
    return Search(
        contours_m=area.depths.contours_m,
        contour_unit_m=LENGTH[area.units.depth],
        band_m=area.depths.band_m,
        edge_scale_m=wanted.edge_scale_m,
        edge_min_length_m=wanted.edge_min_length_m,
        edge_min_drop_m=wanted.edge_min_drop_m,
        hump_min_height_m=wanted.hump_min_height_m,
        noise=NoiseSettings.of(wanted.significance, wanted.noise_m),
    )


def hazards_of(area: Area, grid: xr.DataArray) -> gpd.GeoDataFrame | None:
    """Read the hazards of the area's charts on the grid's ground; None where it names no chart."""
    if not area.charts.files:
        return None
    return read_hazards(list(area.charts.files), box=degree_bounds(grid))
