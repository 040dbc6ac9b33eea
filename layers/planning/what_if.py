"""How a plan changes if water, wind or the skipper are not as planned."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pyproj import Geod

from layers.planning.candidates import (
    Candidates,
    DriftLimits,
    cells_under,
    cut_off,
    joined,
    worth_gathered,
)
from layers.planning.choice import LEFT_AFTER_A_DRIFT, choose
from layers.planning.drift import DriftTracks, Ended
from layers.planning.paid import TurnedCurrents, setting_for
from layers.planning.setting import DayWater, Setting
from layers.planning.slots import Slot
from layers.water import Wind
from layers.water.times import as_utc, moment
from seabed.places import sample

__all__ = [
    "SCENARIOS",
    "WHAT_IF_COLUMNS",
    "WHAT_IF_DAY_COLUMNS",
    "Scenario",
    "TurnedWind",
    "what_if",
    "what_if_days",
]

Floats = NDArray[np.float64]

WHAT_IF_COLUMNS: Final = (
    "scenario", "plan_id", "end_shift_m", "drift_s", "sog_mps", "push_mps", "held",
    "share_in_band", "worth", "works", "words",
)  # fmt: skip
WHAT_IF_DAY_COLUMNS: Final = (
    "scenario", "worth_kept", "worth_replanned", "lines_kept", "starts_moved", "words",
)  # fmt: skip

STILL_WORKS: Final = 0.6
"""A line still works with this share of its planned worth.  Our choice, no source."""

SAME_START_M: Final = 80.0
MOST_STARTS: Final = 60
STEP_S: Final = 60.0
_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True)
class Scenario:
    """What may come otherwise.

    Attributes
    ----------
    name : str
    wind_turn_deg : float
        Right-handed (veering) above 0.
    wind_times, current_times : float
        Of their speeds.
    late_s : float
        How much later every line is begun.
    """

    name: str
    wind_turn_deg: float = 0.0
    wind_times: float = 1.0
    current_times: float = 1.0
    late_s: float = 0.0

    def applied_to(self, water: DayWater) -> DayWater:
        """Give the water and wind as they then are."""
        wind = water.wind
        if wind is not None and (self.wind_turn_deg, self.wind_times) != (0.0, 1.0):
            wind = TurnedWind(wind, self.wind_turn_deg, self.wind_times)
        currents = water.currents
        if self.current_times != 1.0:
            currents = TurnedCurrents(currents, complex(self.current_times))
        return replace(water, wind=wind, currents=currents)


SCENARIOS: Final = (
    Scenario("wind backs 45 degrees", wind_turn_deg=-45.0),
    Scenario("wind veers 45 degrees", wind_turn_deg=45.0),
    Scenario("wind freshens by half", wind_times=1.5),
    Scenario("an hour late", late_s=3600.0),
    Scenario("current 30 % stronger", current_times=1.3),
    Scenario("current 30 % weaker", current_times=0.7),
)


@dataclass(frozen=True, slots=True)
class TurnedWind:
    """A wind turned and strengthened."""

    wind: Wind
    turn_deg: float
    times: float

    def at(self, times: Any) -> tuple[Floats, Floats]:
        """Speed and direction from, as `Wind.at`."""
        speed, from_deg = self.wind.at(times)
        return speed * self.times, (from_deg + self.turn_deg) % 360.0


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


def what_if_days(
    plan: gpd.GeoDataFrame,
    told: pd.DataFrame,
    setting: Setting,
    slots: Sequence[Slot],
    scenarios: Sequence[Scenario] = SCENARIOS,
    *,
    corridor_m: float = 40.0,
    left: float = LEFT_AFTER_A_DRIFT,
) -> pd.DataFrame:
    """Compare keeping to a plan with planning anew, in each scenario.

    The new plan is sought among the 60 best starts of each slot.

    Parameters
    ----------
    plan, setting, slots, scenarios
        As `what_if`.
    told : from `what_if`
    corridor_m, left : float
        As `plan_day`.

    Returns
    -------
    DataFrame, a row a scenario
        ``scenario``; ``worth_kept`` and ``worth_replanned``, mean worth an hour of the lines as
        planned and of a new plan; ``lines_kept``, the lines that still work, ``"P1, P3"``;
        ``starts_moved``, of the new plan's lines those that begin elsewhere; ``words``.
    """
    lines = plan[plan["kind"] == "line"]
    slot_of = _slots_of(lines, slots)
    rows = []
    for scenario in scenarios:
        own = told[told["scenario"] == scenario.name]
        if not len(own):
            continue
        other = replace(setting, water=scenario.applied_to(setting.water))
        starts, worths = _planned_anew(slots, scenario, other, corridor_m, left)
        own = own[own["plan_id"].isin(lines["plan_id"])]
        kept = [str(name) for name in own.loc[own["works"], "plan_id"]]
        moved = sum(
            _far(starts.get(slot_of[line.plan_id]), line.geometry.coords[0])
            for line in lines.itertuples()
        )
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
    return pd.DataFrame(rows, columns=list(WHAT_IF_DAY_COLUMNS))


def _lines_in(
    plan: gpd.GeoDataFrame, scenario: Scenario, setting: Setting, slots: Sequence[Slot]
) -> list[dict[str, Any]]:
    """Drift all lines in one scenario: at once, those that go in the same water."""
    paid = {line.name: line for slot in slots for line in slot.paid}
    slot_of = _slots_of(plan, slots)
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


def _slots_of(plan: gpd.GeoDataFrame, slots: Sequence[Slot]) -> dict[str, int]:
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
    back_s = _GEOD.inv(longitude[-1], latitude[-1], longitude[0], latitude[0])[2]
    spent = seconds[last] + setting.limits.set_up_s + back_s / setting.limits.running_mps
    charted = sample(setting.safe.grid, longitude, latitude)
    share = float(np.mean((charted >= setting.band_m[0]) & (charted <= setting.band_m[1])))
    east, north = line.geometry.coords[-1][:2]
    shift = float(_GEOD.inv(east, north, longitude[-1], latitude[-1])[2])
    begin = as_utc(line.slot_start).reshape(1)[0] + np.timedelta64(int(scenario.late_s), "s")
    push = setting.water.push_at(begin, longitude[0], latitude[0])
    works = why == Ended.TIME and gathered / spent >= STILL_WORKS * line.worth
    return common | {
        "end_shift_m": shift,
        "drift_s": float(seconds[last]),
        "sog_mps": float(_GEOD.line_length(longitude, latitude)) / float(seconds[last]),
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


def _planned_anew(
    slots: Sequence[Slot], scenario: Scenario, setting: Setting, corridor_m: float, left: float
) -> tuple[dict[int, tuple[float, float]], list[float]]:
    """Start of the line chosen anew in each slot, by the slot's number, and their worths."""
    tried = _tried_anew(slots, setting, np.timedelta64(int(scenario.late_s * 1e9), "ns"))
    chosen = choose(tried, [slot.worth for slot in slots], corridor_m=corridor_m, left=left)
    starts, worths = {}, []
    for number, (found, row) in enumerate(zip(tried, chosen, strict=True)):
        if row is not None:
            track = found.tracks
            starts[number] = float(track.longitude[row, 0]), float(track.latitude[row, 0])
            worths.append(float(found.worth_per_hour[row]))
    return starts, worths


def _tried_anew(slots: Sequence[Slot], setting: Setting, late: np.timedelta64) -> list[Candidates]:
    """Follow the best starts of each slot again, each in the water it was followed in.

    Those of all slots that go in the same water for the same time are followed at once.
    """
    alike: dict[tuple[str, float], list[_Starts]] = defaultdict(list)
    for number, slot in enumerate(slots):
        best = np.argsort(-slot.candidates.worth_per_hour, kind="stable")[:MOST_STARTS]
        longest_s = min(setting.limits.longest_s, slot.lasts_s)
        for again in np.unique(slot.again[best]):
            starts = _Starts(number, best[slot.again[best] == again], slot.begin + late)
            line = slot.paid[again] if again >= 0 else None
            alike["" if line is None else line.name, longest_s].append(starts)
    found: list[dict[int, Candidates]] = [{} for _ in slots]
    for (_, longest_s), own in alike.items():
        limits = replace(setting.limits, step_s=STEP_S, longest_s=longest_s)
        over = setting_for(slots[own[0].slot].line_of(own[0].rows[0]), setting)
        for starts, tracks in zip(own, _followed(own, slots, over, limits), strict=True):
            slot = slots[starts.slot]
            again = int(slot.again[starts.rows[0]])
            found[starts.slot][again] = cut_off(slot.worth, tracks, limits)
    return [joined([parts[again] for again in sorted(parts)]) for parts in found]


@dataclass(frozen=True, slots=True)
class _Starts:
    """Candidates of a slot, by their rows, that go in the same water."""

    slot: int
    rows: NDArray[np.int64]
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
        yield DriftTracks(
            tracks.times + (one.begin - begins[0]), tracks.longitude[rows], tracks.latitude[rows],
            tracks.depth_m[rows], tracks.ended[rows],
        )  # fmt: skip


def _far(start: tuple[float, float] | None, planned: tuple[float, ...]) -> bool:
    if start is None:
        return True
    return bool(_GEOD.inv(*start, planned[0], planned[1])[2] > SAME_START_M)


def _day_words(kept: int, lines: int, moved: int) -> str:
    if kept == lines:
        return "keep to the plan"
    if not moved:
        return "the same starts are still the best, for less"
    return f"plan anew: {lines - kept} of {lines} lines no longer work; {moved} begin elsewhere"
