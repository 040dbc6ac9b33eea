"""Write an area file to start from, with a line about every key."""

from layers.jobs.area import AreaRequest as Request
from layers.jobs.request import Result

__all__ = ["EXAMPLES", "Request", "show"]

EXAMPLES = """\
Examples:

  seabed area --out area.toml

  seabed area --name "Marrow Sound" --grid sound.tif --timezone Etc/GMT+2
"""


def show(result: Result) -> None:
    """Say what to do with the file."""
    file = result.files["area"]
    print(f"Written: {file}. Edit it, then: seabed scout --area {file}")
