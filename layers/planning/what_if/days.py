"""Keeping to a plan against planning again, where the day differs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.planning.day.choice import LEFT_AFTER_A_DRIFT, choose
from layers.planning.day.slots import Slot
from layers.planning.drift._candidates import Candidates, DriftLimits, cut_off, joined
from layers.planning.drift._drift import DriftTracks
from layers.planning.drift._setting import Setting
from layers.planning.ground.proven_lines import setting_for
from layers.planning.what_if.drifts import SCENARIOS, Scenario, slots_of_lines
from layers.water.times import span
from seabed.array_types import Ints
from seabed.geodesy import distance_m
from seabed.schema import Table

WHAT_IF_DAYS: Final = Table.of(
    "what_if_days",
    "layers.planning.what_if.days.what_if_days",
    """
    scenario [text] its name
    worth_kept, worth_replanned mean worth an hour of the lines as planned, and of a new plan
    lines_kept [text empty] the lines that still work, "P1, P3"
    starts_moved [int] of the new plan's lines those that begin elsewhere
    words [text] what that comes to
    """,
)

SAME_START_M: Final = 80.0
MOST_STARTS: Final = 60
STEP_S: Final = 60.0


def what_if_days(
    plan: gpd.GeoDataFrame,
    drifts: pd.DataFrame,
    setting: Setting,
    slots: Sequence[Slot],
    scenarios: Sequence[Scenario] = SCENARIOS,
    *,
    corridor_m: float = 40.0,
    left: float = LEFT_AFTER_A_DRIFT,
) -> pd.DataFrame:
    """Compare keeping to a plan with planning again, in each scenario.

    The new plan is sought among the 60 best starts of each slot. drifts: from `what_if`.
    """
    lines = plan[plan["kind"] == "line"]
    slot_of = slots_of_lines(lines, slots)
    planned = [(slot_of[line.plan_id], line.geometry.coords[0]) for line in lines.itertuples()]
    rows = []
    for scenario in scenarios:
        own = drifts[drifts["scenario"] == scenario.name]
        if not len(own):
            continue
        other = replace(setting, water=scenario.applied_to(setting.water))
        starts, worths = _planned_anew(slots, scenario, other, corridor_m, left)
        own = own[own["plan_id"].isin(lines["plan_id"])]
        kept = [str(name) for name in own.loc[own["works"], "plan_id"]]
        moved = sum(_far(starts.get(slot), start) for slot, start in planned)
        rows.append(
            {
                "scenario": scenario.name,
                "worth_kept": float(own["worth"].mean()),
                "worth_replanned": float(np.mean(worths)) if worths else 0.0,
                "lines_kept": ", ".join(kept),
                "starts_moved": moved,
                "words": _day_words(len(kept), len(lines), moved),
            }
        )
    return WHAT_IF_DAYS.frame(rows)


def _planned_anew(
    slots: Sequence[Slot], scenario: Scenario, setting: Setting, corridor_m: float, left: float
) -> tuple[dict[int, tuple[float, float]], list[float]]:
    """Start of the line chosen again in each slot, by the slot's number, and their worths."""
    tried = _tried_anew(slots, setting, span(scenario.late_s))
    chosen = choose(tried, [slot.worth for slot in slots], corridor_m=corridor_m, left=left)
    starts, worths = {}, []
    for number, (candidates, row) in enumerate(zip(tried, chosen, strict=True)):
        if row is not None:
            track = candidates.tracks
            starts[number] = float(track.longitude[row, 0]), float(track.latitude[row, 0])
            worths.append(float(candidates.worth_per_hour[row]))
    return starts, worths


def _tried_anew(slots: Sequence[Slot], setting: Setting, late: np.timedelta64) -> list[Candidates]:
    """Follow the best starts of each slot again, each in the water it was followed in.

    Those of all slots that go in the same water for the same time are followed at once.
    """
    alike: dict[tuple[str, float | None, float], list[_Starts]] = defaultdict(list)
    for number, slot in enumerate(slots):
        best = np.argsort(-slot.candidates.worth_per_hour, kind="stable")[:MOST_STARTS]
        longest_s = min(setting.limits.longest_s, slot.lasts_s)
        for which in np.unique(slot.of_line[best]):
            starts = _Starts(number, best[slot.of_line[best] == which], slot.begin + late)
            line = slot.proven[which] if which >= 0 else None
            name, course = ("", None) if line is None else (line.name, line.course_deg)
            alike[name, course, longest_s].append(starts)
    tracked: list[dict[int, Candidates]] = [{} for _ in slots]
    for (*_, longest_s), own in alike.items():
        limits = replace(setting.limits, step_s=STEP_S, longest_s=longest_s)
        over = setting_for(slots[own[0].slot].line_of(own[0].rows[0]), setting)
        for starts, tracks in zip(own, _followed(own, slots, over, limits), strict=True):
            slot = slots[starts.slot]
            which = int(slot.of_line[starts.rows[0]])
            tracked[starts.slot][which] = cut_off(slot.worth, tracks, limits)
    return [joined([parts[which] for which in sorted(parts)]) for parts in tracked]


@dataclass(frozen=True, slots=True)
class _Starts:
    """Candidates of a slot, by their rows, that go in the same water."""

    slot: int
    rows: Ints
    begin: np.datetime64


def _followed(
    own: Sequence[_Starts], slots: Sequence[Slot], over: Setting, limits: DriftLimits
) -> Iterator[DriftTracks]:
    """Follow starts of several slots at once; give the tracks of each."""
    longitude, latitude = (
        np.concatenate([getattr(slots[one.slot].candidates.tracks, name)[one.rows, 0]
                        for one in own])
        for name in ("longitude", "latitude")
    )  # fmt: skip
    ends = np.cumsum([len(one.rows) for one in own])
    begins = np.repeat(np.array([one.begin for one in own]), np.diff(ends, prepend=0))
    tracks = over.drifts(
        longitude, latitude, begins, limits.longest_s, step_s=limits.step_s, depths=False
    )
    for one, end in zip(own, ends, strict=True):
        rows = slice(int(end) - len(one.rows), int(end))
        yield replace(tracks.of(rows), times=tracks.times + (one.begin - begins[0]))


def _far(start: tuple[float, float] | None, planned: tuple[float, ...]) -> bool:
    if start is None:
        return True
    return bool(distance_m(*start, planned[0], planned[1]) > SAME_START_M)


def _day_words(kept: int, lines: int, moved: int) -> str:
    if kept == lines:
        return "keep to the plan"
    if not moved:
        return "the same starts are still the best, for less"
    return f"plan again: {lines - kept} of {lines} lines no longer work; {moved} begin elsewhere"
