"""A map projection over a small area as a polynomial, for millions of points."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from seabed.compiled import compiled

__all__ = ["quick_transform"]

DEGREE: Final = 6
NODES: Final = 12
WIDEST_DEG: Final = 1.0
RIGHT_M: Final = 1e-3

Floats = NDArray[np.float64]


def quick_transform(
    transform: Callable[[Floats, Floats], Any], longitude: Floats, latitude: Floats
) -> tuple[Floats, Floats] | None:
    """Transform points that lie close together by a polynomial that is fitted to the transform.

    Fitted at the nodes of Chebyshev over the box of the points, and held against the transform at
    the middles between them, where such a fit errs most.

    Parameters
    ----------
    transform : callable
        From longitudes and latitudes to metres.
    longitude, latitude : ndarray of float64, shape (n,)
        Degrees, finite.

    Returns
    -------
    x, y : ndarray of float64, shape (n,)
        Metres, right to a millimetre.  None where no polynomial of degree 6 is, or the points lie
        more than a degree apart.
    """
    box = [(float(side.min()), float(side.max())) for side in (longitude, latitude)]
    if not all(0 < high - low <= WIDEST_DEG for low, high in box):
        return None
    middle = np.array([(low + high) / 2 for low, high in box])
    half = np.array([(high - low) / 2 for low, high in box])
    nodes = np.cos((np.arange(NODES) + 0.5) * np.pi / NODES)
    between = np.cos(np.arange(NODES + 1) * np.pi / NODES)

    def at(places: Floats) -> tuple[Floats, Floats]:
        east, north = (side.ravel() for side in np.meshgrid(places, places))
        made = transform(middle[0] + half[0] * east, middle[1] + half[1] * north)
        basis = np.asarray(chebyshev.chebvander2d(east, north, [DEGREE, DEGREE]), np.float64)
        return basis, np.column_stack(made)

    basis, true = at(nodes)
    if not np.isfinite(true).all():
        return None
    origin = true.mean(axis=0)
    found = np.linalg.lstsq(basis, true - origin, rcond=None)[0]
    basis, true = at(between)
    if not np.abs(basis @ found + origin - true).max() < RIGHT_M:
        return None
    terms = np.array([_powers(side.reshape(DEGREE + 1, DEGREE + 1)) for side in found.T])
    return _evaluated(longitude, latitude, middle, half, terms, origin)


def _powers(terms: Floats) -> Floats:
    """Turn terms of a Chebyshev series in two variables to those of powers."""
    turn = np.zeros((DEGREE + 1, DEGREE + 1))
    for degree in range(DEGREE + 1):
        series = chebyshev.cheb2poly([0.0] * degree + [1.0])
        turn[degree, : len(series)] = series
    return np.ascontiguousarray(turn.T @ terms @ turn)


@compiled
def _evaluated(  # noqa: PLR0917 (compiled code is called by position)
    longitude: Floats,
    latitude: Floats,
    middle: Floats,
    half: Floats,
    terms: Floats,
    origin: Floats,
) -> tuple[Floats, Floats]:
    x, y = np.empty(len(longitude)), np.empty(len(longitude))
    for i in range(len(longitude)):
        east = (longitude[i] - middle[0]) / half[0]
        north = (latitude[i] - middle[1]) / half[1]
        at_x = at_y = 0.0
        for p in range(DEGREE, -1, -1):
            one = other = 0.0
            for q in range(DEGREE, -1, -1):
                one = one * north + terms[0, p, q]
                other = other * north + terms[1, p, q]
            at_x = at_x * east + one
            at_y = at_y * east + other
        x[i], y[i] = at_x + origin[0], at_y + origin[1]
    return x, y
