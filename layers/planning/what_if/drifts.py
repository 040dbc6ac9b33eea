"""How the lines of a plan go if water, wind or the skipper are not as planned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from layers.planning.day.slots import Slot
from layers.planning.drift._candidates import worth_rates
from layers.planning.drift._drift import DriftTracks, degrees_per_metre
from layers.planning.drift._fan import share_in_band
from layers.planning.drift._hand import Printed, by_hand
from layers.planning.drift._setting import DayWater, Setting
from layers.planning.drift.safe_water import Ended
from layers.planning.ground.proven_lines import RotatedCurrents, setting_for
from layers.water import Wind
from layers.water.currents.currents import same_everywhere, vector
from layers.water.motion import boat_velocity
from layers.water.times import as_utc, moment, seconds_between, span, spans
from seabed.array_types import Floats, Pair
from seabed.geodesy import distance_m, path_m
from seabed.schema import Table

WHAT_IF: Final = Table.of(
    "what_if",
    "layers.planning.what_if.drifts",
    """
    scenario [text] its name
    plan_id [text] of the line
    end_shift_m [distance] how far the end moves
    drift_s shorter where the boat is stopped
    sog_mps over the ground
    push_mps the most that keeps the boat on the line at its speed
    held [bool] the motor has that much (True for a boat left alone)
    share_in_band of its time
    worth [empty] an hour
    works [bool] held, not stopped, three fifths of the planned worth or more
    words [text] what becomes of it
    """,
)

STEP_S: Final = 60.0
STILL_WORKS: Final = 0.6
"""A line still works with this share of its planned worth.  Our choice, no source."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """What may come otherwise.

    wind_shift_deg: right-handed (veering) above 0.  wind_times, current_times: factors of their
        speeds.  late_s: how much later every line begins.
    """

    name: str
    wind_shift_deg: float = 0.0
    wind_times: float = 1.0
    current_times: float = 1.0
    late_s: float = 0.0

    def applied_to(self, water: DayWater) -> DayWater:
        """Give the water and wind as they then are."""
        wind = water.wind
        if wind is not None and (self.wind_shift_deg, self.wind_times) != (0.0, 1.0):
            wind = ShiftedWind(wind, self.wind_shift_deg, self.wind_times)
        currents = water.currents
        if self.current_times != 1.0:
            currents = RotatedCurrents(currents, complex(self.current_times))
        return replace(water, wind=wind, currents=currents)


SCENARIOS: Final = (
    Scenario("wind backs 45 degrees", wind_shift_deg=-45.0),
    Scenario("wind veers 45 degrees", wind_shift_deg=45.0),
    Scenario("wind freshens by half", wind_times=1.5),
    Scenario("an hour late", late_s=3600.0),
    Scenario("current 30 % stronger", current_times=1.3),
    Scenario("current 30 % weaker", current_times=0.7),
)


@dataclass(frozen=True, slots=True)
class ShiftedWind:
    """A wind turned and strengthened."""

    wind: Wind
    shift_deg: float
    times: float

    def at(self, times: Any) -> Pair:
        """Speed and direction from, as `Wind.at`."""
        speed, from_deg = self.wind.at(times)
        return speed * self.times, (from_deg + self.shift_deg) % 360.0

    def gusts(self, times: Any) -> Floats:
        """Speed of the gusts, as `Wind.gusts`."""
        return self.wind.gusts(times) * self.times


def what_if(
    plan: gpd.GeoDataFrame,
    setting: Setting,
    slots: Sequence[Slot],
    scenarios: Sequence[Scenario] = SCENARIOS,
) -> pd.DataFrame:
    """Drift every line of a plan as it would go in each scenario, holding the printed trim.

    The skipper corrects the trim toward the line as planned, as `by_hand` in
    `layers.planning.drift._hand` says: he has the sheet and the plotter, and does not know what has
    changed.
    """
    proven = {line.name: line for slot in slots for line in slot.proven}
    slot_of = slots_of_lines(plan, slots)
    rows: dict[tuple[str, str], dict[str, Any]] = {}
    for name, lines in plan.groupby("again_of", sort=False):
        own, printed = list(lines.itertuples()), _printed(lines)
        worths = [slots[slot_of[line.plan_id]].worth for line in own]
        for scenario in scenarios:
            other = replace(setting, water=scenario.applied_to(setting.water))
            over = setting_for(proven.get(str(name)), other)
            late = span(scenario.late_s)
            then = replace(printed, begins=printed.begins + late)
            for line, row in zip(own, _lines_in(own, then, over, worths), strict=True):
                what = scenario.name, line.plan_id
                rows[what] = dict(zip(("scenario", "plan_id"), what, strict=True)) | row
    return WHAT_IF.frame([rows[one.name, name] for one in scenarios for name in plan["plan_id"]])


def _lines_in(
    lines: Sequence[Any], printed: Printed, over: Setting, worths: Sequence[xr.DataArray]
) -> Iterator[dict[str, Any]]:
    """Drift lines that go in the same water at once, and measure each."""
    water = over.water
    velocity = boat_velocity(water.currents, water.wind, water.leeway)
    drifts = by_hand(
        printed, velocity, water.hand, step_s=STEP_S, look=over.safe.look,
        everywhere=same_everywhere(water.currents),
    )  # fmt: skip
    begun = zip(printed.begins, printed.paths, strict=True)
    for line, drift, worth, (begin, path) in zip(lines, drifts, worths, begun, strict=True):
        yield _line_in(line, drift, over, worth, _push(over, begin, path))


def _printed(lines: gpd.GeoDataFrame) -> Printed:
    """Give what the sheet says of lines; their points are even in time."""
    paths = []
    for line in lines.itertuples():
        longitude, latitude = np.array(line.geometry.coords).T[:2]
        seconds = np.linspace(0.0, line.drift_s, len(longitude))
        paths.append(np.stack([seconds, longitude, latitude]))
    start, end = (
        np.stack(vector(lines[f"{name}_mps"], np.nan_to_num(lines[f"{name}_deg"].astype(float))))
        for name in ("push", "push_end")
    )
    return Printed(as_utc(lines["slot_start"]), paths, start, end)


def _push(setting: Setting, begin: np.datetime64, path: Floats) -> float:
    """Give the most push that keeps a boat on a path at its speed, where the water is known."""
    seconds, longitude, latitude = path
    times = begin + spans(seconds)
    middle = times[:-1] + np.diff(times) // 2
    x, y = (longitude[:-1] + longitude[1:]) / 2, (latitude[:-1] + latitude[1:]) / 2
    east, north = np.diff(path[1:]) / degrees_per_metre(y) / np.diff(seconds)
    water = setting.water
    free = boat_velocity(water.currents, water.wind, water.leeway)(middle, x, y)
    push = np.hypot(east - free[0], north - free[1])
    return float(np.max(push[np.isfinite(push)], initial=0.0))


def slots_of_lines(plan: gpd.GeoDataFrame, slots: Sequence[Slot]) -> dict[str, int]:
    """Which slot each line belongs to, by when it begins; a pass beside a line to its line's."""
    begins = np.array([slot.begin for slot in slots], "datetime64[ns]")
    own = {
        line.plan_id: int(np.argmin(np.abs(begins - moment(line.slot_start))))
        for line in plan.itertuples()
    }
    return {name: own[str(name).split()[0]] for name in own}


def _line_in(
    line: Any, drift: DriftTracks, setting: Setting, worth: xr.DataArray, push_mps: float
) -> dict[str, Any]:
    """Measure one line in one scenario."""
    free = setting.water.held_mps is None
    held = free or push_mps <= setting.water.motor_limit_mps
    push = {"push_mps": 0.0 if free else push_mps, "held": held}
    last = int(np.isfinite(drift.longitude[0]).sum()) - 1
    why = Ended(int(drift.ended[0]))
    if last < 1:
        return push | {
            "end_shift_m": np.nan, "drift_s": 0.0, "sog_mps": np.nan, "share_in_band": 0.0,
            "worth": 0.0, "works": False, "words": _STOPPED[why],
        }  # fmt: skip
    own = setting.over_cells(drift.until(last))
    longitude, latitude = own.longitude[0], own.latitude[0]
    rate = float(worth_rates(worth, own, setting.limits)[0, -1])
    east, north = line.geometry.coords[-1][:2]
    lasts_s = float(seconds_between(own.times[0], own.times[-1]))
    works = held and why == Ended.TIME and rate >= STILL_WORKS * line.worth
    words = "leaves the good ground" if held else "the motor can't hold it"
    return push | {
        "end_shift_m": distance_m(east, north, longitude[-1], latitude[-1]),
        "drift_s": lasts_s,
        "sog_mps": path_m(longitude, latitude) / lasts_s,
        "share_in_band": share_in_band(own, setting.band_m),
        "worth": rate,
        "works": works,
        "words": "still works" if works else _STOPPED.get(why, words),
    }


_STOPPED: Final = {
    Ended.SHOAL: "runs into water too shallow",
    Ended.HAZARD: "comes too near a hazard",
    Ended.UNKNOWN_WATER: "comes into water that is not known",
}
