"""Depths put in order: radix sort."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from seabed.compiled import compiled

Depths = NDArray[np.float32]
Indices = NDArray[np.int32]


def sorted_depths(level: Depths) -> Indices:
    """Order of float32 depths, least first; equal ones stay in their order."""
    return _sorted(np.ascontiguousarray(level).view(np.uint32))


@compiled
def _sorted(bits: NDArray[np.uint32]) -> Indices:
    """Order float32 numbers, given as their bits: radix sort, least significant digits first."""
    count = len(bits)
    keys, spare_keys = np.empty(count, np.uint32), np.empty(count, np.uint32)
    order, spare = np.empty(count, np.int32), np.empty(count, np.int32)
    sign = np.uint32(0x80000000)
    for i in range(count):
        keys[i] = ~bits[i] if bits[i] & sign else bits[i] | sign
        order[i] = i
    for shift in (np.uint32(0), np.uint32(11), np.uint32(22)):
        start = np.zeros(2049, np.int64)
        for i in range(count):
            start[((keys[i] >> shift) & np.uint32(2047)) + 1] += 1
        for digit in range(2048):
            start[digit + 1] += start[digit]
        for i in range(count):
            digit = (keys[i] >> shift) & np.uint32(2047)
            to = start[digit]
            spare[to], spare_keys[to] = order[i], keys[i]
            start[digit] = to + 1
        order, spare = spare, order
        keys, spare_keys = spare_keys, keys
    return order
