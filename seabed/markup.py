"""Text inside XML, SVG and HTML."""

from __future__ import annotations

import re
from html import escape
from typing import Final

__all__ = ["markup_text"]

_FORBIDDEN: Final = re.compile("[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]")
"""What XML 1.0 (section 2.2, production 2) has no place for, and the carriage return."""


def markup_text(text: str) -> str:
    r"""Escape text for an element or a quoted attribute, without characters that XML 1.0 forbids.

    Examples
    --------
    >>> markup_text("a < b\x00")
    'a &lt; b'
    """
    return escape(_FORBIDDEN.sub("", text))
