"""The structure of the bottom, and where to look first: found on a grid in memory, and written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from layers.area import Area
from layers.jobs.parts.basemap import basemap_of
from layers.jobs.parts.bottom import STRUCTURE_STEPS, Structure, find_structure
from layers.jobs.parts.tables import one_table
from layers.jobs.progress import Step
from layers.jobs.scout.prospects import PROSPECT_STEPS, Prospects, prospects_of, report_of
from layers.maps import MapContent, write_map
from layers.present import Tables, write_geopackage, write_marks, write_table_csv
from layers.present.report import write_report
from seabed.loaders import Surface

SCOUT_STEPS = STRUCTURE_STEPS + PROSPECT_STEPS + 3


@dataclass(frozen=True, slots=True)
class Scouted:
    """The bottom of an area, and where to look first on it."""

    structure: Structure
    prospects: Prospects

    @property
    def named(self) -> Structure:
        """The structure with edges, humps and holes as they are ranked, and so named."""
        found = self.prospects
        return replace(self.structure, edges=found.edges, features=found.features)

    @property
    def layers(self) -> dict[str, Tables]:
        """Every table by name."""
        return {**self.structure.layers, **self.prospects.layers}


def scout_area(surface: Surface, area: Area, step: Step = lambda doing: None) -> Scouted:
    """Find everything on the bottom, and rank it."""
    structure = find_structure(surface.depth, area, step)
    found = prospects_of(structure, area, uncertainty=surface.uncertainty, step=step)
    return Scouted(structure, found)


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
    notes: Sequence[str] = (),
) -> dict[str, Path]:
    """Write what was found as GeoPackage, GPX, CSV, report and map; give the files by name.

    Marks and map hold what is `shown`, everything by default.  Map and report have the `notes`.
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
    write_report(files["report"], report_of(found, scouted.structure.grid, area, notes))
    step("drawing the map")
    write_map(
        files["map"],
        MapContent(
            basemap=basemap_of(area),
            grid=structure.grid,
            units=area.units,
            title=title if _as_many(shown, scouted) else f"{title}: an overview",
            notes=tuple(notes),
            timezone=area.timezone,
            contours=one_table(structure.contours),
            band=structure.band,
            edges=shown.prospects.edges,
            features=shown.prospects.features,
            hazards=None if found.charted is None else found.charted.hazards,
            chart_contours=None if found.charted is None else found.charted.contours,
        ),
    )
    return files


def _as_many(shown: Scouted, whole: Scouted) -> bool:
    """Say whether the map holds every edge, hump and hole."""
    return all(
        len(one) == len(other)
        for one, other in (
            (shown.structure.edges, whole.structure.edges),
            (shown.structure.features, whole.structure.features),
        )
    )
