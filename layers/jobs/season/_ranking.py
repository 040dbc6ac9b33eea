"""The lines of a whole logbook ranked, and what they tell of other water."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.answers import records
from layers.jobs.parts.outputs import files_of, keep_inputs
from layers.jobs.parts.results import basemap_of, basemap_warnings
from layers.jobs.parts.settings import currents_of, heights_of
from layers.jobs.parts.structure import Structure, find_structure, hazards_of, open_area_grid
from layers.jobs.parts.words import say_length
from layers.jobs.progress import Progress, steps_of
from layers.jobs.result import Result
from layers.jobs.trip._expecting import expected_over, onto_paths, write_onto
from layers.jobs.trip.score_files import score_paths, write_scores
from layers.logbook import Logbook
from layers.maps import MapContent, write_map
from layers.present import write_geopackage, write_marks, write_table_csv
from layers.scoring import Ground, Scores, score_season
from layers.tracks import with_conditions

STEPS = 8


@dataclass(frozen=True, kw_only=True)
class RankResult(Result):
    """The lines of a season, from the best."""

    scores: Scores

    def answer(self) -> dict[str, Any]:
        """Give lines and stretches for machines."""
        return {
            "files": self.files,
            "lines": records(self.scores.lines),
            "stretches": records(self.scores.stretches),
            "notes": list(self.notes),
        }


def rank(
    path: Path, area: Area, out: Path, *, onto: str | None = None, progress: Progress
) -> RankResult:
    """Rank the lines of all trips; write table, layers, marks and map; tell other water `onto`."""
    book, files = Logbook(path), _files(out)
    outputs = [*files.values(), *(onto_paths(out).values() if onto else ())]
    keep_inputs(outputs, [path, onto, *files_of(area)])
    step = steps_of(progress, STEPS)
    step("reading the logbook")
    drifts, catches, known = book.drifts(), book.catches(), book.lines()
    structure = hazards = None
    if area.grid.files:
        grid = open_area_grid(area)
        hazards = hazards_of(area, grid)
        structure = find_structure(grid, area, step)
    step("ranking lines")
    scores = _scores(drifts, catches, known, area, structure)
    step("writing tables and marks")
    expected = expected_over(scores, structure)
    _write(files, scores, catches, area)
    if "expected_fish" not in write_scores(out, scores, expected):
        del files["expected_fish"]
    step("drawing the map")
    content = _map_content(
        scores, catches, area, structure=structure, expected=expected, hazards=hazards
    )
    write_map(files["map"], content)
    notes: list[str] = []
    if onto:
        written, notes = write_onto(out, scores, area, onto, step)
        files |= written
    return RankResult(
        area=area, files=files, notes=tuple(notes), warnings=basemap_warnings(area), scores=scores
    )


def _files(out: Path) -> dict[str, Path]:
    return {
        "map": out / "map.html",
        "marks": out / "marks.gpx",
        "ranking": out / "lines.csv",
        "layers": out / "season.gpkg",
        **score_paths(out),
    }


def _write(files: dict[str, Path], scores: Scores, catches: gpd.GeoDataFrame, area: Area) -> None:
    lines = scores.lines
    write_table_csv(files["ranking"], lines)
    layers = {"lines": lines, "drifts": scores.drifts, "catches": catches}
    write_geopackage(files["layers"], layers)
    write_marks(
        files["marks"],
        lines,
        name_length=area.marks.name_length,
        depth_unit=area.units.depth,
        title=area.name or "Drift lines",
    )


def _map_content(
    scores: Scores,
    catches: gpd.GeoDataFrame,
    area: Area,
    *,
    structure: Structure | None,
    expected: xr.Dataset | None,
    hazards: gpd.GeoDataFrame | None,
) -> MapContent:
    return MapContent(
        basemap=basemap_of(area),
        units=area.units,
        title=area.name or "Season",
        timezone=area.timezone,
        drifts=with_conditions(scores.drifts, heights=heights_of(area)),
        lines=scores.lines,
        catches=catches,
        stretches=scores.stretches,
        expected=expected,
        hazards=hazards,
        **({} if structure is None else structure.on_map),
    )


def _scores(
    drifts: gpd.GeoDataFrame,
    catches: gpd.GeoDataFrame,
    known: gpd.GeoDataFrame,
    area: Area,
    structure: Structure | None,
) -> Scores:
    """Score a logbook.  It keeps no fixes: depths along a drift are the charted ones."""
    grid = edges = features = None
    if structure is not None:
        grid, edges, features = structure.grid, structure.edges, structure.features
    ground = Ground(grid, edges, features, heights_of(area), currents_of(area))
    return score_season(
        drifts,
        catches,
        ground=ground,
        corridor_m=area.lines.corridor_m,
        known=known,
        timezone=area.timezone,
        say=say_length(area),
    )
