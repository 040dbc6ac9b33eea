"""What soundings say twice: differences where lines cross, and what they show of the tide.

At a crossing both lines sounded one place, so that the difference is error alone: noise, lag,
position, and the height of the tide at two moments.  A constant that is wrong in all soundings -
the transducer's depth, the datum of the tide table - cancels, and crossings
**can't show** it; a grid or a place of known depth does (`seabed.soundings.fit_to_chart`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from seabed.array_types import Floats, Ints
from seabed.notebook import NotebookTable
from seabed.robust import robust_sigma
from seabed.schema import Table
from seabed.soundings._columns import degrees_of, even_seconds, metres_of
from seabed.soundings.checks._crossings import find_crossings
from seabed.soundings.orders import ORDERS
from seabed.soundings.sounding_table import SOUNDINGS

CROSSOVERS: Final = Table.of(
    "crossovers",
    "seabed.soundings.crossovers",
    """
    longitude, latitude degrees, WGS 84
    time_1, time_2 [time] of each line, UTC; the first is the earlier in the logs
    line_1, line_2 [int] their numbers
    depth_1_m, depth_2_m reduced as the soundings are
    difference_m [depth] the first depth less the second
    sigma_m [depth] what that may be off by noise alone
    height_1_m, height_2_m [depth empty] of the tide that was taken off
    rate_1_mps, rate_2_mps [empty] at which the tide rose
    angle_deg between the lines, 0 to 180
    """,
)

_REACH_S: Final = 10.0
_RATE_ROWS: Final = 60
_LEAST_ANGLE: Final = 10.0

Lines = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class CrossoverStatistics(NotebookTable):
    """Of the differences of crossovers, metres; NaN where there are none.

    robust_sigma_m: 1.4826 times the median absolute deviation from the median. p95_m: 95 % of the
    absolute differences are less. inside: by order of IHO S-44, the share of differences that it
    allows: both soundings have the greatest uncertainty, so a difference may be its root of 2.
    """

    count: int
    mean_m: float
    median_m: float
    rms_m: float
    robust_sigma_m: float
    p95_m: float
    inside: dict[str, float]


def crossovers(soundings: pd.DataFrame, *, apart_s: float = 120.0) -> pd.DataFrame:
    """Compare depths where lines cross each other or themselves, as `CROSSOVERS`.

    Both lines have good soundings within 10 s before and behind, between which depth is
    interpolated along the line. Crossings at less than 10 degrees are left out: there lines run
    beside each other, and where they cross is chance. apart_s: a line crosses itself only where it
    comes back after this time.
    """
    SOUNDINGS.check(soundings)
    east, north = metres_of(soundings)
    line, seconds = soundings["line"].to_numpy(), even_seconds(soundings["time"])
    crossings = find_crossings(east, north, line, seconds, apart_s=apart_s)
    wide = np.minimum(crossings.angle_deg, 180.0 - crossings.angle_deg) >= _LEAST_ANGLE
    depth = _depths(soundings)
    sides = [
        _at(place[wide], seconds, line, depth, soundings)
        for place in (crossings.first, crossings.second)
    ]
    longitude, latitude = degrees_of(soundings, crossings.east[wide], crossings.north[wide])
    columns = {
        "longitude": longitude,
        "latitude": latitude,
        **{name.format(n): side[name] for n, side in enumerate(sides, 1) for name in side},
        "difference_m": sides[0]["depth_{}_m"] - sides[1]["depth_{}_m"],
        "sigma_m": np.hypot(*(side["sigma"] for side in sides)),
        "angle_deg": crossings.angle_deg[wide],
    }
    known = ~np.isnan(columns["difference_m"])
    return pd.DataFrame({name: columns[name][known] for name in CROSSOVERS.names})


def crossover_statistics(table: pd.DataFrame) -> CrossoverStatistics:
    """Sum up a table of crossovers."""
    off = table["difference_m"].to_numpy(np.float64)
    if not len(off):
        none = dict.fromkeys((order.name for order in ORDERS), np.nan)
        nan = np.nan
        return CrossoverStatistics(0, nan, nan, nan, nan, nan, none)
    deep = 0.5 * (table["depth_1_m"] + table["depth_2_m"]).to_numpy(np.float64)
    return CrossoverStatistics(
        count=len(off),
        mean_m=float(off.mean()),
        median_m=float(np.median(off)),
        rms_m=float(np.sqrt((off**2).mean())),
        robust_sigma_m=robust_sigma(off),
        p95_m=float(np.quantile(np.abs(off), 0.95)),
        inside={
            order.name: float((np.abs(off) <= np.sqrt(2.0) * order.uncertainty_m(deep)).mean())
            for order in ORDERS
        },
    )


def _depths(soundings: pd.DataFrame) -> Floats:
    """Depths of good soundings, reduced if all that can be are; NaN for the others."""
    depth = soundings["depth_m"].to_numpy(np.float64)
    if np.isnan(depth).all():
        depth = soundings["measured_m"].to_numpy(np.float64) + soundings["to_surface_m"].to_numpy()
    return np.where((soundings["flag"] == "").to_numpy(), depth, np.nan)


def _at(
    place: Floats, seconds: Floats, line: Lines, depth: Floats, soundings: pd.DataFrame
) -> dict[str, NDArray[Any]]:
    """Give moment, depth, its noise, the tide and its rate at places along lines, by column."""
    row = np.floor(place).astype(np.int64)
    share = place - row
    after = np.minimum(row + 1, len(seconds) - 1)
    when = seconds[row] + share * (seconds[after] - seconds[row])
    good = np.flatnonzero(np.isfinite(depth))
    low = np.searchsorted(good, row, side="right") - 1
    high = np.searchsorted(good, np.ceil(place).astype(np.int64))
    there = (low >= 0) & (high < len(good))
    safe_low = np.maximum(low, 0)
    safe_high = np.minimum(high, max(len(good) - 1, 0))
    if not len(good):
        good = np.zeros(1, np.int64)
    low_row, high_row = good[safe_low], good[safe_high]
    there &= (line[low_row] == line[row]) & (line[high_row] == line[row])
    there &= (when - seconds[low_row] <= _REACH_S) & (seconds[high_row] - when <= _REACH_S)
    step = seconds[high_row] - seconds[low_row]
    part = np.where(step > 0, (when - seconds[low_row]) / np.where(step > 0, step, 1.0), 0.0)
    between = depth[low_row] + part * (depth[high_row] - depth[low_row])
    sigma = soundings["sigma_m"].to_numpy()
    noise = np.hypot((1 - part) * sigma[low_row], part * sigma[high_row])
    height = soundings["height_m"].to_numpy()
    return {
        "time_{}": soundings["time"].array[row] + pd.to_timedelta(when - seconds[row], unit="s"),
        "line_{}": line[row],
        "depth_{}_m": np.where(there, between, np.nan),
        "sigma": noise,
        "height_{}_m": height[row].astype(np.float64),
        "rate_{}_mps": _rate(row, seconds, height, line),
    }


def _rate(row: Ints, seconds: Floats, height: NDArray[Any], line: Lines) -> Floats:
    """Rate at which the tide rose at rows, from heights of their line some way before and after."""
    before = np.maximum(row - _RATE_ROWS, np.searchsorted(line, line[row]))
    after = np.minimum(row + _RATE_ROWS, np.searchsorted(line, line[row], side="right") - 1)
    step = seconds[after] - seconds[before]
    rise = height[after].astype(np.float64) - height[before]
    return np.where(step > 0, rise / np.where(step > 0, step, 1.0), np.nan)
