"""``seabed trip``: tracks into drifts, fish onto drifts, lines ranked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from layers.cli import options as o

if TYPE_CHECKING:
    from layers.area import Area
    from layers.cli.trips.outings import Trips
    from layers.logbook import AddReport

__all__ = ["EXAMPLES", "trip"]

EXAMPLES = """\
Examples:

  seabed trip trip_1.gpx trip_2.gpx --grid sound.tif --catches catches.csv --out trips

  seabed trip trip_1.gpx --area area.toml --catches catches.csv --rods 3 --log logbook.gpkg
"""

NO_ZONE = "Times without a zone were read as UTC; say --timezone."
NO_FISH = "No fish are told, so the order of the lines says nothing yet; say --catches."
MOST_TOLD = 6
"""Untied fish told one by one."""


def trip(
    *,
    tracks: o.TrackFiles,
    grid: o.GridFiles = None,
    catches: o.CatchFiles = None,
    photos: Annotated[
        list[Path] | None,
        typer.Option(
            "--photos",
            metavar="FILE|DIR",
            help="Photos of fish, or a folder of them; more than once for several.",
        ),
    ] = None,
    area: o.AreaFile = None,
    band: o.Band = None,
    contours: o.Contours = None,
    rods: o.Rods = None,
    timezone: o.Timezone = None,
    clock_offset: Annotated[
        str | None,
        typer.Option(
            "--clock-offset",
            metavar="TIME",
            help='How far the catch log\'s clock was ahead: "90 s", "-2 min".',
        ),
    ] = None,
    photo_offset: Annotated[
        str | None,
        typer.Option(
            "--photo-offset",
            metavar="TIME",
            help="How far the camera's clock was ahead; else found from its photos.",
        ),
    ] = None,
    salvage: Annotated[
        bool, typer.Option("--salvage", help="Of a damaged track use what comes before the damage.")
    ] = False,
    wind: o.WindWords = None,
    log: o.LogFile = None,
    replace: Annotated[
        bool,
        typer.Option(
            "--replace",
            help="Log it even where the logbook loses fish, track or whole trips by it; and write "
            "over files that are not results of an earlier run.",
        ),
    ] = False,
    out: o.OutFolder = Path("trips"),
    units: o.Units = None,
    pages: o.PageOptions,
    grid_words: o.GridOptions,
    as_json: o.Json = False,
) -> None:
    """Cut tracks into drifts, tie fish to them, and rank the lines.

    Lines are ranked by what they paid for each rod-hour, cautiously.
    """
    from layers.cli import settings
    from layers.cli.progress import progress

    chosen = settings.area_of(
        area,
        units=units,
        contours=contours,
        band=band,
        rods=rods,
        timezone=timezone,
        pages=pages,
        grid=grid_words,
    )
    from layers.cli import bottom
    from layers.cli.outputs import files_of, keep_apart, keep_inputs
    from layers.cli.trips import outings, score_files
    from layers.tracks import corrections_beside

    book = log or chosen.logbook.file
    read: list[str | Path] = [
        *tracks,
        *corrections_beside(tracks),
        *(catches or []),
        *(photos or []),
        *(grid or []),
        *(wind or []),
    ]
    keep_inputs(outings.trip_files(out).values(), [*read, book, *files_of(chosen)])
    if book is not None:
        keep_apart([book], [*read, *files_of(chosen, logbook=False)])
    steps = outings.TRIP_STEPS + bottom.STRUCTURE_STEPS
    backup = None if book is None else outings.up_to_date(book)
    known = score_files.known_lines(book, score_files.naming_of(chosen))
    with progress(steps, quiet=as_json) as step:
        structure = hazards = None
        if grid or chosen.grid.files:
            step("reading depths")
            depth = bottom.open_area_grid(chosen, grid or ())
            hazards = bottom.hazards_of(chosen, depth)
            structure = bottom.find_structure(depth, chosen, step)
        under = None if structure is None else structure.grid
        trips = outings.work_out(
            tracks,
            catches or [],
            chosen,
            under,
            step,
            photos=photos or (),
            clock_offset_s=settings.clock_offset_s(clock_offset),
            photo_offset_s=settings.photo_offset_s(photo_offset, clock_offset),
            salvage=salvage,
            wind=settings.wind_of(chosen, wind) if wind else None,
            edges=None if structure is None else structure.edges,
            features=None if structure is None else structure.features,
            known=known,
        )
        # first, since it may be refused; logged again unchanged, a trip stays as it is
        done = None if book is None else outings.log_trips(book, trips, chosen, replace=replace)
        files = outings.write_trip(out, trips, chosen, structure, step, hazards=hazards)
    if book is not None:
        files["logbook"] = book
    unsaid = area is None and timezone is None and trips.catches.attrs.get("without_zone", 0)
    notes = [NO_ZONE] if unsaid else []
    if backup is not None:
        notes.append(f"The logbook was brought up to date; the old one is kept as {backup}")
    _tell(trips, files, chosen, done, as_json=as_json, notes=notes)


def _tell(
    trips: Trips,
    files: dict[str, Path],
    area: Area,
    done: AddReport | None,
    *,
    as_json: bool,
    notes: list[str],
) -> None:
    from dataclasses import asdict

    from layers.cli.showing import print_json, print_places, print_ranking, records
    from layers.cli.trips.score_files import print_scores

    if as_json:
        print_json(
            {
                "files": files,
                "cleaning": trips.report.as_dict(),
                "share_on_grid": trips.on_grid,
                "drifts": records(trips.drifts),
                "lines": records(trips.lines),
                "stretches": records(trips.scores.stretches),
                "untied": records(trips.untied),
                "logged": None if done is None else asdict(done),
                "notes": [*trips.notes, *notes],
            }
        )
        return
    tell_trip(trips)
    for sentence in notes:
        print(sentence)
    print_ranking(trips.lines, area)
    print()
    print_scores(trips.scores, area)
    print()
    if done is not None:
        print(told_of(done))
    print_places(
        files,
        {
            "map": "Map",
            "marks": "Marks",
            "ranking": "Ranking",
            "drifts": "Drifts",
            "speed": "Speed",
        },
    )


def told_of(done: AddReport) -> str:
    """Say what the logbook took."""
    parts = {"added": done.added, "replaced": done.replaced, "unchanged": done.unchanged}
    said = [f"{', '.join(names)} {word}" for word, names in parts.items() if names]
    return f"Logbook: {'; '.join(said) or 'nothing to add'}."


def tell_trip(trips: Trips) -> None:
    """Print what was read and what could not be used."""
    from layers.cli.showing import counted

    for sentence in (*trips.report.sentences(), *trips.notes):
        print(sentence)
    if trips.on_grid is not None and trips.on_grid < 1:
        print(f"{1 - trips.on_grid:.0%} of the fixes lie off the depth grid.")
    hours = trips.drifts["rod_hours"].sum()
    fish = len(trips.catches)
    print(
        f"{counted(len(trips.drifts), 'drift')}, {hours:.1f} rod-hours, "
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
