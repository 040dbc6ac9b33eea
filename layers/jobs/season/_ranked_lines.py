"""The lines of a whole logbook ranked, and what they say about other water."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from layers.area import Area
from layers.jobs.parts.answers import records
from layers.jobs.parts.area_water import heights_of
from layers.jobs.parts.outputs import keep_inputs
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
from layers.jobs.parts.structure import bottom_of
from layers.jobs.progress import Progress, steps_of
from layers.jobs.requests import SeasonRequest
from layers.jobs.result import Result
from layers.jobs.season._filters import filtered
from layers.jobs.season._onto import onto_paths, write_onto
from layers.logbook import Logbook
from layers.maps import write_map
from layers.scoring import Scores
from layers.scoring.factors import by_factor, by_year
from layers.tracks import with_conditions

STEPS = 8
WINDS_MPS = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 50.0)
"""Bounds of the winds that rates are given by."""


@dataclass(frozen=True, kw_only=True)
class RankResult(Result):
    """The lines of a season, from the best; rates by what its samples know, and by year."""

    scores: Scores
    by_what: pd.DataFrame
    by_year: pd.DataFrame

    def answer(self) -> dict[str, Any]:
        """Give lines and stretches for machines."""
        return {
            "files": self.files,
            "lines": records(self.scores.lines),
            "stretches": records(self.scores.stretches),
            "by_what": records(self.by_what),
            "by_year": records(self.by_year),
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
    keep_inputs(outputs, request, area)
    step = steps_of(progress, STEPS)
    step("reading the logbook")
    catches = book.catches()
    drifts, samples = read_drifts(book, catches)
    drifts, catches, notes = filtered(drifts, catches, request, area)
    if notes:
        samples = samples[samples["drift_id"].isin(drifts["drift_id"])].reset_index(drop=True)
    structure, hazards = bottom_of(area, step)
    step("ranking lines")
    scores = score_book(drifts, catches, book.lines(), area, structure, samples=samples)
    by_what, years = _by_what(scores), by_year(scores.samples, timezone=area.timezone)
    # most of the memory: what follows needs none of it
    scores = replace(scores, samples=samples.iloc[:0].copy())
    del samples
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
        area=area, files=files, notes=tuple(notes), warnings=basemap_warnings(area), scores=scores,
        by_what=by_what, by_year=years,
    )  # fmt: skip


def _by_what(scores: Scores) -> pd.DataFrame:
    """Give rates by what is known of samples, and by the wind that the logbook keeps."""
    if "wind_mps" not in scores.drifts or not scores.drifts["wind_mps"].notna().any():
        return scores.factors
    wind = scores.drifts.set_index(["trip", "drift_id"])["wind_mps"]
    samples = scores.samples
    blown = samples.assign(wind_mps=wind.reindex([samples["trip"], samples["drift_id"]]).array)
    winds = by_factor(blown, "wind_mps", bins=WINDS_MPS)
    return pd.concat([scores.factors, winds], ignore_index=True)
