"""The place of a layer: its CRS settled and checked, longitudes unwrapped, a box in cells."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial
from typing import Any, Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.enums import TransformDirection
from pyproj.exceptions import CRSError, ProjError

from seabed.errors import GridError, Question
from seabed.geodesy import to_degrees
from seabed.grid import Bounds
from seabed.grid.attributes import horizontal
from seabed.loaders.layer import Cells, Layer, Reader

FINEST_DEGREE_STEP: Final = 0.5
"""Steps below this, within the range of degrees, in a CRS of metres, are degrees in disguise."""

FINEST_SHARE: Final = 1e-12
"""Cells that are a smaller share of their coordinates are lost in the rounding of those."""

TOO_FAR_DEGREES: Final = 15.0
"""A grid this far outside the area its CRS is made for is in another CRS."""


def place(layer: Layer, crs: Any = None) -> Layer:
    """Settle a layer's CRS, which `crs` overrules, and unwrap its longitudes; check both."""
    settled, guesses = _settled(layer, crs)
    _check_kind(settled, layer.source)
    if layer.transform.b or layer.transform.d:
        raise GridError(
            "the grid is rotated against its axes",
            file=layer.source,
            do="Warp it north-up first (gdalwarp does it).",
        )
    placed = replace(layer, crs=settled, guesses=(*layer.guesses, *guesses))
    _check(placed, given=crs is not None and crs != "")
    return _unwrapped(placed) if settled.is_geographic else placed


def edges(layer: Layer) -> Bounds:
    """Outer edges in the layer's own CRS."""
    rows, columns = layer.shape
    affine = layer.transform
    xs = sorted((affine.c, affine.c + affine.a * columns))
    ys = sorted((affine.f, affine.f + affine.e * rows))
    return Bounds(xs[0], ys[0], xs[1], ys[1])


def geographic_edges(layer: Layer) -> Bounds:
    """Outer edges in degrees, WGS 84; longitudes run on past 180 where the grid does."""
    edge = edges(layer)
    crs = layer.crs
    if crs is None:
        raise GridError("no coordinate reference system", file=layer.source)
    if crs.is_geographic:
        return edge
    west, south, east, north = to_degrees(crs).transform_bounds(
        edge.west, edge.south, edge.east, edge.north, densify_pts=21
    )
    return Bounds(west, south, east + 360 if east < west else east, north)


def cells_in(layer: Layer, box: Bounds | None) -> Cells:
    """Cells that a box in degrees (WGS 84) touches; all without a box, GridError if none."""
    if box is None:
        return layer.whole
    if not (box.west < box.east and box.south < box.north):
        raise GridError(
            f"the box {_text(box)} is empty", do="Give west, south, east, north in degrees."
        )
    local = _local_box(layer, box)
    affine = layer.transform
    rows, columns = layer.shape
    across = [(local.west - affine.c) / affine.a, (local.east - affine.c) / affine.a]
    down = [(local.south - affine.f) / affine.e, (local.north - affine.f) / affine.e]
    first_column, last_column = _clip(across, columns)
    first_row, last_row = _clip(down, rows)
    if last_column <= first_column or last_row <= first_row:
        raise GridError(
            f"no part of the grid is in the box {_text(box)}",
            file=layer.source,
            do=f"The grid covers {_text(geographic_edges(layer))}.",
        )
    return Cells(first_row, first_column, last_row - first_row, last_column - first_column)


def _clip(edges_at: list[float], count: int) -> tuple[int, int]:
    """First cell and the one past the last between two edges given in cells."""
    low, high = min(edges_at), max(edges_at)
    return max(0, math.floor(low + 1e-6)), min(count, math.ceil(high - 1e-6))


def _local_box(layer: Layer, box: Bounds) -> Bounds:
    crs = layer.crs
    if crs is None:
        raise GridError("no coordinate reference system", file=layer.source)
    if crs.is_geographic:
        edge = edges(layer)
        turns = math.ceil((edge.west - box.east) / 360)
        return Bounds(box.west + 360 * turns, box.south, box.east + 360 * turns, box.north)
    bounds = to_degrees(crs).transform_bounds(
        box.west, box.south, box.east, box.north, 21, direction=TransformDirection.INVERSE
    )
    if not np.isfinite(bounds).all():
        raise GridError(
            f"the box {_text(box)} is outside what {crs.name} can show", file=layer.source
        )
    return Bounds(*bounds)


def _settled(layer: Layer, given: Any) -> tuple[CRS, list[str]]:
    if given is not None and given != "":
        try:
            crs = CRS.from_user_input(given)
        except CRSError as error:
            raise GridError(
                f"unknown coordinate reference system {given!r}",
                file=layer.source,
                do="Write {crs} like EPSG:32610, or EPSG:4326 for longitude and latitude.",
            ) from error
        flat = horizontal(crs) or crs
        if layer.crs is not None and not layer.crs.equals(flat, ignore_axis_order=True):
            return flat, [f"The file says {layer.crs.name}; {flat.name} was given instead."]
        return flat, []
    if layer.crs is None:
        raise GridError(
            "the file has no coordinate reference system",
            file=layer.source,
            do=f"Name it with {{crs}}; {_looks_like(layer)}.",
            question=Question("crs"),
        )
    return layer.crs, []


def _looks_like(layer: Layer) -> str:
    edge = edges(layer)
    if _in_degrees(edge):
        return "its coordinates look like degrees: EPSG:4326 if they are WGS 84"
    return "its coordinates look like metres: often a UTM zone, such as EPSG:32610"


def _in_degrees(edge: Bounds) -> bool:
    return (
        max(abs(edge.west), abs(edge.east)) <= 361 and max(abs(edge.south), abs(edge.north)) <= 91
    )


def _can_be_degrees(edge: Bounds) -> bool:
    """Whether edges can be longitudes and latitudes, begun at any meridian (20 to 380, say)."""
    turn = edge.east - edge.west <= 361.5 and edge.west >= -361 and edge.east <= 541.5
    return turn and max(abs(edge.south), abs(edge.north)) <= 91


def _check(layer: Layer, *, given: bool) -> None:
    crs, edge = layer.crs, edges(layer)
    if crs is None:
        return
    step = min(abs(layer.transform.a), abs(layer.transform.e))
    origin = "given" if given else "in the file"
    if not all(math.isfinite(value) for value in (edge.west, edge.south, edge.east, edge.north)):
        raise GridError("its position is not a number", file=layer.source)
    if not step > max(abs(edge.east), abs(edge.north), 1.0) * FINEST_SHARE:
        raise GridError(
            f"cells of {step:g} are too small to distinguish", file=layer.source,
            do="Export it again with its true cell size.",
        )  # fmt: skip
    if crs.is_geographic:
        over_the_pole = max(abs(edge.south), abs(edge.north)) > 90 + abs(layer.transform.e)
        if over_the_pole or not _can_be_degrees(edge):
            raise GridError(
                f"the CRS {origin}, {crs.name}, is in degrees, but the coordinates "
                f"({_text(edge)}) can't be",
                file=layer.source,
                do="They look like metres: name the projected CRS with {crs}.",
            )
        return
    if _in_degrees(edge) and step < FINEST_DEGREE_STEP:
        raise GridError(
            f"the CRS {origin}, {crs.name}, is in metres, but the coordinates ({_text(edge)}) "
            "look like degrees",
            file=layer.source,
            do="If they are longitudes and latitudes, give EPSG:4326 as {crs}.",
        )
    check_reach(layer, crs, given=given)


def _check_kind(crs: CRS, source: str) -> None:
    """Refuse a CRS that is on no plane and no ellipsoid, such as EPSG:4978, or lacks parameters."""
    try:
        crs.to_cf()
        usable = crs.is_geographic or crs.is_projected
    except (LookupError, ValueError, TypeError, CRSError):
        usable = False
    if not usable:
        raise GridError(
            f"its coordinate reference system, {crs.name}, is neither geographic nor projected, "
            "or lacks parameters",
            file=source,
            do="Name another with {crs}.",
        )


def check_reach(layer: Layer, crs: CRS, *, given: bool) -> None:
    """Refuse a grid that is nowhere or, if its CRS was `given`, far from where that is used."""
    edge = edges(layer)
    try:
        longitude, latitude = to_degrees(crs).transform(
            (edge.west + edge.east) / 2, (edge.south + edge.north) / 2
        )
    except ProjError as error:
        raise _unplaceable(layer, crs) from error
    if not (math.isfinite(longitude) and math.isfinite(latitude)):
        raise _unplaceable(layer, crs)
    use = crs.area_of_use
    if not given or use is None:
        return
    within = (longitude - use.west) % 360 <= ((use.east - use.west) % 360 or 360)
    beside = 0.0 if within else min((longitude - use.east) % 360, (use.west - longitude) % 360)
    above = max(use.south - latitude, latitude - use.north)
    if max(beside, above) > TOO_FAR_DEGREES:
        raise GridError(
            f"in {crs.name} the grid would lie at {latitude:.2f}, {longitude:.2f}, far outside the "
            f"area that CRS is made for ({use.name})",
            file=layer.source,
            do="Name the right CRS with {crs}.",
        )


def _unplaceable(layer: Layer, crs: CRS) -> GridError:
    return GridError(
        f"its coordinates ({_text(edges(layer))}) lie nowhere on earth in {crs.name}",
        file=layer.source,
        do="Name the right CRS with {crs}.",
    )


def _unwrapped(layer: Layer) -> Layer:
    """Bring longitudes of 0 to 360 to -180 to 180; a whole turn is rolled at 180."""
    edge, affine = edges(layer), layer.transform
    if affine.a <= 0 or edge.east <= 180 + 1e-9 + affine.a / 2:
        return layer
    centre = (edge.west + edge.east) / 2
    columns = min(layer.shape[1], round(360 / affine.a))
    if edge.east - edge.west >= 360 - 1.5 * affine.a:
        turn = round((180 - edge.west) / affine.a)
        roll = Affine(affine.a, 0, affine.c + affine.a * turn - 360, 0, affine.e, affine.f)
        return replace(
            layer,
            shape=(layer.shape[0], columns),
            transform=roll,
            read=partial(_rolled, read=layer.read, turn=turn, columns=columns),
            uncertainty=None
            if layer.uncertainty is None
            else partial(_rolled, read=layer.uncertainty, turn=turn, columns=columns),
            guesses=(*layer.guesses, "Longitudes of 0 to 360 were unwrapped to -180 to 180."),
        )
    if centre <= 180:
        return layer
    moved = Affine(affine.a, 0, affine.c - 360, 0, affine.e, affine.f)
    return replace(
        layer,
        transform=moved,
        guesses=(*layer.guesses, "Longitudes of 0 to 360 were unwrapped to -180 to 180."),
    )


def _rolled(cells: Cells, *, read: Reader, turn: int, columns: int) -> NDArray[np.float32]:
    """Read cells of a layer whose first column is column `turn` of the file."""
    first = (cells.column + turn) % columns
    before = min(cells.columns, columns - first)
    left = read(Cells(cells.row, first, cells.rows, before))
    if before == cells.columns:
        return left
    right = read(Cells(cells.row, 0, cells.rows, cells.columns - before))
    return np.concatenate([left, right], axis=1)


def _text(edge: Bounds) -> str:
    return " ".join(f"{one:.8g}" for one in (edge.west, edge.south, edge.east, edge.north))
