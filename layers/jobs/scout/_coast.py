"""Scout a grid that is too large to hold: chunk by chunk, to the same files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.bottom import DEEPEST_M, LEAST_CELLS, Structure, reading_of, search_of
from layers.jobs.progress import Step
from layers.jobs.requests import ScoutRequest
from layers.jobs.scout._coast_shown import CoastLines, shown_of
from layers.jobs.scout._whole import Scouted
from layers.jobs.scout.prospects import Prospects, ranked, read_charts
from seabed.errors import GridError, SeabedError
from seabed.grid import CellSize
from seabed.loaders import StoredGrid, open_stored
from seabed.structure import CHUNK, Bottom, across_edges, across_features, find_bottom

LARGE: Final = 40_000_000
"""Cells beyond which a grid is worked through in chunks."""

MOST_TOGETHER: Final = 150_000_000
"""Cells of several grids that are put together in memory."""

FOLDER: Final = "unfinished"

BEST_SHOWN: Final = 1_000
BEST_PROFILED: Final = 200
OTHER_STEPS: Final = 6

_TABLES_OF_POINTS: Final = {".xyz", ".csv", ".txt", ".dat", ".tsv", ".pts"}


@dataclass(frozen=True, slots=True)
class ScoutedCoast:
    """What was found on a large grid.

    whole: all of it. Its grid has places only, no depths; its contours come in several tables.
    shown: what map and marks can carry.
    notes: what differs from a small grid, in sentences.
    """

    whole: Scouted
    shown: Scouted
    notes: tuple[str, ...]
    bottom: Bottom

    def forget(self) -> None:
        """Remove the finished chunks, once all is written."""
        _forget(self.bottom)


def stored_grid(area: Area, request: ScoutRequest) -> StoredGrid | None:
    """Open the grid if it has to be worked through in chunks; None if it can be held.

    Raises GridError if several grids are too large to be put together, or chunks are asked of
    several.
    """
    files, asked = [str(name) for name in area.grid.files], _asks_for_chunks(request)
    if not files:
        return None
    if len(files) > 1:
        _refuse_large_mosaic(files, area, asked=asked)
        return None
    if Path(files[0]).suffix.lower() in _TABLES_OF_POINTS and not asked:
        return None
    stored = open_stored(files[0], **reading_of(area))
    rows, columns = stored.shape
    if rows * columns <= LARGE and not asked:
        return None
    if min(rows, columns) < LEAST_CELLS:
        raise GridError(
            f"{rows} rows of {columns} cells are too few to show the bottom",
            file=files[0],
            do=f"Give a grid or a box of {LEAST_CELLS} cells or more each way.",
        )
    return stored


def _asks_for_chunks(request: ScoutRequest) -> bool:
    return any(word is not None for word in (request.chunk, request.jobs, request.scheduler))


def coast_steps(stored: StoredGrid, request: ScoutRequest) -> int:
    """Count the steps of progress that `scout_stored` and the writing take."""
    chunk = request.chunk or CHUNK
    rows, columns = stored.shape
    return -(-rows // chunk) * -(-columns // chunk) + OTHER_STEPS


def chunk_words(stored: StoredGrid, request: ScoutRequest) -> str:
    """Say in a line that a grid is worked through in chunks, and whether some are done."""
    rows, columns = stored.shape
    chunks = coast_steps(stored, request) - OTHER_STEPS
    kept = request.out / FOLDER
    before = len(list(kept.glob("chunk-*.npz"))) if kept.is_dir() else 0
    where = f" on {request.scheduler}" if request.scheduler else ""
    goes_on = f"; {before} are there from an earlier run" if before else ""
    return f"{rows * columns:,} cells are worked through in {chunks} chunks{where}{goes_on}."


def scout_stored(
    stored: StoredGrid,
    area: Area,
    request: ScoutRequest,
    step: Step = lambda doing: None,
) -> ScoutedCoast:
    """Find the structure of a large grid, and rank it.

    Finished chunks are kept in a folder beside the results until all is written.  Remove them with
    ``found.forget()``.
    """
    before = 0
    step("reading depths")

    def done(finished: int, whole: int) -> None:
        nonlocal before
        doing = f"chunk {finished} of {whole}" if finished < whole else "joining chunks"
        for _ in range(finished - before):
            step(doing)
        before = finished

    bottom = find_bottom(
        stored,
        search_of(area),
        folder=request.out / FOLDER,
        source=stored.layer.source,
        told=repr((stored.layer.variable, stored.cells, stored.meaning, stored.offset_m)),
        chunk=request.chunk or CHUNK,
        jobs=request.jobs,
        scheduler=request.scheduler,
        done=done,
    )
    if bottom.depth_range_m[1] > DEEPEST_M:
        _forget(bottom)
        raise GridError(
            f"a depth of {bottom.depth_range_m[1]:,.0f} m is deeper than any sea",
            file=stored.layer.source,
            do="Its number for no depth is perhaps not declared, or its unit another: {unit}.",
        )
    frame = bottom.whole.frame.assign_attrs(
        vertical_datum=stored.meaning.vertical_datum, guesses=list(stored.meaning.guesses)
    )
    structure = Structure(
        frame, CoastLines(bottom), bottom.band, bottom.edges, bottom.features, bottom
    )
    whole = Scouted(structure, _prospects(structure, stored, area, step))
    step("choosing what is shown")
    shown = shown_of(whole, _map_grid(bottom, stored, frame), best=BEST_SHOWN)
    return ScoutedCoast(whole, shown, _notes(whole.prospects, shown, bottom), bottom)


def _forget(bottom: Bottom) -> None:
    if bottom.store is not None:
        bottom.store.remove()


def _refuse_large_mosaic(files: Sequence[str], area: Area, *, asked: bool) -> None:
    do = (
        "Put them into one file first, or into a virtual mosaic (.vrt) that lists them, and name "
        "that; or take a part with {box}."
    )
    if asked:
        raise SeabedError(
            "several grids can't be worked through in chunks",
            key="grid",
            do=f"{do} Or leave out {{chunk}}, {{jobs}} and {{scheduler}}.",
        )
    cells = 0
    for file in files:
        if Path(file).suffix.lower() in _TABLES_OF_POINTS:
            continue
        try:
            rows, columns = open_stored(file, **reading_of(area)).shape
        except GridError:  # outside the box, or bad: said when it is read
            continue
        cells += rows * columns
    if cells > MOST_TOGETHER:
        raise GridError(
            f"these {len(files)} grids of {cells:,} cells are too large to be put together",
            file=files[0],
            do=do,
        )


def _prospects(structure: Structure, stored: StoredGrid, area: Area, step: Step) -> Prospects:
    charted = read_charts(
        structure.grid, area.charts.files, depth_unit=area.units.depth, compared=False
    )
    found = ranked(
        structure,
        area,
        uncertainty=stored if stored.has_uncertainty else None,
        hazards=None if charted is None else charted.hazards,
        step=step,
    )
    profiles = _profiles(structure, stored, found.ranking.head(BEST_PROFILED))
    return Prospects(
        found.ranking, profiles, found.edges, found.features, found.axes, found.waves, charted
    )


def _profiles(structure: Structure, stored: StoredGrid, best: gpd.GeoDataFrame) -> pd.DataFrame:
    """Cut profiles of the best, each on the part of the grid around it."""
    affine, size = stored.transform, structure.bottom.whole.size
    edges = structure.edges.set_index("edge_id", drop=False)
    features = structure.features.set_index(["kind", "feature_id"], drop=False)
    tables: list[pd.DataFrame] = []
    for row in best.itertuples(index=False):
        if row.kind == "edge":
            one = edges.loc[[row.feature_id]]
            place, reach = one[["middle_x", "middle_y"]], float(one["width_m"].iloc[0])
            cut: Any = across_edges
        else:
            one = features.loc[[(row.kind, row.feature_id)]]
            place, reach = one[["peak_x", "peak_y"]], float(one["short_axis_m"].iloc[0])
            cut = across_features
        x, y = place.to_numpy(float)[0]
        at = int((y - affine.f) / affine.e), int((x - affine.c) / affine.a)
        part = _around(stored, at, size, 2 * max(reach, 30.0) + 150.0)
        table = cut(part, one.reset_index(drop=True))
        tables.append(table.assign(kind=row.kind, name=row.name))
    columns = ["name", "kind", "offset_m", "depth_m", "mean_m", "spread_m"]
    if not tables:
        return pd.DataFrame({name: pd.Series(dtype=object) for name in columns})
    return pd.concat(tables, ignore_index=True)[columns]


def _around(
    stored: StoredGrid, at: tuple[int, int], size: CellSize, reach_m: float
) -> xr.DataArray:
    """Give the part of a grid within a reach of a cell, on every side."""
    rows, columns = stored.shape
    row, column = min(max(at[0], 0), rows - 1), min(max(at[1], 0), columns - 1)
    down, across = (int(reach_m / one[row]) + 2 for one in (size.northing, size.easting))
    top, left = max(row - down, 0), max(column - across, 0)
    bottom, right = min(row + down + 1, rows), min(column + across + 1, columns)
    return stored.read(top, left, bottom - top, right - left)


def _map_grid(bottom: Bottom, stored: StoredGrid, frame: xr.DataArray) -> xr.DataArray:
    """Give the depths of the map: those of the file, read bit by bit, where dask is there."""
    grid = bottom.overview if find_spec("dask") is None else stored.chunked(512)
    return grid.assign_attrs(frame.attrs)


def _notes(found: Prospects, shown: Scouted, bottom: Bottom) -> tuple[str, ...]:
    notes: list[str] = []
    few = len(shown.prospects.edges) + len(shown.prospects.features)
    if few < len(found.ranking):
        notes.append(
            f"The map is an overview: it and the marks hold the best {few} of "
            f"{len(found.ranking)} edges, humps and holes; the layers hold all."
        )
    if len(found.ranking) > BEST_PROFILED:
        notes.append(f"Profiles are of the best {BEST_PROFILED}.")
    if bottom.overview.attrs["reduced"] > 1:
        notes.append("The map's contours are the longest, drawn simply; the layers hold all.")
    return tuple(notes)
