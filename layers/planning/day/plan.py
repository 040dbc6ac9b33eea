"""A plan as tables: its lines, their passes, and the runs between them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

from layers.planning.day._laying import Laid, LaidLine
from layers.planning.day._passes import STILL_GOOD, Pass, PassFans, bearings_of
from layers.planning.day.beside import Beside
from layers.planning.day.line import PASSES, PLAN, drift_row, line_of_passes, why_row
from layers.planning.day.reasons import Landmarks
from layers.planning.day.slots import Slot
from layers.planning.drift._candidates import worth_rates
from layers.planning.drift.safe_water import Ended
from layers.planning.ground._hot_stretches import shortened_to
from layers.planning.runs._runs import Run
from layers.water.times import span, stamp
from seabed.array_types import Mask
from seabed.geodesy import bearing_deg
from seabed.schema import Table
from seabed.units import Say

RUNS: Final = Table.of(
    "runs",
    "layers.planning.plan_day",
    """
    plan_id [text empty "Line"] it runs to; ``""`` home
    pass_number [int] that it runs to; 0 home
    start ["From" time] UTC
    end ["To" time] UTC
    distance_m ["Distance" distance .2] of the way
    bearing_deg from start to end
    least_water_m ["Least water" depth least empty] under the boat; NaN where it is not known
    caution [text empty "Caution"] in words; ``""`` where all is well
    geometry [LineString] the way
    """,
)
"""Runs of a plan."""


START_STEP_MINUTES: Final = 10
LONGEST_START_HOURS: Final = 3
START_DRIFT_STEP_S: Final = 60.0
"""Step of the drifts by which the latest start at a line is sought."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A day's plan.

    Attributes
    ----------
    lines, passes, runs : GeoDataFrame
        A row each, as `plan_day` says.
    slots : list of Slot
        In which its lines were chosen, in order of time.
    """

    lines: gpd.GeoDataFrame
    passes: gpd.GeoDataFrame
    runs: gpd.GeoDataFrame
    slots: Sequence[Slot] = ()


@dataclass(frozen=True, slots=True)
class Telling:
    """How a plan is described; as `plan_day`."""

    structure: Landmarks | None
    say: Say
    worth_kind: str
    corridor_m: float


def plan_of(laid: Laid, telling: Telling, fans: PassFans, beside: Beside | None = None) -> Plan:
    """Measure all that was laid out."""
    lines: list[dict[str, Any]] = []
    passes: list[dict[str, Any]] = []
    runs: list[dict[str, Any]] = []
    for number, line in enumerate(laid.lines, 1):
        own: dict[int, list[dict[str, Any]]] = {}
        for run, one in line.passes:
            name = _name(f"P{number}", one.way, beside)
            last = len(one.tracks.times) - 1
            row = drift_row(one.setting, one.tracks, last, boats=fans.of(one))
            rows = own.setdefault(one.way, [])
            rows.append(row | {"plan_id": name, "pass_number": len(rows) + 1, "worth": one.worth})
            if run is not None and len(run.times) > 1:  # one is none
                runs.append(_run_row(run, name, len(rows)))
        passes += [row for way in own.values() for row in way]
        lines += _line_rows(line, own, f"P{number}", telling, beside)
    runs += [_run_row(run, "", 0) for run in laid.homes]
    return Plan(
        PLAN.frame(lines),
        PASSES.frame(sorted(passes, key=lambda row: row["start"])),
        runs_table(runs),
        [line.passes[0][1].wanted.slot for line in laid.lines],
    )


def runs_table(rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
    """Put rows into a table of runs; no rows give an empty one with its columns."""
    return RUNS.frame(rows).sort_values("start", ignore_index=True)


def _line_rows(
    line: LaidLine,
    own: dict[int, list[dict[str, Any]]],
    name: str,
    telling: Telling,
    beside: Beside | None,
) -> Iterator[dict[str, Any]]:
    """Give the row of a line, and of each way beside it that has a pass."""
    first = line.passes[0][1]
    for way, rows in sorted(own.items()):
        row = line_of_passes(rows)
        row |= why_row(row, telling.structure, telling.say)
        row |= {
            "kind": "beside" if way else "line",
            "latest_start": _latest_start(line),
            "worth_kind": telling.worth_kind,
            "again_of": line.again_of,
        }
        if way and beside is not None:
            row["why"] = f"{beside.words(name, way, telling.say)} {row['why']}"
        elif not way:
            row["why"] = _reason(first, row, telling)
        yield row


def _reason(first: Pass, row: dict[str, Any], telling: Telling) -> str:
    slot = first.wanted.slot
    why = str(row["why"])
    if slot.hot_stretches is not None:
        shorter = shortened_to(
            row["geometry"], slot.hot_stretches, telling.corridor_m, say=telling.say
        )
        why = shorter + why
    if row["again_of"]:
        why = f"{row['again_of']} again, at the stage at which it paid. {why}"
    return why


def _name(line: str, way: int, beside: Beside | None) -> str:
    return line if beside is None or not way else beside.named(line, way)


def _run_row(run: Run, plan_id: str, pass_number: int) -> dict[str, Any]:
    """Give the row of a run to a pass, or home (no name, number 0)."""
    x, y = run.longitude, run.latitude
    return {
        "plan_id": plan_id,
        "pass_number": pass_number,
        "start": stamp(run.times[0]),
        "end": stamp(run.times[-1]),
        "distance_m": run.distance_m,
        "bearing_deg": float(bearing_deg(x[0], y[0], x[-1], y[-1])),
        "least_water_m": run.least_water_m,
        "caution": run.caution,
        "geometry": LineString(np.column_stack([x, y])),
    }


def _latest_start(line: LaidLine) -> pd.Timestamp:
    """Find the last of every ten minutes (UTC) at which a pass can still be made from its mark.

    From the begin of the line's last pass to three hours later, all in the same tide and within the
    hours that are open, as `follow_pass` asks.
    """
    last = next(one for _, one in reversed(line.passes) if not one.way)
    wanted, over = last.wanted, last.setting
    minutes = np.arange(0, LONGEST_START_HOURS * 60 + 1, START_STEP_MINUTES)
    begins = last.begin + minutes.astype("timedelta64[m]")
    longitude, latitude = last.points[0]
    tracks = over.drifts(
        np.full(len(minutes), longitude), np.full(len(minutes), latitude), begins, wanted.drift_s,
        step_s=START_DRIFT_STEP_S, depths=False,
    )  # fmt: skip
    ground = wanted.slot.worth
    worth = worth_rates(ground, tracks, over.limits)[:, -1]
    works: Mask = (
        (tracks.ended == Ended.TIME)
        & (worth >= STILL_GOOD * wanted.planned_worth)
        & line.course.holds(bearings_of(tracks), begins, wanted.drift_s)
        & (begins + span(wanted.drift_s) <= line.up_by)
    )
    works[0] = True  # as planned
    good = int(np.argmin(works)) if not works.all() else len(works)
    return stamp(begins[good - 1])
