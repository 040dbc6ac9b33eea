"""Every word of the desk's pages, from one file of texts, so that another language can come."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Final

__all__ = ["field_words", "setting_name", "text"]

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


def field_words(words: str) -> str:
    """Turn the text about a key of the area file into text about a field of a page.

    Examples
    --------
    >>> field_words('Write weights in brackets, like ["1 oz", "60 g"].')
    'Write weights, like 1 oz, 60 g.'
    >>> field_words("It needs launch_faces under [plan].")
    'It needs “Direction from the launch out to sea (degrees true)”.'
    """
    words = re.sub(r" Write it \w+ quotes\.$", "", words)
    words = re.sub(r" in (quotes and )?brackets(?=[ ,.:])", "", words)
    words = re.sub(r'\[("[^]]*")\]', r"\1", words).replace('"', "")
    return re.sub(r"(\w+) under \[(\w+)\]", lambda at: f"“{text(f'keys.{at[2]}_{at[1]}')}”", words)
