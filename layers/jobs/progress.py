"""How far along a job is, and how to stop it."""

from __future__ import annotations

import ctypes
import os
from collections.abc import Callable

Progress = Callable[[str, float], None]
"""Called with what is done now, in words, and the share that is done already, 0 to 1.

It may raise `Cancelled`: the job then ends, and leaves no file half-written.
"""

Step = Callable[[str], None]
"""Called with what is done now, before it is done."""


class Cancelled(Exception):  # noqa: N818 (no fault)
    """Whoever asked for the job wants it no longer."""


def ignored(_words: str, _share: float) -> None:
    """Tell nobody."""


def _give_back() -> None:
    """Give the memory that earlier steps freed back to the system, where its library keeps it."""
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if os.name == "posix" else None
    if trim is not None:  # GNU's
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
