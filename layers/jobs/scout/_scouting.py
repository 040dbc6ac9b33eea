"""The structure of the bottom, and where to look first: found on a grid in memory, and written."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import geopandas as gpd
import pandas as pd

from layers.area import Area
from layers.jobs.parts.area_ground import AreaGround
from layers.jobs.parts.results import area_map, write_area_marks
from layers.jobs.parts.structure import STRUCTURE_STEPS, Structure
from layers.jobs.progress import Step
from layers.jobs.scout._overview import CoastLines
from layers.jobs.scout._remarks import change_lines, doubtful_lines, ground_words
from layers.jobs.scout.prospects import PROSPECT_STEPS, Prospects, prospects_of, report_of
from layers.maps import MapContent, write_map
from layers.present import Tables, write_geojson, write_geopackage, write_table_csv
from layers.present.report import write_report
from seabed.change import Changes

SCOUT_STEPS = STRUCTURE_STEPS + PROSPECT_STEPS + 3
TITLE: Final = "Structure of the bottom"


@dataclass(frozen=True, slots=True)
class Scouted:
    """The bottom of an area, and where to look first on it.

    shown: what map and marks can carry, where that is not all.
    changes: what moved since an older survey, if one was named.
    notes: sentences on noise, coarse cells and what the map leaves out.
    """

    structure: Structure
    prospects: Prospects
    shown: Scouted | None = None
    changes: Changes | None = None
    notes: tuple[str, ...] = ()

    @property
    def named(self) -> Structure:
        """The structure with edges, humps and holes as they are ranked, and so named."""
        prospects = self.prospects
        return replace(self.structure, edges=prospects.edges, features=prospects.features)

    @property
    def layers(self) -> dict[str, Tables]:
        """Every table by name."""
        more: dict[str, Tables] = {"doubtful_soundings": self.structure.bottom.doubtful}
        if self.changes is not None:
            more |= {"changes": self.changes.patches, "moves": self.changes.moves}
        return {**self.structure.layers, **self.prospects.layers, **more}


def scout_area(ground: AreaGround) -> Scouted:
    """Find everything on the bottom, and rank it."""
    structure, area = ground.structure, ground.area
    prospects = prospects_of(
        structure, area, uncertainty=ground.surface.uncertainty, step=ground.step
    )
    return Scouted(structure, prospects, notes=tuple(ground_words(structure, area)))


def scout_files(out: Path, *, compared: bool = False) -> dict[str, Path]:
    """Files that `write_scout` makes in a folder, by name; with an older survey too if compared."""
    more = ("changes.csv", "changes.geojson", "moves.csv", "moves.geojson") if compared else ()
    return {
        **{name.replace(".csv", ""): out / name for name in more},
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
        "doubtful": out / "doubtful_soundings.csv",
    }


def write_scout(
    out: Path, scouted: Scouted, area: Area, step: Step = lambda doing: None
) -> dict[str, Path]:
    """Write what was found as GeoPackage, GPX, CSV, report and map; give the files by name."""
    prospects, shown, changes = scouted.prospects, scouted.shown or scouted, scouted.changes
    files = scout_files(out, compared=changes is not None)
    step("writing layers and marks")
    write_geopackage(files["structure"], scouted.layers)
    for name, table in _tables(scouted).items():
        write_table_csv(files[name], table)
        if f"{name}.geojson" in files:
            write_geojson(files[f"{name}.geojson"], table)
    write_area_marks(
        files["marks"], area, area.name or TITLE,
        edges=shown.prospects.edges, features=shown.prospects.features,
    )  # fmt: skip
    step("writing the report")
    remarks = [*scouted.notes, *doubtful_lines(scouted.structure.bottom, area)]
    if changes is not None:
        remarks += change_lines(changes, area)
    write_report(files["report"], report_of(prospects, scouted.structure.grid, area, remarks))
    step("drawing the map")
    write_map(files["map"], _map_of(scouted, shown, area))
    return files


def _tables(scouted: Scouted) -> dict[str, gpd.GeoDataFrame | pd.DataFrame]:
    """Give the tables that are written as CSV, by their names in `scout_files`."""
    prospects, changes = scouted.prospects, scouted.changes
    return {
        "ranking": prospects.ranking,
        "edges": prospects.edges.drop(columns="why"),  # in the reader's units: the ranking has it
        "features": prospects.features.drop(columns="why"),
        "axes": prospects.axes,
        "waves": prospects.waves,
        "profiles": prospects.profiles,
        "doubtful": scouted.structure.bottom.doubtful,
    } | ({} if changes is None else {"changes": changes.patches, "moves": changes.moves})


def _map_of(scouted: Scouted, shown: Scouted, area: Area) -> MapContent:
    """Put as much of what was found on a map as it can carry."""
    charted, changes, lines = scouted.prospects.charted, scouted.changes, shown.structure.contours
    title = area.name or TITLE
    return area_map(
        area,
        title if _as_many(shown, scouted) else f"{title}: an overview",
        grid=shown.structure.grid,
        notes=scouted.notes,
        contours=lines.shown() if isinstance(lines, CoastLines) else lines,
        band=shown.structure.band,
        edges=shown.prospects.edges,
        features=shown.prospects.features,
        hazards=scouted.prospects.hazards,
        chart_contours=None if charted is None else charted.contours,
        doubtful=scouted.structure.bottom.doubtful,
        changes=None if changes is None else changes.patches,
        moves=None if changes is None else changes.moves,
    )


def _as_many(shown: Scouted, whole: Scouted) -> bool:
    """Say whether the map holds every edge, hump and hole."""
    return all(
        len(getattr(shown.structure, name)) == len(getattr(whole.structure, name))
        for name in ("edges", "features")
    )
