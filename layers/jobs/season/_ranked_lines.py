"""The lines of a whole logbook ranked, and what they say about other water."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.area_ground import bottom_of
from layers.jobs.parts.area_water import heights_of
from layers.jobs.parts.outputs import keep_inputs
from layers.jobs.parts.results import area_map, basemap_warnings
from layers.jobs.parts.scores import (
    LoggedDrifts,
    expected_over,
    ranked_files,
    ranked_map,
    read_drifts,
    score_book,
    sentences_of,
    write_expected,
    write_ranked,
)
from layers.jobs.parts.structure import find_structure, open_area_grid
from layers.jobs.progress import Progress, Step, steps_of
from layers.jobs.requests import SeasonRequest
from layers.jobs.result import Result, records
from layers.jobs.season._filters import filtered
from layers.logbook import Logbook
from layers.maps import write_map
from layers.scoring import Scores
from layers.scoring.factors import by_factor, by_year
from layers.scoring.response import ENOUGH_LINES, LEAST_LINES
from layers.tracks import with_conditions
from seabed.errors import SeabedError

if TYPE_CHECKING:
    from layers.scoring import Response


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


def share_known(expected: xr.Dataset, grid: xr.DataArray) -> float:
    """Share of the cells with a depth whose like has been fished; NaN if none has a depth."""
    deep = np.isfinite(grid.to_numpy())
    known = np.isfinite(expected["rate"].to_numpy()) & deep
    return float(known.sum() / deep.sum()) if deep.any() else float("nan")


def onto_paths(out: Path) -> dict[str, Path]:
    """Files that `write_onto` makes in a folder, by name."""
    return {"onto_map": out / "onto_map.html", "onto_expected_fish": out / "onto_expected_fish.tif"}


def write_onto(
    out: Path, scores: Scores, area: Area, grid: str | Path, step: Step = lambda doing: None
) -> tuple[dict[str, Path], list[str]]:
    """Lay the response over the grid of other water: a map and a GeoTIFF; give files and sentences.

    area: its bands, scales and units hold there too; what it says of its own grid does not.
    """
    if scores.response is None:
        raise SeabedError(
            "the logbook shows nothing that holds on other water: no bottom, tide or wind "
            "predicts the fish of trips and lines left out better than the plain rate",
            key="onto",
            do="Log more trips. At least four trips, "
            f"{LEAST_LINES} lines and twenty fish are needed, and often more to be sure.",
        )
    if not scores.response.elsewhere:
        raise SeabedError(
            f"the logbook has {scores.response.lines} lines: what pays on them need not pay on "
            "other water",
            key="onto",
            do=f"Fish {ENOUGH_LINES} lines or more.",
        )
    step("opening the other water")
    other = dataclasses.replace(area, grid=type(area.grid)())
    structure = find_structure(open_area_grid(other, [grid]), other, step)
    expected = expected_over(scores, structure)
    if expected is None:
        raise SeabedError(
            "the fish depend on the distance to an edge, and this water has none",
            file=grid,
            do="Lower {structure.edge_min_drop} or {structure.edge_min_length}.",
        )
    files = onto_paths(out)
    write_expected(files["onto_expected_fish"], expected)
    step("drawing the other water")
    write_map(
        files["onto_map"],
        area_map(area, Path(grid).stem, expected=expected, **structure.on_map),
    )
    return files, _sentences(scores.response, expected, structure.grid, grid)


def _sentences(
    response: Response, expected: xr.Dataset, grid: xr.DataArray, name: str | Path
) -> list[str]:
    share = share_known(expected, grid)
    given = ("depth_m", "slope_deg", "edge_m")
    other = [factor for factor in response.factors if factor not in given]
    if not share > 0:
        return [f"{Path(name).name}: none of it is like water that was fished: nothing is known."]
    best = float(expected["rate"].max())
    sentences = [
        f"{Path(name).name}: {share:.0%} of it is like water that was fished; at best "
        f"{best:.1f} fish a rod-hour. Of the rest nothing is known."
    ]
    if other:
        sentences.append(f"It holds for the average of {', '.join(other)} over the hours fished.")
    return sentences
