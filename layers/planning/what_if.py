"""How the lines of a plan go if water, wind or the skipper are not as planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.planning.candidates import cells_under, worth_gathered
from layers.planning.drift import DriftTracks, Ended
from layers.planning.paid import setting_for
from layers.planning.scenarios import SCENARIOS, Scenario
from layers.planning.setting import Setting
from layers.planning.slots import Slot
from layers.water.times import as_utc, moment
from seabed.geodesy import distance_m, path_m
from seabed.places import sample

__all__ = ["WHAT_IF_COLUMNS", "slots_of_lines", "what_if"]

WHAT_IF_COLUMNS: Final = (
    "scenario", "plan_id", "end_shift_m", "drift_s", "sog_mps", "push_mps", "held",
    "share_in_band", "worth", "works", "words",
)  # fmt: skip

STILL_WORKS: Final = 0.6
"""A line still works with this share of its planned worth.  Our choice, no source."""


def what_if(
    plan: gpd.GeoDataFrame,
    setting: Setting,
    slots: Sequence[Slot],
    scenarios: Sequence[Scenario] = SCENARIOS,
) -> pd.DataFrame:
    """Drift every line of a plan again as it would go in each scenario.

    Parameters
    ----------
    plan : from `plan_day`
    setting : Setting
    slots : from `slots_of_day`
    scenarios : sequence of Scenario

    Returns
    -------
    DataFrame, a row a scenario and line
        ``scenario``, ``plan_id``; ``end_shift_m``, how far the end moves; ``drift_s``, shorter
        where the boat is stopped; ``sog_mps``; ``push_mps``, the motor's at the start; ``held``,
        whether the motor can hold the boat all the way (True for a boat left to itself);
        ``share_in_band``; ``worth`` an hour; ``works`` (held, not stopped, three fifths of the
        planned worth or more); ``words``.
    """
    rows: list[dict[str, Any]] = []
    for scenario in scenarios:
        other = replace(setting, water=scenario.applied_to(setting.water))
        rows += _lines_in(plan, scenario, other, slots)
    return pd.DataFrame(rows, columns=list(WHAT_IF_COLUMNS))


def _lines_in(
    plan: gpd.GeoDataFrame, scenario: Scenario, setting: Setting, slots: Sequence[Slot]
) -> list[dict[str, Any]]:
    """Drift all lines in one scenario: at once, those that go in the same water."""
    paid = {line.name: line for slot in slots for line in slot.paid}
    slot_of = slots_of_lines(plan, slots)
    rows: dict[str, dict[str, Any]] = {}
    for name, lines in plan.groupby("again_of", sort=False):
        over = setting_for(paid.get(str(name)), setting)
        start = np.array([path.coords[0][:2] for path in lines.geometry])
        begins = as_utc(lines["slot_start"]) + np.timedelta64(int(scenario.late_s * 1e9), "ns")
        tracks = over.drifts(
            start[:, 0], start[:, 1], begins, float(lines["drift_s"].max()),
            step_s=setting.limits.step_s,
        )  # fmt: skip
        for row, line in enumerate(lines.itertuples()):
            worth = slots[slot_of[line.plan_id]].worth
            rows[line.plan_id] = _line_in(line, (tracks, row), scenario, over, worth)
    return [rows[name] for name in plan["plan_id"]]


def slots_of_lines(plan: gpd.GeoDataFrame, slots: Sequence[Slot]) -> dict[str, int]:
    """Which slot each line belongs to, by when it begins; a pass beside a line to its line's."""
    begins = np.array([slot.begin for slot in slots], "datetime64[ns]")
    own = {
        line.plan_id: int(np.argmin(np.abs(begins - moment(line.slot_start))))
        for line in plan.itertuples()
    }
    return {name: own[str(name).split()[0]] for name in own}


def _line_in(
    line: Any, drift: tuple[DriftTracks, int], scenario: Scenario, setting: Setting, worth: Any
) -> dict[str, Any]:
    tracks, row = drift
    seconds = (tracks.times - tracks.times[0]) / np.timedelta64(1, "s")
    wanted = int(np.searchsorted(seconds, line.drift_s - 1e-6))
    last = min(wanted, int(np.isfinite(tracks.longitude[row]).sum()) - 1)
    why = Ended(int(tracks.ended[row])) if last < wanted else Ended.TIME
    along = slice(0, last + 1)
    longitude, latitude = tracks.longitude[row, along], tracks.latitude[row, along]
    common = {"scenario": scenario.name, "plan_id": line.plan_id}
    if last < 1:
        return common | {
            "end_shift_m": np.nan, "drift_s": 0.0, "sog_mps": np.nan, "push_mps": np.nan,
            "held": why != Ended.UNKNOWN_WATER, "share_in_band": 0.0, "worth": 0.0,
            "works": False, "words": _STOPPED[why],
        }  # fmt: skip
    one = DriftTracks(
        tracks.times[along], longitude[None], latitude[None], tracks.depth_m[[row], along],
        tracks.ended[[row]],
    )  # fmt: skip
    gathered = float(worth_gathered(worth, cells_under(worth, one), one)[0, -1])
    back_s = distance_m(longitude[-1], latitude[-1], longitude[0], latitude[0])
    spent = seconds[last] + setting.limits.set_up_s + back_s / setting.limits.running_mps
    charted = sample(setting.safe.grid, longitude, latitude)
    share = float(np.mean((charted >= setting.band_m[0]) & (charted <= setting.band_m[1])))
    east, north = line.geometry.coords[-1][:2]
    shift = distance_m(east, north, longitude[-1], latitude[-1])
    begin = as_utc(line.slot_start).reshape(1)[0] + np.timedelta64(int(scenario.late_s), "s")
    push = setting.water.push_at(begin, longitude[0], latitude[0])
    works = why == Ended.TIME and gathered / spent >= STILL_WORKS * line.worth
    return common | {
        "end_shift_m": shift,
        "drift_s": float(seconds[last]),
        "sog_mps": path_m(longitude, latitude) / float(seconds[last]),
        "push_mps": float(push.push_mps[0]) if setting.water.held_mps else 0.0,
        "held": why != Ended.UNKNOWN_WATER,
        "share_in_band": share,
        "worth": gathered / spent,
        "works": works,
        "words": "still works" if works else _STOPPED.get(why, "leaves the good ground"),
    }


_STOPPED: Final = {
    Ended.SHOAL: "runs into water too shallow",
    Ended.HAZARD: "comes too near a hazard",
    Ended.UNKNOWN_WATER: "the motor can't hold it",
}
