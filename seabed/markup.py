"""Text for other programs: inside XML, SVG and HTML, on screens, in spreadsheets."""

from __future__ import annotations

import re
from html import escape
from typing import Final

TURNING: Final = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""Characters by which text from a file could show what comes after it, numbers too, backward
(Unicode Standard Annex 9: embeddings, overrides and isolates)."""

FORMULA: Final = re.compile(r"\s*[=+\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n]")
"""A spreadsheet takes text that begins so for a formula (OWASP, "CSV injection"; of blanks from
memory)."""

_FORBIDDEN: Final = re.compile(f"[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff{TURNING}]")
"""What XML 1.0 (section 2.2, production 2) has no place for, the carriage return, and `TURNING`."""


def markup_text(text: str) -> str:
    r"""Escape text for an element or a quoted attribute, without what XML 1.0 forbids."""
    return escape(_FORBIDDEN.sub("", text))
