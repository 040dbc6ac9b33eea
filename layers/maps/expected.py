"""Expected fish packed for the browser: rate and its doubt, a byte each a cell."""

from __future__ import annotations

import base64
import zlib
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from rasterio.transform import array_bounds

from layers.maps.depths import to_web

MOST_CELLS: Final = 1_000_000
"""Rates change slowly over the ground: fewer cells than the depths do."""

VOID: Final = 0
STEPS: Final = 254
MOST_RATIO: Final = 1e4
"""Limits further apart than this are shown as this far apart."""


def pack_expected(expected: xr.Dataset) -> dict[str, Any] | None:
    """Pack expected fish a rod-hour for the page.

    expected: ``rate``, ``rate_low`` and ``rate_high`` on the cells of a grid; NaN where unknown.
    Returned: ``rows``, ``columns``; ``bounds`` as `pack_depths`; ``scales``, for each of rate, low
        and high the pair ``[least, step]`` of its natural logarithm: value = exp(least + step *
        (number - 1)), 0 is void; ``most``, the rate that 99 % of cells keep under, where the
        colours end; ``data``: base64 of zlib of the three planes of bytes, row by row.  None where
        no cell is known.

    Notes
    -----
    Limits are about their rate by a factor, so the bytes count logarithms: over a range of 10,000
    to 1 a step is 3.7 %.
    """
    planes, transform = [], None
    for name in ("rate", "rate_low", "rate_high"):
        plane, transform, *_ = to_web(expected[name], MOST_CELLS)
        planes.append(plane)
    rate, low, high = planes
    known = np.isfinite(rate) & np.isfinite(low) & np.isfinite(high) & (high > 0)
    if not known.any() or transform is None:
        return None
    floor = max(float(high[known].max()) / MOST_RATIO, 1e-6)
    packed = [_bytes(plane, known, floor) for plane in (rate, low, high)]
    rows, columns = rate.shape
    raw = b"".join(numbers.tobytes() for numbers, _ in packed)
    return {
        "rows": rows,
        "columns": columns,
        "bounds": list(array_bounds(rows, columns, transform)),
        "scales": [scale for _, scale in packed],
        "most": float(np.quantile(rate[known], 0.99)),
        "data": base64.b64encode(zlib.compress(raw, 6)).decode("ascii"),
    }


def _bytes(
    plane: NDArray[np.float32], known: NDArray[np.bool_], floor: float
) -> tuple[NDArray[np.uint8], list[float]]:
    """Logarithms as whole numbers from 1 to 255, and the least and step of them."""
    logs = np.log(np.maximum(plane[known].astype(np.float64), floor))
    least = float(logs.min())
    step = max((float(logs.max()) - least) / STEPS, 1e-6)
    numbers = np.full(plane.shape, VOID, np.uint8)
    numbers[known] = np.round((logs - least) / step).astype(np.uint8) + 1
    return numbers, [least, step]
