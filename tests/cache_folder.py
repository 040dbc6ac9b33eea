"""The folder in which tests keep what later runs use again."""

import os
from pathlib import Path


def cache_folder() -> Path:
    """Give the folder, which may not be there yet."""
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "seabed-layers-tests"
