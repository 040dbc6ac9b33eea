"""Show the day's tide, current, wind and drift.

It says when the water is slack and drifts are good.  With --learn, learn the current instead.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from layers.cautions import CAUTIONS_SHORT

if TYPE_CHECKING:
    from layers.jobs.tide import TideResult
    from layers.jobs.tide._learning import LearnedResult

EXAMPLES = """\
Examples:

  seabed tide --area area.toml --date 2031-06-14 --wind "SW 8 kn"

  seabed tide --area area.toml --wind "6:00 SW 8 kn" --wind "12:00 W 12 kn" --out day

  seabed tide --station station.json --date 2031-06-14

  seabed tide --area area.toml --learn june.gpx --learn july.gpx --wind wind.csv --out current
"""


def show(result: TideResult | LearnedResult) -> None:
    """Print the day, or the current by hour of the tide."""
    from layers.jobs.tide import TideResult

    if isinstance(result, TideResult):
        _show_day(result)
    else:
        _show_learned(result)
    print(CAUTIONS_SHORT)


def _show_day(result: TideResult) -> None:
    from layers.jobs.parts.words import left_out_lines
    from layers.present.day_words import day_sheet

    area, day = result.area, result.date
    if result.beyond:
        print(f"{result.beyond}\n")
    elif len(result.left_out):
        print("Left out of the windows, beyond the boat's limits:")
        print(*(f"  {line}" for line in left_out_lines(result.left_out, area)), "", sep="\n")
    if result.dangers:
        print(*result.dangers, "", sep="\n")
    print(f"{area.name or 'The water'}, {day:%A} {day.isoformat()} ({area.timezone})\n")
    print(
        day_sheet(
            result.table, result.windows, **result.about, every_minutes=result.every,
            depth_unit=area.units.depth, speed_unit=area.units.speed,
        )
    )  # fmt: skip
    for sentence in (*result.facts, *result.notes):
        print(f"{sentence}\n")


def _show_learned(result: LearnedResult) -> None:
    from layers.jobs.parts.seen import station_facts

    learned, unit = result.learned, result.area.units.speed
    scale, doubt = learned.leeway_scale
    print(
        f"Learned from {learned.drifts} drifts of {learned.outings} outings. "
        f"The wind moves the boat {scale:.2f} ± {doubt:.2f} times as much as published for "
        f"{result.area.boat.craft}.\n"
    )
    if result.motored:
        print(f"Left out, since the motor ran or seems to have run, {len(result.motored)} drifts:")
        print(*(f"  {line}" for line in result.motored_lines()), "", sep="\n")
    print(f"{'Hours from high':<17}{'Current':<18}{'90 % interval':<18}Seen")
    for row in learned.by_hour().to_dict("records"):
        print(_hour_line(row, unit))
    print()
    for sentence in station_facts(result.against):
        print(f"{sentence}\n")
    for sentence in result.notes:
        print(f"{sentence}\n")
    for path in result.files.values():
        print(path)


def _hour_line(row: dict[str, Any], unit: str) -> str:
    import math

    from seabed.units import convert

    head = f"{row['hours_from_high']:+8.0f}         "
    if math.isnan(row["speed_mps"]):
        return f"{head}{row['words']}"
    speed, low, high = (convert(row[f"{name}_mps"], unit) for name in ("speed", "low", "high"))
    way = f"{speed:.1f} {unit} to {row['toward_deg']:03.0f}"
    interval = f"{low:.1f} to {high:.1f} {unit}"
    return f"{head}{way:<18}{interval:<18}{row['drift_pieces']} pieces  {row['words']}".rstrip()
