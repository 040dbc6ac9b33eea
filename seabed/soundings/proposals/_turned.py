"""The ground turned so that lines run down its columns, and the best line of a direction."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely
from scipy.ndimage import convolve1d, map_coordinates

from seabed.array_types import Floats, Ints
from seabed.compiled import compiled
from seabed.soundings.proposals._survey_ground import Line, SurveyGround
from seabed.soundings.surface._roughness import matern

REACH: Final = 2.0
"""Correlation lengths within which a line changes anything."""

LEAST_SPACINGS: Final = 2.0
WORTH: Final = 0.3
"""A line is cut where it gains less than this share of what the best gains a metre."""


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


def _placed(
    along: Floats, across: Floats, angle: float, middle: tuple[float, float]
) -> tuple[Floats, Floats]:
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
