"""Where to sound next: straight lines that cut the uncertainty of the ground of interest most."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr

from seabed.array_types import Floats
from seabed.errors import GridError
from seabed.geodesy import bearing_and_distance, to_degrees
from seabed.grid.arrays import as_grid
from seabed.schema import Table, documented
from seabed.soundings.proposals._ground import Line, SurveyGround, away_from, ground_of
from seabed.soundings.proposals._turned import WORTH, TurnedGround

PROPOSALS: Final = Table.of(
    "proposals",
    "seabed.soundings.lines_to_sound",
    """
    line [text] "S1", ...
    kind [text] main or cross
    why [text] in words
    length_m [distance .2] of it
    bearing_deg true
    gain share of the band's variance it cuts, given the lines chosen before it
    geometry [LineString] of two points
    """,
)

BEARINGS: Final = 12
MOST_AT_ONCE: Final = 2
"""Bearings tried side by side: each holds the ground turned."""

CROSS_SHARE: Final = 0.1
"""Of the length, for lines across the others as a check on them (common practice, no source)."""

CORRELATION_M: Final = 50.0
FEWEST_CROSSED: Final = 2


@documented(PROPOSALS)
def lines_to_sound(
    depth: xr.DataArray,
    uncertainty: xr.DataArray,
    *,
    length_m: float,
    band: tuple[float, float] | None = None,
    shallowest_m: float = 1.0,
    spacing_m: float | None = None,
    correlation_m: float = CORRELATION_M,
    sounding_sigma_m: float = 0.2,
) -> gpd.GeoDataFrame:
    """Propose straight lines to sound, that together cut the variance over a band of depth most.

    Parallel lines of one bearing, and a tenth of the length in lines across them.  A line cuts the
    variance v of a cell at distance r to v (1 - c(r)² v / (v + s²)), c being the Matérn
    correlation and s the deviation of a sounding.  What lines cut together is submodular, so that
    choosing the line that gains most a metre (with the way to it), again and again, comes near the
    best choice (Nemhauser, Wolsey & Fisher 1978; within a length: Khuller, Moss & Naor 1999).
    Twelve bearings are tried.

    Parameters
    ----------
    depth : depth grid
    uncertainty : DataArray on the same cells
        One standard deviation, metres.  Where it is NaN but the depth is known, the greatest that
        is known counts.
    length_m : float
        All lines together are no longer.
    band : (shallow, deep), optional
        Depths that count, metres; all without it.
    shallowest_m : float
        No line crosses less depth than this, nor land or void.
    spacing_m : float, optional
        Least distance between parallel lines that run side by side.  Half the correlation length
        without it.
    correlation_m : float
        Length over which errors of the grid are alike.
    sounding_sigma_m : float
        One standard deviation of a new sounding along a line.

    Returns
    -------
    GeoDataFrame, EPSG:4326
        In the order to drive them; without rows where no line is worth while.

        {proposals}

    Raises
    ------
    GridError
        If the two are not on the same cells, or nothing lies in the band.

    Examples
    --------
    >>> from seabed import example_grid
    >>> grid = example_grid()
    >>> unsure = grid.copy(data=grid.values * 0 + 0.5)
    >>> round(float(lines_to_sound(grid, unsure, length_m=800)["length_m"].sum())) <= 800
    True
    """
    depth = as_grid(depth)
    if uncertainty.shape != depth.shape:
        raise GridError("the uncertainty is not on the cells of the depths")
    spacing = correlation_m / 2 if spacing_m is None else spacing_m
    ground = ground_of(
        depth, uncertainty, band, shallowest_m, (correlation_m, spacing, sounding_sigma_m)
    )

    def main_lines(angle: float) -> list[Line]:
        return _parallel(ground, ground.variance, angle, (1 - CROSS_SHARE) * length_m)

    with ThreadPoolExecutor(MOST_AT_ONCE) as pool:
        tried = list(pool.map(main_lines, np.arange(BEARINGS) * np.pi / BEARINGS))
    gains = [sum(line.gain for line in lines) for lines in tried]
    best = int(np.argmax(gains))
    main = sorted(tried[best], key=lambda line: line.across)
    cross = _crossing(ground, main, best * np.pi / BEARINGS, CROSS_SHARE * length_m)
    return _table(ground, [*main, *cross])


def _parallel(ground: SurveyGround, variance: Floats, angle: float, length_m: float) -> list[Line]:
    """Choose lines of one direction, the one that gains most a metre first."""
    turned = TurnedGround.of(ground, variance, angle)
    lines: list[Line] = []
    rest = length_m
    best_rate = 0.0
    while True:
        piece = turned.best(rest, WORTH * best_rate)
        if piece is None:
            return lines
        across, first, last, gain = piece
        line = turned.line(across, first, last, gain, "main")
        best_rate = max(best_rate, gain / line.drawn.length)
        rest -= line.drawn.length
        lines.append(line)
        turned.take(across, first, last)


def _crossing(ground: SurveyGround, main: list[Line], angle: float, length_m: float) -> list[Line]:
    """Lines at right angles that cross two main lines or more, most crossings first."""
    if len(main) < FEWEST_CROSSED:
        return []
    left = ground.variance
    for line in main:
        left = left * ground.left(away_from(ground, line), left)
    across = _parallel(ground, left, angle + np.pi / 2, length_m)
    ways = np.array([line.drawn for line in main])
    crossed = [int(shapely.intersects(ways, line.drawn).sum()) for line in across]
    return [
        replace(line, kind="cross")
        for line, times in zip(across, crossed, strict=True)
        if times >= FEWEST_CROSSED
    ]


def _table(ground: SurveyGround, lines: list[Line]) -> gpd.GeoDataFrame:
    """Lines in the order to drive them, every other one the other way round."""
    lattice = ground.lattice
    degrees = to_degrees(lattice.crs)
    rows = []
    for number, line in enumerate(lines, 1):
        ends = [line.start, line.end] if number % 2 else [line.end, line.start]
        places = [degrees.transform(*lattice.coordinates(*end)) for end in ends]
        bearing, length = bearing_and_distance(*places[0], *places[1])
        shape = shapely.LineString(places)
        rows.append((f"S{number}", line.kind, _why(line), length, bearing, line.gain, shape))
    return PROPOSALS.frame(dict(zip(PROPOSALS.names, row, strict=True)) for row in rows)


def _why(line: Line) -> str:
    if line.kind == "cross":
        return f"Across the others, to check them; cuts the band's variance by {line.gain:.1%}."
    return f"Cuts the band's variance by {line.gain:.1%}."
