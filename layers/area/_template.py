"""Write an area file to start from."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from layers.area._fishing import SpeciesRule
from layers.area.keys import Key
from layers.area.loading import keys_of, sections
from layers.area.model import Area
from seabed.errors import OutputError, with_settings
from seabed.files import write_text

_OPENING = """\
# An area file: what this piece of water is, and what you want of it.
# Every key may be left out; the values here are the defaults.
# Quantities are text with a unit. Names of files start from the folder of this file, with / between
# folders, on Windows too.
"""
_RULES = """\
# Local rules, as you looked them up; they change: check the current rule before you fish.
# [species."brindle flounder"]
"""


def template_text(given: dict[tuple[str, str], Any] | None = None) -> str:
    """Write out every key with its doc line and its default, or what is given instead."""
    given = given or {}
    blocks = [_OPENING, _section("area", keys_of(Area), given)]
    blocks += [_section(name, keys_of(kind), given) for name, kind in sections().items()]
    rule = "".join(
        f"# {spec.name} = {spec.example}  # {spec.doc}\n" for spec in keys_of(SpeciesRule).values()
    )
    return "\n".join([*blocks, _RULES + rule])


def write_template(
    path: str | Path, given: dict[tuple[str, str], Any] | None = None, *, replace: bool = False
) -> None:
    """Write a commented area file; OutputError if it can't be, or exists without `replace`.

    Examples
    --------
    >>> write_template("sound.toml")
    """
    if not replace and os.path.lexists(path):
        raise OutputError(
            "a file of that name exists already",
            file=path,
            do="Choose another name with {out}, or allow it with {replace}.",
        )
    write_text(path, template_text(given))


def _section(name: str, keys: dict[str, Key], given: dict[tuple[str, str], Any]) -> str:
    lines = [f"[{name}]"]
    for spec in keys.values():
        like = f" Like {spec.example}." if spec.default in ("", []) and spec.example else ""
        lines.append(f"# {with_settings(spec.doc, _in_this_file)}{like}")
        value = given.get((name, spec.name), spec.default)
        if value is None:
            lines.append(f"# {spec.name} = {spec.example}")
        else:
            words = json.dumps(value, ensure_ascii=False)  # JSON's escapes are TOML's too
            lines.append(f"{spec.name} = {words}")
    return "\n".join(lines) + "\n"


def _in_this_file(key: str) -> str:
    """Name a key for somebody who reads the file."""
    section, _, name = key.partition(".")
    return f"{name} under [{section}]"
