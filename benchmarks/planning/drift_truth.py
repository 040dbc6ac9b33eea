"""Boats of the demo area followed through its hidden truth: true water, true wind, true fish.

The boat goes with the true current, which differs from place to place, and with the true wind and
its gusts; where it starts, when, and how its motor pushes are what is tried.
"""

import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

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
from making.water import current_at, stream_at  # noqa: E402, F401 (for other grounds)

STEP_S = 5.0
BOATS = 24  # of each pass, each with its own gusts and its own miss of the mark
LOOK_S = 300.0  # from one look at the plotter to the next
LIMIT_MPS = 2 * 0.514444  # of the demo's motor
MISS_M = 6.0  # as the demo's own skipper misses a mark
GRID_M = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True)
BEGIN = np.datetime64(EPOCH.replace(tzinfo=None), "ns")


@dataclass(frozen=True)
class Truth:
    """What is hidden of a ground.

    west, south, north, cell_m: the place of its grid in EPSG:32625; the others take metres from the
        south-western corner, and hours.
    rate: (hour, east, north) to fish a rod-hour.
    current: (hour, east, north, depth) to east and north, m/s.
    """

    west: float
    south: float
    north: float
    cell_m: float
    rate: Callable[..., Any]
    current: Callable[..., Any]

    def depth(self, bottom, east, north):
        """Depth of the bottom, whose rows begin in the north."""
        row = (self.north - self.south - north) / self.cell_m - 0.5
        at = [row, east / self.cell_m - 0.5]
        return np.nan_to_num(map_coordinates(bottom, at, order=1, mode="nearest"))  # land


DEMO_TRUTH = Truth(WEST, NORTH - HEIGHT, NORTH, CELL, rate_at, current_at)


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
    end_east: np.ndarray | None = None
    end_north: np.ndarray | None = None
    """The push at the end, to which it changes evenly; None is the same as at the start."""
    path: np.ndarray | None = None
    """Shape (passes, points, 2), degrees: the way as planned, even in time, to which a hand
    corrects the push every five minutes; None holds it as it is."""


def fish_of(ways, bottom, wind, *, seed=0, truth=DEMO_TRUTH):
    """Expected fish for one rod over all passes, and the rod-hours; by the truth alone."""
    random = np.random.default_rng(seed)
    many = len(ways.longitude) * BOATS
    x, y = GRID_M.transform(np.repeat(ways.longitude, BOATS), np.repeat(ways.latitude, BOATS))
    east, north = x - truth.west, y - truth.south
    east, north = east + random.normal(0, MISS_M, many), north + random.normal(0, MISS_M, many)
    hour = np.repeat((ways.begin - BEGIN) / np.timedelta64(3600, "s"), BOATS)
    lasts = np.repeat(ways.drift_s, BOATS)
    hand = _Hand(ways, truth)
    toward = np.radians(wind.from_deg + 180.0)
    mean = LEEWAY_SHARE * wind.speed_mps * np.array([np.sin(toward), np.cos(toward)])
    keep = 0.985**STEP_S  # gusts as the demo draws them a second at a time
    gust = np.zeros((2, many))
    spread = 0.05 * np.sqrt((1 - keep**2) / (1 - 0.985**2))
    fish = 0.0
    for second in np.arange(0.0, lasts.max(), STEP_S):
        afloat = second < lasts
        depth = truth.depth(bottom, east, north)
        at = hour + second / 3600.0
        fish += float((truth.rate(at, east, north) * afloat).sum()) * STEP_S / 3600.0
        u, v = truth.current(at, east, north, depth)
        gust = keep * gust + random.normal(0, spread, gust.shape)
        wind_u, wind_v = mean[:, None] * (1 + gust[0]) + 0.02 * gust[1]
        push = hand.push(second, np.array([east, north]))
        east = east + afloat * STEP_S * (u + wind_u + push[0])
        north = north + afloat * STEP_S * (v + wind_v + push[1])
    return fish / BOATS, float(ways.drift_s.sum() / 3600.0)


class _Hand:
    """Holds the printed push, and corrects it toward the way as planned (docs/methods.md)."""

    def __init__(self, ways, truth):
        last_east = ways.push_east if ways.end_east is None else ways.end_east
        last_north = ways.push_north if ways.end_north is None else ways.end_north
        self.first = np.repeat([ways.push_east, ways.push_north], BOATS, axis=1)
        self.last = np.repeat([last_east, last_north], BOATS, axis=1)
        self.lasts = np.repeat(ways.drift_s, BOATS)
        self.more, self.before, self.way = np.zeros((3, *self.first.shape))
        self.corrects = ways.path is not None
        if self.corrects:
            x, y = GRID_M.transform(ways.path[:, :, 0], ways.path[:, :, 1])
            self.way = np.repeat([x - truth.west, y - truth.south], BOATS, axis=1)

    def printed(self, second):
        return self.first + np.clip(second / self.lasts, 0, 1) * (self.last - self.first)

    def planned(self, second):
        at = np.clip(second / self.lasts, 0, 1) * (self.way.shape[2] - 1)
        low = np.minimum(at.astype(int), self.way.shape[2] - 2)
        rows = np.arange(len(low))
        here, there = self.way[:, rows, low], self.way[:, rows, low + 1]
        return here + (at - low) * (there - here)

    def limited(self, push):
        return push * np.minimum(1.0, LIMIT_MPS / np.maximum(np.hypot(*push), 1e-9))

    def push(self, second, here):
        if self.corrects and second > 0 and second % LOOK_S == 0:
            off = here - self.planned(second)
            middle = self.printed(second - LOOK_S / 2)
            set_off = (off - self.before) / LOOK_S - (self.limited(middle + self.more) - middle)
            onward = self.planned(second + LOOK_S) - self.planned(second)
            along = onward / np.maximum(np.hypot(*onward), 1e-6)
            square = off - along * (off * along).sum(axis=0)
            self.more, self.before = -set_off - square / LOOK_S, off
        return self.limited(self.printed(second) + self.more)


@dataclass(frozen=True)
class Rates:
    """Fish a rod-hour with lines down, and for a rod in an hour of the day."""

    rod_hour: float
    hour: float


def rates_of(ways, bottom, wind, *, truth=DEMO_TRUTH):
    fish, rod_hours = fish_of(ways, bottom, wind, truth=truth)
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
