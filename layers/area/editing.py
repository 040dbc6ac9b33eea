"""Change keys of an area file, and leave all else in it as the skipper wrote it."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from layers.area.loading import load_area
from layers.area.model import Area
from seabed.errors import AreaError
from seabed.files import write_text


def change_area(path: str | Path, values: Mapping[tuple[str, ...], Any]) -> Area:
    """Set keys of an area file; comments and order stay.  Give the area then.

    values: TOML value by (section, key); None takes the key out, so that its default holds.  A rule
        is ``("species", name, key)``.

    Raises AreaError if the file or a value can't be right; the file stays as it is then.

    >>> from layers.area import write_template
    >>> write_template("mine.toml")
    >>> change_area("mine.toml", {("area", "name"): "North bank"}).name
    'North bank'
    """
    path = Path(path)
    load_area(path)  # it says what is wrong with the file as it is
    try:
        content = tomlkit.parse(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, TOMLKitError) as error:
        raise AreaError(f"can't be changed: {error}", file=path) from error
    for (*sections, key), value in values.items():
        table: Any = content
        for section in sections:
            if section not in table:
                table[section] = tomlkit.table()
            table = table[section]
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
    text = tomlkit.dumps(content)
    area = _read_as(text, path)
    write_text(path, text, result=False)
    return area


def _read_as(text: str, path: Path) -> Area:
    """Read a changed file from where it will be, since its paths start there."""
    handle, name = tempfile.mkstemp(prefix=".changing-", suffix=".toml", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
        area = load_area(name)
    except AreaError as error:
        raise AreaError(error.what, file=path, where=error.where, do=error.do) from error
    finally:
        Path(name).unlink(missing_ok=True)
    return area
