"""What is printed names options, and steers no terminal, whatever files say."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stdout
from typing import Any, Final, TextIO

from seabed.errors import with_settings
from seabed.markup import TURNING

_STEERING: Final = {
    code: "\ufffd"
    for code in (*range(0x20), *range(0x7F, 0xA0), *map(ord, TURNING))
    if chr(code) not in "\n\t"
}
"""The control characters of ISO/IEC 6429, sets C0 and C1, DEL, and what turns text around."""


def plain(text: str) -> str:
    r"""Put a mark in place of each character that would steer a terminal.

    Examples
    --------
    >>> plain("a\x1b[2J\n")
    'a�[2J\n'
    """
    return text.translate(_STEERING)


@contextmanager
def plain_output(names: Callable[[str], str]) -> Iterator[None]:
    """Pass all that is printed through `plain`, settings in braces called by their `names`."""
    with redirect_stdout(_Plain(sys.stdout, names)):
        yield


class _Plain:
    """A stream of text before another."""

    def __init__(self, stream: TextIO, names: Callable[[str], str]) -> None:
        self._stream, self._names = stream, names

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Write the text, tamed."""
        return self._stream.write(plain(with_settings(text, self._names)))
