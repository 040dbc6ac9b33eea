"""``seabed plan``: which drift in which hour of a day."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from layers.cli import options as o

if TYPE_CHECKING:
    import geopandas as gpd

    from layers.area import Area

__all__ = ["EXAMPLES", "plan"]

EXAMPLES = """\
Examples:

  seabed plan --area area.toml --date 2031-06-14 --from 7:00 --to 12:00 --wind "SW 8 kn"

  seabed plan --area area.toml --date 2031-06-14 --free --out monday
"""


def plan(
    area: o.AreaFile = None,
    day: o.Day = "",
    begin: Annotated[
        str, typer.Option("--from", metavar="TIME", help="First lines down, like 7:00.")
    ] = "7:00",
    end: Annotated[
        str, typer.Option("--to", metavar="TIME", help="Last lines up, like 13:00.")
    ] = "13:00",
    wind: o.WindWords = None,
    drift_speed: o.DriftSpeed = o.DRIFT_SPEED,
    free: Annotated[
        bool, typer.Option("--free", help="Drift free: no motor holds the boat to the water.")
    ] = False,
    grid: o.GridFiles = None,
    band: o.Band = None,
    units: o.Units = None,
    timezone: o.Timezone = None,
    crs: o.Crs = None,
    sign: o.Sign = None,
    unit: o.Unit = None,
    vertical_datum: o.VerticalDatum = None,
    offset: o.Offset = None,
    out: o.OutFolder = Path("plan"),
    as_json: o.Json = False,
) -> None:
    """Lay drift lines that start up-current of structure, in the order the tide wants."""
    from layers.cli import day_plan, settings
    from layers.cli.outputs import files_of, keep_inputs
    from layers.cli.progress import progress

    chosen = settings.area_of(
        area,
        units=units,
        band=band,
        timezone=timezone,
        grid=settings.GridWords(crs, sign, unit, vertical_datum, offset),
    )
    held = settings.drift_speed_mps(drift_speed)
    read = [*(grid or []), *(wind or []), *files_of(chosen)]
    keep_inputs(day_plan.plan_files(out).values(), read)
    with progress(day_plan.PLAN_STEPS, quiet=as_json) as step:
        when = day_plan.hours_of(chosen, day, begin, end)
        water = day_plan.water_of(chosen, when, wind, held_mps=None if free else held)
        lines, files = day_plan.work_out(out, chosen, when, water, grid or (), step)
    _tell(lines, files, chosen, as_json=as_json)


def _tell(lines: gpd.GeoDataFrame, files: dict[str, Path], area: Area, *, as_json: bool) -> None:
    from layers.cli.day_plan import plan_rows
    from layers.cli.showing import print_json, print_places, records, table_text
    from layers.exports.sheet import NO_HAZARDS

    if as_json:
        print_json(
            {
                "plan": records(lines.drop(columns="geometry")),
                "files": files,
                "hazards": NO_HAZARDS,
            }
        )
        return
    if not len(lines):
        print("No drift in this time is worth making: the water stands, or the motor can't hold.")
    else:
        print(table_text(*plan_rows(lines, area)))
        print("worth: 0 to 1 an hour, by depth band and nearness to structure; a guess, not fish")
    print(NO_HAZARDS)
    print()
    print_places(files, {"sheet": "Sheet", "marks": "Marks", "plan": "Table", "layers": "Layers"})
