"""Every word of the desk's pages, from one file of texts, so that another language can come."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Final

from seabed.errors import SeabedError, with_settings

_FILE: Final = Path(__file__).with_name("texts.toml")

_NOT_HERE: Final = re.compile(
    r"an area file keeps|"
    r"\{(area|beyond_limits|chunk|jobs|prefer_other|scheduler|seabed check|structure|zoom)\}"
)
"""What the commands have a way for, and the pages have not."""

_FILED: Final = r"(?: (?:in|of) (?:the|your) area file)?"


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


def plain_words(words: str) -> str:
    """Turn what a job says into what its page says: fields by their labels, no options, no keys.

    Examples
    --------
    >>> plain_words("Name them with {heights}, or heights under [water] of the area file.")
    'Name them with “Tide heights come from” (This water).'
    >>> plain_words("The limits are yours, under [boat] in the area file; {beyond_limits} adds.")
    'The limits are yours, on the page This water.'
    """
    for before, after in _texts()["instead"].items():
        words = words.replace(before, after)
    words = " ".join(map(_without_ways, re.split(r"(?<=[.:]) ", words))).strip()
    words = with_settings(words, _setting_name)
    words = re.sub(rf"\b(\w+) under \[(\w+)\]{_FILED}", _labelled, words)
    words = re.sub(rf"(?:under )?\[(\w+)\] (\w+){_FILED}", _labelled, words)
    words = re.sub(rf"\bunder \[\w+\]{_FILED}", text("water.on_page"), words)
    words = re.sub(rf"\b[a-z]+(?:_[a-z]+)+\b{_FILED}", _labelled, words)
    return re.sub(r"(“[^”]+”)( \([\w ]+\))?, or (?:under )?\1", r"\1\2", words)


def error_words(error: SeabedError) -> str:
    """Write what is wrong as a page says it: the field beside it needs no name."""
    return plain_words(braced(error))


def braced(error: SeabedError) -> str:
    """Write a message with settings still in braces, and a file by its name alone."""
    file = str(error.file or "")
    name = file if "://" in file else Path(file).name
    plain = SeabedError(error.what, file=name, where=error.where, do=error.do)
    return plain.text("{{{}}}".format)


def _without_ways(sentence: str) -> str:
    """Leave out of a sentence what the pages have no way for; all of it if nothing stays."""
    parts = re.split(r"(, or |, and |; | \((?=[^()]*\)))", sentence)
    kept = [
        (parts[at - 1] if at else "", part)
        for at, part in enumerate(parts) if at % 2 == 0 and not _NOT_HERE.search(part)
    ]  # fmt: skip
    if 2 * len(kept) > len(parts):
        return "".join(parts)
    verb = f"{parts[0].split(' ')[0]} " if kept and kept[0][0] == ", or " else ""
    rest = "".join(between + part for between, part in kept)
    rest = verb + rest.removeprefix(", or ").removeprefix("; ")
    return rest and rest.rstrip(".") + "."


def _setting_name(key: str) -> str:
    """Give what a page calls a setting that a message is about."""
    return _texts()["settings"].get(key, key.replace("_", " "))


def field_named(key: str, section: str = "") -> str:
    """Give the field of the page This water for a key of the area file; ``""`` for none.

    Examples
    --------
    >>> field_named("heights"), field_named("from", "wind"), field_named("beam")
    ('water_heights', 'wind_from', '')
    """
    for name in _texts()["keys"]:
        own, _, last = name.partition("_")
        if last == key and section in ("", own):
            return name
    return ""


def _labelled(place: re.Match[str]) -> str:
    """Give the label of a key of the area file; its own words if no page has it."""
    one, other = place.groups() or (place[0].split(" ")[0], "")
    name = field_named(one, other) or field_named(other, one)
    return f"“{text(f'keys.{name}')}”" if name else place[0]


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
    return plain_words(re.sub(r"\[([\"'][^]]*[\"'])\]", r"\1", words).replace('"', ""))
