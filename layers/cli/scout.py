"""``seabed scout``: what the bottom holds, from a depth grid."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from layers.cli import options as o

if TYPE_CHECKING:
    from layers.cli.scouting import Structure

__all__ = ["EXAMPLES", "scout"]

EXAMPLES = """\
Examples:

  seabed scout sound.tif --depths "10:60:5 ft" --band "17-25 ft" --out scouted

  seabed scout --area area.toml --out scouted
"""


def scout(
    grids: o.GridArguments = None,
    area: o.AreaFile = None,
    depths: o.Depths = None,
    band: o.Band = None,
    box: o.Box = None,
    out: o.OutFolder = Path("scouted"),
    units: o.Units = None,
    name_length: o.NameLength = None,
    crs: o.Crs = None,
    sign: o.Sign = None,
    unit: o.Unit = None,
    vertical_datum: o.VerticalDatum = None,
    offset: o.Offset = None,
    variable: o.Variable = None,
    as_json: o.Json = False,
) -> None:
    """Find edges, humps, holes and contours in a depth grid; write map, marks and layers."""
    from layers.cli import settings
    from layers.cli.outputs import files_of, keep_inputs
    from layers.cli.progress import progress

    chosen = settings.area_of(
        area,
        units=units,
        depths=depths,
        band=band,
        name_length=name_length,
        grid=settings.GridWords(crs, sign, unit, vertical_datum, offset),
    )
    from layers.cli import scouting

    part = scouting.parse_box(box)
    keep_inputs(scouting.scout_files(out).values(), [*(grids or []), *files_of(chosen)])
    with progress(scouting.SCOUT_STEPS, quiet=as_json) as step:
        step("reading depths")
        grid = scouting.open_area_grid(chosen, grids or (), box=part, variable=variable)
        structure = scouting.find_structure(grid, chosen, step)
        files = scouting.write_scout(out, structure, chosen, step)
    _tell(structure, files, as_json=as_json)


def _tell(structure: Structure, files: dict[str, Path], *, as_json: bool) -> None:
    from layers.cli.showing import print_json, print_places

    guesses = list(structure.grid.attrs.get("guesses", []))
    counts = {name: len(table) for name, table in structure.layers.items()}
    if as_json:
        print_json({"files": files, "counts": counts, "guesses": guesses})
        return
    for guess in guesses:
        print(f"Guessed: {guess}")
    kinds = structure.features["kind"].value_counts()
    print(
        f"{counts['edges']} edges ({int(structure.edges['in_band'].sum())} in the band), "
        f"{kinds.get('hump', 0)} humps, {kinds.get('hole', 0)} holes, "
        f"{counts['contours']} contour lines"
    )
    print_places(files, {"map": "Map", "marks": "Marks", "structure": "Layers", "edges": "Edges"})
