"""``plan --again``: when the tide next runs as on a drift of the logbook, and how that goes."""

from __future__ import annotations

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
from layers.cli.planning.words import hazard_words, plan_rows
from layers.cli.scouting.prospects import ranked
from layers.cli.showing import print_json, print_places, records, say_length, table_text
from layers.exports import write_geopackage, write_marks, write_table_csv
from layers.exports.sheet import NO_HAZARDS
from layers.logbook import Logbook
from layers.planning import drift_again, next_times, stage_of
from layers.planning.line import lines_table
from layers.scoring import gather_lines, medoids
from layers.water import to_local
from layers.water.times import moment
from seabed.errors import SeabedError
from seabed.geodesy import distance_m
from seabed.units import convert

__all__ = ["DAYS_AHEAD", "do_again", "drift_of"]

DAYS_AHEAD: Final = 15
"""A spring-neap cycle: every stage comes round once in it."""


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
    times = next_times(setting, like, place, start, start + np.timedelta64(DAYS_AHEAD, "D"))
    things = None
    if len(times):
        found = ranked(
            find_structure(grid, area), area, uncertainty=surface.uncertainty, hazards=hazards
        )
        things = things_of(found, grid)
    rows: list[dict[str, Any]] = []
    for number, time in enumerate(times["start"], 1):
        row = drift_again(
            setting, place, time - pd.Timedelta(lead), float(drift.duration_s), name=f"A{number}",
            structure=things, say=say_length(area),
        )  # fmt: skip
        if row is not None:
            rows.append(row)
    lines = lines_table(rows)
    write_table_csv(files["again"], lines)
    write_geopackage(files["layers"], {"plan": lines})
    write_marks(
        files["marks"], lines.rename(columns={"plan_id": "line"}),
        name_length=area.marks.name_length, depth_unit=area.units.depth, title=f"{name} again",
    )  # fmt: skip
    told = hazard_words(hazards, area) or NO_HAZARDS
    if as_json:
        print_json({"again": records(lines), "times": records(times), "files": files,
                    "hazards": told})  # fmt: skip
        return
    _tell(lines, drift, like, area)
    print(told)
    print()
    print_places(files, {"marks": "Marks", "again": "Table", "layers": "Layers"})


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
