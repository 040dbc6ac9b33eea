"""List, show, rank, export, merge or share logged trips.

Without any of these it lists them.  Say one at a time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from layers.cli.showing import print_places, print_ranking, print_scores, table_text
from layers.jobs.parts.words import counted
from layers.jobs.requests import SeasonRequest as Request

if TYPE_CHECKING:
    from layers.jobs import season

__all__ = ["EXAMPLES", "Request", "show"]

EXAMPLES = """\
Examples:

  seabed season --log logbook.gpkg

  seabed season --log logbook.gpkg --rank --area area.toml --out season

  seabed season --log logbook.gpkg --share shown.gpkg --coarse "1 km"

  seabed season --log logbook.gpkg --merge other.gpkg
"""


def show(result: Any) -> None:
    """Print what was asked of the logbook."""
    from layers.jobs import season

    match result:
        case season.ListResult():
            _show_list(result)
        case season.LoggedTripResult():
            _show_trip(result)
        case season.RankResult():
            _show_ranking(result)
        case season.ExportResult():
            print_places(result.files, {name: name for name in result.files})
        case season.ShareResult():
            print(
                f"Positions are middles of squares of {result.coarse}; left out: tracks, courses, "
                "depths, hours, files and notes."
            )
            print_places(result.files, {"shared": "Shared copy"})
        case _:
            _show_changed(result)


def _show_changed(result: Any) -> None:
    """Print what was done to the logbook."""
    from layers.jobs import season

    match result:
        case season.MergeResult():
            _show_merged(result)
        case season.RemoveResult():
            print(f"Removed: {result.trip}")
            print(
                f"The logbook as it was, with that trip, is kept: {result.backup}\n"
                "Remove that file too if the trip is to be gone for good."
            )
        case season.RestoreResult():
            print(f"The logbook is now what {result.restored} is.")
            if result.backup is not None:
                print(f"What it was just now is kept: {result.backup}")
        case season.RepairResult():
            report = result.report
            print(f"{counted(len(report.kept), 'trip')} kept.")
            if report.lost:
                print(f"Not whole, and left out: {', '.join(report.lost)}. Log them again.")
            print(f"The damaged file is kept: {report.damaged}")
        case season.UpdateResult(backup=None):
            print("The logbook is up to date.")
        case season.UpdateResult():
            print(f"Up to date; the old one is kept as {result.backup}")


def _show_list(result: season.ListResult) -> None:
    trips = result.trips
    headers = ["trip", "hours", "drifts", "rod-h", "kept", "short", "fish"]
    rows = [
        [
            row.trip, f"{(row.end - row.start).total_seconds() / 3600:.1f}", str(row.drifts),
            f"{row.rod_hours:.1f}", str(row.kept), str(row.short), str(row.fish),
        ]
        for row in trips.itertuples()
    ]  # fmt: skip
    print(table_text(headers, rows))
    print(
        f"\n{counted(len(trips), 'trip')}, {counted(int(trips['drifts'].sum()), 'drift')}, "
        f"{trips['rod_hours'].sum():.1f} "
        f"rod-hours, {trips['kept'].sum()} kept of {trips['fish'].sum()} fish"
    )


def _show_trip(result: season.LoggedTripResult) -> None:
    from seabed.units import format_quantity

    entry, area = result.entry, result.area
    fish = entry.catches.groupby("drift_id").size()
    print(f"{entry.trip}: {', '.join(entry.files)}\n")
    headers = ["drift", "start", "min", "rod-h", "speed", "depth", "fish"]
    rows = [
        [
            row.drift_id, f"{row.start.tz_convert(area.timezone):%H:%M}",
            f"{row.duration_s / 60:.0f}", f"{row.rod_hours:.2f}",
            format_quantity(row.sog_mps, area.units.speed, digits=1),
            format_quantity(row.depth_mean_m, area.units.depth), str(fish.get(row.drift_id, 0)),
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
    print_places(result.files, {key: labels[key] for key in labels if key in result.files})


def _show_merged(result: season.MergeResult) -> None:
    report = result.report
    print(f"{len(report.added)} trips added, {len(report.same)} the same in both")
    if report.differing:
        kept = "ours kept; {prefer_other} takes the other's"
        kept = "the other's taken" if result.prefer_other else kept
        print(f"{len(report.differing)} differ ({kept}): {', '.join(report.differing)}")
    if report.backup is not None:
        print(f"The logbook as it was is kept: {report.backup}")
