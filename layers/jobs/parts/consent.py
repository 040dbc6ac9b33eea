"""What is there and is not ours is written over with consent alone."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import Final

from seabed.errors import OutputError
from seabed.files import is_result, plain_file

_CONSENT: Final[ContextVar[bool]] = ContextVar("consent", default=False)


@contextmanager
def consent(given: bool) -> Iterator[None]:
    """Let what is run within write over files that no earlier run made, if `given`."""
    before = _CONSENT.set(given)
    try:
        yield
    finally:
        _CONSENT.reset(before)


def keep_others(outputs: Iterable[Path]) -> None:
    """Refuse, before any work, to write over a file that no earlier run made, without consent.

    Raises OutputError if there is such a file, or a device or a pipe.
    """
    for output in outputs:
        plain_file(output)
        if os.path.lexists(output) and not (_CONSENT.get() or is_result(output)):
            raise OutputError(
                "is there already, and is no result of an earlier run, or was changed since",
                file=output,
                do="Choose another place with {out}, or say {replace}; nothing was changed.",
            )
