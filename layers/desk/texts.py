"""Every word of the desk's pages, from one file of texts, so that another language can come."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Final

from layers.area.keys import Key
from seabed.errors import SeabedError, with_settings

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


def plain_words(words: str) -> str:
    """Put the pages' words for settings into what a job says; leave out what no page can do.

    Examples
    --------
    >>> plain_words("Name them with {water.heights}.")
    'Name them with “Tide heights come from” (This water).'
    >>> plain_words("The limits are yours: {boat}. {beyond_limits} plans anyway.")
    'The limits are yours: “Limits of a drift” (This water).'
    """
    return with_settings(words, _setting_name)


def error_words(error: SeabedError) -> str:
    """Write what is wrong as a page says it: the field beside it needs no name."""
    return plain_words(braced(error))


def braced(error: SeabedError) -> str:
    """Write a message with settings still in braces, and a file by its name alone."""
    file = str(error.file or "")
    name = file if "://" in file else Path(file).name
    plain = SeabedError(error.what, file=name, where=error.where, do=error.do)
    return plain.text("{{{}}}".format)


def hint(spec: Key) -> str:
    """Say what a field of the page This water is about, with an example where it is empty.

    Examples
    --------
    >>> from layers.area.loading import key_named
    >>> hint(key_named("boat", "fuel_litres_an_hour")[1])
    'Litres an hour that the engine burns at “It runs at”. Like 18.'
    """
    about = with_settings(spec.doc, lambda key: f"“{text('keys.' + field_named(key))}”")
    if not spec.example or spec.default not in ("", [], None):  # which the field shows
        return about
    return f"{about} Like {as_typed(tomllib.loads(f'v = {spec.example}')['v'])}."


def as_typed(value: object) -> str:
    """Write a value of the area file as it is typed on the page."""
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def _setting_name(key: str) -> str:
    """Give what a page calls a setting that a message is about; ``""`` where none has it."""
    if words := _texts()["settings"].get(key):
        return words
    field = field_named(key)
    return f"“{text(f'keys.{field}')}” ({text('desk.water')})" if field else ""


def field_named(key: str) -> str:
    """Give the field of the page This water for a key of the area file; ``""`` for none.

    Examples
    --------
    >>> field_named("heights"), field_named("wind.from"), field_named("beam")
    ('water_heights', 'wind_from', '')
    """
    names = _texts()["keys"]
    if "." in key:
        whole = key.replace(".", "_")
        return whole if whole in names else ""
    return next((name for name in names if name.partition("_")[2] == key), "")
