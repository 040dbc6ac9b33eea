"""How far along a job is, and how to stop it."""

from __future__ import annotations

import ctypes
import gc
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

Progress = Callable[[str, float], None]
"""Called with what is done now, in words, and the share that is done already, 0 to 1.

It may raise `Cancelled`: the job then ends, and leaves no file half-written.
"""

MMAP_THRESHOLD: Final = -3
"""The option of ``mallopt`` that says from which size on memory is apart (malloc.h, GNU)."""

COLLECT_AFTER: Final = 100_000
"""So many new objects are made before Python searches for reference cycles."""

LARGE: Final = 4_194_304
LARGEST: Final = 33_554_432
"""To which GNU's library raises it by itself, as large memory is freed."""

Step = Callable[[str], None]
"""Called with what is done now, before it is done."""


class Cancelled(Exception):  # noqa: N818 (no fault)
    """Whoever asked for the job wants it no longer."""


def ignored(_words: str, _share: float) -> None:
    """Tell nobody."""


def collect_seldom() -> None:
    """Search for reference cycles seldom: most objects are those of libraries, and stay."""
    gc.set_threshold(COLLECT_AFTER, 50, 50)


def _gnu(name: str) -> Callable[..., object] | None:
    """Give a function of GNU's C library, or None where that is another's."""
    return getattr(ctypes.CDLL(None), name, None) if os.name == "posix" else None


@contextmanager
def large_arrays_apart() -> Iterator[None]:
    """Give each large array memory of its own, which the system has again as soon as it is freed.

    Else arrays of up to 32 MB are freed between smaller ones that stay, and their memory with them.
    Costs a tenth of the processor time of a job with many such arrays.
    """
    option = _gnu("mallopt") or (lambda *_: None)
    option(MMAP_THRESHOLD, LARGE)
    try:
        yield
    finally:
        option(MMAP_THRESHOLD, LARGEST)


def _give_back() -> None:
    """Give the memory that earlier steps freed back to the system, where its library keeps it."""
    if (trim := _gnu("malloc_trim")) is not None:
        trim(0)


def steps_of(progress: Progress, count: int) -> Step:
    """Tell progress in so many steps of about the same length.

    Examples
    --------
    >>> step = steps_of(print, 2)
    >>> step("reading")
    reading 0.0
    >>> step("writing")
    writing 0.5
    """
    done = -1

    def step(words: str) -> None:
        nonlocal done
        done += 1
        _give_back()
        progress(words, min(done / count, 1.0))

    return step
