"""The four outings: the lines that are drifted, the stops of each day, and how they went."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from making.boat import Boat
from making.bottom import channel_centre, on_scarp
from making.clock import EPOCH, hours
from making.place import RAMP
from making.water import stream_at


@dataclass
class Line:
    """Where drifts of one name start, and on which stage (+1 flood, -1 ebb)."""

    start: tuple[float, float]
    stage: int


LINES = {
    "A": Line(on_scarp(3500.0, -2.0), -1),
    "B": Line(on_scarp(2800.0, -4.0), -1),
    "C": Line(on_scarp(1130.0, -4.0), +1),
    "D": Line((4850.0, 2390.0), +1),
    "E": Line((float(channel_centre(3560.0)) + 985.0, 3560.0), -1),
    "G": Line((2180.0, 3380.0), +1),
    "H": Line((1900.0, 2350.0), -1),
}
PLANS = [
    {"date": "2031-06-07", "stage": -1, "wind_kn": 7.0, "wind_from": 235.0, "rods": 2, "every_s": 2,
     "name": "trip_1", "stops": ["A15", "A14", "A12", "hold10", "B14", "B13", "E16", "lunch22", "E14", "A13"]},
    {"date": "2031-06-14", "stage": +1, "wind_kn": 10.0, "wind_from": 160.0, "rods": 2, "every_s": 5,
     "name": "trip_2", "stops": ["C14", "C15", "hold8", "D13", "D12", "G6", "C12", "C13"]},
    {"date": "2031-06-21", "stage": -1, "wind_kn": 5.0, "wind_from": 300.0, "rods": 2, "every_s": 1,
     "name": "trip_3", "stops": ["B15", "B13", "A14", "A15", "hold15", "E13", "H12", "A12"]},
    {"date": "2031-06-29", "stage": +1, "wind_kn": 12.0, "wind_from": 210.0, "rods": 2, "every_s": 3,
     "name": "trip_4", "stops": ["C13", "C14", "C12", "hold9", "D15", "D14", "lunch18", "C11"]},
]  # fmt: skip


def start_of(plan):
    """The hour, from EPOCH, of the slack before the wanted stage, in the morning near a date."""
    day = hours(datetime.fromisoformat(plan["date"] + "T02:00+00:00"))  # local midnight
    h = day + np.arange(4.0, 14.0, 1 / 60.0)
    speed = stream_at(h) * plan["stage"]
    turn = np.flatnonzero((speed[:-1] < 0) & (speed[1:] >= 0))
    return float(h[turn[0]]) + 0.75


def sail(random, bottom, plan):
    boat = Boat(random, bottom, plan, EPOCH + timedelta(seconds=round(start_of(plan) * 3600)))
    for stop in plan["stops"]:
        name = stop.rstrip("0123456789")
        minutes = float(stop.removeprefix(name))
        if name == "lunch":
            boat.run_to((1650.0 + random.normal(0, 10), 2500.0))
            boat.hold(minutes)
        elif name == "hold":
            boat.run_to(boat.where + random.normal(0, 1, 2) * 90.0 + np.array([130.0, 60.0]))
            boat.hold(minutes)
        else:
            boat.run_to(LINES[name].start)
            boat.drift(name, minutes, stage=LINES[name].stage)
    boat.run_to(RAMP)
    return boat
