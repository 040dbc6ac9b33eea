"""A day of the water: what it does hour by hour, and when drifting is good."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any, Final

import numpy as np
import pandas as pd

from layers.water.currents.currents import Currents
from layers.water.heights._heights import Heights
from layers.water.heights.stage import STAGE, stage
from layers.water.motion import set_and_drift, trim, wind_and_water
from layers.water.sea.sea import SEA, Sea
from layers.water.times import MINUTE, as_utc, day_bounds
from layers.water.wind._wind import Wind
from layers.water.wind.leeway import CRAFT, Leeway
from seabed.array_types import Floats, Mask, Times
from seabed.schema import Table, documented
from seabed.units import SPEED, half_turned

DAY: Final = (
    Table.of(
        "day",
        "layers.water.day_of_water",
        """
        time [time] UTC
        height_m ["Tide" depth .2 empty] over the datum
        """,
    )
    + STAGE
    + Table.of(
        "moves",
        "",
        """
        current_toward_deg ["Toward" empty] where the water runs
        current_mps ["Current" .1 empty] of the water
        wind_from_deg ["From" empty] where the wind comes from
        wind_mps, gust_mps ["Wind" .1 empty] 10 m up
        drift_toward_deg ["Toward" empty] where the boat left alone goes
        drift_mps ["Boat left alone" .1 empty] over the ground
        push_heading_deg ["Toward" empty] of the least push to the wanted drift
        push_mps ["Motor" .1 empty] through the water
        drifting [text empty] slack, alone, motor, no (it can't be held) or ``""`` (not known)
        limit [text empty] which limits of the boat it is beyond, if they were looked at
        """,
    )
    + SEA
)
"""Minutes of a day."""
WINDOWS: Final = Table.of(
    "windows",
    "layers.water.day_windows",
    """
    kind [text] slack, alone or motor
    start, end [time] UTC
    minutes [int] how many
    toward_deg ["Toward" empty] where the water runs in the middle
    drift_mps ["Boat left alone" .1 empty] its median
    push_mps ["Push" .1 empty] the greatest
    words [text] what is good about it
    limit [text empty] which limits of the boat it is beyond
    """,
)


@dataclass(frozen=True, slots=True)
class DriftTarget:
    """What the skipper wants of a drift.

    Attributes
    ----------
    speed_mps : (least, greatest)
        Over the ground, along the water's line.  0.4-0.9 kn is common practice, no source.
    motor_limit_mps : float
        The most that the motor drives the boat through the water.
    slack_below_mps : float
        Water slower than this is slack.  Common practice, no source.
    off_line_deg : float
        A boat left alone still drifts well this far off the water's line.  Our choice, no source.
    shortest_minutes : float
        Shorter windows are left out.
    """

    speed_mps: tuple[float, float] = (0.4 * SPEED["kn"], 0.9 * SPEED["kn"])
    motor_limit_mps: float = 2.0 * SPEED["kn"]
    slack_below_mps: float = 0.2 * SPEED["kn"]
    off_line_deg: float = 30.0
    shortest_minutes: float = 10.0

    def is_met(self, drift_mps: Floats, off_line_deg: Floats) -> Mask:
        """Whether a boat left alone drifts well, at an angle to the water's line."""
        least, greatest = self.speed_mps
        off = np.abs(half_turned(off_line_deg))
        met: Mask = (drift_mps >= least) & (drift_mps <= greatest) & (off <= self.off_line_deg)
        return met


@documented(DAY)
def day_of_water(
    day: date,
    timezone: str,
    *,
    heights: Heights | None = None,
    currents: Currents | None = None,
    wind: Wind | None = None,
    leeway: Leeway = CRAFT["skiff, V-hull"],
    target: DriftTarget | None = None,
    longitude: float | None = None,
    latitude: float | None = None,
    sea: Sea | None = None,
) -> pd.DataFrame:
    """Give the water minute by minute through a day of the zone's calendar.

    Parameters
    ----------
    day, timezone
        The day has 23, 24 or 25 hours.
    heights, currents, wind
        What is not given is unknown (no wind: a calm).
    leeway : Leeway
    target : DriftTarget, optional
    longitude, latitude : float, optional
        The place, for currents that vary.
    sea : Sea, optional
        The waves; without it they are not known.

    Returns
    -------
    DataFrame, a row a minute
        {day}

    Examples
    --------
    >>> from datetime import date
    >>> from layers import parse_wind, read_currents, read_heights
    >>> heights = read_heights("tide_table.csv", timezone="Etc/GMT+2")
    >>> wind = parse_wind(["SW 8 kn"], "2031-06-14T00:00", timezone="Etc/GMT+2")
    >>> table = day_of_water(date(2031, 6, 14), "Etc/GMT+2", heights=heights, wind=wind)
    >>> len(table), round(float(table["height_m"].max()), 1)
    (1440, 2.3)
    """
    target = target or DriftTarget()
    start, end = day_bounds(day, timezone)
    times: Times = np.arange(start, end, MINUTE).astype("datetime64[ns]")
    nothing = np.full(times.shape, np.nan)
    height = heights.height_m(times) if heights is not None else nothing
    water = (
        currents.velocity(times, longitude, latitude) if currents is not None else (nothing,) * 2
    )
    blow, blow_from = wind.at(times) if wind is not None else (np.zeros(times.shape), nothing)
    push_off = leeway.velocity(blow, np.where(blow > 0, blow_from, 0.0))
    toward, speed = set_and_drift(*water)
    drift_toward, drift = set_and_drift(water[0] + push_off[0], water[1] + push_off[1])
    gust = wind.gusts(times) if wind is not None else np.zeros(times.shape)
    motor = trim(water, push_off, speed_mps=target.speed_mps, limit_mps=target.motor_limit_mps)
    alone = target.is_met(drift, drift_toward - toward)
    drifting = np.select(
        [np.isnan(speed + drift), speed < target.slack_below_mps, alone, motor.held],
        ["", "slack", "alone", "motor"],
        "no",
    )
    stages = {} if heights is None else stage(heights, times).to_dict("series")
    unknown = dict.fromkeys([*STAGE.names, *SEA.names], nothing) | {"state": "", "sea": ""}
    return DAY.frame(
        unknown
        | stages
        | ({} if sea is None else _waves(sea, times))
        | {
            "time": pd.DatetimeIndex(times).tz_localize("UTC"),
            "height_m": height,
            "current_toward_deg": toward,
            "current_mps": speed,
            "wind_from_deg": blow_from,
            "wind_mps": blow,
            "gust_mps": gust,
            "drift_toward_deg": drift_toward,
            "drift_mps": drift,
            "push_heading_deg": motor.heading_deg,
            "push_mps": motor.push_mps,
            "drifting": drifting.astype(object),
            "limit": "",
        }
    )


def _waves(sea: Sea, times: Times) -> dict[str, Any]:
    raised = sea.at(times)
    return {
        "wave_m": raised.height_m,
        "wave_period_s": raised.period_s,
        "wave_steepness": raised.steepness,
        "sea": raised.words,
    }


@documented(WINDOWS)
def day_windows(
    table: pd.DataFrame, *, target: DriftTarget | None = None, beyond: bool = False
) -> pd.DataFrame:
    """Gather the minutes of `day_of_water` into windows.

    Parameters
    ----------
    table : DataFrame
        Minutes whose ``limit`` names a limit of the boat, as `OpenHours.limits_at` gives it, are
        left out.
    target : DriftTarget, optional
    beyond : bool
        Whether they are kept anyway.

    Returns
    -------
    DataFrame, in order of time
        {windows}

    Examples
    --------
    >>> from layers.examples import example_day
    >>> table, zone = example_day()
    >>> day_windows(table)["kind"].tolist()
    ['alone']
    """
    target = target or DriftTarget()
    kinds = table["drifting"].to_numpy(object)
    limits = table["limit"].to_numpy(object)
    changes = (kinds[1:] != kinds[:-1]) | (limits[1:] != limits[:-1])
    edges = [0, *(np.flatnonzero(changes) + 1).tolist(), len(kinds)]
    rows = []
    for first, last in pairwise(edges):
        wanted = kinds[first] in {"slack", "alone", "motor"} and (beyond or not limits[first])
        if wanted and last - first >= target.shortest_minutes:
            rows.append(_window(table.iloc[first:last]) | {"limit": str(limits[first])})
    return WINDOWS.frame(rows)


def _window(part: pd.DataFrame) -> dict[str, Any]:
    middle = part.iloc[len(part) // 2]
    kind = str(middle["drifting"])
    start = part["time"].iloc[0]
    words = {
        "slack": "slack water",
        "alone": "drifts well by itself",
        "motor": "drifts well with the motor",
    }[kind]
    lie = wind_and_water(float(middle["current_toward_deg"]), float(middle["wind_from_deg"]))
    return {
        "kind": kind,
        "start": start,
        "end": part["time"].iloc[-1] + pd.Timedelta(minutes=1),
        "minutes": len(part),
        "toward_deg": float(middle["current_toward_deg"]),
        "drift_mps": float(part["drift_mps"].median()),
        "push_mps": float(part["push_mps"].max()),
        "words": words if kind == "slack" or not lie else f"{words}; {lie}",
    }


def rows_every(table: pd.DataFrame, minutes: int, timezone: str) -> pd.DataFrame:
    """Keep the rows on whole steps of local clock time."""
    local = pd.DatetimeIndex(as_utc(table["time"])).tz_localize("UTC").tz_convert(timezone)
    keep = (local.hour * 60 + local.minute) % minutes == 0
    return table[keep].reset_index(drop=True)
