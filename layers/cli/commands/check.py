"""``seabed check``: what any file is, what is wrong with it, and how to mend it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from layers.cli import options as o

__all__ = ["EXAMPLES", "check"]

EXAMPLES = """\
Examples:

  seabed check sound.tif trip_1.gpx catches.csv tide_table.csv area.toml

  seabed check survey.tif --sign depth --grid-unit ft

Exit code 2 where a file can't be used as it is, 0 where all can.
"""


def check(
    *,
    files: Annotated[
        list[str], typer.Argument(metavar="FILE", help="Files of any kind, or a grid's address.")
    ],
    area: o.AreaFile = None,
    grid_words: o.FormatOptions,
    timezone: o.Timezone = None,
    units: o.Units = None,
    as_json: o.Json = False,
) -> None:
    """Say what files are, what is wrong with them, and what to do."""
    from layers.cli import settings

    chosen = settings.area_of(area, units=units, timezone=timezone, grid=grid_words)
    from layers.cli.checks import checking
    from layers.cli.progress import progress

    with progress(len(files), quiet=as_json) as step:
        found = []
        for name in files:
            step(f"reading {Path(name).name}")
            found.append(checking.check_file(name, chosen))
    if as_json:
        from layers.cli.showing import print_json

        print_json({"files": [report.as_dict() for report in found]})
    else:
        print("\n\n".join(report.text() for report in found))
    if not all(report.usable for report in found):
        raise typer.Exit(2)
