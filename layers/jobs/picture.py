"""The bottom as tiles and as a page, for programs that show one's own position on them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.area_ground import area_ground
from layers.jobs.parts.earlier import read_results
from layers.jobs.parts.outputs import keep_inputs
from layers.jobs.parts.settings import area_of, reading_of
from layers.jobs.parts.structure import (
    POINT_TABLES,
    check_size,
    open_area_grid,
)
from layers.jobs.progress import Progress, ignored
from layers.jobs.requests import PICTURE_KINDS, PictureRequest
from layers.jobs.result import Result
from layers.jobs.scout._scouting import scout_area
from layers.maps.picture import DEEPEST_ZOOM, BottomDepths, BottomPicture, Estimate, in_degrees
from layers.present.sheet.paper import paper_named
from seabed.errors import SeabedError
from seabed.grid import Bounds
from seabed.loaders import StoredGrid, open_stored, read_hazards

MOST_SEARCHED: Final = 4_000_000
"""Cells of a grid whose edges, humps and holes are found on the way."""

MOST_BYTES: Final = 2e9
"""Of a file of tiles: the largest that every file system of a card or phone takes."""

TILED: Final = PICTURE_KINDS[:3]


@dataclass(frozen=True, kw_only=True)
class PictureResult(Result):
    """The picture as it was written, in so many tiles, or how large it would be."""

    estimate: Estimate
    tiles: int = 0

    def answer(self) -> dict[str, Any]:
        """Give zooms, sizes and files for machines."""
        return {
            "files": self.files,
            "zooms": list(self.estimate.zooms),
            "most_tiles": self.estimate.tiles,
            "about_bytes": round(self.estimate.size),
            "tiles": self.tiles,
            "notes": list(self.notes),
        }


def run(request: PictureRequest, progress: Progress = ignored) -> PictureResult:
    """Write shaded depths, contours and structure as tiles and as a page."""
    area = area_of(request)
    kinds = _kinds(request.kind)
    paper = paper_named(request.paper)
    zooms = None if request.zoom is None else _zooms(request.zoom)
    files = {kind: request.out / f"bottom.{kind}" for kind in kinds}
    if not request.estimate:
        keep_inputs(files.values(), request, area)
    progress("reading depths", 0.0)
    ground = BottomDepths.of(_grid(area))
    tables, notes = _structure(area, request, ground.shape[0] * ground.shape[1])
    progress("counting tiles", 0.15)
    picture = BottomPicture(
        ground, title=area.name or "The bottom", credits=_credits(area, request), units=area.units,
        zooms=zooms, band_m=area.depths.band_m, contours_m=area.depths.contours_m,
        edges=tables.get("edges"), features=tables.get("features"), hazards=_hazards(area, ground),
    )  # fmt: skip
    estimate = picture.estimate()
    tiled = [path for kind, path in files.items() if kind in TILED]
    if tiled:
        _check_size(estimate)
    words = estimate_words(estimate)
    if request.estimate:
        return PictureResult(area=area, notes=notes, estimate=estimate)
    progress(words, 0.2)
    count = 0
    if tiled:
        count = picture.write_tiles(tiled, lambda share: progress(words, 0.2 + 0.7 * share))
    if "pdf" in files:
        progress("painting the page", 0.9)
        picture.write_page(files["pdf"], paper)
    return PictureResult(area=area, files=files, notes=notes, estimate=estimate, tiles=count)


def estimate_words(estimate: Estimate) -> str:
    """Say zooms, tiles and size."""
    first, last = estimate.zooms[0], estimate.zooms[-1]
    zooms = f"zoom {last}" if first == last else f"zooms {first} to {last}"
    count = sum(estimate.tiles.values())
    return f"{zooms}: at most {count:,} tiles, about {megabytes(estimate.size)} a file"


def megabytes(size: float) -> str:
    """Write a number of bytes in kB, MB or GB.

    Examples
    --------
    >>> megabytes(57_400), megabytes(5.74e6), megabytes(23e6), megabytes(3.14e9)
    ('57 kB', '5.7 MB', '23 MB', '3.1 GB')
    """
    if size >= 1e9:
        return f"{size / 1e9:.1f} GB"
    if size < 1e6:
        return f"{size / 1e3:.0f} kB"
    return f"{size / 1e6:.1f} MB" if size < 1e7 else f"{size / 1e6:.0f} MB"


def _check_size(estimate: Estimate) -> None:
    if estimate.size <= MOST_BYTES:
        return
    fits = estimate.finest_within(MOST_BYTES)
    less = "Or give a coarser {zoom}." if fits is None else f"Or give {{zoom}} up to {fits}."
    raise SeabedError(
        f"{estimate_words(estimate)}, more than the {megabytes(MOST_BYTES)} that is written",
        key="zoom",
        do=f"Give a smaller {{box}}. {less}",
    )


def _kinds(words: tuple[str, ...]) -> list[str]:
    for word in words:
        if word not in PICTURE_KINDS:
            raise SeabedError(
                f"no picture is of kind {word!r}", key="kind",
                do=f"Give one of {', '.join(PICTURE_KINDS)}.",
            )  # fmt: skip
    return [kind for kind in PICTURE_KINDS if kind in words or not words]


def _zooms(words: str) -> range:
    """Read zooms, ``"10-16"`` or ``"14"``."""
    match = re.fullmatch(r"\s*(\d{1,2})(?:\s*(?:-|to)\s*(\d{1,2}))?\s*", words)
    first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, -1)
    if not 0 <= first <= last <= DEEPEST_ZOOM:
        raise SeabedError(
            f"can't read the zooms {words!r}", key="zoom",
            do=f'Give two whole numbers of 0 to {DEEPEST_ZOOM}, the coarser first: "10-16".',
        )  # fmt: skip
    return range(first, last + 1)


def _credits(area: Area, request: PictureRequest) -> str:
    names = ", ".join(Path(str(name)).name for name in area.grid.files)
    whose = f"{request.credit.strip().rstrip('.')}. " if request.credit else ""
    return f"{whose}Depths from {names}."


def _grid(area: Area) -> xr.DataArray | StoredGrid:
    """Open the area's grid: left in its file where it is one file of cells."""
    files = [str(name) for name in area.grid.files]
    if len(files) != 1 or Path(files[0]).suffix.lower() in POINT_TABLES:
        return open_area_grid(area)
    stored = open_stored(files[0], **reading_of(area))
    check_size(stored.shape, files[0])
    return stored


def _structure(
    area: Area, request: PictureRequest, cells: int
) -> tuple[dict[str, gpd.GeoDataFrame], tuple[str, ...]]:
    """Give edges, humps and holes by table, and in a sentence why there are none."""
    if request.structure:
        return read_results(request.structure), ()
    if cells > MOST_SEARCHED:
        return {}, (
            f"Edges, humps and holes are not drawn: of a grid of {cells:,} cells {{seabed scout}} "
            "finds them. Name the structure.gpkg that it wrote with {structure}.",
        )
    structure = scout_area(area_ground(area)).named
    return {"edges": structure.edges, "features": structure.features}, ()


def _hazards(area: Area, ground: BottomDepths) -> gpd.GeoDataFrame | None:
    if not area.charts.files:
        return None
    return read_hazards(list(area.charts.files), box=Bounds(*in_degrees(ground.box)))
