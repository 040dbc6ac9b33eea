"""What was seen of the current, as it is typed or as drifts show it."""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Final

import numpy as np
import pandas as pd

from layers.water.currents.currents import vector
from layers.water.line.cable import Tackle
from layers.water.line.lead import current_of, parse_line
from layers.water.seen.corrected import Sighting
from layers.water.sources import parse_current
from layers.water.times import as_utc, zone_of
from layers.water.wind.leeway import Leeway
from seabed.errors import WaterError
from seabed.tables.clocks import read_time
from seabed.units import SPEED

SEEN_DOUBT_MPS: Final = 0.1 * SPEED["kn"]
"""Of a current seen by eye, each way.  Common practice, no source."""
SEEN_SHARE: Final = 0.1
DRIFT_DOUBT_MPS: Final = 0.03
"""Of a drift's mean velocity: `layers.water.learned.learning` starts from the same."""

_WORDS: Final = re.compile(
    r"\s*(?:at\s+)?(\d{1,2}[:.h]\d{2}(?:\s*[ap]\.?m\.?)?)\s*,?\s*(?:it\s+ran\s+|line\s+)?(.+)", re.I
)
_WAY_FIRST: Final = re.compile(r"(?:toward\s+)?(\d{1,3})\s*°?\s+at\s+(.+)", re.I)


def parse_sighting(text: str, day: date, timezone: str, tackle: Tackle) -> Sighting:
    """Read a current that was seen.

    text: ``"7:40 0.5 kn toward 340"``, ``"at 7:40 it ran 340 at 0.5 kn"``; or the line of a boat at
        hold, ``"7:40 30 deg toward 160, 1.5 oz, 25 ft"``.
    """
    match = _WORDS.fullmatch(text)
    try:
        if match is None:
            raise ValueError
        clock = read_time(match[1].replace("h", ":"))
    except ValueError as error:
        raise WaterError(
            f"can't read the sighting {text!r}",
            key="seen",
            do='Write time, speed and where it ran: "7:40 0.5 kn toward 340"; or a line at hold: '
            '"7:40 30 deg toward 160, 1.5 oz, 25 ft"; or name a track.',
        ) from error
    local = pd.Timestamp(datetime.combine(day, clock))
    zoned = local.tz_localize(zone_of(timezone), nonexistent="shift_forward", ambiguous=True)
    time = np.datetime64(zoned.tz_convert("UTC").tz_localize(None), "ns")
    words = match[2].strip()
    if "," in words:
        return _of_line(time, words, tackle)
    if (way := _WAY_FIRST.fullmatch(words)) is not None:
        speed = way[2] if re.search(r"[a-z]", way[2], re.I) else f"{way[2]} kn"
        words = f"{speed} toward {way[1]}"
    current = parse_current(words)
    east, north = vector(current.speed_mps, current.toward_deg)
    size = float(np.hypot(SEEN_DOUBT_MPS, SEEN_SHARE * current.speed_mps))
    return Sighting(time, float(east), float(north), size**2 * np.eye(2), text.strip())


def _of_line(time: np.datetime64, words: str, tackle: Tackle) -> Sighting:
    seen = current_of(parse_line(words), tackle)
    way = np.stack(vector(1.0, seen.toward_deg))
    across = np.array([way[1], -way[0]])
    aside = max(seen.speed_mps * np.radians(seen.toward_sd_deg), DRIFT_DOUBT_MPS)
    spread = seen.speed_sd_mps**2 * np.outer(way, way) + aside**2 * np.outer(across, across)
    east, north = seen.speed_mps * way
    return Sighting(time, float(east), float(north), spread, words)


def sightings_of_drifts(motions: pd.DataFrame, leeway: Leeway) -> list[Sighting]:
    """Take the current from drifts without the motor, one a drift: their velocity less the leeway.

    An error of the leeway is the same for all drifts of a day.
    """
    sightings = []
    for (_, name), part in motions.groupby(["trip", "drift_id"], sort=False):
        wind = part["wind_mps"].to_numpy(float)
        push = leeway.velocity(wind, part["wind_from_deg"].fillna(0.0).to_numpy(float))
        east = part["east_mps"].to_numpy(float) - push[0]
        north = part["north_mps"].to_numpy(float) - push[1]
        if not np.isfinite(east).any():
            continue
        middle = as_utc(part["time"])[len(part) // 2]
        doubt = float(leeway.spread(np.nanmean(wind))[0])
        sightings.append(
            Sighting(
                middle, float(np.nanmean(east)), float(np.nanmean(north)),
                DRIFT_DOUBT_MPS**2 * np.eye(2), f"drift {name}", doubt,
            )
        )  # fmt: skip
    return sightings
