"""Run coroutines where another loop may be running already: a browser's, in the same thread."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import anyio


def run_apart(function: Callable[..., Awaitable[Any]], *arguments: Any) -> Any:
    """Give what a coroutine gives, run in a thread of its own."""
    with ThreadPoolExecutor(1) as threads:
        return threads.submit(anyio.run, function, *arguments).result()
