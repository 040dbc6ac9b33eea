"""The address of an online base map, as the user writes it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

PLACES: Final = ("{z}", "{x}", "{y}")
UNSAFE: Final = re.compile(r"[\s\"'<>\\;,]")


def tile_address(value: Any, _: Path) -> str:
    """Read a template like ``https://tiles.example/{z}/{x}/{y}.png``; ``""`` is none."""
    if value == "":
        return ""
    say = 'Write an address like "https://tiles.example/{z}/{x}/{y}.png".'
    if not isinstance(value, str):
        raise ValueError(say)
    address = value.strip()
    try:
        parts = urlsplit(address)
        host, _port = parts.hostname, parts.port
    except ValueError as error:
        raise ValueError(say) from error
    if parts.scheme not in ("http", "https") or not host or "{" in host or UNSAFE.search(address):
        raise ValueError(say)
    rest = address
    for place in PLACES:
        if place not in parts.path + parts.query:
            raise ValueError(f"{say} {place} is missing.")
        rest = rest.replace(place, "")
    if "{" in rest or "}" in rest:
        raise ValueError(f"{say} Only {{z}}, {{x}} and {{y}} are filled in.")
    return address
