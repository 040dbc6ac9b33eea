"""Inner loops turned into machine code, kept on disk so that only the first run ever waits.

The cache notices when the file of a function changes, not when one it calls in another file does:
after editing such a one, remove ``__pycache__``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

from numba import njit

__all__ = ["compiled", "inlined"]

Function = TypeVar("Function", bound=Callable[..., object])


def compiled(function: Function) -> Function:
    """Compile on first call, cache on disk; division by zero gives inf or NaN as in numpy."""
    return cast(Function, njit(cache=True, error_model="numpy", nogil=True)(function))


def inlined(function: Function) -> Function:
    """As `compiled`, for small functions that are called from inner loops."""
    return cast(
        Function, njit(cache=True, error_model="numpy", nogil=True, inline="always")(function)
    )
