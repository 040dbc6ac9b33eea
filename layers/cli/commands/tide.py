"""``seabed tide``: a day of the water."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from layers.cli import options as o

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

    from layers.area import Area
    from layers.water import Currents, DriftWishes, Heights

__all__ = ["EXAMPLES", "tide"]

EXAMPLES = """\
Examples:

  seabed tide --area area.toml --date 2031-06-14 --wind "SW 8 kn"

  seabed tide --area area.toml --wind "6:00 SW 8 kn" --wind "12:00 W 12 kn" --out day

  seabed tide --station station.json --date 2031-06-14

  seabed tide --area area.toml --learn june.gpx --learn july.gpx --wind wind.csv --out current
"""


def tide(
    area: o.AreaFile = None,
    day: o.Day = "",
    heights: o.HeightsFile = None,
    currents: Annotated[
        str,
        typer.Option(
            metavar="FILE",
            help='Currents: table (CSV), station (JSON), S-111; "0.8 kn toward 40".  [area file]',
        ),
    ] = "",
    station: Annotated[
        str,
        typer.Option(
            metavar="SOURCE",
            help="A tide or current station to use: JSON file, or web address to fetch it from; "
            "kept as a station file in --out.",
        ),
    ] = "",
    station_id: Annotated[
        str, typer.Option(metavar="ID", help="Which one, where the source holds several.")
    ] = "",
    flood_toward: Annotated[
        float | None,
        typer.Option(metavar="DEGREES", help="Where the flood runs to, degrees true.  [area file]"),
    ] = None,
    wind: o.WindWords = None,
    drift_speed: o.DriftSpeed = o.DRIFT_SPEED,
    slack_below: Annotated[
        str, typer.Option(metavar="SPEED", help="Water slower than this is slack.")
    ] = "0.2 kn",
    learn: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="TRACK",
            help="Learn the current from the drifts of own tracks; more than once for several.",
        ),
    ] = None,
    beyond_limits: o.BeyondLimits = False,
    every: Annotated[
        int, typer.Option(min=1, max=180, metavar="MINUTES", help="Minutes between rows.")
    ] = 60,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="Folder for the table (CSV), picture (SVG) and calendar (ICS)."
        ),
    ] = None,
    timezone: o.Timezone = None,
    units: o.Units = None,
    as_json: o.Json = False,
) -> None:
    """Tell tide, current, wind and drift through a day.

    When it is slack, and when a drift is good.  With --learn it learns the current instead.
    """
    from layers.cautions import CAUTIONS_SHORT
    from layers.cli.limits_said import beyond_words
    from layers.cli.settings import area_of, boat_limits, calm_words, day_of, wind_of
    from layers.cli.showing import print_json
    from layers.water import (
        current_events,
        day_bounds,
        day_of_water,
        day_records,
        day_sheet,
        day_windows,
        leeway_of,
        open_spans,
        turns,
    )

    chosen = area_of(area, units=units, timezone=timezone)
    when = day_of(day, chosen.timezone)
    start, end = day_bounds(when, chosen.timezone)
    place = _place(chosen)
    if out is not None:
        read = [heights, *(wind or []), *(learn or ()), *(() if learn else (currents, station))]
        _keep_inputs(out, chosen, when, read, learn=bool(learn), station=bool(station))
    if learn:
        _learn(chosen, learn, _heights(chosen, heights, place), wind, out=out, as_json=as_json)
        return
    imported = _station(station, station_id, out)
    level = imported[0] or _heights(chosen, heights, place)
    flow = imported[1] if imported[1] and not currents else None
    water = level, flow or _currents(chosen, currents, flood_toward, level)
    wishes = _wishes(chosen, drift_speed, slack_below)
    blowing = wind_of(chosen, wind, start)
    hours = open_spans(
        start, end, limits=boat_limits(chosen), wind=blowing, currents=water[1],
        longitude=place[0], latitude=place[1],
    )  # fmt: skip
    table = day_of_water(
        when,
        chosen.timezone,
        heights=water[0],
        currents=water[1],
        wind=blowing,
        leeway=leeway_of(chosen.boat.craft),
        wishes=wishes,
        longitude=place[0],
        latitude=place[1],
    )
    table["limit"] = hours.limits_at(table["time"])
    told: dict[str, Any] = {
        "timezone": chosen.timezone,
        "turns": turns(water[0], start, end) if water[0] else None,
        "events": current_events(water[1], start, end, longitude=place[0], latitude=place[1])
        if water[1]
        else None,
        "sun": _sun(when, chosen, place),
    }
    windows = day_windows(table, wishes=wishes, beyond=beyond_limits)
    beyond = beyond_words(hours.left_out, chosen) if beyond_limits else ""
    if out is not None:
        _write(out, (table, windows), chosen, when, told=told, every=every, beyond=beyond)
    if as_json:
        records = day_records(table, windows, **told, left_out=hours.left_out)
        print_json({"beyond": beyond, "date": when.isoformat(), **records})
        return
    _tell_limits(hours.left_out, chosen, beyond)
    print(f"{chosen.name or 'The water'}, {when:%A} {when.isoformat()} ({chosen.timezone})\n")
    print(day_sheet(table, windows, **told, every_minutes=every, **_shown(chosen)))
    for sentence in (*_not_named(*water), calm_words(chosen, wind)):
        if sentence:
            print(f"{sentence}\n")
    print(CAUTIONS_SHORT)


def _tell_limits(left_out: pd.DataFrame, area: Area, beyond: str) -> None:
    """Say first of all what is beyond the boat's limits."""
    from layers.cli.limits_said import left_out_lines

    if beyond:
        print(f"{beyond}\n")
    elif len(left_out):
        print("Left out of the windows, beyond the boat's limits:")
        for line in left_out_lines(left_out, area):
            print(f"  {line}")
        print()


def _not_named(heights: Heights | None, currents: Currents | None) -> list[str]:
    """Say what can't be told for want of a source, and how to name one."""
    told = []
    if heights is None:
        told.append("No tide heights are named. Say --heights, or heights under [water].")
    if currents is None:
        told.append(
            "No currents are named, so how the boat drifts is unknown. Say --currents, or currents "
            "under [water]."
        )
    return told


def _learn(
    area: Area,
    tracks: list[Path],
    heights: Heights | None,
    wind: list[str] | None,
    *,
    out: Path | None,
    as_json: bool,
) -> None:
    from layers.cautions import CAUTIONS_SHORT
    from layers.cli.current_learning import (
        learn_from_tracks,
        learned_lines,
        learned_records,
        write_learning,
    )
    from layers.cli.settings import calm_words, wind_of
    from layers.cli.showing import print_json

    learned, drifts = learn_from_tracks(area, tracks, heights, wind_of(area, wind))
    files = {} if out is None else write_learning(out, learned, drifts, area)
    if as_json:
        print_json(learned_records(learned))
        return
    print(learned_lines(learned, area))
    if calm := calm_words(area, wind):
        print(f"{calm}\n")
    for path in files.values():
        print(path)
    print(CAUTIONS_SHORT)


def _keep_inputs(
    out: Path, area: Area, when: date, read: list[Any], *, learn: bool, station: bool
) -> None:
    from dataclasses import replace

    from layers.cli.outputs import files_of, keep_inputs

    outputs = list(_files(out, when).values())
    if station:
        outputs.append(out / "station.json")
    if learn:
        from layers.cli.current_learning import learning_files

        outputs = list(learning_files(out, area).values())
        # not read then: a learned current may be learned anew from more drifts
        area = replace(area, water=replace(area.water, currents=None))
    keep_inputs(outputs, [*(name or None for name in read), *files_of(area)])


def _files(out: Path, when: date) -> dict[str, Path]:
    return {kind: out / f"tide_{when}.{kind}" for kind in ("csv", "svg", "ics")}


def _shown(area: Area) -> dict[str, Any]:
    return {"depth_unit": area.units.depth, "speed_unit": area.units.speed}


def _heights(
    area: Area, given: Path | None, place: tuple[float | None, float | None]
) -> Heights | None:
    from layers.water import read_heights

    path = given or area.water.heights
    if path is None:
        return None
    return read_heights(path, timezone=area.timezone, longitude=place[0], latitude=place[1])


def _station(
    source: str, station_id: str, out: Path | None
) -> tuple[Heights | None, Currents | None]:
    if not source:
        return None, None
    from layers.water.importers import import_station
    from layers.water.station_file import write_station

    station = import_station(source, station_id=station_id or None)
    if out is not None:
        write_station(out / "station.json", station)
    return station.heights, station.currents


def _currents(
    area: Area, given: str, flood_toward: float | None, heights: Heights | None
) -> Currents | None:
    from layers.water import parse_current, read_currents

    if " to" in given and not Path(given).exists():
        return parse_current(given)
    path = Path(given) if given else area.water.currents
    if path is None:
        return None
    own = flood_toward is None
    return read_currents(
        path,
        timezone=area.timezone,
        flood_toward=area.water.flood_toward_deg if own else flood_toward,
        ebb_toward=area.water.ebb_toward_deg if own else None,
        heights=heights,
    )


def _wishes(area: Area, drift_speed: str, slack_below: str) -> DriftWishes:
    from layers.cli.settings import drift_speed_mps
    from layers.water import DriftWishes
    from seabed.units import parse_speed

    return DriftWishes(
        speed_mps=drift_speed_mps(drift_speed),
        motor_limit_mps=area.boat.motor_limit_mps,
        slack_below_mps=parse_speed(slack_below, default=area.units.speed),
    )


def _place(area: Area) -> tuple[float | None, float | None]:
    """Middle of the area's first grid, degrees; None where there is none."""
    from seabed.loaders import describe

    files = [file for file in area.grid.files if Path(file).is_file()]
    found = describe(files[0]).bounds if files else None
    if found is None:
        return None, None
    return (found.west + found.east) / 2, (found.south + found.north) / 2


def _sun(when: date, area: Area, place: tuple[float | None, float | None]) -> Any:
    from layers.water import sun_times

    longitude, latitude = place
    if longitude is None or latitude is None:
        return None
    return sun_times(when, area.timezone, longitude=longitude, latitude=latitude)


def _write(
    out: Path,
    tables: tuple[pd.DataFrame, pd.DataFrame],
    area: Area,
    when: date,
    *,
    told: dict[str, Any],
    every: int,
    beyond: str,
) -> None:
    import pandas as pd

    from layers.water import day_picture, day_rows, write_calendar
    from seabed.files import write_text

    table, windows = tables
    units = _shown(area)
    rows = day_rows(table, timezone=area.timezone, every_minutes=min(every, 10), **units)
    files = _files(out, when)
    write_text(files["csv"], rows.to_csv(index=False, lineterminator="\n"))
    picture = day_picture(
        table,
        windows,
        title=f"{area.name or 'The water'}, {when:%A} {when.isoformat()}",
        beyond=beyond,
        timezone=area.timezone,
        sun=told["sun"],
        turns=told["turns"],
        **units,
    )
    write_text(files["svg"], picture)
    made = pd.Timestamp.now(tz="UTC")
    warnings = [beyond] if beyond else []
    write_calendar(files["ics"], windows, place=area.name, made=made, warnings=warnings)
