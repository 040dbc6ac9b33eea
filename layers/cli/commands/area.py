"""Write an area file to start from, with a line about every key."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layers.jobs.result import Result

EXAMPLES = """\
Examples:

  seabed area --out area.toml

  seabed area --name "Tollivane Sound" --grid sound.tif --timezone Atlantic/Azores
"""


def show(result: Result) -> None:
    """Say what to do with the file."""
    file = result.files["area"]
    if "catches_csv" in result.files:
        print(f"Empty tables: {result.files['catches_csv'].parent}")
    print(f"Written: {file}. Edit it, then: seabed scout --area {file}")
