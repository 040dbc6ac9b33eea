"""``seabed marks``: results as marks for the plotter."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from layers.cli import options as o

__all__ = ["EXAMPLES", "marks"]

EXAMPLES = """\
Examples:

  seabed marks trips/trip.gpkg --best 5 --out marks.gpx

  seabed marks trips/trip.gpkg scouted/structure.gpkg --line SE1 --name-length 8
"""


def marks(
    results: Annotated[
        list[Path],
        typer.Argument(metavar="FILE", help="GeoPackages that scout or trip wrote."),
    ],
    line: Annotated[
        list[str] | None,
        typer.Option("--line", metavar="NAME", help="Only this line; more than once for several."),
    ] = None,
    best: Annotated[
        int | None, typer.Option("--best", metavar="N", help="Only the N best lines.")
    ] = None,
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE", help="The GPX file to write.")
    ] = Path("marks.gpx"),
    area: o.AreaFile = None,
    units: o.Units = None,
    name_length: o.NameLength = None,
    as_json: o.Json = False,
) -> None:
    """Write lines, edges, humps and holes as marks in GPX.

    Lines become routes with a mark at their start and end, edges tracks, humps and holes marks.
    """
    from layers.cli.outputs import files_of, keep_inputs
    from layers.cli.settings import area_of

    chosen = area_of(area, units=units, pages=o.PageOptions(name_length))
    keep_inputs([out], [*results, *files_of(chosen)])
    from layers.cli.marking import choose_lines, read_results
    from layers.exports import write_marks

    tables = read_results(results)
    lines = choose_lines(tables.get("lines"), names=line or [], best=best)
    written = write_marks(
        out,
        lines,
        tables.get("edges"),
        tables.get("features"),
        name_length=chosen.marks.name_length,
        depth_unit=chosen.units.depth,
        title=chosen.name or "Marks",
    )
    counts = {
        "marks": len(written.marks),
        "routes": len(written.routes),
        "tracks": len(written.tracks),
    }
    if as_json:
        from layers.cli.showing import print_json

        print_json({"files": {"marks": out}, "counts": counts, "names": written.names})
        return
    from layers.cli.showing import print_places

    print(", ".join(f"{count} {what}" for what, count in counts.items()))
    print_places({"marks": out}, {"marks": "Marks"})
