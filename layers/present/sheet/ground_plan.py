"""The ground around a line, in metres from its middle: what the sheet's small maps show."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray
from shapely.geometry import LineString, box

from seabed.errors import GridError
from seabed.geodesy import from_degrees, plane_around, to_degrees
from seabed.grid import Bounds, bounds, crs_of, transform_of
from seabed.grid.extent import window
from seabed.grid.places import turned_onto
from seabed.structure import contours
from seabed.units import LENGTH, half_turned, round_step

Metres = NDArray[np.float64]

MOST_CONTOURS: Final = 6
LEAST_WIDTH_M: Final = 240.0
MARGIN: Final = 1.35
AWASH_M: Final = 0.5
"""Water so deep beside a rim is a shore whatever the slope."""


@dataclass(frozen=True, slots=True)
class GroundPlan:
    """A line and what is around it.

    width_m, height_m: of the ground shown; (0, 0) is its middle, east and north are positive.
    track: ndarray, shape (n, 2); the line from its start, metres.
    contours: depth in the unit shown, and a line of it.
    shore, ends: rims of what has no depth: where the bottom comes up to the surface, and where the
        survey ends over deeper water.
    others: name and track of each other line that is seen.
    hazards: kind, and its place (one row), line, or outline.
    """

    width_m: float
    height_m: float
    track: Metres
    contours: Sequence[tuple[float, Metres]] = ()
    shore: Sequence[Metres] = ()
    ends: Sequence[Metres] = ()
    others: Sequence[tuple[str, Metres]] = ()
    hazards: Sequence[tuple[str, Metres]] = ()


def ground_plan(
    grid: xr.DataArray,
    line: LineString,
    *,
    shape: tuple[float, float],
    unit: str,
    others: Iterable[tuple[str, LineString]] = (),
    hazards: gpd.GeoDataFrame | None = None,
) -> GroundPlan:
    """Cut the ground around a line out of what is known.

    line, others: degrees, WGS 84.
    shape: width and height of the picture it is for, in any unit: the ground has their ratio.
    hazards: as `seabed.loaders.read_hazards` gives them.
    Returned: contours every 1, 2, 5, 10 … of the unit, as few as six allow.
    """
    longitude, latitude = np.array(line.coords).T[:2]
    middle = _middle(longitude), _middle(latitude)
    plane = plane_around(*middle)
    onto_plane = _mover(plane)
    track = onto_plane(np.column_stack([longitude, latitude]))
    across = np.ptp(track, axis=0).max(initial=LEAST_WIDTH_M / MARGIN / 2)
    unit_m = max(
        np.ptp(track[:, 0]) / shape[0], np.ptp(track[:, 1]) / shape[1], across / max(shape) / 2
    )
    width, height = (max(unit_m * MARGIN, LEAST_WIDTH_M / shape[0]) * side for side in shape)
    seen = box(-width / 2, -height / 2, width / 2, height / 2)
    near = _window(grid, plane, middle[0], (width, height))
    lines, shore, ends = _bottom(near, plane, seen, unit)
    return GroundPlan(
        width,
        height,
        track,
        lines,
        shore,
        ends,
        [
            (name, part)
            for name, other in others
            for part in _parts(shapely.transform(other, onto_plane), seen)
        ],
        _seen_hazards(hazards, plane, seen),
    )


def _middle(degrees: Metres) -> float:
    return float((degrees.min() + degrees.max()) / 2)


def _mover(*ways: Any) -> Callable[[Metres], Metres]:
    def moved(points: Metres) -> Metres:
        for way in ways:
            points = np.column_stack(way.transform(points[:, 0], points[:, 1]))
        return points

    return moved


def _window(
    grid: xr.DataArray, plane: Any, longitude: float, size: tuple[float, float]
) -> xr.DataArray | None:
    """Cells around the middle of the plane; None if the grid has too few there."""
    width, height = np.array(size) * 0.6
    rim = shapely.segmentize(box(-width, -height, width, height), min(width, height) / 10)
    degrees = plane.transform(*shapely.get_coordinates(rim).T, direction="INVERSE")
    x, y = from_degrees(crs_of(grid)).transform(*degrees)
    if crs_of(grid).is_geographic:  # whole turns of the middle: the rim may be beyond the grid's
        x = turned_onto(np.array(longitude), bounds(grid)) + half_turned(x - longitude)
    edge = float(x.min()), float(y.min()), float(x.max()), float(y.max())
    try:
        part = window(grid, Bounds(*edge))
    except GridError:
        return None
    return part if min(part.shape) >= 3 else None


def _bottom(
    grid: xr.DataArray | None, plane: Any, seen: shapely.Polygon, unit: str
) -> tuple[list[tuple[float, Metres]], list[Metres], list[Metres]]:
    """Give contours, the shore, and where the survey ends."""
    if grid is None or not np.isfinite(grid.values).any():
        return [], [], []
    to_plane = _mover(to_degrees(crs_of(grid)), plane)
    low, high = np.nanmin(grid.values) / LENGTH[unit], np.nanmax(grid.values) / LENGTH[unit]
    step = round_step(max((high - low) / MOST_CONTOURS, 1.0))
    levels = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    table = contours(grid, [float(level) * LENGTH[unit] for level in levels])
    lines = [
        (round(depth / LENGTH[unit], 6), part)
        for depth, line in zip(table["depth_m"], table.geometry, strict=True)
        for part in _parts(shapely.transform(line, to_plane), seen)
    ]
    dry = grid.copy(data=np.isnan(grid.values).astype(np.float32))
    rims = contours(dry, [0.5]) if dry.values.any() else None
    shore: list[Metres] = []
    ends: list[Metres] = []
    for rim in [] if rims is None else rims.geometry:
        for ashore, part in _sides(np.asarray(rim.coords)[:, :2], grid):
            rim_seen = _parts(shapely.transform(LineString(part), to_plane), seen)
            (shore if ashore else ends).extend(rim_seen)
    return lines, shore, ends


def _sides(rim: Metres, grid: xr.DataArray) -> Iterator[tuple[bool, Metres]]:
    """Cut a rim where the shore, at which the bottom comes up within a cell, begins or ends."""
    column, row = ~transform_of(grid) @ (rim[:, 0], rim[:, 1])
    around = np.stack([
        grid.values[
            np.clip(row.astype(int) + down, 0, grid.shape[0] - 1),
            np.clip(column.astype(int) + right, 0, grid.shape[1] - 1),
        ]
        for down in (-1, 0, 1) for right in (-1, 0, 1)
    ])  # fmt: skip
    least, most = np.fmin.reduce(around), np.fmax.reduce(around)
    ashore = ~(least > np.maximum(AWASH_M, most - least))
    for part in np.split(np.arange(len(rim)), np.flatnonzero(np.diff(ashore)) + 1):
        kept = rim[part[0] : part[-1] + 2]  # up to where the next begins
        if len(kept) > 1:
            yield bool(ashore[part[0]]), kept


def _seen_hazards(
    hazards: gpd.GeoDataFrame | None, plane: Any, seen: shapely.Polygon
) -> list[tuple[str, Metres]]:
    if hazards is None or not len(hazards):
        return []
    onto_plane = _mover(to_degrees(hazards.crs), plane)
    placed = shapely.transform(hazards.geometry.to_numpy(), onto_plane)
    return [
        (str(kind), part)
        for kind, shape in zip(hazards["kind"], placed, strict=True)
        if shape is not None and shape.is_valid
        for part in _parts(shape, seen)
    ]


def _parts(shape: Any, seen: shapely.Polygon) -> list[Metres]:
    """Coordinates of what of a shape is seen; of areas the outlines."""
    inside = shapely.intersection(shape, seen)
    rims: list[Metres] = []
    for part in shapely.get_parts(inside):
        if part.is_empty:
            continue
        rim = part.exterior if part.geom_type == "Polygon" else part
        rims.append(np.asarray(rim.coords, np.float64)[:, :2])
    return rims
