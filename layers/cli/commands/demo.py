"""Try everything on an invented sound.

Scouts the sound, ranks the lines of four trips on it, and says where the results are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layers.cli.commands.trip import print_trip
from layers.cli.showing import print_places, print_ranking, print_scores

if TYPE_CHECKING:
    from layers.jobs.demo import DemoResult

EXAMPLES = """\
Example:

  seabed demo --out demo_out
"""

PLACES = {
    "map": "Map",
    "marks": "Marks",
    "ranking": "Ranking",
    "scouted": "Map of the bottom",
    "report": "Where to look first",
}


def show(result: DemoResult) -> None:
    """Print the lines of the demo, and where its maps are."""
    print(f"{result.area.name}: an invented sound, invented fish, an invented rule.\n")
    print_trip(result.trips)
    print()
    print_ranking(result.trips.lines, result.area)
    print()
    print_scores(result.trips.scores)
    print()
    print_places(result.files, PLACES)
    if result.area.file is not None:
        print(f"\nAs a page, with no commands to type: seabed desk {result.area.file.parent}")
