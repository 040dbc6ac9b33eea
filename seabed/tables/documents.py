"""TOML and JSON files, with limits that are checked before they are parsed."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from seabed.errors import SeabedError
from seabed.files import plain_file

MOST_BYTES: Final = {"TOML": 2_000_000, "JSON": 200_000_000}
MOST_DIGITS: Final = 400
MOST_PARTS: Final = 50
"""Parts of a dotted key: the parser's time grows with their square."""
NESTED: Final = "its parts are nested too deeply"
CURES: Final = {
    "TOML": 'Lines look like: band = "6-9 m"; Windows paths take / or single quotes.',
    "JSON": "Fetch or export it again.",
}

_DIGITS: Final = re.compile(rf"\d{{{MOST_DIGITS + 1}}}")
_BETWEEN_KEYS: Final = re.compile(r"[=,\[\]{}\"'#\n]")


def read_toml(path: Path, error: type[SeabedError], *, missing: SeabedError) -> dict[str, Any]:
    """Read a TOML file; raise `missing` if there is none, `error` if it is no TOML or too large."""
    with _refusing(path, "TOML", error, missing):
        return parse_toml(_text(path, "TOML"))


def read_json(path: Path, error: type[SeabedError]) -> Any:
    """Read a JSON file; errors as for `read_toml`."""
    missing = error("no such file", file=path, do="Check the name.")
    with _refusing(path, "JSON", error, missing):
        return json.loads(_text(path, "JSON"))


def parse_toml(text: str) -> dict[str, Any]:
    """Parse TOML within the limits; ValueError where it is none, or holds more."""
    _check_digits(text)
    if any(part.count(".") > MOST_PARTS for part in _BETWEEN_KEYS.split(text)):
        raise ValueError(f"a key has more than {MOST_PARTS} parts")
    try:
        return tomllib.loads(text)
    except RecursionError as problem:
        raise ValueError(NESTED) from problem


@contextmanager
def _refusing(
    path: Path, kind: str, error: type[SeabedError], missing: SeabedError
) -> Iterator[None]:
    plain_file(path)
    try:
        yield
    except FileNotFoundError as problem:
        raise missing from problem
    except UnicodeDecodeError as problem:
        raise error("not UTF-8 text", file=path, do="Save it as UTF-8.") from problem
    except OSError as problem:
        raise error(f"can't be read: {problem.strerror}", file=path) from problem
    except (ValueError, RecursionError) as problem:
        words = NESTED if isinstance(problem, RecursionError) else str(problem)
        what = f"not {kind}: {words[:1].lower()}{words[1:]}"
        raise error(what, file=path, do=CURES[kind]) from problem


def _text(path: Path, kind: str) -> str:
    size = path.stat().st_size
    if size > MOST_BYTES[kind]:
        raise ValueError(f"it has {size:,} bytes; at most {MOST_BYTES[kind]:,} are read")
    text = path.read_text(encoding="utf-8-sig")
    _check_digits(text)
    return text


def _check_digits(text: str) -> None:
    digits = _DIGITS.search(text)
    if digits is not None:
        line = text.count("\n", 0, digits.start()) + 1
        raise ValueError(f"line {line} has a number of more than {MOST_DIGITS} digits")
