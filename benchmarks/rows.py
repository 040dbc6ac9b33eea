"""What a benchmark returns, and how to time."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

__all__ = ["Row", "copy_seconds", "seconds"]


class Row(NamedTuple):
    """One comparison; `ratio` is ours over the reference's, so below 1 is faster."""

    work: str
    reference: str
    ours_s: float
    reference_s: float
    ratio: float

    @classmethod
    def of(cls, work: str, reference: str, ours_s: float, reference_s: float) -> Row:
        return cls(work, reference, ours_s, reference_s, ours_s / reference_s)


def seconds(work: Callable[[], Any], *, times: int = 3) -> float:
    """Least of several runs, after one that warms up (and compiles)."""
    work()
    return min(_once(work) for _ in range(times))


def copy_seconds(array: np.ndarray[Any, Any]) -> float:
    """A plain copy of an array into warm memory."""
    target = np.empty_like(array)
    return seconds(lambda: np.copyto(target, array), times=7)


def _once(work: Callable[[], Any]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start
