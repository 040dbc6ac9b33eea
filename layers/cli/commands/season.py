"""``seabed season``: the logbook listed, ranked, shared, merged."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from layers.cli import options as o

__all__ = ["EXAMPLES", "season"]

EXAMPLES = """\
Examples:

  seabed season --log logbook.gpkg

  seabed season --log logbook.gpkg --rank --area area.toml --out season

  seabed season --log logbook.gpkg --share shown.gpkg --coarse "1 km"

  seabed season --log logbook.gpkg --merge other.gpkg
"""


def season(
    *,
    log: o.LogFile = None,
    area: o.AreaFile = None,
    show: Annotated[
        str | None, typer.Option("--show", metavar="TRIP", help="Show one trip, drift by drift.")
    ] = None,
    remove: Annotated[
        str | None, typer.Option("--remove", metavar="TRIP", help="Take a trip out.")
    ] = None,
    rank: Annotated[
        bool, typer.Option("--rank", help="Rank the lines of all trips; write map and marks.")
    ] = False,
    onto: Annotated[
        str | None,
        typer.Option(
            "--onto",
            metavar="GRID",
            help="With --rank: expected fish over this depth grid of other water too.",
        ),
    ] = None,
    export: Annotated[
        str | None,
        typer.Option(
            "--export",
            metavar="KIND",
            help="Write out every table as csv, geojson or geoparquet.",
            autocompletion=o.words_of("csv", "geojson", "geoparquet"),
        ),
    ] = None,
    merge: Annotated[
        Path | None, typer.Option("--merge", metavar="FILE", help="Add another logbook's trips.")
    ] = None,
    prefer_other: Annotated[
        bool,
        typer.Option("--prefer-other", help="With --merge: take the other's where both differ."),
    ] = False,
    share: Annotated[
        Path | None,
        typer.Option("--share", metavar="FILE", help="Write a copy that gives no spot away."),
    ] = None,
    coarse: Annotated[
        str | None,
        typer.Option(
            "--coarse",
            metavar="LENGTH",
            help="With --share: how coarse its positions are.  [default: 2 km]",
        ),
    ] = None,
    update: Annotated[
        bool, typer.Option("--update", help="Bring an older logbook up to date, after a backup.")
    ] = False,
    out: o.OutFolder = Path("season"),
    units: o.Units = None,
    pages: o.PageOptions,
    as_json: o.Json = False,
) -> None:
    """List, show, rank, export, merge or share logged trips.

    Without any of these it lists them.  Say one at a time.
    """
    from layers.cli.settings import area_of
    from seabed.errors import SeabedError

    chosen = area_of(area, units=units, pages=pages)
    path = log or chosen.logbook.file
    if path is None:
        raise SeabedError(
            "no logbook is named",
            file=area,
            do="Name it with --log, or under [logbook] file in the area file.",
        )
    wanted = {
        "--show": show, "--remove": remove, "--rank": rank, "--export": export,
        "--merge": merge, "--share": share, "--update": update,
    }  # fmt: skip
    given = [name for name, value in wanted.items() if value]
    if len(given) > 1:
        raise SeabedError(f"{' and '.join(given)} at once", do="Say one at a time.")
    belongs = {
        "--onto": (onto, "--rank"),
        "--prefer-other": (prefer_other, "--merge"),
        "--coarse": (coarse, "--share"),
    }
    for name, (value, wanting) in belongs.items():
        if value and wanting not in given:
            raise SeabedError(
                f"means nothing without {wanting}", where=name, do=f"Say {wanting} as well."
            )
    from layers.cli.trips import seasons

    if show:
        seasons.show(path, show, chosen, as_json=as_json)
    elif remove:
        seasons.remove(path, remove, chosen, as_json=as_json)
    elif rank:
        seasons.rank(path, chosen, out, onto=onto, as_json=as_json)
    elif export:
        seasons.export(path, export, chosen, out, as_json=as_json)
    elif merge:
        seasons.merge_in(path, merge, prefer_other=prefer_other, as_json=as_json)
    elif share:
        seasons.share(path, share, coarse or "2 km", chosen, as_json=as_json)
    elif update:
        seasons.update(path, as_json=as_json)
    else:
        seasons.listed(path, as_json=as_json)
