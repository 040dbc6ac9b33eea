"""Smoothing scales that make sense on a grid."""

from __future__ import annotations

from seabed.errors import GridError
from seabed.grid import CellSize

__all__ = ["check_scale"]


def check_scale(scale_m: float, size: CellSize) -> None:
    """Refuse a scale that is not above zero or is finer than the cells.

    Raises
    ------
    GridError
        Saying which.
    """
    if not scale_m > 0:
        raise GridError(f"a smoothing scale of {scale_m:g} m is none", do="Give metres above 0.")
    if scale_m < size.typical:
        raise GridError(
            f"a smoothing scale of {scale_m:g} m is finer than the cells, {size.typical:.3g} m",
            do=f"Choose {2 * size.typical:.3g} m or more.",
        )
