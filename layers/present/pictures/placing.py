"""From values to places on a picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from seabed.array_types import Floats
from seabed.units import round_step

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Placing:
    """Lays `low` at `start` and `high` at `end`, by proportion or by square roots.

    >>> float(Placing(0.0, 10.0, 100.0, 0.0)(2.5))
    75.0
    """

    low: float
    high: float
    start: float
    end: float
    root: bool = False

    def __call__(self, values: Any) -> Any:
        """Give the place of a value, or of each of an array."""
        share = (np.asarray(values, float) - self.low) / max(self.high - self.low, 1e-9)
        share = np.sqrt(np.maximum(share, 0.0)) if self.root else share
        return self.start + (self.end - self.start) * share

    def inside(self, values: Any) -> Any:
        """As calling it, values beyond the ends held there."""
        return self(np.clip(values, self.low, self.high))


def ticks(low: float, high: float, *, least: float = 0.0) -> Floats:
    """Give some five round values from `low` to `high`, `least` apart or more."""
    step = round_step(max((high - low) / 5, least))
    return np.asarray(np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step, np.float64)


def known_runs(x: Any, y: Any) -> list[Sequence[Point]]:
    """Give the points of each stretch in which both are known; single ones are left out."""
    points = np.column_stack([x, y]).astype(np.float64)
    at = np.flatnonzero(np.isfinite(points).all(axis=1))
    runs = np.split(at, np.flatnonzero(np.diff(at) > 1) + 1)
    return [[(float(a), float(b)) for a, b in points[run]] for run in runs if len(run) > 1]
