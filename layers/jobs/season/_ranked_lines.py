"""The lines of a whole logbook ranked, and what they say about other water."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layers.area import Area
from layers.jobs.parts.answers import records
from layers.jobs.parts.outputs import files_of, keep_inputs
from layers.jobs.parts.results import basemap_warnings
from layers.jobs.parts.scores import (
    expected_over,
    ranked_files,
    ranked_map,
    score_book,
    write_ranked,
)
from layers.jobs.parts.settings import heights_of
from layers.jobs.parts.structure import find_structure, hazards_of, open_area_grid
from layers.jobs.progress import Progress, steps_of
from layers.jobs.result import Result
from layers.jobs.season._onto import onto_paths, write_onto
from layers.logbook import Logbook
from layers.maps import write_map
from layers.scoring import Scores
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
    book, files = Logbook(path), ranked_files(out, "season.gpkg")
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
    scores = score_book(drifts, catches, known, area, structure)
    step("writing tables and marks")
    expected = expected_over(scores, structure)
    write_ranked(files, scores, area, {"drifts": scores.drifts, "catches": catches}, expected)
    step("drawing the map")
    content = ranked_map(
        scores, area, area.name or "Season", structure, catches=catches, expected=expected,
        drifts=with_conditions(scores.drifts, heights=heights_of(area)), hazards=hazards,
    )  # fmt: skip
    write_map(files["map"], content)
    notes: list[str] = []
    if onto:
        written, notes = write_onto(out, scores, area, onto, step)
        files |= written
    return RankResult(
        area=area, files=files, notes=tuple(notes), warnings=basemap_warnings(area), scores=scores
    )
