"""Boats of the demo area followed through its hidden truth: true water, true wind, true fish.

The boat goes with the true current, which differs from place to place, and with the true wind and
its gusts; where it starts, when, and how its motor pushes are what is tried.
"""

import json
import sys
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
from pyproj import Transformer
from scipy.ndimage import map_coordinates

from layers.water import FixedWind

DEMO = Path(__file__).parents[2] / "demo_area"
sys.path.insert(0, str(DEMO))  # what the demo area is made by

from making.boat import LEEWAY_SHARE  # noqa: E402
from making.clock import EPOCH  # noqa: E402
from making.fish import rate_at  # noqa: E402
from making.outings import PLANS, start_of  # noqa: E402
from making.place import CELL, HEIGHT, NORTH, WEST  # noqa: E402
from making.water import current_at  # noqa: E402

STEP_S = 5.0
BOATS = 24  # of each pass, each with its own gusts and its own miss of the mark
MISS_M = 6.0  # as the demo's own skipper misses a mark
GRID_M = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True)
BEGIN = np.datetime64(EPOCH.replace(tzinfo=None), "ns")


@dataclass(frozen=True)
class Ways:
    """What a boat does: a pass a row."""

    longitude: np.ndarray
    latitude: np.ndarray
    begin: np.ndarray
    drift_s: np.ndarray
    push_east: np.ndarray
    push_north: np.ndarray
    hours: float
    """Of the day, running and setting up counted."""


def fish_of(ways, bottom, wind, *, seed=0):
    """Expected fish for one rod over all passes, and the rod-hours; by the truth alone."""
    random = np.random.default_rng(seed)
    many = len(ways.longitude) * BOATS
    x, y = GRID_M.transform(np.repeat(ways.longitude, BOATS), np.repeat(ways.latitude, BOATS))
    east, north = x - WEST, y - (NORTH - HEIGHT)
    east, north = east + random.normal(0, MISS_M, many), north + random.normal(0, MISS_M, many)
    hour = np.repeat((ways.begin - BEGIN) / np.timedelta64(3600, "s"), BOATS)
    lasts = np.repeat(ways.drift_s, BOATS)
    push = np.repeat(ways.push_east, BOATS), np.repeat(ways.push_north, BOATS)
    toward = np.radians(wind.from_deg + 180.0)
    mean = LEEWAY_SHARE * wind.speed_mps * np.array([np.sin(toward), np.cos(toward)])
    keep = 0.985**STEP_S  # gusts as the demo draws them a second at a time
    gust = np.zeros((2, many))
    spread = 0.05 * np.sqrt((1 - keep**2) / (1 - 0.985**2))
    fish = 0.0
    for second in np.arange(0.0, lasts.max(), STEP_S):
        afloat = second < lasts
        depth = map_coordinates(
            bottom, [(HEIGHT - north) / CELL - 0.5, east / CELL - 0.5],
            order=1, mode="nearest",
        )  # fmt: skip
        at = hour + second / 3600.0
        fish += float((rate_at(at, east, north) * afloat).sum()) * STEP_S / 3600.0
        u, v = current_at(at, east, north, depth)
        gust = keep * gust + random.normal(0, spread, gust.shape)
        wind_u, wind_v = mean[:, None] * (1 + gust[0]) + 0.02 * gust[1]
        east = east + afloat * STEP_S * (u + wind_u + push[0])
        north = north + afloat * STEP_S * (v + wind_v + push[1])
    return fish / BOATS, float(ways.drift_s.sum() / 3600.0)


@dataclass(frozen=True)
class Rates:
    """Fish a rod-hour with lines down, and for a rod in an hour of the day."""

    rod_hour: float
    hour: float


def rates_of(ways, bottom, wind):
    fish, rod_hours = fish_of(ways, bottom, wind)
    return Rates(fish / rod_hours, fish / ways.hours)


@dataclass(frozen=True)
class Trip:
    """One of the demo's own trips, by its truth."""

    start: np.datetime64
    end: np.datetime64
    wind: FixedWind
    rates: Rates


def own_trips():
    """Give the four trips; lunch and holds are not counted against them."""
    told = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["trips"]
    found = []
    for trip, plan in zip(told, PLANS, strict=True):
        drifts = [piece for piece in trip["pieces"] if piece["kind"] == "drift"]
        start, end = _moment(drifts[0]["start"]), _moment(drifts[-1]["end"])
        down = sum(_seconds(piece) for piece in drifts)
        running = sum(
            _seconds(piece) for piece in trip["pieces"]
            if piece["kind"] == "run" and start <= _moment(piece["start"]) < end
        )  # fmt: skip
        fish = sum(piece["expected_fish"] / piece["rods"] for piece in drifts)
        found.append(
            Trip(
                start, end, FixedWind(plan["wind_kn"] * 0.514444, plan["wind_from"]),
                Rates(fish / down * 3600.0, fish / (down + running) * 3600.0),
            )
        )  # fmt: skip
    return found


def _moment(word):
    return np.datetime64(datetime.fromisoformat(word).replace(tzinfo=None), "ns")


def _seconds(piece):
    return float((_moment(piece["end"]) - _moment(piece["start"])) / np.timedelta64(1, "s"))


TRIED_ON = (
    ("2031-06-09", -1, 7.0, 235.0), ("2031-06-17", +1, 10.0, 160.0),
    ("2031-06-23", -1, 5.0, 300.0), ("2031-06-26", +1, 12.0, 210.0),
)  # fmt: skip
"""Days on which the planner's constants were chosen: date, ebb or flood, wind in knots and from."""

TOLD_OF = (
    ("2031-06-05", -1, 6.0, 200.0), ("2031-06-03", +1, 9.0, 250.0),
    ("2031-06-10", -1, 8.0, 180.0), ("2031-06-12", +1, 11.0, 280.0),
    ("2031-06-20", -1, 5.0, 90.0), ("2031-06-16", +1, 10.0, 320.0),
    ("2031-06-25", -1, 7.0, 30.0), ("2031-06-28", +1, 9.0, 140.0),
)  # fmt: skip
"""Days of which the table tells; drawn up before the planner was first tried on them."""


def new_days(days=TRIED_ON):
    """Days that the demo's skipper stayed at home: three hours from a slack on, as on the trips."""
    found = []
    for date, stage, wind_kn, wind_from in days:
        hour = start_of({"date": date, "stage": stage})
        start = BEGIN + np.timedelta64(round(hour * 3600), "s")
        wind = FixedWind(wind_kn * 0.514444, wind_from)
        found.append(Trip(start, start + np.timedelta64(3, "h"), wind, Rates(np.nan, np.nan)))
    return found
