"""Waiting for the page of a map."""

from __future__ import annotations

import time
from typing import Any


def until(page: Any, expression: str, argument: Any = None, *, wait_s: float = 180.0) -> None:
    """Wait until an expression, or a function of `argument`, is true in the page.

    It is asked from here: a wait that runs in the page asks by ``eval`` from its second time on,
    which the map's own Content-Security-Policy refuses.
    """
    deadline = time.monotonic() + wait_s
    while not page.evaluate(expression, argument):
        assert time.monotonic() < deadline, f"did not come true in {wait_s:g} s: {expression}"
        page.wait_for_timeout(30)
