"""When to be where: a plan as a table of the day, its waits and slack water between."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.planning.day._slack import slack_periods
from layers.planning.day.plan import Plan
from layers.planning.drift._setting import Setting
from layers.water import OpenHours
from layers.water.times import moment
from seabed.geodesy import path_m
from seabed.grid import degree_bounds
from seabed.schema import Table

TIMETABLE: Final = Table.of(
    "timetable",
    "layers.planning.day.timetable",
    """
    start, end [time] of the movement alone, UTC: settling on a mark is between its rows
    what [text] drift or run (to a pass, or home), with their geometry; wait or slack (beside the
        others, not after them) without
    plan_id [text empty] ``""`` home and for slack
    pass_number [int] 0 home, for slack and a wait
    distance_m [distance .2 empty] NaN where there is none
    bearing_deg [empty] NaN where there is none
    push_mps, push_deg [empty] of the motor at the start of a drift
    push_end_mps, push_end_deg [empty] of the motor at the end of a drift
    least_water_m [depth least empty] on a run or drift; NaN where it is not known
    caution [text empty] ``""`` where all is well
    latest_start [time empty] of a drift's line
    words [text] one sentence without times or units
    geometry [LineString] of a drift or run
    """,
)

LEAST_WAIT: Final = pd.Timedelta(minutes=5)


def timetable(plan: Plan, setting: Setting, hours: OpenHours) -> gpd.GeoDataFrame:
    """Set out a day leg by leg, in order of time; no lines give slack periods alone.

    Slack water is sought in the spans of `hours`; there is no time to spare in what it leaves
    out.
    """
    rows = [*_drifts(plan), *_runs(plan)]
    rows += [*_waits(rows, hours)]
    rows += [row for span in hours.spans for row in _slack(plan, setting, *span)]
    table = pd.DataFrame(rows, columns=TIMETABLE.names)
    return TIMETABLE.frame(table).sort_values(["start", "end"], kind="stable", ignore_index=True)


def legs_of(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Keep the drifts and runs of a timetable."""
    return table[table["what"].isin(["drift", "run"])].reset_index(drop=True)


def home_at(table: gpd.GeoDataFrame) -> pd.Timestamp | None:
    """Say when the boat is home for good, UTC; None without a run home; as `arrival`."""
    home = table[(table["what"] == "run") & (table["plan_id"] == "")]
    if not len(home):
        return None
    return arrival(home.iloc[-1])


def arrival(run: Any) -> pd.Timestamp:
    """Say when a run, a row of the timetable, is over, UTC; what its line lacks is straight."""
    drawn_m = path_m(*np.array(run.geometry.coords).T[:2])
    share = run.distance_m / drawn_m if drawn_m > 0 else 1.0
    over: pd.Timestamp = run.start + (run.end - run.start) * max(share, 1.0)
    return over


def _drifts(plan: Plan) -> Iterator[dict[str, Any]]:
    latest = plan.lines.set_index("plan_id")["latest_start"]
    for one in plan.passes.itertuples():
        yield _row(one, "drift", one.trim) | {
            "push_mps": one.push_mps,
            "push_deg": one.push_deg,
            "push_end_mps": one.push_end_mps,
            "push_end_deg": one.push_end_deg,
            "least_water_m": one.depth_min_m,
            "latest_start": latest[one.plan_id],
        }


def _runs(plan: Plan) -> Iterator[dict[str, Any]]:
    drifts = sorted(zip(plan.passes["start"], plan.passes["plan_id"], strict=True))
    for run in plan.runs.itertuples():
        before = [str(name) for start, name in drifts if start < run.start]
        fished = before[-1].partition(" ")[0] if before else ""
        line = str(run.plan_id).partition(" ")[0]
        words = f"Back up to {run.plan_id}" if line == fished else f"Run to {run.plan_id}"
        row = _row(run, "run", words if line else "Run home")
        yield row | {"least_water_m": run.least_water_m, "caution": run.caution}


def _waits(rows: list[dict[str, Any]], hours: OpenHours) -> Iterator[dict[str, Any]]:
    """Give the time to spare between a drift and the run after it."""
    legs = sorted(rows, key=lambda row: row["start"])
    for before, after in pairwise(legs):
        spare = before["what"] == "drift" or before["plan_id"] == ""  # a run home
        if spare and after["start"] - before["end"] >= LEAST_WAIT:
            name = after["plan_id"]
            shut = hours.leaves_out(before["end"], after["start"])
            words = (_SHELTER if shut else _WAIT).format(name or "the run home")
            yield _between(before["end"], after["start"], "wait", words) | {"plan_id": name}


_SHELTER: Final = "Beyond the boat's limits before {}: be in shelter"
_WAIT: Final = "Time to spare before {}"


def _slack(
    plan: Plan, setting: Setting, start: np.datetime64, end: np.datetime64
) -> Iterator[dict[str, Any]]:
    """Say when the water is slack, and what to do in it, at the line that is next then."""
    lines = plan.lines[plan.lines["kind"] == "line"]
    place = degree_bounds(setting.safe.grid).middle
    if len(lines):
        place = lines.geometry.iloc[0].coords[0][:2]
    for begins, ends in slack_periods(setting, start, end, place):
        during = lines[(lines["slot_end"] > begins) & (lines["slot_start"] < ends)]
        names = ", ".join(during["plan_id"]) or next(
            iter(lines.loc[lines["slot_start"] >= ends, "plan_id"]), ""
        )
        wind = setting.water.wind
        windy = wind is not None and float(wind.at(np.array([moment(begins)]))[0][0]) > 0
        words = "Slack: the water hardly runs"
        words += ", and the wind moves the boat" if windy else ""
        words += (
            f"; motor along {names} at the speed of a drift, or wait"
            if names
            else "; wait, or go home"
        )
        yield _between(begins, ends, "slack", words)


def _row(leg: Any, what: str, words: str) -> dict[str, Any]:
    return _between(leg.start, leg.end, what, words) | {
        "plan_id": leg.plan_id,
        "pass_number": leg.pass_number,
        "distance_m": leg.distance_m,
        "bearing_deg": leg.bearing_deg,
        "geometry": leg.geometry,
    }


def _between(start: pd.Timestamp, end: pd.Timestamp, what: str, words: str) -> dict[str, Any]:
    return {
        "start": start, "end": end, "what": what, "plan_id": "", "pass_number": 0,
        "distance_m": np.nan, "bearing_deg": np.nan, "push_mps": np.nan, "push_deg": np.nan,
        "push_end_mps": np.nan, "push_end_deg": np.nan,
        "least_water_m": np.nan, "caution": "", "latest_start": pd.NaT, "words": words,
        "geometry": None,
    }  # fmt: skip
