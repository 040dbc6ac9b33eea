"""Read the area file."""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Iterable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, Final

from layers.area._fishing import SpeciesRule
from layers.area.keys import Key
from layers.area.model import Area
from seabed.errors import AreaError, UnitError
from seabed.tables.documents import read_toml

_UNIT: Final = re.compile("_(m|mps|deg|s|kg|hpa)$")
"""What the name of a field says beyond that of its key."""


def default_area() -> Area:
    """Give the area of someone who wrote no area file.

    Examples
    --------
    >>> default_area().units.depth
    'ft'
    """
    return Area()


def load_area(path: str | Path) -> Area:
    """Read an area file.

    Parameters
    ----------
    path : str or Path
        TOML, UTF-8.  Every key may be left out.  Paths in it start from its folder.

    Returns
    -------
    Area

    Raises
    ------
    AreaError
        If the file is missing or no TOML, or has a section, key or value that can't be right.

    Examples
    --------
    >>> area = load_area("area.toml")
    >>> area.name, area.depths.band_m[1]
    ('Tollivane Sound', 7.9248)
    """
    path = Path(path)
    content = _content(path)
    known = sections()
    values: dict[str, Any] = {}
    for name, table in content.items():
        if name not in {"area", "species", *known}:
            raise _unknown(f"section [{name}]", name, ["area", "species", *known], path, "")
        if not isinstance(table, dict):
            raise AreaError(f"{name} is outside a section", file=path, do="Put it under [area].")
        if name == "species":
            values["species"] = _species(table, path)
        elif name == "area":
            values.update(_read_table(table, keys_of(Area), path, "[area]"))
        else:
            read = _read_table(table, keys_of(known[name]), path, f"[{name}]")
            values[name] = known[name](**read)
    return Area(**values, file=path)


def keys_in(path: str | Path) -> set[str]:
    """Give the keys that an area file sets, with their sections: ``"area.date_order"``."""
    content = _content(Path(path))
    tables = {name: table for name, table in content.items() if isinstance(table, dict)}
    return {f"{name}.{key}" for name, table in tables.items() for key in table}


def keys_of(section: type) -> dict[str, Key]:
    """Give the keys of a section's class, by field name."""
    return {
        item.name: replace(item.metadata["key"], name=_UNIT.sub("", item.name))
        for item in fields(section)
        if "key" in item.metadata
    }


def key_named(section: str, name: str) -> tuple[str, Key]:
    """Give a key by its section and name as written in the file, and the field that holds it."""
    kind = Area if section == "area" else sections()[section]
    by_name = {spec.name: (field, spec) for field, spec in keys_of(kind).items()}
    return by_name[name]


def sections() -> dict[str, type]:
    """Give the class of each section but ``[area]`` and ``[species]``, by name, in order."""
    return {
        item.name: item.default_factory  # type: ignore[misc]
        for item in fields(Area)
        if "key" not in item.metadata and item.name not in ("species", "file")
    }


def _content(path: Path) -> dict[str, Any]:
    missing = AreaError("no such area file", file=path, do="Write one with {seabed area}.")
    return read_toml(path, AreaError, missing=missing)


def _read_table(
    table: dict[str, Any], keys: dict[str, Key], path: Path, where: str
) -> dict[str, Any]:
    by_name = {spec.name: (field_name, spec) for field_name, spec in keys.items()}
    older = {spec.older: (field_name, spec) for field_name, spec in keys.items() if spec.older}
    values: dict[str, Any] = {}
    for name, value in table.items():
        field_name, spec = by_name.get(name) or older.get(name) or ("", None)
        if spec is None:
            raise _unknown(f"key {name}", name, by_name, path, where)
        if field_name in values:
            raise AreaError(
                f"{spec.older} is an older name of {spec.name}",
                file=path, where=where, do=f"Keep {spec.name} alone.",
            )  # fmt: skip
        try:
            values[field_name] = spec.read(value, path.parent)
        except UnitError as error:
            raise AreaError(error.what, file=path, where=f"{where} {name}", do=error.do) from error
        except ValueError as error:
            raise AreaError(
                f"{value!r} can't be right",
                file=path,
                where=f"{where} {name}",
                do=str(error),
                notation=_notation(value, spec),
            ) from error
    return values


def _notation(value: Any, spec: Key) -> str:
    """Say which quotes and brackets belong round a value, where those that are there are wrong."""
    if isinstance(spec.default, list):
        if isinstance(value, list) and all(isinstance(one, str) for one in value):
            return ""
        return f"Use quotes and brackets, like {spec.example or json.dumps(spec.default)}."
    text = isinstance(spec.default, str) or spec.example.startswith('"')
    if isinstance(value, str) == text or isinstance(value, list):
        return ""
    return f"Write it {'in' if text else 'without'} quotes."


def _species(table: dict[str, Any], path: Path) -> dict[str, SpeciesRule]:
    rules = {}
    for name, rule in table.items():
        where = f'[species."{name}"]'
        if not isinstance(rule, dict):
            raise AreaError(
                f"{rule!r} is not a rule",
                file=path,
                where=f"[species] {name}",
                do='Give each species a section, like [species."brindle flounder"].',
            )
        rules[name] = SpeciesRule(**_read_table(rule, keys_of(SpeciesRule), path, where))
    return rules


def _unknown(what: str, name: str, known: Iterable[str], path: Path, where: str) -> AreaError:
    names = list(known)
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    do = f"Did you mean {close[0]}?" if close else f"Known here: {', '.join(names)}."
    return AreaError(f"unknown {what}", file=path, where=where or None, do=do)
