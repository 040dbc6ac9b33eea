"""Cut tracks into drifts, tie fish to them, and rank the lines.

Lines are ranked by fish per rod-hour; few hours count for little.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from layers.cli.showing import print_places, print_ranking, print_scores
from layers.jobs.parts.words import counted

if TYPE_CHECKING:
    from layers.jobs.trip import TripResult, Trips
    from layers.logbook import AddReport

EXAMPLES = """\
Examples:

  seabed trip trip_1.gpx trip_2.gpx --grid sound.tif --catches catches.csv --out trips

  seabed trip trip_1.gpx --area area.toml --catches catches.csv --rods 3 --log logbook.gpkg
"""

NO_FISH = "Without a catch log the order of the lines means nothing. Add {catches}."
MOST_TOLD = 6
"""Untied fish listed one by one."""

PLACES = {
    "map": "Map", "marks": "Marks", "ranking": "Ranking", "drifts": "Drifts", "speed": "Speed",
}  # fmt: skip


def show(result: TripResult) -> None:
    """Print what was read, the best lines, and what the logbook took."""
    print_trip(result.trips)
    for sentence in result.notes:
        print(sentence)
    print_ranking(result.trips.lines, result.area)
    print()
    print_scores(result.trips.scores)
    print()
    if result.logged is not None:
        print(logged_words(result.logged))
    print_places(result.files, PLACES)


def logged_words(done: AddReport) -> str:
    """Say what the logbook took."""
    parts = {"added": done.added, "replaced": done.replaced, "unchanged": done.unchanged}
    phrases = [f"{', '.join(names)} {word}" for word, names in parts.items() if names]
    kept = f" The earlier logbook is kept: {done.backup}" if done.backup else ""
    return f"Logbook: {'; '.join(phrases) or 'nothing to add'}.{kept}"


def print_trip(trips: Trips) -> None:
    """Print what was read and what could not be used."""
    from seabed.units import rounded

    for sentence in (*trips.report.sentences(), *trips.notes):
        print(sentence)
    if trips.on_grid is not None and trips.on_grid < 1:
        print(f"{1 - trips.on_grid:.0%} of the fixes are off the depth grid.")
    hours = trips.drifts["rod_hours"].sum()
    fish = len(trips.catches)
    print(
        f"{counted(len(trips.drifts), 'drift')}, {rounded(hours, 1)} rod-hours, "
        f"{fish} catch{'' if fish == 1 else 'es'}, "
        f"{len(trips.untied)} tied to no drift."
    )
    if not fish and len(trips.drifts):
        print(NO_FISH)
    for row in trips.untied.head(MOST_TOLD).itertuples():
        print(f"  tied to none: {_where(row)}: {row.why}")
    if len(trips.untied) > MOST_TOLD:
        print(f"  and {len(trips.untied) - MOST_TOLD} more; untied_catches.csv lists them all")
    flagged = trips.catches[trips.catches["flag"] != ""]
    for row in flagged.itertuples():
        print(f"  {_where(row)}: {row.species}, {row.flag}")
    if len(trips.catches):
        print("Check the current local rule: sizes and bags change.")


def _where(fish: Any) -> str:
    """Name a fish by its file and row; by its file alone where that is a photo."""
    name = Path(fish.file).name
    return f"{name}, row {fish.row}" if fish.row else name
