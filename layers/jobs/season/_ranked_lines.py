"""The lines of a whole logbook ranked, and what they say about other water."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from layers.area import Area
from layers.jobs.parts.answers import records
from layers.jobs.parts.outputs import files_of, keep_inputs
from layers.jobs.parts.results import basemap_warnings
from layers.jobs.parts.scores import (
    LoggedDrifts,
    expected_over,
    ranked_files,
    ranked_map,
    read_drifts,
    score_book,
    sentences_of,
    write_ranked,
)
from layers.jobs.parts.settings import heights_of
from layers.jobs.parts.structure import find_structure, hazards_of, open_area_grid
from layers.jobs.progress import Progress, steps_of
from layers.jobs.requests import SeasonRequest
from layers.jobs.result import Result
from layers.jobs.season._filters import filtered
from layers.jobs.season._onto import onto_paths, write_onto
from layers.logbook import Logbook
from layers.maps import write_map
from layers.scoring import Scores, by_factor, by_year
from layers.tracks import with_conditions

STEPS = 8
WINDS_MPS = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 50.0)
"""Bounds of the winds that rates are given by."""


@dataclass(frozen=True, kw_only=True)
class RankResult(Result):
    """The lines of a season, from the best."""

    scores: Scores

    def by_what(self) -> pd.DataFrame:
        """Give rates by what is known of samples, and by the wind that the logbook keeps."""
        drifts = self.scores.drifts
        if "wind_mps" not in drifts or not drifts["wind_mps"].notna().any():
            return self.scores.factors
        wind = drifts.set_index(["trip", "drift_id"])["wind_mps"]
        samples = self.scores.samples
        blown = samples.assign(wind_mps=wind.reindex([samples["trip"], samples["drift_id"]]).array)
        winds = by_factor(blown, "wind_mps", bins=WINDS_MPS)
        return pd.concat([self.scores.factors, winds], ignore_index=True)

    def answer(self) -> dict[str, Any]:
        """Give lines and stretches for machines."""
        return {
            "files": self.files,
            "lines": records(self.scores.lines),
            "stretches": records(self.scores.stretches),
            "by_what": records(self.by_what()),
            "by_year": records(by_year(self.scores.samples, timezone=self.area.timezone)),
            "species": list(self.scores.by_species),
            "tackle": records(self.scores.tackle),
            "shown": sentences_of(self.scores),
            "notes": list(self.notes),
        }


def rank(path: Path, area: Area, request: SeasonRequest, progress: Progress) -> RankResult:
    """Rank the lines of all trips; write table, layers, marks and map; tell other water `onto`."""
    out, onto = request.out, request.onto
    book, files = Logbook(path), ranked_files(out, "season.gpkg")
    outputs = [*files.values(), *(onto_paths(out).values() if onto else ())]
    keep_inputs(outputs, [path, onto, *files_of(area)])
    step = steps_of(progress, STEPS)
    step("reading the logbook")
    catches = book.catches()
    drifts, samples = read_drifts(book, catches)
    drifts, catches, notes = filtered(drifts, catches, request, area)
    known = book.lines()
    structure = hazards = None
    if area.grid.files:
        grid = open_area_grid(area)
        hazards = hazards_of(area, grid)
        structure = find_structure(grid, area, step)
    step("ranking lines")
    scores = score_book(drifts, catches, known, area, structure, samples=samples)
    step("writing tables and marks")
    expected = expected_over(scores, structure)
    layers = {"drifts": LoggedDrifts(book, scores.drifts), "catches": catches}
    write_ranked(files, scores, area, layers, expected)
    step("drawing the map")
    content = ranked_map(
        scores, area, area.name or "Season", structure, catches=catches, expected=expected,
        drifts=with_conditions(scores.drifts, heights=heights_of(area)), hazards=hazards,
    )  # fmt: skip
    write_map(files["map"], content)
    if onto:
        written, sentences = write_onto(out, scores, area, onto, step)
        notes += sentences
        files |= written
    return RankResult(
        area=area, files=files, notes=tuple(notes), warnings=basemap_warnings(area), scores=scores
    )
