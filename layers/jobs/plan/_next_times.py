"""When the tide next runs as on a drift of the logbook, and how that goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.area import Area
from layers.jobs.parts.area_water import heights_of
from layers.jobs.parts.outputs import keep_inputs
from layers.jobs.parts.results import write_area_marks
from layers.jobs.parts.words import counted, say_length
from layers.jobs.plan._day_plan import Terms, landmarks_of
from layers.jobs.plan._inputs import setting_of
from layers.jobs.plan._known_ground import KnownGround, ground_of
from layers.jobs.plan._safety import beyond_at, safety_of
from layers.jobs.plan.printed_rows import hazard_words
from layers.jobs.result import Result, records
from layers.logbook import Logbook
from layers.planning import Setting
from layers.planning.day.line import PLAN
from layers.planning.day.plan import runs_table
from layers.planning.day.repeat import next_times, repeat_drift, stage_of
from layers.present import write_geopackage, write_table_csv
from layers.present.sheet.content import NO_HAZARDS
from layers.scoring import gather_lines
from layers.scoring.clusters import medoids
from layers.water import OpenHours
from layers.water.times import moment
from seabed.errors import SeabedError

DAYS_AHEAD: Final = 15
"""A spring-neap cycle: every stage comes round once in it."""

MOST_TIMES: Final = 10


@dataclass(frozen=True, kw_only=True)
class NextTimesResult(Result):
    """When the tide next runs as it did on a drift, and how that drift goes then.

    lines: a drift each time, as `layers.planning.PLAN` has them.
    times: from `layers.planning.day.repeat.next_times`.
    dangers: what could hurt, the worst first, and what was left out for it.
    drift, like: the drift of the logbook, a row, and the `Stage` at which it was.
    hazards: which hazards were kept clear of.
    """

    lines: gpd.GeoDataFrame
    times: pd.DataFrame
    dangers: tuple[str, ...]
    drift: Any
    like: Any
    hazards: str

    def answer(self) -> dict[str, Any]:
        """Give the drifts for machines."""
        return {
            "warnings": list(self.dangers),
            "again": records(self.lines),
            "times": records(self.times),
            "files": self.files,
            "hazards": self.hazards,
        }


def find_next_times(area: Area, terms: Terms, name: str) -> NextTimesResult:
    """Find the next times for a drift of the logbook, and write them."""
    path = area.logbook.file
    if path is None:
        raise SeabedError(
            "no logbook is named, so no drift can be done again",
            key="again",
            do="Name it with {logbook.file}.",
        )
    out = terms.request.out
    files = {"again": out / "again.csv", "marks": out / "again.gpx", "layers": out / "again.gpkg"}
    keep_inputs(files.values(), terms.request, area)
    ground = ground_of(area)
    setting = setting_of(area, terms.water, ground.grid, ground.hazards, heights_of(area))
    drift = drift_of(Logbook(path), name, area)
    place = drift.geometry.coords[0][:2]
    like = stage_of(setting, moment(drift.start + (drift.end - drift.start) / 2), place)
    start = terms.when.start
    times = next_times(
        setting, like, place, start, start + np.timedelta64(DAYS_AHEAD, "D"), most=4 * MOST_TIMES
    )
    half = pd.Timedelta(np.timedelta64(int(drift.duration_s * 5e8), "ns"))
    begins = [time - half for time in times["start"]]
    lasts = pd.Timedelta(seconds=drift.duration_s)
    limits = [beyond_at(area, setting.water, place, one, one + lasts) for one in begins]
    shown = times[_may_be_used(limits, terms)].head(MOST_TIMES)
    rows = _drifted_again(ground, setting, drift, [(begins[at], limits[at]) for at in shown.index])
    lines = PLAN.frame(rows)
    lines["warning"], warnings = _warnings(area, setting, lines, rows, terms)
    if not terms.beyond:
        warnings += _left_out(limits)
    write_table_csv(files["again"], lines)
    write_geopackage(files["layers"], {"plan": lines})
    named = lines.rename(columns={"plan_id": "line"})
    write_area_marks(files["marks"], area, f"{name} again", named, warnings=warnings)
    return NextTimesResult(
        area=area, files=files, lines=lines, times=shown, dangers=tuple(warnings), drift=drift,
        like=like, hazards=hazard_words(ground.hazards, area) or NO_HAZARDS,
    )  # fmt: skip


def _may_be_used(limits: Sequence[str], terms: Terms) -> NDArray[np.bool_]:
    """Say which times are within the boat's limits; SeabedError if none is."""
    if limits and all(limits) and not terms.beyond:
        raise SeabedError(
            f"no time in the next {DAYS_AHEAD} days at which the tide runs so is within the boat's "
            f"limits: {_once(limits)}",
            do="The limits are yours: {boat}. {beyond_limits} lists all.",
        )
    return np.array([terms.beyond or not passed for passed in limits], bool)


def _drifted_again(
    ground: KnownGround, setting: Setting, drift: Any, begins: Sequence[tuple[pd.Timestamp, str]]
) -> list[dict[str, Any]]:
    """Drift from its mark at times, each with the limits that are passed then; rows of lines."""
    landmarks = landmarks_of(ground.prospects, ground.grid) if begins else None
    rows: list[dict[str, Any]] = []
    for number, (begin, limits) in enumerate(begins, 1):
        row = repeat_drift(
            setting, drift.geometry.coords[0][:2], begin, float(drift.duration_s),
            name=f"A{number}", structure=landmarks, say=say_length(ground.found.area),
        )  # fmt: skip
        if row is not None:
            beyond = f"Beyond the boat's limits: {limits}." if limits else ""
            rows.append(row | {"warning": beyond})
    return rows


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
    area: Area, setting: Setting, lines: gpd.GeoDataFrame, rows: list[dict[str, Any]], terms: Terms
) -> tuple[list[str], list[str]]:
    """Warnings of each line, and of all; those beyond the boat's limits first."""
    ends = lines["slot_start"] + pd.to_timedelta(lines["drift_s"].astype(float), unit="s")
    passes = lines.assign(start=lines["slot_start"], end=ends)
    hours = OpenHours.whole(terms.when.start, terms.when.end)
    safety = safety_of(
        area, (passes, runs_table([])), setting, terms.when, hours, asked_mps=terms.drift_mps,
        beyond=True,
    )  # fmt: skip
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
    """Find a drift of a logbook by its name, or the middlemost drift of a line."""
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
            key="again",
            do='Name a line like SE1, or a drift like "2031-06-14 #3"; {seabed season} lists them.',
        )
    return next(own.itertuples())
