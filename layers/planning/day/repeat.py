"""When the tide will run over a drift as it did: the next times to do it again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from layers.planning.day.line import drift_row, line_of_passes, why_row
from layers.planning.day.reasons import Landmarks
from layers.planning.drift._setting import Setting
from layers.water import Heights
from layers.water.heights.stage import stage
from layers.water.motion import set_and_drift
from layers.water.times import moment, seconds_between
from seabed.errors import WaterError
from seabed.schema import Table
from seabed.units import Say, half_turned, in_metres

NEXT_TIMES: Final = Table.of(
    "again",
    "layers.planning.day.repeat.next_times",
    """
    start [time] UTC
    toward_deg, current_mps of the water
    height_m, hours_from_high [empty] of the tide; NaN where not known
    set_apart_deg between the sets then and now
    speed_ratio of the currents, then over now
    unlike 0 for the same stage and 1 at the bounds of one that still counts
    """,
)

STEP: Final = np.timedelta64(10, "m")
MOST_APART_DEG: Final = 20.0
MOST_RATIO: Final = 1.3
MOST_HOURS: Final = 1.0
"""How unlike a stage may be: set, speed either way, hours from high water.  Our choice, no
source."""


@dataclass(frozen=True, slots=True)
class Stage:
    """Height and run of the tide where a drift was; NaN where heights are not known."""

    toward_deg: float
    current_mps: float
    height_m: float
    hours_from_high: float


def stage_of(setting: Setting, time: np.datetime64, place: tuple[float, float]) -> Stage:
    """Give the stage at a time (UTC) and place; WaterError if the current is unknown then."""
    row = _stages(setting, np.array([time]), place).iloc[0]
    if not np.isfinite(row["current_mps"]) or not np.isfinite(row["toward_deg"]):
        raise WaterError(
            f"the current is not known on {str(time)[:10]}, when that drift was made",
            do="Name a source that covers that day too: {water.currents}.",
        )
    return Stage(*(float(row[name]) for name in Stage.__slots__))


def next_times(
    setting: Setting,
    like: Stage,
    place: tuple[float, float],
    start: np.datetime64,
    end: np.datetime64,
    *,
    most: int = 10,
) -> pd.DataFrame:
    """Find when the height and current at a place will next be as they were, as `AGAIN`.

    The most alike moment of each occasion, sought every ten minutes; at most `most` occasions.
    """
    times = np.arange(start, end, STEP).astype("datetime64[ns]")
    table = _stages(setting, times, place)
    apart = np.abs(half_turned(table["toward_deg"] - like.toward_deg))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = table["current_mps"] / like.current_mps
        log_ratio = np.abs(np.log(ratio)) / np.log(MOST_RATIO)
    terms = [apart / MOST_APART_DEG, log_ratio]
    if np.isfinite(like.hours_from_high) and table["hours_from_high"].notna().any():
        terms.append(np.abs(table["hours_from_high"] - like.hours_from_high) / MOST_HOURS)
    unlike = np.max(np.nan_to_num(np.array(terms), nan=np.inf), axis=0)
    table = table.assign(set_apart_deg=apart, speed_ratio=ratio, unlike=unlike)
    good = unlike <= 1.0
    group = np.cumsum(np.diff(good, prepend=False))
    best = table[good].groupby(group[good])["unlike"].idxmin()
    return NEXT_TIMES.frame(table.loc[best.to_numpy()].head(most).reset_index(drop=True))


def repeat_drift(
    setting: Setting,
    place: tuple[float, float],
    begin: pd.Timestamp,
    drift_s: float,
    *,
    name: str,
    structure: Landmarks | None = None,
    say: Say = in_metres,
) -> dict[str, Any] | None:
    """Drift from where a drift was begun, at another time; a row of kind "again".

    None where the boat is stopped, or can't be held, within the shortest drift.
    """
    even_s = drift_s / np.ceil(drift_s / setting.limits.step_s)
    tracks = setting.drifts(
        np.array([place[0]]), np.array([place[1]]), np.array([moment(begin)]), drift_s,
        step_s=even_s,
    )  # fmt: skip
    last = int(np.isfinite(tracks.longitude[0]).sum()) - 1
    seconds = float(seconds_between(tracks.times[0], tracks.times[max(last, 0)]))
    if last < 1 or seconds < min(setting.limits.shortest_s, drift_s):
        return None
    one = drift_row(setting, tracks, last) | {"worth": np.nan}
    row = line_of_passes([one]) | why_row(one, structure, say)
    return row | {
        "plan_id": name,
        "kind": "again",
        "latest_start": begin,
        "worth_kind": "",
        "again_of": "",
        "why": f"The tide runs as it did then. {row['why']}",
    }


def _stages(setting: Setting, times: Any, place: tuple[float, float]) -> pd.DataFrame:
    at = np.full(len(times), place[0]), np.full(len(times), place[1])
    toward, speed = set_and_drift(*setting.water.currents.velocity(times, *at))
    heights: Heights | None = setting.safe.heights
    height = hours = np.full(len(times), np.nan)
    if heights is not None:
        height = heights.height_m(times)
        hours = stage(heights, times)["hours_from_high"].to_numpy(float)
    return pd.DataFrame(
        {
            "start": pd.DatetimeIndex(times).tz_localize("UTC"), "toward_deg": toward,
            "current_mps": speed, "height_m": height, "hours_from_high": hours,
        }
    )  # fmt: skip
