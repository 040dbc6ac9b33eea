"""A boat, second by second: it runs, drifts and holds."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from making.bottom import channel_bearing, depth_between
from making.clock import hours
from making.place import RAMP
from making.water import current_at

RUN_MPS = 10.8
LEEWAY_SHARE = 0.029


class Boat:
    """A boat second by second, and what it was doing."""

    def __init__(self, random, bottom, plan, start):
        self.random, self.bottom, self.plan = random, bottom, plan
        self.time = start
        self.where = np.array(RAMP)
        self.seconds, self.places, self.pieces = [], [], []
        self.gust = np.zeros(2)
        self.record()

    def record(self):
        self.seconds.append(self.time)
        self.places.append(self.where.copy())

    def piece(self, kind, begin, **more):
        end = self.time
        self.pieces.append({"kind": kind, "start": begin, "end": end, **more})

    def depth(self):
        return depth_between(self.bottom, self.where)

    def water(self):
        u, v = current_at(hours(self.time), *self.where, self.depth())
        return np.array([float(u), float(v)])

    def wind(self):
        self.gust = 0.985 * self.gust + self.random.normal(0, 0.05, 2)
        toward = np.radians(self.plan["wind_from"] + 180.0)
        mean = self.plan["wind_kn"] * 0.514444 * np.array([np.sin(toward), np.cos(toward)])
        return LEEWAY_SHARE * mean * (1 + self.gust[0]) + 0.02 * self.gust[1]

    def tick(self, velocity):
        self.where = self.where + velocity
        self.time += timedelta(seconds=1)
        self.record()

    def run_to(self, goal):
        begin, speed = self.time, 1.5
        goal = np.array(goal) + self.random.normal(0, 6.0, 2)
        while (away := np.hypot(*(goal - self.where))) > 4.0:
            speed = min(speed + 0.5, RUN_MPS, 0.6 + away / 5.0)
            heading = (goal - self.where) / away
            side = np.array([-heading[1], heading[0]])
            sway = 0.4 * np.sin(len(self.seconds) / 9.0) * (speed > 5)
            self.tick(speed * heading + sway * side)
        self.piece("run", begin)

    def drift(self, name, minutes, *, stage):
        begin, first = self.time, len(self.seconds)
        for _ in range(int(minutes * 60)):
            water = self.water()
            pace = np.hypot(*water)
            axis = np.radians(channel_bearing(self.where[1]))
            along = np.array([np.sin(axis), np.cos(axis)]) * stage
            leeway = self.wind()
            # the motor takes out most of the wind's push across the water, and drives near slack
            across = leeway - (leeway @ along) * along
            push = -0.85 * across + max(0.0, 0.30 - pace) * along
            self.tick(water + leeway + push)
        self.piece("drift", begin, line=name, first=first, last=len(self.seconds) - 1,
                   rods=self.plan["rods"])  # fmt: skip

    def hold(self, minutes, kind="hold"):
        begin, swing = self.time, np.zeros(2)
        for _ in range(int(minutes * 60)):
            pull = -0.004 * swing + self.random.normal(0, 0.05, 2)
            pull = np.clip(pull, -0.2, 0.2)
            swing = swing + pull
            self.tick(pull)
        self.piece(kind, begin)
