"""Vertical uncertainty that the IHO's standard for hydrographic surveys allows.

IHO S-44, edition 6.1 (2022), table 1: the total vertical uncertainty at 95 % may be at most
``sqrt(a**2 + (b * depth)**2)``.  The figures of order 1a are the project's own source; those of the
other orders are from memory.  Whether soundings keep within an order says something of their
heights; it does not make them a survey of that order, which asks for much more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from seabed.array_types import Floats


@dataclass(frozen=True, slots=True)
class Order:
    """One order of the standard.

    a_m, b: the part that does not grow with depth, metres, and the share of the depth.
    """

    name: str
    a_m: float
    b: float

    def uncertainty_m(self, depth_m: NDArray[Any] | float) -> Floats:
        """Greatest total vertical uncertainty at 95 %, metres; NaN at NaN depths."""
        return np.hypot(self.a_m, self.b * np.asarray(depth_m, np.float64))


ORDER_1A: Final = Order("1a", 0.5, 0.013)
ORDERS: Final = (
    Order("exclusive", 0.15, 0.0075),
    Order("special", 0.25, 0.0075),
    ORDER_1A,
    Order("2", 1.0, 0.023),
)
"""The strictest first; order 1b has the heights of 1a."""
