"""Sentences on a scouted grid: noise, scale, depths worth a band, what moved since a survey."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import xarray as xr

from layers.area import Area
from layers.jobs.parts.settings import reading_of
from layers.jobs.parts.structure import Structure, check_deepest, check_size
from layers.jobs.parts.words import counted, say_length
from layers.jobs.requests import ScoutRequest
from layers.present.positions import degrees_minutes
from seabed.array_types import Floats
from seabed.change import Changes, changes_since
from seabed.errors import GridError, SeabedError
from seabed.geodesy import bearing_and_distance, to_degrees
from seabed.grid import cell_size, crs_of
from seabed.loaders import Surface, open_stored, open_surface
from seabed.structure import Bottom
from seabed.structure.contours import round_levels
from seabed.structure.overview import overview_of
from seabed.units import LENGTH, convert, format_quantity

USUAL_SCALE_M: Final = 20.0
_LEAST_NOISE_M: Final = 0.02
_BAR: Final = 30
_BANDS: Final = 3
_WIDE: Final = 2
"""Steps of the histogram that a band is wide."""


def ground_words(structure: Structure, area: Area) -> Iterator[str]:
    """Say what was made of coarse cells, noise and lone soundings."""
    bottom, unit = structure.bottom, area.units.depth
    whole = bottom.whole
    scale_m = bottom.kinds["edges"].limits(whole).scale_m  # type: ignore[attr-defined]
    wanted = area.structure.edge_scale_m
    if scale_m != (USUAL_SCALE_M if wanted is None else wanted):
        yield (
            f"The cells are {format_quantity(whole.size.typical, 'm')}: edges are searched at a "
            f"scale of {format_quantity(scale_m, 'm')}."
        )
    levels = whole.field.levels
    if levels[-1] >= _LEAST_NOISE_M:
        least, most = (format_quantity(one, unit, digits=2) for one in (levels[0], levels[-1]))
        much = least if least == most else f"{least} in the best parts to {most} in the worst"
        yield (
            f"The depths have noise of {much}; humps, holes and contours are those of the ground "
            "without it."
        )
    if left_out := getattr(structure.contours, "attrs", {}).get("left_out"):
        yield f"Left out: {counted(left_out, 'contour line')} made by noise alone."
    if count := len(bottom.doubtful):
        yield (
            f"{counted(count, 'doubtful sounding')}, far off the ground around: not ranked, but "
            "each may be a rock. They are in doubtful_soundings.csv."
        )


def histogram(structure: Structure, area: Area) -> tuple[Floats, Floats]:
    """Give the ends of round steps of depth, metres, and the share of the water in each."""
    values = structure.bottom.overview.values
    known = values[np.isfinite(values)].astype(float)
    unit_m = LENGTH[area.units.depth]
    if not len(known):
        return np.zeros(1), np.zeros(0)
    low, high = np.quantile(known, [0.002, 0.998])
    levels = np.array(round_levels(low, high, unit_m=unit_m))
    step = float(np.diff(levels).min()) if len(levels) > 1 else max(high - low, unit_m)
    first = np.floor(known.min() / step) if len(levels) < 2 else levels[0] / step - 1
    ends = step * np.arange(round(first), np.ceil(high / step) + 1)
    counts, _ = np.histogram(known.clip(ends[0], ends[-1]), ends)
    return ends, counts / len(known)


def worthwhile_bands(structure: Structure, ends: Floats) -> list[tuple[float, float, float]]:
    """Give bands two steps wide that hold most length of edges: ends and that length, metres."""
    edges = structure.edges
    top, foot = edges["top_depth_m"].to_numpy(), edges["foot_depth_m"].to_numpy()
    length = edges["length_m"].to_numpy()
    bands = []
    for low, high in zip(ends[:-_WIDE], ends[_WIDE:], strict=True):
        inside = np.clip(np.minimum(foot, high) - np.maximum(top, low), 0, None)
        bands.append((low, high, float((length * inside / np.maximum(foot - top, 1e-9)).sum())))
    best: list[tuple[float, float, float]] = []
    for band in sorted(bands, key=lambda one: -one[2]):
        apart = all(band[1] <= other[0] or band[0] >= other[1] for other in best)
        if band[2] > 0 and apart:
            best.append(band)
    return best[:_BANDS]


def band_words(structure: Structure, area: Area) -> Iterator[str]:
    """Show the depths of a grid and the bands that would be worth asking for, if none is."""
    if area.depths.band_m is not None:
        return
    unit = area.units.depth
    ends, shares = histogram(structure, area)
    shown = [f"{convert(float(end), unit):g}" for end in np.round(ends, 6)]
    wide = max((len(word) for word in shown), default=0)
    yield "No depth band is set. How much of the water is at which depth:"
    for low, high, part in zip(shown[:-1], shown[1:], shares, strict=True):
        bar = "#" * round(_BAR * part / shares.max())
        yield f"  {low:>{wide}}-{high:<{wide}} {unit} {part:>4.0%} {bar}"
    best = [
        f'"{convert(low, unit):g}-{convert(high, unit):g} {unit}"'
        for low, high, _ in worthwhile_bands(structure, ends)
    ]
    if best:
        yield f"Most edges are in these bands: {', '.join(best)}."


_LEAST_LEVEL_M: Final = 0.05
MOST_LINES: Final = 6
"""Most changes, moves and doubtful soundings that are listed."""
LARGE: Final = 40_000_000
"""Cells beyond which an older survey is read as means over squares."""


def changes_of(newer: Surface | Bottom, area: Area, request: ScoutRequest) -> Changes | None:
    """Compare a grid, or its overview, with the older survey of a request; None without one."""
    if request.against is None:
        if request.unmatched:
            raise SeabedError("{unmatched} is for an older survey", do="Name one with {against}.")
        return None
    older = _older(request.against, area)
    if isinstance(newer, Bottom):
        newer = Surface(newer.overview, None)
    try:
        return changes_since(
            newer.depth,
            older.depth,
            matched=not request.unmatched,
            uncertainty=newer.uncertainty,
            older_uncertainty=older.uncertainty,
        )
    except GridError as error:
        if error.file is None:
            error.file = request.against
        raise


def _older(file: Path, area: Area) -> Surface:
    """Open the older survey as the area reads its grids, but for the name of a band."""
    how = reading_of(area) | {"variable": None}
    try:
        rows, columns = open_stored(file, **how).shape
    except GridError:  # such as points: reading it gives the message
        rows = columns = 0
    if rows * columns > LARGE:
        return Surface(overview_of(open_stored(file, **how)), None)
    surface = open_surface([file], **how)
    check_size(surface.depth.shape, file)
    check_deepest(float(surface.depth.max()), file)
    return surface


def change_words(changes: Changes, area: Area, against: Path) -> Iterator[str]:
    """Say what moved, and how the two surveys lie against each other."""
    short, unit = say_length(area), area.units.depth
    patches, moves = changes.patches, changes.moves
    kinds = patches["kind"].value_counts()
    yield (
        f"Against {against.name}, on cells of {short(cell_size(changes.difference).typical)}: "
        f"{counted(kinds.get('filled', 0), 'place')} filled, {kinds.get('scoured', 0)} scoured, "
        f"{counted(len(moves), 'move')} of edges, humps, holes and sand waves, all beyond the "
        f"noise of both surveys, {format_quantity(changes.noise_m, unit, digits=2)}."
    )
    yield from _lie_words(changes, area)


def _lie_words(changes: Changes, area: Area) -> Iterator[str]:
    """Say how level, place and smoothing of both differ, and whether that is taken off."""
    short, unit, lie = say_length(area), area.units.depth, changes.alignment
    done = "taken off" if lie.matched else "left as it is"
    if abs(lie.deeper_m) >= _LEAST_LEVEL_M:
        way = "deeper" if lie.deeper_m > 0 else "shallower"
        off = format_quantity(abs(lie.deeper_m), unit, digits=2)
        yield (
            f"The newer survey is {off} {way} on ground that did not move ({done}): another datum, "
            "or an error of the tide."
        )
    if np.isnan(lie.error_m):
        yield (
            "One survey may be shifted against the other: the unchanged ground is too flat to show "
            "it. Changes on slopes may be such a shift."
        )
    elif lie.shift_m:
        toward = _bearing(changes.difference, lie.east_m, lie.north_m)
        yield (
            f"The older survey is {short(lie.shift_m, digits=1)} off, toward "
            f"{(toward + 180) % 360:03.0f}° ({done}), give or take {short(lie.error_m, digits=1)}."
        )
    if lie.blur_m:
        which = "older" if lie.blur_m > 0 else "newer"
        yield (
            f"The {which} survey is smoother, as by a mean over {short(2 * abs(lie.blur_m))} "
            f"({done})."
        )


def _bearing(frame: xr.DataArray, east_m: float, north_m: float) -> float:
    """Give the true direction of a shift along a grid's axes, at its middle."""
    size = cell_size(frame)
    at = len(size.easting) // 2
    x, y = (float(frame[axis].values[frame.sizes[axis] // 2]) for axis in ("x", "y"))
    step_x, step_y = (abs(float(np.diff(frame[axis].values[:2])[0])) for axis in ("x", "y"))
    there = x + east_m / size.easting[at] * step_x, y + north_m / size.northing[at] * step_y
    degrees = to_degrees(crs_of(frame))
    bearing: Any = bearing_and_distance(*degrees.transform(x, y), *degrees.transform(*there))[0]
    return float(bearing)


def change_lines(changes: Changes, area: Area) -> Iterator[str]:
    """Give a line for each of the greatest changes and of the longest moves, with its place."""
    short, unit = say_length(area), area.units.depth
    patches, moves = changes.patches.head(MOST_LINES), changes.moves.head(MOST_LINES)
    places = degrees_of(patches.geometry.representative_point()) if len(patches) else []
    for row, place in zip(patches.itertuples(), places, strict=True):
        mean = format_quantity(abs(row.change_m), unit, digits=1)
        about = f": {row.about}" if row.about else ""
        yield (
            f"{row.kind.capitalize()} by {mean}, over ground {short(row.area_m2**0.5)} across, "
            f"now {format_quantity(row.depth_m, unit)} deep, at {place}{about}."
        )
    ends = degrees_of(moves.geometry.interpolate(1, normalized=True)) if len(moves) else []
    for row, place in zip(moves.itertuples(), ends, strict=True):
        what = {"sand waves": "Sand waves", "hole": "A hole", "hump": "A hump"}.get(
            row.kind, "A stretch of edge"
        )
        yield (
            f"{what} moved {short(row.moved_m)} toward {row.toward_deg:03.0f}°, give or take "
            f"{short(row.error_m, digits=1)}, to {place}."
        )
    if more := len(changes.patches) + len(changes.moves) - len(patches) - len(moves):
        yield f"{more} more are in changes.csv and moves.csv."


def doubtful_lines(bottom: Bottom, area: Area) -> Iterator[str]:
    """Give a line for each of the soundings that are furthest off, with its place."""
    unit, table = area.units.depth, bottom.doubtful.head(MOST_LINES)
    places = degrees_of(table.geometry) if len(table) else []
    for row, place in zip(table.itertuples(), places, strict=True):
        yield (
            f"Doubtful sounding: {format_quantity(row.depth_m, unit, digits=1)} where it is "
            f"{format_quantity(row.around_m, unit, digits=1)} around, at {place}."
        )


def degrees_of(points: gpd.GeoSeries) -> list[str]:
    """Write places in degrees and minutes."""
    return [degrees_minutes(one.y, one.x) for one in points.to_crs("EPSG:4326")]
