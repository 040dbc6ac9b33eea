"""``plan --again``: when the tide next runs as on a drift of the logbook, and how that goes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.area import Area
from layers.cli.bottom import find_structure, hazards_of, open_area_surface
from layers.cli.outputs import files_of, keep_inputs
from layers.cli.planning.day_plan import Asked, things_of
from layers.cli.planning.inputs import setting_of
from layers.cli.planning.safety import beyond_at, safety_of
from layers.cli.planning.words import hazard_words, plan_rows
from layers.cli.showing import (
    counted,
    print_json,
    print_places,
    records,
    say_length,
    table_text,
)
from layers.exports import write_geopackage, write_marks, write_table_csv
from layers.exports.sheet import NO_HAZARDS
from layers.jobs.scout.prospects import ranked
from layers.logbook import Logbook
from layers.planning import Setting, drift_again, next_times, stage_of
from layers.planning.line import lines_table
from layers.planning.plan import runs_table
from layers.scoring import gather_lines, medoids
from layers.water import OpenHours, to_local
from layers.water.times import moment
from seabed.errors import SeabedError
from seabed.geodesy import distance_m
from seabed.units import convert

__all__ = ["DAYS_AHEAD", "do_again", "drift_of"]

DAYS_AHEAD: Final = 15
"""A spring-neap cycle: every stage comes round once in it."""

MOST_TIMES: Final = 10

Place = tuple[float, float]


def do_again(out: Path, area: Area, asked: Asked, name: str, *, as_json: bool) -> None:
    """Find the next times for a drift, write them, and tell.

    Raises
    ------
    SeabedError
        If no logbook is named, it has no such line or drift, or the current of then is not known.
    """
    path = asked.log or area.logbook.file
    if path is None:
        raise SeabedError(
            "no logbook is named, so no drift can be done again",
            where="--again",
            do="Name it with --log, or under [logbook] file in the area file.",
        )
    files = {"again": out / "again.csv", "marks": out / "again.gpx", "layers": out / "again.gpkg"}
    keep_inputs(files.values(), [path, *asked.grids, *files_of(area)])
    surface = open_area_surface(area, asked.grids)
    grid = surface.depth
    hazards = hazards_of(area, grid)
    setting = setting_of(area, asked.water, grid, hazards)
    drift = drift_of(Logbook(path), name, area)
    place, middle = (
        drift.geometry.coords[0][:2],
        moment(drift.start + (drift.end - drift.start) / 2),
    )
    like = stage_of(setting, middle, place)
    start = asked.when.start
    lead = np.timedelta64(int(drift.duration_s * 5e8), "ns")
    times = next_times(
        setting, like, place, start, start + np.timedelta64(DAYS_AHEAD, "D"), most=4 * MOST_TIMES
    )
    begins = [time - pd.Timedelta(lead) for time in times["start"]]
    lasts_s = float(drift.duration_s)
    limits = [_limits_passed(area, setting, place, begin, lasts_s) for begin in begins]
    if limits and all(limits) and not asked.beyond:
        raise SeabedError(
            f"no time in the next {DAYS_AHEAD} days at which the tide runs so is within the boat's "
            f"limits: {_once(limits)}",
            do="The limits are yours, under [boat] in the area file; {beyond_limits} tells all.",
        )
    open_to_us = [asked.beyond or not passed for passed in limits]
    shown = times[np.array(open_to_us, bool)].head(MOST_TIMES)
    things = None
    if len(shown):
        found = ranked(
            find_structure(grid, area), area, uncertainty=surface.uncertainty, hazards=hazards
        )
        things = things_of(found, grid)
    rows: list[dict[str, Any]] = []
    for number, place_in_table in enumerate(shown.index, 1):
        begin, passed = begins[place_in_table], limits[place_in_table]
        row = drift_again(
            setting, place, begin, lasts_s, name=f"A{number}", structure=things,
            say=say_length(area),
        )  # fmt: skip
        if row is not None:
            rows.append(row | {"warning": f"Beyond the boat's limits: {passed}." if passed else ""})
    lines = lines_table(rows)
    said = [] if asked.beyond else _left_out(limits)
    lines["warning"], warnings = _warnings(area, setting, lines, rows, asked)
    said = [*warnings, *said]
    write_table_csv(files["again"], lines)
    write_geopackage(files["layers"], {"plan": lines})
    write_marks(
        files["marks"], lines.rename(columns={"plan_id": "line"}),
        name_length=area.marks.name_length, depth_unit=area.units.depth, title=f"{name} again",
        warnings=said,
    )  # fmt: skip
    told = hazard_words(hazards, area) or NO_HAZARDS
    if as_json:
        print_json(
            {
                "warnings": said,
                "again": records(lines),
                "times": records(shown),
                "files": files,
                "hazards": told,
            }
        )
        return
    for words in said:
        print(words)
    _tell(lines, drift, like, area)
    print(told)
    print()
    print_places(files, {"marks": "Marks", "again": "Table", "layers": "Layers"})


def _limits_passed(
    area: Area, setting: Setting, place: Place, begin: pd.Timestamp, lasts_s: float
) -> str:
    end = begin + pd.Timedelta(seconds=lasts_s)
    return beyond_at(area, setting.water, place, begin, end)


def _once(limits: Sequence[str]) -> str:
    """Name each limit that is passed once."""
    return "; ".join(dict.fromkeys(one for words in limits if words for one in words.split("; ")))


def _left_out(limits: Sequence[str]) -> list[str]:
    count = sum(map(bool, limits))
    if not count:
        return []
    times = counted(count, "time")
    return [f"{times} left out, beyond the boat's limits: {_once(limits)}."]


def _warnings(
    area: Area, setting: Setting, lines: gpd.GeoDataFrame, rows: list[dict[str, Any]], asked: Asked
) -> tuple[list[str], list[str]]:
    """Warnings of each line, and of all; those beyond the boat's limits first."""
    ends = lines["slot_start"] + pd.to_timedelta(lines["drift_s"].astype(float), unit="s")
    passes = lines.assign(start=lines["slot_start"], end=ends)
    hours = OpenHours.whole(asked.when.start, asked.when.end)
    safety = safety_of(
        area, (passes, runs_table([])), setting, hours, asked_mps=asked.drift_mps, beyond=True
    )
    beyond = [str(row["warning"]) for row in rows]
    own = [
        " ".join(filter(None, [first, safety.of_line(name)]))
        for name, first in zip(lines["plan_id"], beyond, strict=True)
    ]
    first: dict[str, list[str]] = {}
    for row, words in zip(rows, beyond, strict=True):
        if words:
            first.setdefault(words, []).append(str(row["plan_id"]))
    grave = [f"{', '.join(names)}: {words}" for words, names in first.items()]
    return own, [*grave, *safety.warnings]


def drift_of(book: Logbook, name: str, area: Area) -> Any:
    """Find a drift by its name, or the middlemost drift of a line, in a logbook.

    Raises
    ------
    SeabedError
        If there is neither.
    """
    drifts = book.drifts()
    own = drifts[drifts["drift_id"] == name.strip()]
    if not len(own) and len(drifts):
        gathered = gather_lines(drifts, corridor_m=area.lines.corridor_m, known=book.lines())
        middle = {str(line).upper(): row for line, row in medoids(gathered).items()}
        if name.strip().upper() in middle:
            own = gathered.iloc[[middle[name.strip().upper()]]]
    if not len(own):
        raise SeabedError(
            f"neither a line nor a drift {name!r} in the logbook",
            file=book.path,
            where="--again",
            do='Name a line like SE1, or a drift like "2031-06-14 #3": seabed season lists them.',
        )
    return next(own.itertuples())


def _tell(lines: gpd.GeoDataFrame, drift: Any, like: Any, area: Area) -> None:
    unit = area.units.speed
    high = (
        "" if np.isnan(like.hours_from_high) else f", {like.hours_from_high:+.1f} h of high water"
    )
    print(
        f"{drift.drift_id}: the water ran {convert(like.current_mps, unit):.1f} {unit} toward "
        f"{like.toward_deg:03.0f}{high}."
    )
    if not len(lines):
        print(f"In the next {DAYS_AHEAD} days it does not, or the boat is stopped or not held.")
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
