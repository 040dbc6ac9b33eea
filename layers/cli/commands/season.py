"""List, show, rank, export, merge or share logged trips.

Without options it lists them.  Choose one action at a time.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from layers.cli.showing import print_places, print_ranking, print_scores, table_text
from layers.jobs.parts.words import counted

if TYPE_CHECKING:
    from layers.jobs import season

EXAMPLES = """\
Examples:

  seabed season --log logbook.gpkg

  seabed season --log logbook.gpkg --rank --area area.toml --out season

  seabed season --log logbook.gpkg --share shown.gpkg --coarse "1 km"

  seabed season --log logbook.gpkg --merge other.gpkg
"""


def show(result: Any) -> None:
    """Print what was wanted of the logbook."""
    from layers.jobs import season

    match result:
        case season.ListResult():
            _show_list(result)
        case season.LoggedTripResult():
            _show_trip(result)
        case season.RankResult():
            _show_ranking(result)
        case _:
            for sentence in result.notes:
                print(sentence)
            if result.files:
                print_places(result.files, {name: LABELS.get(name, name) for name in result.files})


LABELS = {"shared": "Shared copy"}


def _show_list(result: season.ListResult) -> None:
    from seabed.units import rounded

    trips = result.trips
    headers = ["trip", "hours", "drifts", "rod-h", "kept", "short", "fish"]
    rows = [
        [
            row.trip, rounded((row.end - row.start).total_seconds() / 3600, 1), str(row.drifts),
            rounded(row.rod_hours, 1), str(row.kept), str(row.short), str(row.fish),
        ]
        for row in trips.itertuples()
    ]  # fmt: skip
    print(table_text(headers, rows))
    print(
        f"\n{counted(len(trips), 'trip')}, {counted(int(trips['drifts'].sum()), 'drift')}, "
        f"{rounded(trips['rod_hours'].sum(), 1)} "
        f"rod-hours, {trips['kept'].sum()} kept of {trips['fish'].sum()} fish"
    )


def _show_trip(result: season.LoggedTripResult) -> None:
    from layers.tracks import DRIFTS

    entry, area = result.entry, result.area
    fish = entry.catches.groupby("drift_id").size()
    print(f"{entry.trip}: {', '.join(entry.files)}\n")
    if area.file is None:
        print(f"Times are of {area.timezone}; name the area file with {{area}} for its own.\n")
    units = asdict(area.units)
    shown = {"duration_s": "min", "rod_hours": "rod-h", "sog_mps": f"speed {units['speed']}",
             "depth_mean_m": f"depth {units['depth']}"}  # fmt: skip
    headers = ["drift", "start", *shown.values(), "fish"]
    rows = [
        [
            row.drift_id, f"{row.start.tz_convert(area.timezone):%H:%M}",
            *(DRIFTS.words(row, name, units) for name in shown), str(fish.get(row.drift_id, 0)),
        ]
        for row in entry.drifts.itertuples()
    ]  # fmt: skip
    print(table_text(headers, rows))
    print(f"\n{len(entry.catches)} fish, {fish.get('', 0)} tied to no drift")


def _show_ranking(result: season.RankResult) -> None:
    print_ranking(result.scores.lines, result.area)
    print()
    print_scores(result.scores)
    for sentence in result.notes:
        print(sentence)
    print()
    labels = {"map": "Map", "marks": "Marks", "ranking": "Ranking", "onto_map": "Other water"}
    print_places(result.files, labels)
