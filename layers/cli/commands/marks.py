"""Write lines, edges, humps and holes as marks in GPX.

Lines become routes with a mark at their start and end, edges tracks, humps and holes marks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layers.cli.showing import print_places

if TYPE_CHECKING:
    from layers.jobs.marks import MarksResult

EXAMPLES = """\
Examples:

  seabed marks trips/trip.gpkg --best 5 --out marks.gpx

  seabed marks trips/trip.gpkg scouted/structure.gpkg --line SE1 --name-length 8
"""


def show(result: MarksResult) -> None:
    """Print how many there are, and where."""
    print(", ".join(f"{count} {what}" for what, count in result.counts.items()))
    print_places(result.files, {"marks": "Marks"})
