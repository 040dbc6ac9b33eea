"""``seabed area``: an area file to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from layers.cli import options as o

__all__ = ["EXAMPLES", "area"]

EXAMPLES = """\
Examples:

  seabed area --out area.toml

  seabed area --name "Marrow Sound" --grid sound.tif --timezone Etc/GMT+2
"""


def area(
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The file to write.")] = Path(
        "area.toml"
    ),
    name: Annotated[
        str | None, typer.Option("--name", metavar="TEXT", help="What the water is called.")
    ] = None,
    grid: o.GridFiles = None,
    timezone: o.Timezone = None,
    band: o.Band = None,
    contours: o.Contours = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Write over a file that is there.")
    ] = False,
    as_json: o.Json = False,
) -> None:
    """Write an area file to start from, with a line about every key."""
    from layers.area import write_template
    from layers.cli.settings import area_of

    area_of(None, timezone=timezone, band=band, contours=contours)
    given: dict[tuple[str, str], Any] = {
        ("area", "name"): name,
        ("area", "timezone"): timezone,
        ("grid", "files"): _beside(grid, out),
        ("depths", "band"): _with_unit(band),
        ("depths", "contours"): _with_unit(contours),
    }
    write_template(out, {key: value for key, value in given.items() if value}, replace=replace)
    if as_json:
        from layers.cli.showing import print_json

        print_json({"files": {"area": out}})
    else:
        print(f"Written: {out}. Edit it, then: seabed scout --area {out}")


def _with_unit(words: str | None) -> str | None:
    """Add the default unit to depths said without one."""
    if words is None or words.rstrip()[-1:].isalpha():
        return words
    return f"{words} ft"


def _beside(grids: list[str] | None, out: Path) -> list[str]:
    """Name files from the folder of the area file, with / between folders."""
    import os

    names = []
    for grid in grids or []:
        if grid.startswith(("http://", "https://")):
            names.append(grid)
            continue
        try:
            names.append(Path(os.path.relpath(grid, out.parent)).as_posix())
        except ValueError:  # another drive on Windows
            names.append(Path(grid).resolve().as_posix())
    return names
