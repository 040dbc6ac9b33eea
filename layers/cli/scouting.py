"""What ``scout`` computes and writes: the structure of the bottom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import pandas as pd
import xarray as xr

from layers.area import Area
from layers.cli.progress import Step
from layers.exports import write_geopackage, write_marks, write_table_csv
from layers.maps import MapContent, write_map
from seabed.errors import GridError, SeabedError
from seabed.grid import Bounds
from seabed.loaders import open_grid
from seabed.structure import contours, depth_band, edges, holes, humps

__all__ = [
    "SCOUT_STEPS",
    "Structure",
    "find_structure",
    "open_area_grid",
    "parse_box",
    "scout_files",
    "write_scout",
]

SCOUT_STEPS = 9

DEEPEST_M = 11_100.0

LEAST_CELLS = 3  # slope takes a cell and those around it


@dataclass(frozen=True, slots=True)
class Structure:
    """The bottom of an area.

    Attributes
    ----------
    grid : depth grid
    contours, band, edges, features : GeoDataFrame
        In the grid's CRS; `features` are humps and holes.
    """

    grid: xr.DataArray
    contours: gpd.GeoDataFrame
    band: gpd.GeoDataFrame
    edges: gpd.GeoDataFrame
    features: gpd.GeoDataFrame

    @property
    def layers(self) -> dict[str, gpd.GeoDataFrame]:
        """Every table by name."""
        return {
            "contours": self.contours,
            "band": self.band,
            "edges": self.edges,
            "features": self.features,
        }


def open_area_grid(
    area: Area,
    sources: Sequence[str | Path] = (),
    *,
    box: Bounds | None = None,
    variable: str | None = None,
) -> xr.DataArray:
    """Open the grids that are named, else the area's own, as one.

    Raises
    ------
    GridError
        If neither names one, they can't be read, are no more than a strip, or are
        deeper than any sea.
    """
    files = list(sources) or list(area.grid.files)
    if not files:
        raise GridError(
            "no depth grid is named",
            file=area.file,
            do="Name one on the command line, or under [grid] files in the area file.",
        )
    source = area.grid
    grid = open_grid(
        files,
        box=box,
        crs=source.crs or None,
        sign=source.sign,  # type: ignore[arg-type]
        unit=source.unit,
        vertical_datum=source.vertical_datum or None,
        offset_m=source.offset_m,
        variable=variable,
    )
    if min(grid.shape) < LEAST_CELLS:
        rows, columns = grid.shape
        raise GridError(
            f"{rows} rows of {columns} cells are too few to show the bottom",
            file=files[0],
            do=f"Give a grid or a box of {LEAST_CELLS} cells or more each way.",
        )
    deepest = float(grid.max())
    if deepest > DEEPEST_M:
        raise GridError(
            f"a depth of {deepest:,.0f} m is deeper than any sea",
            file=files[0],
            do="Its number for no depth is perhaps not declared, or the unit is another: --unit.",
        )
    return grid


def find_structure(grid: xr.DataArray, area: Area, step: Step = lambda doing: None) -> Structure:
    """Find contours, the depth band, edges, humps and holes by the area's settings."""
    wanted, band = area.structure, area.depths.band_m
    step("tracing contours")
    lines = contours(grid, list(area.depths.contours_m))
    step("outlining the depth band")
    ground = depth_band(grid, *band)
    step("finding edges")
    found = edges(
        grid,
        scale_m=wanted.edge_scale_m,
        band=band,
        min_length_m=wanted.edge_min_length_m,
        min_drop_m=wanted.edge_min_drop_m,
    )
    step("finding humps and holes")
    highs = humps(grid, min_height_m=wanted.hump_min_height_m)
    lows = holes(grid, min_height_m=wanted.hump_min_height_m)
    return Structure(grid, lines, ground, found, together([highs, lows]))


def together(tables: Sequence[gpd.GeoDataFrame]) -> gpd.GeoDataFrame:
    """Put tables of the same columns one below the other, empty ones too."""
    filled = [table for table in tables if len(table)]
    if not filled:
        return tables[0]
    return gpd.GeoDataFrame(pd.concat(filled, ignore_index=True), crs=tables[0].crs)


def parse_box(words: str | None) -> Bounds | None:
    """Read ``west,south,east,north`` in degrees; a west beyond the east is refused.

    Raises
    ------
    SeabedError
        If it is not four numbers in that order.
    """
    if words is None:
        return None
    try:
        west, south, east, north = (float(word) for word in words.split(","))
    except ValueError as error:
        raise _bad_box(words) from error
    if not (-180 <= west < east <= 360 and -90 <= south < north <= 90):
        raise _bad_box(words)
    return Bounds(west, south, east, north)


def scout_files(out: Path) -> dict[str, Path]:
    """Files that `write_scout` makes in a folder, by name."""
    return {
        "map": out / "map.html",
        "marks": out / "marks.gpx",
        "structure": out / "structure.gpkg",
        "edges": out / "edges.csv",
        "features": out / "humps_and_holes.csv",
    }


def write_scout(
    out: Path, structure: Structure, area: Area, step: Step = lambda doing: None
) -> dict[str, Path]:
    """Write the structure as GeoPackage, GPX, CSV and map into a folder; give the files by name."""
    files = scout_files(out)
    step("writing layers and marks")
    write_geopackage(files["structure"], structure.layers)
    write_table_csv(files["edges"], structure.edges)
    write_table_csv(files["features"], structure.features)
    write_marks(
        files["marks"],
        None,
        structure.edges,
        structure.features,
        name_length=area.marks.name_length,
        depth_unit=area.units.depth,
        title=area.name or "Structure of the bottom",
    )
    step("drawing the map")
    write_map(
        files["map"],
        MapContent(
            grid=structure.grid,
            units=area.units,
            title=area.name or "Structure of the bottom",
            timezone=area.timezone,
            contours=structure.contours,
            band=structure.band,
            edges=structure.edges,
            features=structure.features,
        ),
    )
    return files


def _bad_box(words: str) -> SeabedError:
    return SeabedError(
        f"{words!r} is no box",
        where="--box",
        do="Write west,south,east,north in degrees: -33.42,46.19,-33.40,46.21.",
    )
