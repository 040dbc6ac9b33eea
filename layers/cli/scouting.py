"""What ``scout`` computes and writes: the structure of the bottom, and where to look first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import xarray as xr

from layers.area import Area
from layers.cli.basemap import basemap_of
from layers.cli.progress import Step
from layers.cli.prospects import PROSPECT_STEPS, Prospects, prospects_of, report_of
from layers.cli.tables import one_table, together
from layers.exports import Tables, write_geopackage, write_marks, write_table_csv
from layers.exports.report import write_report
from layers.maps import MapContent, write_map
from seabed.errors import GridError, SeabedError
from seabed.grid import Bounds
from seabed.loaders import Surface, open_surface
from seabed.structure import contours, depth_band, edges, holes, humps

__all__ = [
    "SCOUT_STEPS",
    "STRUCTURE_STEPS",
    "Scouted",
    "Structure",
    "find_structure",
    "open_area_grid",
    "open_area_surface",
    "parse_box",
    "scout_area",
    "scout_files",
    "write_scout",
]

STRUCTURE_STEPS = 5
"""Of reading a grid and finding its structure."""
SCOUT_STEPS = STRUCTURE_STEPS + PROSPECT_STEPS + 3

DEEPEST_M = 11_100.0

LEAST_CELLS = 3  # slope takes a cell and those around it


@dataclass(frozen=True, slots=True)
class Structure:
    """The bottom of an area.

    Attributes
    ----------
    grid : depth grid
    contours, band, edges, features : GeoDataFrame
        In the grid's CRS; `features` are humps and holes.  The contours of a large grid come in
        several tables.
    """

    grid: xr.DataArray
    contours: Tables
    band: gpd.GeoDataFrame
    edges: gpd.GeoDataFrame
    features: gpd.GeoDataFrame

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


@dataclass(frozen=True, slots=True)
class Scouted:
    """The bottom of an area, and where to look first on it."""

    structure: Structure
    prospects: Prospects

    @property
    def layers(self) -> dict[str, Tables]:
        """Every table by name."""
        return {**self.structure.layers, **self.prospects.layers}


def open_area_grid(
    area: Area,
    sources: Sequence[str | Path] = (),
    *,
    box: Bounds | None = None,
    variable: str | None = None,
) -> xr.DataArray:
    """Open the depths alone of the grids that are named, else the area's own.

    Raises
    ------
    GridError
        As `open_area_surface`.
    """
    surface = open_area_surface(area, sources, box=box, variable=variable, with_uncertainty=False)
    return surface.depth


def open_area_surface(
    area: Area,
    sources: Sequence[str | Path] = (),
    *,
    box: Bounds | None = None,
    variable: str | None = None,
    with_uncertainty: bool = True,
) -> Surface:
    """Open the grids that are named, else the area's own, as one, with their uncertainty.

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
    surface = open_surface(
        files,
        box=box,
        crs=source.crs or None,
        sign=source.sign,  # type: ignore[arg-type]
        unit=source.unit,
        vertical_datum=source.vertical_datum or None,
        offset_m=source.offset_m,
        variable=variable,
        with_uncertainty=with_uncertainty,
    )
    grid = surface.depth
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
    return surface


def scout_area(surface: Surface, area: Area, step: Step = lambda doing: None) -> Scouted:
    """Find everything on the bottom, and rank it."""
    structure = find_structure(surface.depth, area, step)
    found = prospects_of(structure, area, uncertainty=surface.uncertainty, step=step)
    return Scouted(structure, found)


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
        "report": out / "report.html",
        "marks": out / "marks.gpx",
        "structure": out / "structure.gpkg",
        "ranking": out / "ranking.csv",
        "edges": out / "edges.csv",
        "features": out / "humps_and_holes.csv",
        "axes": out / "banks_and_channels.csv",
        "waves": out / "sand_waves.csv",
        "profiles": out / "profiles.csv",
    }


def write_scout(
    out: Path,
    scouted: Scouted,
    area: Area,
    step: Step = lambda doing: None,
    *,
    shown: Scouted | None = None,
) -> dict[str, Path]:
    """Write what was found as GeoPackage, GPX, CSV, report and map; give the files by name.

    Marks and map hold what is `shown`, everything by default.
    """
    files, found = scout_files(out), scouted.prospects
    shown = scouted if shown is None else shown
    structure = shown.structure
    title = area.name or "Structure of the bottom"
    step("writing layers and marks")
    write_geopackage(files["structure"], scouted.layers)
    for name, table in {
        "ranking": found.ranking,
        "edges": found.edges.drop(columns="why"),  # in the reader's units: the ranking has it
        "features": found.features.drop(columns="why"),
        "axes": found.axes,
        "waves": found.waves,
        "profiles": found.profiles,
    }.items():
        write_table_csv(files[name], table)
    write_marks(
        files["marks"],
        None,
        shown.prospects.edges,
        shown.prospects.features,
        name_length=area.marks.name_length,
        depth_unit=area.units.depth,
        title=title,
    )
    step("writing the report")
    write_report(files["report"], report_of(found, scouted.structure.grid, area))
    step("drawing the map")
    write_map(
        files["map"],
        MapContent(
            basemap=basemap_of(area),
            grid=structure.grid,
            units=area.units,
            title=title,
            timezone=area.timezone,
            contours=one_table(structure.contours),
            band=structure.band,
            edges=shown.prospects.edges,
            features=shown.prospects.features,
            hazards=None if found.charted is None else found.charted.hazards,
        ),
    )
    return files


def _bad_box(words: str) -> SeabedError:
    return SeabedError(
        f"{words!r} is no box",
        where="--box",
        do="Write west,south,east,north in degrees: -33.42,46.19,-33.40,46.21.",
    )
