"""A plan as events of a calendar: when to be out, and when to be back.  It names no place."""

from __future__ import annotations

from typing import Any

import pandas as pd

from layers.area import Area
from layers.jobs.parts.limits import clock
from layers.jobs.plan._plan_result import PlanResult
from layers.planning.day.timetable import arrival


def calendar_of_plan(plan: PlanResult) -> pd.DataFrame:
    """Give an event for each line and for the way home, as `write_calendar` takes them.

    Positions are left out: calendars are copied to other machines.
    """
    lines = plan.lines[plan.lines["kind"] == "line"]
    legs = plan.timetable
    home = legs[(legs["what"] == "run") & (legs["plan_id"] == "")]
    rows = [_line(row, plan) for row in lines.itertuples()]
    rows += [_home(row, arrival(row), plan.area) for row in home.itertuples()]
    return pd.DataFrame(rows, columns=["kind", "start", "end", "words", "limit"])


def _line(row: Any, plan: PlanResult) -> dict[str, Any]:
    passes = "1 pass" if row.passes == 1 else f"{row.passes} passes"
    limits = plan.safety.hours.limits_at([row.slot_start])[0]
    return {
        "kind": row.plan_id,
        "start": row.slot_start,
        "end": row.slot_end,
        "words": f"{row.plan_id}: drift toward {row.bearing_deg:03.0f}, {passes}",
        "limit": limits,
    }


def _home(row: Any, back: Any, area: Area) -> dict[str, Any]:
    return {
        "kind": "home",
        "start": row.start,
        "end": back,
        "words": f"Run home: back at the launch by {clock(back, area)}"
        + (f". The run {row.caution}" if row.caution else ""),
        "limit": "",
    }
