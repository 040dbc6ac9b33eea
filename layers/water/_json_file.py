"""JSON files of stations and currents, read with one message where they are none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from seabed.errors import WaterError
from seabed.files import plain_file


def load_json(path: Path) -> Any:
    """Read a JSON file; WaterError if it is missing or not JSON."""
    plain_file(path)
    try:
        return json.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError as error:
        raise WaterError("no such file", file=path, do="Check the name.") from error
    except (OSError, UnicodeDecodeError, json.JSONDecodeError) as error:
        raise WaterError(
            f"is not JSON: {error}", file=path, do="Fetch or export it again."
        ) from error
