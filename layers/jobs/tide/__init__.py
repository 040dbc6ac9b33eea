"""A day of the water, or its current learned from own drifts."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from layers.area import Area
from layers.jobs.parts.area_water import (
    WAYS_TO_A_CURRENT,
    boat_limits,
    calm_words,
    currents_of,
    ends_inside,
    heights_of,
    pressed,
    wind_of,
)
from layers.jobs.parts.facts import (
    Place,
    air_facts,
    grid_for_sea,
    launch_facts,
    launch_of,
    light_of,
    mean_height_m,
    place_of,
    sea_dangers,
    sea_facts,
    sea_of,
)
from layers.jobs.parts.outputs import keep_inputs
from layers.jobs.parts.seen import correct, has_time, lead_facts, line_facts, seen_facts
from layers.jobs.parts.settings import area_of, day_of, drift_speed_mps, zone_words
from layers.jobs.parts.words import beyond_words
from layers.jobs.progress import Progress, ignored
from layers.jobs.requests import TideRequest
from layers.jobs.result import Result, records
from layers.present import write_calendar
from layers.present.csv import caution_beside
from layers.present.day_words import day_rows, in_zone
from layers.present.pictures.day import day_picture
from layers.water import Currents, DriftTarget, Heights, day_of_water, day_windows, leeway_of
from layers.water.currents.events import current_events
from layers.water.day.day_of_water import rows_every
from layers.water.day.limits import open_spans
from layers.water.day.moon import MoonTimes
from layers.water.day.sun import SunTimes
from layers.water.heights.stage import turns
from layers.water.times import as_utc, day_bounds, to_local
from seabed.files import write_text
from seabed.units import parse_speed

if TYPE_CHECKING:
    from layers.jobs.tide._learning import LearnedResult


@dataclass(frozen=True, kw_only=True)
class TideResult(Result):
    """A day of the water.

    table, windows: from `layers.water.day_of_water` and `layers.water.day_windows`.
    turns, events: high and low waters, slacks and greatest currents; None without a source.
    sun, moon: None where no place is known.
    left_out: what is beyond the boat's limits, from `layers.water.OpenHours`.
    beyond: what is beyond them and used anyway, in words.
    every: minutes between the rows to show.
    dangers, facts: what could hurt, and what sea and launch do, a sentence each.
    """

    date: datetime.date
    table: pd.DataFrame
    windows: pd.DataFrame
    turns: pd.DataFrame | None
    events: pd.DataFrame | None
    sun: SunTimes | None
    moon: MoonTimes | None
    left_out: pd.DataFrame
    beyond: str
    every: int
    dangers: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()

    @property
    def about(self) -> dict[str, Any]:
        """What goes beside the table, as `layers.present.day_words.day_sheet` takes it."""
        return {
            "timezone": self.area.timezone,
            "turns": self.turns,
            "events": self.events,
            "sun": self.sun,
            "moon": self.moon,
        }

    def answer(self) -> dict[str, Any]:
        """Give the day for machines."""
        zone, sun, moon = self.area.timezone, self.sun, self.moon
        tables = {
            "beyond_limits": self.left_out,
            "high_and_low_waters": self.turns,
            "current_events": self.events,
            "windows": self.windows,
            "rows": rows_every(self.table, 10, zone),
        }
        return {
            "beyond": self.beyond,
            "dangers": list(self.dangers),
            "facts": list(self.facts),
            "date": self.date.isoformat(),
            "timezone": zone,
            "sunrise": _local(sun and sun.rises, zone),
            "sunset": _local(sun and sun.sets, zone),
            "civil_dawn": _local(sun and sun.dawn, zone),
            "civil_dusk": _local(sun and sun.dusk, zone),
            "moonrise": _local(moon and moon.rises, zone),
            "moonset": _local(moon and moon.sets, zone),
            "moon_lit": moon and round(moon.lit, 2),
            "moon_phase": moon and moon.phase,
            **{
                name: [] if table is None else records(in_zone(table, zone))
                for name, table in tables.items()
            },
        }


def day_of_tide(request: TideRequest) -> TideResult:
    """Work out a day of the water, and write it where a folder is named."""
    area = area_of(request)
    when = day_of(request.date or "", area.timezone, area.date_order)
    start, end = day_bounds(when, area.timezone)
    place = place_of(area)
    files = _files(request, when)
    keep_inputs(files.values(), request, area)
    heights, currents = _water(request, area, place, files.get("station"))
    wind = wind_of(area, request.wind, start)
    line = [request.line] if request.line and has_time(request.line) else []
    currents = correct(area, currents, [*request.seen, *line], when, wind=wind, place=place)
    target = _target(request, area)
    at = {"longitude": place[0], "latitude": place[1]}
    sea = sea_of(area, grid_for_sea(area), wind=wind, currents=currents, heights=heights)
    hours = open_spans(
        start, end, limits=boat_limits(area), wind=wind, currents=currents, sea=sea, **at
    )
    table = day_of_water(
        when, area.timezone, heights=heights, currents=currents, wind=wind,
        leeway=leeway_of(area.boat.craft), target=target, sea=sea, **at,
    )  # fmt: skip
    table["limit"] = hours.limits_at(table["time"])
    beyond = request.beyond_limits
    result = TideResult(
        area=area,
        files=files,
        notes=_notes(
            heights, currents, zone_words(area, when, place[0]), calm_words(area, request.wind)
        ),
        warnings=ends_inside(area, heights, currents, start, end),
        date=when,
        table=table,
        windows=day_windows(table, target=target, beyond=beyond),
        turns=turns(heights, start, end) if heights else None,
        events=current_events(currents, start, end, **at) if currents else None,
        **light_of(when, area, place),
        left_out=hours.left_out,
        beyond=beyond_words(hours.left_out, area) if beyond else "",
        every=request.every,
        dangers=tuple(sea_dangers(area, sea, start, end)),
        facts=(
            *(line_facts(area, request.line) if request.line else []),
            *seen_facts(area, currents),
            *air_facts(area, wind, np.array([start + (end - start) // 2])),
            *lead_facts(area, mean_height_m(heights, as_utc(table["time"]))),
            *sea_facts(area, sea, start, end),
            *launch_facts(area, launch_of(area, start, end, heights=heights, wind=wind)),
        ),
    )
    _write(result)
    return result


def _target(request: TideRequest, area: Area) -> DriftTarget:
    return DriftTarget(
        speed_mps=drift_speed_mps(request.drift_speed),
        motor_limit_mps=area.boat.motor_limit_mps,
        slack_below_mps=parse_speed(request.slack_below, default=area.units.speed),
    )


def _local(time: Any, zone: str) -> Any:
    """Give a time in a zone, to the second; None for none."""
    return None if time is None else to_local(time, zone)[0].round("s")


def _water(
    request: TideRequest, area: Area, place: Place, kept: Path | None
) -> tuple[Heights | None, Currents | None]:
    """Give heights and currents; a station's go before the area's, not before those asked for."""
    heights: Heights | None = None
    currents: Currents | None = None
    if request.station:
        # not sooner: loading pyTMD takes half a second
        from layers.water.stations.importers import import_station
        from layers.water.stations.station_file import write_station

        station = import_station(request.station, station_id=request.station_id)
        heights, currents = station.heights, station.currents
        heights = None if heights is None else pressed(area, heights)
        if kept is not None:
            write_station(kept, station)
    heights = heights or heights_of(area, place)
    if currents is None or request.currents:
        currents = currents_of(area, heights)
    return heights, currents


def _files(request: TideRequest, when: datetime.date) -> dict[str, Path]:
    if request.out is None:
        return {}
    files = {kind: request.out / f"tide_{when}.{kind}" for kind in ("csv", "svg", "ics")}
    return {**files, "station": request.out / "station.json"} if request.station else files


def _notes(heights: Heights | None, currents: Currents | None, *more: str) -> tuple[str, ...]:
    """Say what is unknown for want of a source, and how to name one."""
    notes = []
    if heights is None:
        notes.append("No tide heights are named. Give {water.heights}.")
    if currents is None:
        notes.append(f"No current is named, so how the boat drifts is unknown. {WAYS_TO_A_CURRENT}")
    notes += getattr(heights, "notes", ())
    return (*notes, *filter(None, more))


def _write(result: TideResult) -> None:
    if not result.files:
        return
    area, files, table = result.area, result.files, result.table
    units: dict[str, Any] = {"depth_unit": area.units.depth, "speed_unit": area.units.speed}
    rows = day_rows(table, timezone=area.timezone, every_minutes=min(result.every, 10), **units)
    write_text(files["csv"], rows.to_csv(index=False, lineterminator="\n"))
    caution_beside(files["csv"])
    above = [words for words in (result.beyond, *result.dangers) if words]
    picture = day_picture(
        table,
        result.windows,
        title=f"{area.name or 'The water'}, {result.date:%A} {result.date.isoformat()}",
        beyond=" ".join(above),
        timezone=area.timezone,
        sun=result.sun,
        turns=result.turns,
        **units,
    )
    write_text(files["svg"], picture)
    write_calendar(
        files["ics"],
        result.windows,
        place=area.name,
        made=pd.Timestamp.now(tz="UTC"),
        warnings=above,
    )


__all__ = ["TideResult", "run"]


def run(request: TideRequest, progress: Progress = ignored) -> TideResult | LearnedResult:
    """Work out a day of the water; learn its current where the request names tracks for that."""
    if not request.learn:
        progress("working out the day", 0.0)
        return day_of_tide(request)
    from layers.jobs.tide._learning import learn

    progress("learning the current", 0.0)
    return learn(request)
