"""When to be where: a plan as a table of the day, running and slack water counted."""

from __future__ import annotations

from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.planning.setting import Setting
from layers.water.times import moment
from seabed.geodesy import bearing_and_distance
from seabed.grid import degree_bounds
from seabed.units import SPEED

__all__ = ["SLACK_BELOW_MPS", "TIMETABLE_COLUMNS", "slack_periods", "timetable"]

TIMETABLE_COLUMNS: Final = (
    "start", "end", "what", "plan_id", "pass_number", "distance_m", "bearing_deg", "latest_start",
    "words",
)  # fmt: skip
"""Columns of a timetable; see `timetable`."""

SLACK_BELOW_MPS: Final = 0.2 * SPEED["kn"]
"""Water slower than this is slack.  Common practice, no source."""

LEAST_WAIT_S: Final = 300.0

Place = tuple[float, float]


def timetable(
    plan: gpd.GeoDataFrame,
    setting: Setting,
    start: np.datetime64,
    end: np.datetime64,
    *,
    home: Place | None = None,
) -> pd.DataFrame:
    """Set out a day leg by leg.

    Parameters
    ----------
    plan : from `plan_day`
        Its passes; lines of kind "beside" take the passes of their line in turn with it, and push
        later lines back.  Passes that would then end after `end` are left out.
    setting : Setting
    start, end : datetime64
        First lines down and last lines up, UTC; slack water is told between them.
    home : (longitude, latitude), optional
        Where the boat starts from and comes back to.

    Returns
    -------
    DataFrame, in order of time
        ``start``, ``end`` (UTC); ``what``: "run" (to a line's start, or back up to it), "drift",
        "wait", "slack" (beside the others, not after them) or "home"; ``plan_id`` (``""`` without
        one); ``pass_number`` (0 without one); ``distance_m``, ``bearing_deg`` (NaN without one);
        ``latest_start`` (NaT but for the first drift on a line); ``words``, one sentence without
        times or units.  No lines give slack periods alone.
    """
    rows: list[dict[str, Any]] = []
    here, free = home, None
    last_up = pd.Timestamp(end, tz="UTC") + pd.Timedelta(seconds=1)
    lines = plan[plan["kind"] != "beside"]
    for line in lines.itertuples():
        passes = _passes(line, plan)
        for number, one in enumerate(passes, 1):
            first, last = one.geometry.coords[0][:2], one.geometry.coords[-1][:2]
            running_s, legs = _run(here, first, setting, one.plan_id, number)
            lines_down = line.slot_start if number == 1 else rows[-1]["end"]
            if free is not None:
                ready = free + pd.Timedelta(seconds=running_s + setting.limits.set_up_s)
                lines_down = max(lines_down, ready)
            if lines_down + pd.Timedelta(seconds=one.drift_s) > last_up and rows:
                break
            leaves = lines_down - pd.Timedelta(seconds=running_s + setting.limits.set_up_s)
            if free is not None and (leaves - free).total_seconds() >= LEAST_WAIT_S:
                rows.append(_row(free, leaves, "wait", one.plan_id, _WAIT.format(one.plan_id)))
            elif free is not None:
                leaves = free
            if legs is not None:
                rows.append({**_row(leaves, lines_down, "run", one.plan_id, ""), **legs})
            free = lines_down + pd.Timedelta(seconds=one.drift_s)
            rows.append(
                _row(lines_down, free, "drift", one.plan_id, one.trim)
                | {
                    "pass_number": number,
                    "distance_m": one.distance_m,
                    "bearing_deg": one.bearing_deg,
                    "latest_start": line.latest_start if number == 1 else pd.NaT,
                }
            )
            here = last
    if home is not None and free is not None:
        running_s, legs = _run(here, home, setting, "", 0)
        home_at = free + pd.Timedelta(seconds=running_s)
        rows.append({**_row(free, home_at, "home", "", ""), **(legs or {}), "words": "Run home"})
    rows += _slack_rows(plan, setting, start, end)
    table = pd.DataFrame(rows, columns=list(TIMETABLE_COLUMNS))
    table = table.sort_values(["start", "end"], kind="stable", ignore_index=True)
    return table.astype({"pass_number": "int64"}) if len(table) else table


def slack_periods(
    setting: Setting, start: np.datetime64, end: np.datetime64, place: Place
) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Find when the water at a place runs slower than `SLACK_BELOW_MPS`, to the minute, UTC."""
    minutes = np.arange(start, end, np.timedelta64(60, "s")).astype("datetime64[ns]")
    at = np.full(len(minutes), place[0]), np.full(len(minutes), place[1])
    slow = np.hypot(*setting.water.currents.velocity(minutes, *at)) < SLACK_BELOW_MPS
    turns = np.flatnonzero(np.diff(np.concatenate([[False], slow, [False]]).astype(int)))
    return [
        (
            pd.Timestamp(minutes[first], tz="UTC"),
            pd.Timestamp(minutes[last - 1], tz="UTC") + pd.Timedelta(minutes=1),
        )
        for first, last in zip(turns[::2], turns[1::2], strict=True)
    ]


_WAIT: Final = "Time to spare before {}: rig, eat, or make its first pass early"


def _passes(line: Any, plan: gpd.GeoDataFrame) -> list[Any]:
    """Give the tracks of a line's passes, in turn with those beside it."""
    beside = plan[(plan["kind"] == "beside") & plan["plan_id"].str.startswith(f"{line.plan_id} ")]
    ways = [line, *beside.itertuples()]
    return [ways[number % len(ways)] for number in range(max(line.passes, len(ways)))]


def _run(
    here: Place | None, there: Place, setting: Setting, plan_id: str, number: int
) -> tuple[float, dict[str, Any] | None]:
    """Seconds of a run, and its columns; none where the boat's place is not known."""
    if here is None:
        return 0.0, None
    bearing, metres = bearing_and_distance(*here, *there)
    where = f"Run to the start of {plan_id}" if number == 1 else f"Back up to {plan_id}"
    return metres / setting.limits.running_mps, {
        "distance_m": metres,
        "bearing_deg": bearing,
        "words": where,
    }


def _row(
    start: pd.Timestamp, end: pd.Timestamp, what: str, plan_id: str, words: str
) -> dict[str, Any]:
    return {
        "start": start, "end": end, "what": what, "plan_id": plan_id, "pass_number": 0,
        "distance_m": np.nan, "bearing_deg": np.nan, "latest_start": pd.NaT, "words": words,
    }  # fmt: skip


def _slack_rows(
    plan: gpd.GeoDataFrame, setting: Setting, start: np.datetime64, end: np.datetime64
) -> list[dict[str, Any]]:
    """Tell of slack water, and what to do in it, at the line that is next then."""
    place = degree_bounds(setting.safe.grid).middle
    if len(plan):
        place = plan.geometry.iloc[0].coords[0][:2]
    rows = []
    for begins, ends in slack_periods(setting, start, end, place):
        following = plan[(plan["slot_end"] > begins) & (plan["kind"] == "line")]
        wind = setting.water.wind
        windy = wind is not None and float(wind.at(np.array([moment(begins)]))[0][0]) > 0
        words = "Slack: the water says nothing"
        words += ", and the wind moves the boat" if windy else ""
        if len(following):
            name = following.iloc[0]["plan_id"]
            words += f"; drive along {name} with the motor at a drift's speed, or rig and wait"
        else:
            words += "; rig, or go home"
        rows.append(_row(begins, ends, "slack", "", words))
    return rows
