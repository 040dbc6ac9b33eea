"""``seabed plan``: which drift in which hour of a day."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from layers.cli import options as o

if TYPE_CHECKING:
    from layers.area import Area
    from layers.cli.planning.planned import DayPlan

__all__ = ["EXAMPLES", "plan"]

EXAMPLES = """\
Examples:

  seabed plan --area area.toml --date 2031-06-14 --from 7:00 --to 12:00 --wind "SW 8 kn"

  seabed plan --area area.toml --date 2031-06-14 --free --out monday

  seabed plan --area area.toml --date 2031-06-14 --beside P2 --spacing "60 ft"

  seabed plan --area area.toml --log logbook.gpkg --date 2031-06-14 --again "2031-06-07 #3"
"""


def plan(
    *,
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
    beside: Annotated[
        str,
        typer.Option(
            "--beside",
            metavar="LINE",
            help="Lay passes beside this line of the plan, or beside one of the logbook in it.",
        ),
    ] = "",
    spacing: Annotated[
        str, typer.Option("--spacing", metavar="LENGTH", help="Room between passes beside a line.")
    ] = "20 m",
    each_side: Annotated[
        int, typer.Option("--each-side", metavar="N", help="Passes to either side of the line.")
    ] = 1,
    again: Annotated[
        str,
        typer.Option(
            "--again",
            metavar="LINE|DRIFT",
            help="Instead of a plan: when the tide next runs as it did on this one of the logbook.",
        ),
    ] = "",
    beyond_limits: o.BeyondLimits = False,
    grid: o.GridFiles = None,
    charts: o.ChartFiles = None,
    log: o.LogFile = None,
    band: o.Band = None,
    units: o.Units = None,
    timezone: o.Timezone = None,
    grid_words: o.GridOptions,
    out: o.OutFolder = Path("plan"),
    as_json: o.Json = False,
) -> None:
    """Lay the drift lines of a day, in the order the tide wants.

    They start up-current of structure in the band of depth.  Times are local to the area.
    """
    from layers.cli import settings
    from layers.cli.outputs import files_of, keep_inputs
    from layers.cli.planning import day_plan, inputs
    from layers.cli.progress import progress

    chosen = settings.area_of(
        area,
        units=units,
        band=band,
        timezone=timezone,
        charts=charts,
        grid=grid_words,
    )
    wanted = settings.drift_speed_mps(drift_speed)
    spacing_m = settings.length_of(spacing, "--spacing")
    paths = day_plan.plan_files(out)
    read = [*(grid or []), *(wind or []), *(charts or []), log, *files_of(chosen)]
    keep_inputs(paths.values(), read)
    with progress(day_plan.PLAN_STEPS, quiet=as_json) as step:
        when = inputs.hours_of(chosen, day, begin, end)
        held = None if free else wanted
        water = inputs.water_of(chosen, when, wind, held_mps=held, beyond=beyond_limits)
        asked = day_plan.Asked(
            when, water, grid or (), log, beside, spacing_m, each_side, wanted, beyond_limits
        )
        if again:
            from layers.cli.planning.again import do_again

            do_again(out, chosen, asked, again, as_json=as_json)
            return
        plan_made = day_plan.work_out(chosen, asked, step)
        step("writing sheet and marks")
        files = day_plan.write_plan(out, chosen, plan_made)
    calm = settings.calm_words(chosen, wind)
    _tell(plan_made, files, chosen, calm=calm, as_json=as_json)


def _tell(
    plan_made: DayPlan, files: dict[str, Path], area: Area, *, calm: str, as_json: bool
) -> None:
    from layers.cli.planning.words import hazard_words, plan_rows, timetable_rows, what_if_rows
    from layers.cli.showing import print_json, print_places, records, table_text
    from layers.exports.sheet import NO_HAZARDS

    hazards = hazard_words(plan_made.hazards, area) or NO_HAZARDS
    if as_json:
        print_json(
            {
                "beyond": plan_made.safety.beyond,
                "warnings": plan_made.safety.records(),
                "plan": records(plan_made.lines),
                "passes": records(plan_made.plan.passes),
                "worth_kind": plan_made.worth_kind,
                "timetable": records(plan_made.timetable),
                "what_if": records(plan_made.what_if),
                "what_if_days": records(plan_made.what_if_days),
                "files": files,
                "hazards": hazards,
            }
        )
        return
    for words in (plan_made.safety.beyond, *plan_made.safety.warnings):
        if words:
            print(words)
    if plan_made.safety.dangers:
        print()
    if not len(plan_made.lines):
        print("No drift in this time is worth making: the water stands, or the motor can't hold.")
    else:
        print(table_text(*plan_rows(plan_made.lines, area)))
        print(_WORTH[plan_made.worth_kind])
        for line in plan_made.lines.itertuples():
            print(f"  {line.plan_id}: {line.why}. {line.trim}.")
        print()
        print(table_text(*timetable_rows(plan_made.timetable, area)))
        print()
        print(table_text(*what_if_rows(plan_made.what_if, plan_made.what_if_days, area)))
        print(_WHAT_IF)
        print()
    if calm:
        print(calm)
    print(hazards)
    print()
    print_places(
        files,
        {
            "sheet": "Sheet", "page": "As a page", "map": "Map", "marks": "Marks",
            "calendar": "Calendar",
            "plan": "Table", "timetable": "Timetable", "what_if": "What if", "layers": "Layers",
        },
    )  # fmt: skip


_WORTH = {
    "structure score": "worth: 0 to 1 an hour, by depth band and nearness to structure; a guess, "
    "not fish",
    "fish a rod-hour by lines fished": "worth: fish a rod-hour, cautiously, by what the logbook's "
    "lines paid; new ground a quarter of the plain rate by its structure; running back counted",
    "fish a rod-hour": "worth: fish a rod-hour as the logbook foretells them, running back counted",
}
_WHAT_IF = (
    "A line's column says how far its end moves; (no) says that it is then worth less than three "
    "fifths of the plan, or is stopped."
)
