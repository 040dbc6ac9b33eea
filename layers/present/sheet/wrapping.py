"""Text broken into lines no wider than their room."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from itertools import accumulate

_LEAST = 1e-9  # mm: a line that fills its room to the last bit fits


def wrapped(text: str, room: float, width_of: Callable[[str], float]) -> list[str]:
    """Break text at its spaces, and a word only where it is wider than the room.

    width_of: gives the width of a letter, in the unit of `room`; letters are set side by side.
    Returned: one line at least; the space at a break is left out.
    """
    parts = text.splitlines() or [""]
    return [line for part in parts for line in _lines(part, room + _LEAST, width_of)]


def _lines(text: str, room: float, width_of: Callable[[str], float]) -> Iterator[str]:
    ends = [0.0, *accumulate(map(width_of, text))]
    start = 0
    while ends[-1] - ends[start] > room:
        fits = bisect_right(ends, ends[start] + room) - 1
        space = text.rfind(" ", start, fits + 1)
        end = max(fits, start + 1) if space < 0 else space
        yield text[start:end]
        start = end if space < 0 else end + 1
    if start < len(text) or not start:
        yield text[start:]
