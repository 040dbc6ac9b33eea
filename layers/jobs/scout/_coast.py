"""Scout a grid that is too large to hold: chunk by chunk, to the same files."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Final

import xarray as xr

from layers.area import Area
from layers.jobs.parts.settings import reading_of
from layers.jobs.parts.structure import (
    POINT_TABLES,
    Structure,
    check_deepest,
    check_size,
    search_of,
)
from layers.jobs.progress import Step
from layers.jobs.requests import ScoutRequest
from layers.jobs.scout._overview import CoastLines, shown_of
from layers.jobs.scout._profiles import BEST_PROFILED
from layers.jobs.scout._remarks import ground_words
from layers.jobs.scout._scouting import Scouted
from layers.jobs.scout.prospects import Prospects, prospects_of
from seabed.errors import GridError, SeabedError
from seabed.loaders import StoredGrid, open_stored
from seabed.structure import Bottom, find_bottom
from seabed.structure.blocks.whole import CHUNK

LARGE: Final = 40_000_000
"""Cells beyond which a grid is worked through in chunks."""

MOST_TOGETHER: Final = 150_000_000
"""Cells of several grids that are put together in memory."""

FOLDER: Final = "unfinished"

BEST_SHOWN: Final = 1_000
OTHER_STEPS: Final = 9


def stored_grid(area: Area, request: ScoutRequest) -> StoredGrid | None:
    """Open the grid if it needs chunks, else give None; GridError for several too large."""
    files = [str(name) for name in area.grid.files]
    in_chunks = any(one is not None for one in (request.chunk, request.jobs, request.scheduler))
    if not files:
        return None
    if len(files) > 1:
        _refuse_large_mosaic(files, area, in_chunks=in_chunks)
        return None
    if Path(files[0]).suffix.lower() in POINT_TABLES and not in_chunks:
        return None
    stored = open_stored(files[0], **reading_of(area))
    rows, columns = stored.shape
    if rows * columns <= LARGE and not in_chunks:
        return None
    check_size(stored.shape, files[0])
    return stored


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
    goes_on = f"; {before} are finished from an earlier run" if before else ""
    return f"{rows * columns:,} cells are worked through in {chunks} chunks{where}{goes_on}."


def scout_stored(
    stored: StoredGrid,
    area: Area,
    request: ScoutRequest,
    step: Step = lambda doing: None,
) -> Scouted:
    """Find the structure of a large grid, and rank it.

    Its grid has places only, no depths; its contours come in several tables.  Finished chunks are
    kept in a folder beside the results until `forget_chunks`.
    """
    bottom = _search(stored, area, request, step)
    frame = bottom.whole.frame.assign_attrs(
        vertical_datum=stored.meaning.vertical_datum, guesses=list(stored.meaning.guesses)
    )
    structure = Structure(
        frame, CoastLines(bottom), bottom.band, bottom.edges, bottom.features, bottom
    )
    uncertainty = stored if stored.has_uncertainty else None
    prospects = prospects_of(structure, area, uncertainty=uncertainty, stored=stored, step=step)
    step("choosing what is shown")
    drawn = _map_grid(bottom, stored, frame)
    shown = Scouted(*shown_of(structure, prospects, drawn, best=BEST_SHOWN))
    notes = (*ground_words(structure, area), *_notes(prospects, shown, bottom))
    return Scouted(structure, prospects, shown, notes=notes)


def _search(stored: StoredGrid, area: Area, request: ScoutRequest, step: Step) -> Bottom:
    """Find the structure, a step of progress for each chunk."""
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
        reading=repr((stored.layer.variable, stored.cells, stored.meaning, stored.offset_m)),
        chunk=request.chunk or CHUNK,
        jobs=request.jobs,
        scheduler=request.scheduler,
        done=done,
    )
    try:
        check_deepest(bottom.depth_range_m[1], stored.layer.source)
    except GridError:
        forget_chunks(bottom)
        raise
    return bottom


def forget_chunks(bottom: Bottom) -> None:
    """Remove the finished chunks of a large grid."""
    if bottom.store is not None:
        bottom.store.remove()


def _refuse_large_mosaic(files: Sequence[str], area: Area, *, in_chunks: bool) -> None:
    do = (
        "Put them into one file first, or into a virtual mosaic (.vrt) that lists them, and name "
        "that; or take a part with {box}."
    )
    if in_chunks:
        raise SeabedError(
            "several grids can't be worked through in chunks",
            key="grid",
            do=f"{do} Or leave out {{chunk}}, {{jobs}} and {{scheduler}}.",
        )
    cells = 0
    for file in files:
        if Path(file).suffix.lower() in POINT_TABLES:
            continue
        try:
            rows, columns = open_stored(file, **reading_of(area)).shape
        except GridError:  # outside the box, or bad: reading it gives the message
            continue
        cells += rows * columns
    if cells > MOST_TOGETHER:
        raise GridError(
            f"these {len(files)} grids of {cells:,} cells are too large to be put together",
            file=files[0],
            do=do,
        )


def _map_grid(bottom: Bottom, stored: StoredGrid, frame: xr.DataArray) -> xr.DataArray:
    """Give the depths of the map: those of the file, read bit by bit, where dask is there."""
    grid = bottom.overview if find_spec("dask") is None else stored.chunked(512)
    return grid.assign_attrs(frame.attrs)


def _notes(prospects: Prospects, shown: Scouted, bottom: Bottom) -> tuple[str, ...]:
    notes: list[str] = []
    few = len(shown.prospects.edges) + len(shown.prospects.features)
    if few < len(prospects.ranking):
        notes.append(
            f"The map is an overview: it and the marks hold the best {few} of "
            f"{len(prospects.ranking)} edges, humps and holes; the layers hold all."
        )
    if len(prospects.ranking) > BEST_PROFILED:
        notes.append(f"Profiles are of the best {BEST_PROFILED}.")
    if bottom.overview.attrs["reduced"] > 1:
        notes.append("The map's contours are the longest, drawn simply; the layers hold all.")
    return tuple(notes)
