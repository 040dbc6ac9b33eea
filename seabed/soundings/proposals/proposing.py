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
from scipy.ndimage import convolve1d, map_coordinates

from seabed.array_types import Floats, Ints, Pair
from seabed.compiled import compiled
from seabed.errors import GridError
from seabed.geodesy import bearing_and_distance, to_degrees
from seabed.grid.arrays import as_grid
from seabed.schema import Table
from seabed.soundings.proposals._survey_ground import Line, SurveyGround, ground_of
from seabed.soundings.surface._roughness import matern

PROPOSALS: Final = Table.of(
    "proposals",
    "seabed.soundings.proposals.proposing.lines_to_sound",
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

REACH: Final = 2.0
"""Correlation lengths within which a line changes anything."""

LEAST_SPACINGS: Final = 2.0
WORTH: Final = 0.3
"""A line is cut where it gains less than this share of what the best gains a metre."""


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
    variance v of a cell at distance r to v (1 - c(r)² v / (v + s²)), c being the Matérn correlation
    and s the deviation of a sounding.  What lines cut together is submodular, so that choosing the
    line that gains most a metre (with the way to it), again and again, comes near the best choice
    (Nemhauser, Wolsey & Fisher 1978; within a length: Khuller, Moss & Naor 1999).  Twelve bearings
    are tried.

    uncertainty: one standard deviation; where it is NaN but the depth is known, the greatest that
        is known counts.
    length_m: of all lines together.
    shallowest_m: no line crosses less, nor land or void.
    spacing_m: least distance of parallel lines that run side by side; by default half of
        `correlation_m`, the length over which errors of the grid are alike.
    Returned: `PROPOSALS` in the order to drive them; none where no line is worth while.
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


class TurnedGround:
    """The ground turned so that lines run down the columns; changed as lines are taken."""

    def __init__(self, ground: SurveyGround, variance: Floats, angle: float) -> None:
        """Turn the ground; `angle` is the bearing of the lines, radians."""
        cell = ground.cell_m
        half = np.ceil(np.hypot(*ground.middle) / cell) * cell
        self.ground, self.angle = ground, angle
        self.axis = np.arange(-half, half + cell / 2, cell)
        along, across = np.meshgrid(self.axis, self.axis, indexing="ij")
        east, south = _placed(along, across, angle, ground.middle)
        at = [south / ground.height_m - 0.5, east / ground.width_m - 0.5]
        water = map_coordinates(ground.open_water.astype(np.float64), at, order=1, mode="constant")
        self.variance = map_coordinates(variance, at, order=1, mode="constant")
        self.water = water > 0.99
        self.taken: list[float] = []
        self.best_rate = 0.0

    def lines(self, length_m: float) -> Iterator[Line]:
        """Take lines, the one that gains most a metre first, that are no longer together."""
        while line := self._next(length_m):
            length_m -= line.shape.length
            yield line

    def _next(self, length_m: float) -> Line | None:
        """Take the piece of a column that gains most a metre, unless that is too little."""
        ground, cell = self.ground, self.ground.cell_m
        gain = np.where(self.water, self._gains(), -np.inf)
        price = WORTH * float(gain.max(initial=0.0))
        if price <= 0:
            return None
        first, last, net = _best_pieces(gain - price, int(length_m / cell))
        length = (last - first) * cell
        long = length >= LEAST_SPACINGS * ground.spacing_m
        if not long.any():
            return None
        rate = np.where(long, net / (length + self._transit()), -np.inf)
        column = int(np.argmax(rate))
        rows = slice(int(first[column]), int(last[column]) + 1)
        total = float(gain[rows, column].sum())
        if rate[column] <= 0 or total / length[column] < WORTH * self.best_rate:
            return None
        self._take(column, rows)
        ends = self.axis[[rows.start, rows.stop - 1]], self.axis[[column, column]]
        shape = shapely.LineString(np.column_stack(_placed(*ends, self.angle, ground.middle)))
        self.best_rate = max(self.best_rate, total / shape.length)
        return Line(shape, float(self.axis[column]), total / float(ground.variance.sum()))

    def _gains(self) -> Floats:
        """Variance cut a step of a line, by place along and across."""
        ground = self.ground
        reach = int(REACH * ground.correlation_m / ground.cell_m)
        alike = matern(np.abs(np.arange(-reach, reach + 1)) * ground.cell_m / ground.correlation_m)
        cut = np.nan_to_num(self.variance**2 / (self.variance + ground.noise))
        return np.asarray(convolve1d(cut, alike**2, axis=1, mode="constant"))

    def _transit(self) -> Floats:
        """Way from the nearest line taken to each column, metres; the spacing before the first."""
        if not self.taken:
            return np.full(len(self.axis), self.ground.spacing_m)
        away = np.abs(self.axis[:, None] - np.array(self.taken)).min(axis=1)
        return np.asarray(np.maximum(away, self.ground.spacing_m))

    def _take(self, column: int, rows: slice) -> None:
        """Cut the variance beside a line, and keep others away from it."""
        away = np.abs(self.axis - self.axis[column])
        self.variance[rows] *= self.ground.left(away[None, :], self.variance[rows])
        self.water[rows, away < self.ground.spacing_m - 1e-6] = False
        self.taken.append(float(self.axis[column]))


def _placed(along: Floats, across: Floats, angle: float, middle: tuple[float, float]) -> Pair:
    """Metres east and south; `angle` is the bearing of the lines."""
    sine, cosine = np.sin(angle), np.cos(angle)
    return middle[0] + along * sine + across * cosine, middle[1] - along * cosine + across * sine


@compiled
def _best_pieces(worth: Floats, most: int) -> tuple[Ints, Ints, Floats]:
    """First and last row, and sum, of each column's run with the greatest sum (Kadane's way).

    A run longer than `most` steps begins again.
    """
    rows, columns = worth.shape
    running, begun = np.full(columns, -np.inf), np.zeros(columns, np.int64)
    best, first, last = np.full(columns, -np.inf), begun.copy(), begun.copy()
    for row in range(rows):
        for column in range(columns):
            if not running[column] > 0 or row - begun[column] > most:
                begun[column], running[column] = row, worth[row, column]
            else:
                running[column] += worth[row, column]
            if running[column] > best[column]:
                best[column] = running[column]
                first[column], last[column] = begun[column], row
    return first, last, best
