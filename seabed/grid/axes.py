"""Axes of a grid: even or not, and what to do with those that are not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.errors import GridError

ROUNDING: Final = 0.25
"""How far, in steps, a centre may be from its even place before the axis counts as uneven: room
for coordinates written with few digits."""

MOST_UNEVEN: Final = 3.0
"""Greatest ratio of longest to shortest step that is still resampled."""


@dataclass(frozen=True, slots=True)
class Axis:
    """An even axis of cell centres.

    first, step, count: first centre, distance to the next (negative if falling), how many.
    positions: of the even centres among the file's own, in steps of those; None for the same.
    guess: what was done to an uneven axis.
    """

    first: float
    step: float
    count: int
    positions: Floats | None = None
    guess: str = ""

    @property
    def edge(self) -> float:
        """Outer edge of the first cell."""
        return self.first - self.step / 2


def even_axis(centres: Floats, *, name: str, file: str) -> Axis:
    """Find the even axis that centres are on, or lay one through them.

    Raises GridError if there are fewer than two centres, they don't rise or fall throughout, or
    their steps differ more than threefold.
    """
    if centres.ndim != 1 or centres.size < 2:
        raise GridError(
            f"the axis {name!r} has {centres.size} values; a grid needs two or more", file=file
        )
    steps = np.diff(centres)
    if not np.isfinite(steps).all() or not (np.all(steps > 0) or np.all(steps < 0)):
        raise GridError(
            f"the axis {name!r} doesn't rise or fall all the way",
            file=file,
            do="Sort the grid along it, or export it again.",
        )
    count = centres.size
    mean = float((centres[-1] - centres[0]) / (count - 1))
    places = centres[0] + mean * np.arange(count)
    if np.abs(centres - places).max() <= ROUNDING * abs(mean):
        return Axis(float(centres[0]), mean, count)
    return _laid(centres, np.abs(steps), name, file)


def _laid(centres: Floats, sizes: Floats, name: str, file: str) -> Axis:
    if sizes.max() > MOST_UNEVEN * sizes.min():
        raise GridError(
            f"the steps of axis {name!r} differ from {sizes.min():g} to {sizes.max():g}: "
            "that is not a regular grid",
            file=file,
            do="Interpolate it onto even steps first.",
        )
    span = float(centres[-1] - centres[0])
    count = round(abs(span) / float(np.median(sizes))) + 1
    step = span / (count - 1)
    wanted = centres[0] + step * np.arange(count)
    order = slice(None) if span > 0 else slice(None, None, -1)
    positions = np.interp(wanted, centres[order], np.arange(centres.size, dtype=float)[order])
    guess = (
        f"The steps of axis {name!r} differ ({sizes.min():g} to {sizes.max():g}); "
        f"the grid was interpolated onto even steps of {abs(step):g}."
    )
    return Axis(float(centres[0]), step, count, positions, guess)


def resampled(array: NDArray[np.float32], y_axis: Axis, x_axis: Axis) -> NDArray[np.float32]:
    """Interpolate an array linearly from a file's own axes onto the even ones.

    A cell is NaN where a neighbour that it needs is NaN.
    """
    return _along(_along(array, y_axis.positions).T, x_axis.positions).T


def _along(array: NDArray[np.float32], positions: Floats | None) -> NDArray[np.float32]:
    if positions is None:
        return array
    low = np.minimum(positions.astype(np.intp), len(array) - 2)
    share = (positions - low).astype(np.float32)[:, None]
    below, above = array[low], array[low + 1]
    mixed = below * (1 - share) + above * share
    exact = np.where(share == 0, below, np.where(share == 1, above, mixed))
    return np.asarray(exact, np.float32)
