"""JSON files of stations and currents, read with one message where they are none."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from seabed.errors import WaterError
from seabed.tables.documents import read_json


def load_json(path: Path) -> Any:
    """Read a JSON file; WaterError if it is missing or not JSON."""
    return read_json(
        path, WaterError, missing=WaterError("no such file", file=path, do="Check the name.")
    )
