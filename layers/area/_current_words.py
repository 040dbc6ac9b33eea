"""A current that is written out where a file may be named."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final

from layers.area.keys import file

_WRITTEN_OUT: Final = re.compile(
    r"(?!.*\.[a-z]\w{1,4}\s*$)(?:\s*HW\b.*\s\d|.*\d.*\s(?:to|towards?)\s)", re.IGNORECASE
)
"""No name of a file: it has no ending."""
_RATE: Final = r"\d[\d.,]*(?:\s*/\s*\d[\d.,]*)?\s*[a-z/]+\s+(?:to|towards?)\s+\d[\d.]*\s*°?\s*"
_HOUR: Final = rf"HW\s*(?:[+\-−–]\s*\d[\d.,]*\s*h?)?\s*:?\s+{_RATE}"
_CURRENT: Final = re.compile(rf"\s*(?:{_RATE}|{_HOUR}(?:[,;]\s*{_HOUR})*[,;]?\s*)", re.IGNORECASE)


def is_current(words: str) -> bool:
    """Whether a source of currents is written out, and is no file's name.

    Examples
    --------
    >>> is_current("0.8 kn toward 40"), is_current("HW-3 0.8 kn toward 340")
    (True, True)
    >>> is_current("from 6 to 7.csv")
    False
    """
    return _WRITTEN_OUT.match(words) is not None


def file_or_current(value: Any, base: Path) -> Path | str | None:
    """Read a file name as `file`, or a current in words, which stays as it is."""
    if isinstance(value, str) and is_current(value):
        if _CURRENT.fullmatch(value) is None:
            raise ValueError(
                "Write it like 0.8 kn toward 40 (degrees true), or by hours from high water: "
                "HW-5 0.5 kn toward 340, HW-2 0.9 kn toward 340, ..."
            )
        return value.strip()
    return file(value, base)
