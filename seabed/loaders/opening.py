"""Open depth grids: one file or many, whole or a box of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from seabed.errors import GridError
from seabed.grid import Bounds, make_grid
from seabed.grid.attributes import Sign
from seabed.loaders.formats import is_url, open_layer
from seabed.loaders.layer import Cells, Layer
from seabed.loaders.meaning import (
    Meaning,
    Tally,
    blank_usual_voids,
    look,
    quick_tally,
    settle,
    to_depth,
)
from seabed.loaders.mosaic import Piece, mosaic
from seabed.loaders.placing import cells_in, place
from seabed.loaders.voids import fill_voids
from seabed.notebook import NotebookTable

LAND: Final = float("-inf")
VOID: Final = float("nan")
MOST_CELLS: Final = 1_000_000_000


@dataclass(slots=True)
class _Read:
    """A layer with the cells read from it."""

    layer: Layer
    cells: Cells
    array: NDArray[np.float32]
    counts: Tally
    beyond: Tally
    guesses: list[str]


@dataclass(frozen=True, slots=True)
class Surface(NotebookTable):
    """A depth grid and, on the same cells, how sure it is.

    Attributes
    ----------
    depth : xarray.DataArray
        A depth grid (see ``seabed.grid``).
    uncertainty : xarray.DataArray or None
        Named ``uncertainty``, float32 metres, positive; NaN where the depth is void, or its file
        carries none; None where no file does.  What it means (one or two standard deviations) is
        the producer's matter and is not changed.
    """

    depth: xr.DataArray
    uncertainty: xr.DataArray | None


def open_grid(
    source: str | Path | Sequence[str | Path],
    *,
    box: Bounds | Sequence[float] | None = None,
    crs: Any = None,
    sign: Literal["auto"] | Sign = "auto",
    unit: str = "auto",
    vertical_datum: str | None = None,
    offset_m: float = 0.0,
    variable: str | None = None,
    land_above_m: float = 0.0,
    fill_within_m: float = 0.0,
) -> xr.DataArray:
    """Open a depth grid, or several as one, in memory.

    Parameters
    ----------
    source : path, http(s) address of a GeoTIFF, or several of them
        Several are put together: the finest wins where they overlap, then the one named first; the
        grid is in the CRS of the finest.
    box : Bounds, or west, south, east, north, optional
        Degrees, WGS 84.  Only the cells that it touches are read.
    crs : anything ``pyproj.CRS.from_user_input`` takes, optional
        Instead of the files' own.
    sign : "auto", "elevation" (positive up) or "depth" (positive down)
        "auto" takes what the file says, else what its names suggest, else what its numbers look
        like; for a box also those of some blocks elsewhere, so that a box of land isn't taken for
        depths.
    unit : "auto" or a unit of length ("m", "ft", "fm")
        "auto" takes what the file says, else metres.
    vertical_datum : str, optional
        Instead of what the file says.
    offset_m : float
        Added to every depth, to carry it onto another datum.
    variable : str, optional
        Band, variable or column, where a file holds several.
    land_above_m : float
        Ground this high over the datum, or higher, is land.
    fill_within_m : float
        Fill voids with measured depths around them this near (see ``fill_voids``); such cells are
        True in a coordinate ``filled``.

    Returns
    -------
    xarray.DataArray
        A depth grid (see ``seabed.grid``).  ``attrs["guesses"]`` lists in plain sentences what had
        to be guessed; empty when the files name everything.

    Raises
    ------
    GridError
        If a file is missing, damaged, no grid, has no CRS or one that can't be right, or nothing
        but land and voids are left.

    Examples
    --------
    >>> grid = open_grid("sound.tif")
    >>> grid.shape, grid.attrs["vertical_datum"]
    ((1200, 1500), 'mean lower low water (invented)')
    """
    return open_surface(
        source,
        box=box,
        crs=crs,
        sign=sign,
        unit=unit,
        vertical_datum=vertical_datum,
        offset_m=offset_m,
        variable=variable,
        land_above_m=land_above_m,
        fill_within_m=fill_within_m,
        with_uncertainty=False,
    ).depth


def open_surface(
    source: str | Path | Sequence[str | Path],
    *,
    box: Bounds | Sequence[float] | None = None,
    crs: Any = None,
    sign: Literal["auto"] | Sign = "auto",
    unit: str = "auto",
    vertical_datum: str | None = None,
    offset_m: float = 0.0,
    variable: str | None = None,
    land_above_m: float = 0.0,
    fill_within_m: float = 0.0,
    with_uncertainty: bool = True,
) -> Surface:
    """Open a depth grid with its uncertainty, on the same cells.

    Parameters and errors as for ``open_grid``.

    Returns
    -------
    Surface

    Examples
    --------
    >>> surface = open_surface("sound.tif")
    >>> surface.depth.shape, surface.uncertainty is None
    ((1200, 1500), True)
    """
    names, around = _names(source), Bounds.of(box)
    read_one = partial(
        _read, box=around, crs=crs, variable=variable, several=len(names) > 1,
        sign_known=sign != "auto",
    )  # fmt: skip
    reads = [read for read in map(read_one, names) if read is not None]
    if not reads:
        raise _outside(names, around)
    pooled = sum((read.counts for read in reads), Tally())
    if pooled.valid == 0:
        raise _no_depths(names, around)
    seen = sum((read.beyond for read in reads), pooled)
    meanings = [
        settle(read.layer, seen, sign=sign, unit=unit, vertical_datum=vertical_datum)
        for read in reads
    ]
    telling = len(reads) > 1 or fill_within_m > 0
    fill = LAND if telling else VOID
    for read, meaning in zip(reads, meanings, strict=True):
        to_depth(read.array, meaning, offset_m=offset_m, land_above_m=land_above_m, land=fill)
    whole, joins = mosaic(_pieces(reads, meanings, with_uncertainty=with_uncertainty))
    land = np.isneginf(whole.depth) if telling else None
    if land is not None:
        whole.depth[land] = np.nan
    if not _any_valid(whole.depth):
        raise _all_land(names, pooled, meanings[0], land_above_m)
    depth = make_grid(
        whole.depth,
        transform=whole.transform,
        crs=whole.crs,
        vertical_datum="; ".join(dict.fromkeys(one.vertical_datum for one in meanings)),
        source="; ".join(names),
        attributes={"guesses": [*_guesses(reads, meanings), *joins]},
    )
    uncertainty = None if whole.uncertainty is None else _companion(depth, whole.uncertainty)
    if fill_within_m > 0:
        depth = fill_voids(depth, within_m=fill_within_m, land=land)
    return Surface(depth, uncertainty)


def _pieces(reads: list[_Read], meanings: list[Meaning], *, with_uncertainty: bool) -> list[Piece]:
    pieces = []
    for read, meaning in zip(reads, meanings, strict=True):
        reader = read.layer.uncertainty if with_uncertainty else None
        spread = None
        if reader is not None:
            spread = read.layer.north_up(reader(read.cells))
            spread[~np.isfinite(read.array) | (spread < 0)] = np.nan
            spread *= np.float32(meaning.factor)
        pieces.append(Piece(read.array, read.layer.placed(read.cells), read.layer.crs, spread))
    return pieces


def _companion(depth: xr.DataArray, spread: NDArray[np.float32]) -> xr.DataArray:
    """Lay an uncertainty on the cells of a depth grid."""
    laid: xr.DataArray = depth.copy(data=spread).rename("uncertainty")
    laid.attrs = {
        "long_name": "vertical uncertainty of the depth",
        "units": "m",
        "source": depth.attrs["source"],
    }
    return laid


def _names(source: str | Path | Sequence[str | Path]) -> list[str]:
    names = [str(source)] if isinstance(source, str | Path) else [str(item) for item in source]
    if not names:
        raise GridError("no grid was named", do="Name one or more files.")
    return names


def _read(
    name: str,
    box: Bounds | None,
    crs: Any,
    variable: str | None,
    *,
    several: bool,
    sign_known: bool,
) -> _Read | None:
    """Read one source; None if it is one of several and is outside the box."""
    layer = place(open_layer(name, variable=variable), crs)
    try:
        cells = cells_in(layer, box)
    except GridError:
        if several and box is not None and box.west < box.east and box.south < box.north:
            return None
        raise
    if cells.rows * cells.columns > MOST_CELLS:
        raise GridError(
            f"{cells.rows} x {cells.columns} cells are more than can be held in memory",
            file=name,
            do="Choose a smaller box.",
        )
    array = layer.read(cells)
    guesses = [] if layer.declared_void else blank_usual_voids(array)
    array = layer.north_up(array)
    known = layer.firm_sign is not None or layer.likely_sign is not None
    beyond = Tally()
    if box is not None and not known and not is_url(name):
        beyond = look(layer, layer.whole)
    counts = quick_tally(array, sign_known=sign_known or layer.firm_sign is not None)
    return _Read(layer, cells, array, counts, beyond, guesses)


def _guesses(reads: list[_Read], meanings: list[Meaning]) -> list[str]:
    """Guesses of all sources, each once, with the file named where there are several."""
    once: dict[str, None] = {}
    for read, meaning in zip(reads, meanings, strict=True):
        for guess in (*meaning.guesses, *read.guesses):
            once[guess] = None
    data = sorted({meaning.vertical_datum for meaning in meanings})
    if len(data) > 1:
        once[f"The files have different vertical datums ({', '.join(data)}); none was shifted."] = (
            None
        )
    return list(once)


def _any_valid(depth: NDArray[np.float32]) -> bool:
    return any(bool((row == row).any()) for row in depth)  # noqa: PLR0124 (NaN differs from itself)


def _outside(names: list[str], box: Bounds | None) -> GridError:
    return GridError(
        f"none of the {len(names)} grids is in the box {box}",
        file=names[0],
        do="Choose the box in degrees, west south east north, within one of them.",
    )


def _no_depths(names: list[str], box: Bounds | None) -> GridError:
    place_name = "the box" if box is not None else "it"
    return GridError(
        f"the grid is empty: every cell in {place_name} is void",
        file=names[0],
        do="Choose another file, band or box.",
    )


def _all_land(names: list[str], counts: Tally, meaning: Meaning, land_above_m: float) -> GridError:
    other = "depth" if meaning.sign == "elevation" else "elevation"
    return GridError(
        f"all of it is land: values from {counts.least:g} to {counts.greatest:g} "
        f"{meaning.unit}, read as {meaning.sign}, leave nothing below {land_above_m:g} m over "
        "the datum",
        file=names[0],
        do=f"If they are {other}s, say so with {{sign}}: {other}; else choose another grid or box.",
    )
