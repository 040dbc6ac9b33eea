"""Inner loops turned into machine code, kept on disk so that only the first run ever waits.

The cache notices when the file of a function changes, not when one it calls in another file does:
after editing such a one, remove ``__pycache__``.

Where nothing can be kept (a full disk, a read-only installation and home) it is compiled each time.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Any, TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., object])


def compiled(function: Function) -> Function:
    """Compile on first call, cache on disk; division by zero gives inf or NaN as in numpy."""
    return _kept(function)


def inlined(function: Function) -> Function:
    """As `compiled`, for small functions that are called from inner loops."""
    return _kept(function, inline="always")


def _kept(function: Function, **options: Any) -> Function:
    options |= {"error_model": "numpy", "nogil": True}
    try:
        loop = njit(cache=True, **options)(function)
    except RuntimeError:  # there is no place to keep it in
        return cast(Function, njit(**options)(function))
    if not hasattr(loop, "_cache"):  # NUMBA_DISABLE_JIT
        return cast(Function, loop)
    load, save = loop._cache.load_overload, loop._cache.save_overload

    def load_if_possible(*what: Any) -> Any:
        try:
            return load(*what)
        except (AttributeError, ImportError):  # kept by a version that named things otherwise
            with suppress(OSError):
                loop._cache.flush()
            return None

    def save_if_possible(*what: Any) -> None:
        with suppress(OSError):  # the disk is full
            save(*what)

    loop._cache.load_overload = load_if_possible
    loop._cache.save_overload = save_if_possible
    return cast(Function, loop)
