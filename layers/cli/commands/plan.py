"""Plan the drifts of a day, in the order that the tide wants.

They start up-current of structure in the depth band.  Times are local to the area.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layers.cautions import CAUTIONS_SHORT
from layers.cli.showing import print_places, table_text

if TYPE_CHECKING:
    from layers.jobs.plan import NextTimesResult, PlanResult

EXAMPLES = """\
Examples:

  seabed plan --area area.toml --date 2031-06-14 --from 7:00 --to 12:00 --wind "SW 8 kn"

  seabed plan --area area.toml --date 2031-06-14 --free --out monday

  seabed plan --area area.toml --date 2031-06-14 --beside P2 --spacing "60 ft"

  seabed plan --area area.toml --log logbook.gpkg --date 2031-06-14 --again "2031-06-07 #3"
"""


def show(result: PlanResult | NextTimesResult) -> None:
    """Print what could hurt, then the lines, the timetable and what if; or the next times."""
    from layers.jobs.plan import NextTimesResult

    if isinstance(result, NextTimesResult):
        _show_next_times(result)
        return
    uncharted = result.hazards if result.charted is None else ""
    first = [*filter(None, (result.safety.beyond, *result.safety.warnings, uncharted))]
    if first:
        print(*first, "", sep="\n")
    if len(result.lines):
        _show_lines(result)
    charted = () if uncharted else (result.hazards,)
    for sentence in (*result.notes, *result.facts, *charted):
        print(sentence)
    print(f"In {result.files['sheet'].parent}: {', '.join(f.name for f in result.files.values())}.")
    print(CAUTIONS_SHORT)


def _show_lines(result: PlanResult) -> None:
    from layers.jobs.plan.printed_rows import (
        afloat_words,
        brief_rows,
        plan_rows,
        timetable_rows,
        what_if_rows,
    )

    print(table_text(*plan_rows(result.lines, result.area)))
    print(_WORTH[result.worth_kind])
    if not result.why:
        print()
        print(table_text(*brief_rows(result.timetable, result.lines, result.area)))
        print("Reasons, every run and other weather: {why}. Each row is in the timetable's file.\n")
        return
    for line in result.lines.itertuples():
        afloat = afloat_words(line, result.area)
        print(
            f"  {line.plan_id}: {line.why}. {line.trim}. {afloat}{'.' if afloat else ''}".rstrip()
        )
    print()
    print(table_text(*timetable_rows(result.timetable, result.area)))
    print()
    print(table_text(*what_if_rows(result.what_if, result.what_if_days, result.area)))
    print(_WHAT_IF)
    print()


def _show_next_times(result: NextTimesResult) -> None:
    for words in result.dangers:
        print(words)
    _show_times(result)
    print(result.hazards)
    print()
    print_places(result.files, {"marks": "Marks", "again": "Table", "layers": "Layers"})


def _show_times(result: NextTimesResult) -> None:
    from layers.jobs.parts.words import say_length
    from layers.jobs.plan import DAYS_AHEAD
    from layers.jobs.plan.printed_rows import plan_rows
    from layers.water.times import to_local
    from seabed.geodesy import distance_m
    from seabed.units import convert

    lines, drift, like, area = result.lines, result.drift, result.like, result.area
    unit = area.units.speed
    high = (
        "" if math.isnan(like.hours_from_high) else f", {like.hours_from_high:+.1f} h of high water"
    )
    print(
        f"{drift.drift_id}: the water ran {convert(like.current_mps, unit):.1f} {unit} toward "
        f"{like.toward_deg:03.0f}{high}."
    )
    if not len(lines):
        print(
            f"In the next {DAYS_AHEAD} days it does not, or the boat is stopped or cannot be held."
        )
        return
    headers, rows = plan_rows(lines, area)
    days = [f"{to_local(at, area.timezone)[0]:%Y-%m-%d}" for at in lines["slot_start"]]
    away = [
        distance_m(*drift.geometry.coords[-1][:2], *line.coords[-1][:2]) for line in lines.geometry
    ]
    say = say_length(area)
    keep = [i for i, head in enumerate(headers) if head not in {"latest", "passes", "worth"}]
    print(
        table_text(
            ["day", *(headers[i] for i in keep), "ends off"],
            [
                [day, *(row[i] for i in keep), say(metres)]
                for day, row, metres in zip(days, rows, away, strict=True)
            ],
        )
    )


_WORTH = {
    "structure score": "worth: 0 to 1 an hour, by depth band and nearness to structure, as on "
    "ground never passed; a guess, not fish",
    "fish a rod-hour by lines fished": "worth: fish a rod-hour, a cautious rate from the "
    "logbook's lines; new ground counts a quarter of the plain rate; running back counted",
    "fish a rod-hour": "worth: fish a rod-hour as the logbook predicts them, running back counted",
}
_WHAT_IF = (
    "A line's column says how far its end moves; (no) says that it is then worth less than three "
    "fifths of the plan, or is stopped."
)
