"""The files of the invented sound that comes along."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import layers
from seabed.errors import SeabedError

KINDS: Final = (".toml", ".tif", ".csv", ".gpx", ".000")


def demo_folder() -> Path:
    """Give the folder of the demo area: in the installed package, else in the checkout."""
    package = Path(layers.__file__).parent
    for folder in (package / "demo_area", package.parent / "demo_area"):
        if (folder / "area.toml").is_file():
            return folder
    raise SeabedError(
        "the demo area is missing from this installation", do="Install seabed-layers again."
    )


def demo_files() -> list[Path]:
    """Files of the demo area that are copied."""
    return sorted(path for path in demo_folder().iterdir() if path.suffix in KINDS)
