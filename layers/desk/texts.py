"""Every word of the desk's pages, from one file of texts, so that another language can come."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Final

__all__ = ["setting_name", "text"]

_FILE: Final = Path(__file__).with_name("texts.toml")


@cache
def _texts() -> dict[str, dict[str, str]]:
    return tomllib.loads(_FILE.read_text(encoding="utf-8"))


def text(name: str, /, **values: object) -> str:
    """Give the text of a name, with values put into it; a script puts them where none are given.

    Examples
    --------
    >>> text("today.late", when="11:15")
    'start by 11:15'
    """
    section, _, key = name.partition(".")
    words = _texts()[section][key]
    return words.format(**values) if values else words


def setting_name(key: str) -> str:
    """Give what a page calls a setting that a message is about."""
    return _texts()["settings"].get(key, key.replace("_", " "))
