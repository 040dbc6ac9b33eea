"""Where to sound next: straight lines that cut the uncertainty of the ground of interest most."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr

from seabed.errors import GridError
from seabed.geodesy import bearing_and_distance, to_degrees
from seabed.grid.arrays import as_grid
from seabed.schema import Table
from seabed.soundings.proposals._survey_ground import Line, SurveyGround, ground_of
from seabed.soundings.proposals._turned import TurnedGround

PROPOSALS: Final = Table.of(
    "proposals",
    "seabed.soundings.lines_to_sound",
    """
    line [text] "S1", ...
    kind [text] main or cross
    why [text "Why"] in words
    length_m ["Length" distance .2] of it
    bearing_deg ["Along"] true
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

    Parallel lines of one bearing, and a tenth of the length in lines across them. A line cuts the
    variance v of a cell at distance r to v (1 - c(r)² v / (v + s²)), c being the Matérn correlation
    and s the deviation of a sounding. What lines cut together is submodular, so that choosing the
    line that gains most a metre (with the way to it), again and again, comes near the best choice
    (Nemhauser, Wolsey & Fisher 1978; within a length: Khuller, Moss & Naor 1999). Twelve bearings
    are tried.
    uncertainty: one standard deviation; where it is NaN but the depth is known, the greatest that
    is known counts. length_m: of all lines together. shallowest_m: no line crosses less, nor land
    or void. spacing_m: least distance of parallel lines that run side by side; half of
    `correlation_m`, the length over which errors of the grid are alike, without it. Returned:
    `PROPOSALS` in the order to drive them; none where no line is worth while. Raises GridError if
    the two are not on the same cells, or nothing is in the band.
    """
    depth = as_grid(depth)
    if uncertainty.shape != depth.shape:
        raise GridError("the uncertainty is not on the cells of the depths")
    ground = ground_of(
        depth,
        uncertainty,
        band,
        shallowest_m=shallowest_m,
        correlation_m=correlation_m,
        spacing_m=correlation_m / 2 if spacing_m is None else spacing_m,
        sounding_sigma_m=sounding_sigma_m,
    )

    def main_lines(angle: float) -> list[Line]:
        turned = TurnedGround(ground, ground.variance, angle)
        return list(turned.lines((1 - CROSS_SHARE) * length_m))

    with ThreadPoolExecutor(MOST_AT_ONCE) as pool:
        tried = list(pool.map(main_lines, np.arange(BEARINGS) * np.pi / BEARINGS))
    best = int(np.argmax([sum(line.gain for line in lines) for lines in tried]))
    main = sorted(tried[best], key=lambda line: line.across)
    cross = _crossing(ground, main, best * np.pi / BEARINGS, CROSS_SHARE * length_m)
    return _table(ground, [*main, *cross])


def _crossing(
    ground: SurveyGround, main: list[Line], angle: float, length_m: float
) -> Iterator[Line]:
    """Lines at right angles that cross two main lines or more, most crossings first."""
    if len(main) < FEWEST_CROSSED:
        return
    left = ground.variance
    for line in main:
        left = left * ground.left_beside(line, left)
    shapes = np.array([line.shape for line in main])
    for line in TurnedGround(ground, left, angle + np.pi / 2).lines(length_m):
        if shapely.intersects(shapes, line.shape).sum() >= FEWEST_CROSSED:
            yield replace(line, kind="cross")


def _table(ground: SurveyGround, lines: list[Line]) -> gpd.GeoDataFrame:
    """Lines in the order to drive them, every other one the other way round."""
    degrees = to_degrees(ground.lattice.crs)
    rows = []
    for number, line in enumerate(lines, 1):
        ends = [*line.shape.coords][:: 1 if number % 2 else -1]
        places = [degrees.transform(*ground.lattice.coordinates(*end)) for end in ends]
        bearing, length = bearing_and_distance(*places[0], *places[1])
        shape = shapely.LineString(places)
        rows.append((f"S{number}", line.kind, _why(line), length, bearing, line.gain, shape))
    return PROPOSALS.frame(dict(zip(PROPOSALS.names, row, strict=True)) for row in rows)


def _why(line: Line) -> str:
    across = "Across the others, to check them; cuts" if line.kind == "cross" else "Cuts"
    return f"{across} the band's variance by {line.gain:.1%}."
