"""Expected fish over other water, where the response model says more than the plain rate."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from layers.area import Area
from layers.jobs.parts.results import area_map
from layers.jobs.parts.scores import expected_over, write_expected
from layers.jobs.parts.structure import find_structure, open_area_grid
from layers.jobs.progress import Step
from layers.maps import write_map
from layers.scoring import Scores
from layers.scoring.response import ENOUGH_LINES, LEAST_LINES
from seabed.errors import SeabedError

if TYPE_CHECKING:
    from layers.scoring import Response


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
    """Lay the response over other water, "new water that looks like this": a map and a GeoTIFF.

    area: its bands, scales and units hold there too; its grid's own words do not.
    grid: of the other water.

    Returned: files; the share of it with a prediction. Raises SeabedError
    if there is no response, or the grid can't be used.
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
