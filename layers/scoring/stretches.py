"""Hot stretches of lines, and what shortening the drift to them would save and give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import shapely.ops
from numpy.typing import NDArray
from shapely.geometry import Point

from layers.scoring.likeness import metric_lines
from layers.scoring.lines import ON_LINES
from layers.scoring.ranking import LINES
from layers.scoring.rates import SHAPE_GUESS
from layers.scoring.samples import SAMPLES
from layers.scoring.scan import Stretch, scan_ground, scan_stretch
from seabed.geodesy import from_degrees, utm_of, utm_zone
from seabed.schema import Table, documented
from seabed.units import Say, in_metres

__all__ = ["PATCHES", "STRETCHES", "hot_patch", "hot_stretches"]

STRETCHES: Final = Table.of(
    "stretches",
    "layers.scoring.hot_stretches",
    """
    line [text "Line"] its name
    hot [bool] p < 0.05; among twenty lines of even worth one is so by luck
    p chance of such a stretch by luck
    start_m ["Begins" distance .2] along the line, with `LEAD_M` before
    end_m ["Ends" distance .2] along the line, with `LEAD_M` after
    line_length_m ["Whole line" distance .2] of the longest drift
    fish, fish_elsewhere [int] in it, and on the rest of the line
    expected fish due to its effort
    rod_hours, share_of_effort in it
    rate_here drawn toward the line's rate, since the best of many windows flatters itself
    rate_elsewhere, rate_line [empty] fish a rod-hour
    saves_s a pass is shorter by
    gives fish a rod-hour more than the whole line
    start_longitude, start_latitude, end_longitude, end_latitude of its ends
    why [text "Why"] in words
    geometry [LineString]
    """,
)
PATCHES: Final = Table.of(
    "patches",
    "layers.scoring.hot_patch",
    """
    p chance of such a patch by luck
    radius_m [distance] of the circle
    fish [int] in it
    expected fish due to its effort
    rod_hours in it
    rate_here drawn toward the rate of all water
    rate_elsewhere [empty] fish a rod-hour
    why [text] in words
    geometry [Polygon] the circle
    """,
)

BIN_M: Final = 10.0
AXIS_M: Final = 2.0
"""Thinning of the drift that a line is measured on."""

LEAD_M: Final = 15.0
"""A shortened drift begins and ends this much outside: baits must be down, and a fish is
logged a little after its bite.  Common practice, no source."""

SIGNIFICANT: Final = 0.05

LEAST_SAVED_S: Final = 60.0
"""Of a pass, below which a shorter drift is not worth saying.  Common practice, no source."""

RADII_M: Final = (20.0, 30.0, 45.0, 70.0, 100.0, 150.0)
CELL_M: Final = 20.0


@documented(STRETCHES)
def hot_stretches(
    lines: gpd.GeoDataFrame,
    drifts: gpd.GeoDataFrame,
    samples: pd.DataFrame,
    *,
    bin_m: float = BIN_M,
    replicates: int = 999,
    seed: int = 0,
    say: Say = in_metres,
) -> gpd.GeoDataFrame:
    """Find the hottest stretch of each line and say what shortening the drift to it would do.

    Places along a line are measured on its longest drift, in bins of `bin_m`; every drift's effort
    and fish count where they were.  What lies beyond its ends is none of its stretches, but counts
    for the whole line.  `layers.scoring.scan.scan_stretch` finds it.  Fish that
    come in bunches can look like a place: one drift's bunch is no proof, however small p is.

    Parameters
    ----------
    lines : from `rank_lines`
    drifts : from `gather_lines`
    samples : from `sample_drifts`
    bin_m : float
    replicates, seed : int
    say : callable
        Writes lengths in ``why``.

    Returns
    -------
    GeoDataFrame, EPSG:4326, in the order of `lines`; lines without such a stretch have no row
        {stretches}

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip, gather, tie
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> own = gather(drifts(cut(fixes), fixes))
    >>> tied = tie(catches, own, fixes)
    >>> from layers.scoring import rank_lines, sample_drifts
    >>> samples = sample_drifts(own, tied, fixes)
    >>> hot_stretches(rank_lines(own, tied), own, samples)[["line", "fish"]].values.tolist()
    [['N1', 4]]
    """
    LINES.check(lines, "line", "geometry")
    ON_LINES.check(drifts, "line", "duration_s", "geometry")
    SAMPLES.check(samples, "line", "longitude", "latitude", "rod_hours", "fish")
    if not len(lines) or not len(samples):
        return STRETCHES.empty()
    crs = utm_of(lines)
    axes = _axes(drifts, crs)
    seconds = drifts.groupby("line")["duration_s"].mean()
    places = np.column_stack(_metres(samples["longitude"], samples["latitude"], crs))
    hours, fish = samples["rod_hours"].to_numpy(float), samples["fish"].to_numpy(np.int64)
    found = []
    for name, rows in samples.groupby("line").indices.items():
        along = _along(axes[name], places[rows], hours[rows], fish[rows], bin_m)
        stretch = scan_stretch(along.hours, along.fish, replicates=replicates, seed=seed)
        if stretch is not None:
            found.append({"line": name, **_told(along, stretch, float(seconds[name]), say)})
    order = {name: place for place, name in enumerate(lines["line"])}
    found.sort(key=lambda row: order[row["line"]])
    pieces = gpd.GeoSeries([row["geometry"] for row in found], crs=crs).to_crs("EPSG:4326")
    return STRETCHES.frame(
        [row | _ends(piece) | {"geometry": piece} for row, piece in zip(found, pieces, strict=True)]
    )


@documented(PATCHES)
def hot_patch(
    samples: pd.DataFrame,
    *,
    cell_m: float = CELL_M,
    radii_m: tuple[float, ...] = RADII_M,
    replicates: int = 999,
    seed: int = 0,
) -> gpd.GeoDataFrame:
    """Find the circle of ground whose fish its effort explains least, over all lines together.

    Parameters
    ----------
    samples : from `sample_drifts`
    cell_m : float
        Effort and fish are put together in squares of this side.
    radii_m : tuple of float
    replicates, seed : int

    Returns
    -------
    GeoDataFrame, EPSG:4326, one row or none
        {patches}

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip, gather, tie
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> own = gather(drifts(cut(fixes), fixes))
    >>> tied = tie(catches, own, fixes)
    >>> from layers.scoring import sample_drifts
    >>> hot_patch(sample_drifts(own, tied, fixes))["fish"].tolist()
    [4]
    """
    SAMPLES.check(samples, "longitude", "latitude", "rod_hours", "fish")
    cells, crs = _cells(samples, cell_m)
    if not len(cells):
        return PATCHES.empty()
    xy = cells[["x", "y"]].to_numpy()
    found = scan_ground(xy, cells["rod_hours"], cells["fish"], radii_m,
                        replicates=replicates, seed=seed)  # fmt: skip
    if found is None:
        return PATCHES.empty()
    hours, fish = cells["rod_hours"].sum(), int(cells["fish"].sum())
    inside = float(hours * found.expected / fish)
    here, elsewhere, _ = _rates(found.fish, inside, fish, hours)
    circle = Point(xy[found.centre]).buffer(found.radius_m)
    row = {
        "p": found.p, "radius_m": found.radius_m, "fish": found.fish, "expected": found.expected,
        "rod_hours": inside, "rate_here": here, "rate_elsewhere": elsewhere,
        "why": f"{found.fish} of {fish} fish in {inside:.1f} of {hours:.1f} rod-hours, where "
        f"{found.expected:.1f} were due (p {found.p:.3f}).",
        "geometry": gpd.GeoSeries([circle], crs=crs).to_crs("EPSG:4326").iloc[0],
    }  # fmt: skip
    return PATCHES.frame([row])


def _cells(samples: pd.DataFrame, cell_m: float) -> tuple[pd.DataFrame, Any]:
    """Effort and fish in squares, with their middles in metres."""
    if not len(samples):
        return samples.assign(x=[], y=[]), None
    longitude, latitude = samples["longitude"].to_numpy(), samples["latitude"].to_numpy()
    crs = utm_zone(
        (np.nanmin(longitude) + np.nanmax(longitude)) / 2,
        (np.nanmin(latitude) + np.nanmax(latitude)) / 2,
    )
    x, y = _metres(longitude, latitude, crs)
    squares = pd.DataFrame(
        {
            "x": (np.floor(x / cell_m) + 0.5) * cell_m,
            "y": (np.floor(y / cell_m) + 0.5) * cell_m,
            "rod_hours": samples["rod_hours"].to_numpy(),
            "fish": samples["fish"].to_numpy(),
        }
    )
    return squares.groupby(["x", "y"], as_index=False).sum(), crs


@dataclass(frozen=True, slots=True)
class _Along:
    """A line's axis, on a plane in metres, and the effort and fish of its bins."""

    axis: Any
    bin_m: float
    hours: NDArray[np.float64]
    fish: NDArray[np.int64]
    all_hours: float
    all_fish: int


def _metres(longitude: Any, latitude: Any, crs: Any) -> tuple[Any, Any]:
    """Easting and northing of positions, metres."""
    x, y = from_degrees(crs).transform(np.asarray(longitude, float), np.asarray(latitude, float))
    return x, y


def _axes(drifts: gpd.GeoDataFrame, crs: Any) -> dict[Any, Any]:
    """Give the longest drift of each line, on a plane, thinned."""
    flat = metric_lines(drifts, crs)
    groups = drifts.groupby("line").indices
    longest = [rows[int(np.argmax(shapely.length(flat[rows])))] for rows in groups.values()]
    thin = shapely.simplify(flat[longest], AXIS_M, preserve_topology=False)
    return dict(zip(groups, thin, strict=True))


def _along(
    axis: Any,
    places: NDArray[np.float64],
    hours: NDArray[np.float64],
    fish: NDArray[np.int64],
    bin_m: float,
) -> _Along:
    bins = max(int(np.ceil(axis.length / bin_m)), 1)
    located = shapely.line_locate_point(axis, shapely.points(places))
    on = ~_beyond(axis, places, located, bin_m)
    at = np.minimum((located[on] / bin_m).astype(np.int64), bins - 1)
    return _Along(
        axis,
        bin_m,
        np.bincount(at, hours[on], minlength=bins).astype(float),
        np.bincount(at, fish[on], minlength=bins).astype(np.int64),
        float(hours.sum()),
        int(fish.sum()),
    )


def _beyond(
    axis: Any, xy: NDArray[np.float64], located: NDArray[np.float64], reach_m: float
) -> NDArray[np.bool_]:
    """Say which places lie before the start or past the end of an axis, by more than a reach."""
    line = shapely.get_coordinates(axis)
    past = np.zeros(len(xy), bool)
    for end, before, level in ((line[0], line[1], 0.0), (line[-1], line[-2], axis.length)):
        way = (end - before) / max(np.hypot(*(end - before)), 1e-9)
        past |= (located == level) & ((xy - end) @ way > reach_m)
    return past


def _told(along: _Along, found: Stretch, drift_s: float, say: Say) -> dict[str, Any]:
    """Tell of a stretch; its geometry still on the plane."""
    length, bin_m = along.axis.length, along.bin_m
    start = max(found.first * bin_m - LEAD_M, 0.0)
    end = min((found.last + 1) * bin_m + LEAD_M, length)
    saved = drift_s * (1.0 - (end - start) / length)
    where = f"from {say(start)} to {say(end)} of its {say(length)}"
    return {
        "start_m": start,
        "end_m": end,
        "line_length_m": length,
        **_worth(along, found, saved, where),
        "geometry": shapely.ops.substring(along.axis, start, end),
    }


def _worth(along: _Along, found: Stretch, saved: float, where: str) -> dict[str, Any]:
    hours, fish = along.all_hours, along.all_fish
    inside = float(along.hours[found.first : found.last + 1].sum())
    here, elsewhere, line = _rates(found.fish, inside, fish, hours)
    why = f"{found.fish} of {fish} fish in {inside / hours:.0%} of the hours (p {found.p:.3f})"
    gain = f"about {here:.1f} fish a rod-hour instead of {line:.1f}."
    if found.p >= SIGNIFICANT:
        why += f", {where}: luck explains it."
    elif saved < LEAST_SAVED_S:
        why += f": drift all of this, {where}; it gives {gain}"
    else:
        less = f"each pass is {saved / 60:.0f} min shorter and gives {gain}"
        why += f": drift it shorter, {where}; {less}"
    return {
        "hot": found.p < SIGNIFICANT, "p": found.p, "fish": found.fish,
        "fish_elsewhere": fish - found.fish, "expected": found.expected,
        "rod_hours": inside, "share_of_effort": inside / hours, "rate_here": here,
        "rate_elsewhere": elsewhere, "rate_line": line, "saves_s": saved, "gives": here - line,
        "why": why,
    }  # fmt: skip


def _rates(fish: int, hours: float, all_fish: int, all_hours: float) -> tuple[float, float, float]:
    """Rate in a window, drawn toward the whole's; elsewhere; of the whole."""
    whole = all_fish / all_hours
    here = (SHAPE_GUESS + fish) / (SHAPE_GUESS / whole + hours)
    rest = all_hours - hours
    return here, (all_fish - fish) / rest if rest > 0 else float("nan"), whole


def _ends(line: Any) -> dict[str, float]:
    (west, south), (east, north) = line.coords[0][:2], line.coords[-1][:2]
    return {
        "start_longitude": west, "start_latitude": south,
        "end_longitude": east, "end_latitude": north,
    }  # fmt: skip
