"""The ground turned so that lines run down its columns, and the best line of a direction."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.ndimage import convolve1d, map_coordinates

from seabed.array_types import Floats, Ints, Mask
from seabed.compiled import compiled
from seabed.soundings.proposals._ground import Line, SurveyGround
from seabed.soundings.surface._roughness import matern

REACH: Final = 2.0
"""Correlation lengths within which a line tells anything."""

LEAST_SPACINGS: Final = 2.0
WORTH: Final = 0.3
"""A line is cut where it gains less than this share of what the best gains a metre."""


class TurnedGround:
    """The ground turned so that lines run down the columns; changed as lines are taken."""

    def __init__(
        self,
        ground: SurveyGround,
        variance: Floats,
        water: Mask,
        frame: tuple[float, Floats, Floats],
    ) -> None:
        self.ground, self.variance, self.water = ground, variance, water
        self.angle, self.along, self.across = frame
        self.taken: list[float] = []

    @classmethod
    def of(cls, ground: SurveyGround, variance: Floats, angle: float) -> TurnedGround:
        """Turn the ground; `angle` is the bearing of the lines, radians."""
        cell = ground.cell_m
        half = np.ceil(np.hypot(*ground.middle) / cell) * cell
        axis = np.arange(-half, half + cell / 2, cell)
        along, across = np.meshgrid(axis, axis, indexing="ij")
        east, south = _placed(along, across, angle, ground.middle)
        at = [south / ground.height_m - 0.5, east / ground.width_m - 0.5]
        water = map_coordinates(ground.open_water.astype(np.float64), at, order=1, mode="constant")
        return cls(
            ground,
            map_coordinates(variance, at, order=1, mode="constant"),
            water > 0.99,
            (angle, axis, axis),
        )

    def gains(self) -> Floats:
        """Variance cut a step of a line, by place along and across."""
        ground = self.ground
        reach = int(REACH * ground.correlation_m / ground.cell_m)
        alike = matern(np.abs(np.arange(-reach, reach + 1)) * ground.cell_m / ground.correlation_m)
        cut = np.nan_to_num(self.variance**2 / (self.variance + ground.noise))
        total: Floats = convolve1d(cut, alike**2, axis=1, mode="constant")
        return total

    def best(self, length_m: float, least: float) -> tuple[int, int, int, float] | None:
        """Column, first and last row, and gain of the piece that gains most a metre.

        None where none is long enough, or the best gains less than `least` a metre.
        """
        cell = self.ground.cell_m
        gain = np.where(self.water, self.gains(), -np.inf)
        price = WORTH * float(gain.max(initial=0.0))
        if price <= 0:
            return None
        most = int(length_m / cell)
        first, last, net = _best_pieces(gain - price, most)
        steps = last - first
        long = steps * cell >= LEAST_SPACINGS * self.ground.spacing_m
        if not long.any():
            return None
        rate = np.where(long, net / (steps * cell + self.transit()), -np.inf)
        column = int(np.argmax(rate))
        top, bottom = int(first[column]), int(last[column])
        total = float(gain[top : bottom + 1, column].sum())
        if rate[column] <= 0 or total / ((bottom - top) * cell) < least:
            return None
        return column, top, bottom, total

    def transit(self) -> Floats:
        """Way from the nearest line taken to each column, metres; the spacing before the first."""
        if not self.taken:
            return np.full(len(self.across), self.ground.spacing_m)
        away = np.abs(self.across[:, None] - np.array(self.taken)).min(axis=1)
        transit: Floats = np.maximum(away, self.ground.spacing_m)
        return transit

    def take(self, column: int, first: int, last: int) -> None:
        """Cut the variance beside a line, and keep others away from it."""
        ground = self.ground
        rows = slice(first, last + 1)
        away = np.abs(self.across - self.across[column])
        self.variance[rows] *= ground.left(away[None, :], self.variance[rows])
        near = away < ground.spacing_m - 1e-6
        self.water[rows, near] = False
        self.taken.append(float(self.across[column]))

    def line(self, column: int, first: int, last: int, gain: float, kind: str) -> Line:
        """Turn a piece of a column back to a line of the ground."""
        east, south = _placed(
            self.along[[first, last]], self.across[[column, column]], self.angle, self.ground.middle
        )
        share = gain / float(self.ground.variance.sum())
        ends = list(zip(east.tolist(), south.tolist(), strict=True))
        return Line(ends[0], ends[1], float(self.across[column]), share, kind)


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
