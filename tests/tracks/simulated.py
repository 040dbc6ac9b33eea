"""Boats that run, drift, hold and lose their fix, with what they did known for every second.

Independent of the code under test: plain kinematics on a sphere, seeded.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

KN = 1852 / 3600
METRES_A_DEGREE = 111_320.0
START = pd.Timestamp("2031-06-14T08:00:00Z")
AT = (-31.5, -24.5)  # latitude, longitude: open ocean


@dataclass
class Sea:
    """What the boat and its receiver are like."""

    sampling_s: int = 1
    noise_m: float = 3.0
    wander_share: float = 0.3  # of the noise's standard deviation that changes slowly
    wander_s: float = 60.0
    swell_mps: float = 0.1
    swing_m: float = 4.0


@dataclass
class Trip:
    fixes: pd.DataFrame
    kinds: np.ndarray  # one of "run", "drift", "hold", "gap" a second, from the first fix on
    first_s: int  # seconds after START of the first fix

    def drifts(self) -> list[tuple[int, int]]:
        """Start and end of each true drift, seconds after the first fix."""
        return stretches(self.kinds, "drift")


def stretches(kinds: np.ndarray, kind: str) -> list[tuple[int, int]]:
    same = np.concatenate([[False], kinds == kind, [False]])
    change = np.flatnonzero(np.diff(same.astype(int)))
    return list(zip(change[::2], change[1::2], strict=True))


class Boat:
    """Adds legs second by second."""

    def __init__(self, rng: np.random.Generator, sea: Sea) -> None:
        self.rng, self.sea = rng, sea
        self.velocity: list[np.ndarray] = []
        self.kind: list[str] = []
        self.lost: list[bool] = []
        self.speed = 0.0

    def _add(self, kind: str, velocity: np.ndarray, *, lost: bool = False) -> None:
        self.velocity.append(velocity)
        self.kind += [kind] * len(velocity)
        self.lost += [lost] * len(velocity)
        self.speed = float(np.hypot(*velocity[-1]))

    def run(self, seconds: int, speed_kn: float, course: float, *, slow_down: tuple | None = None):
        """Speed up at 1 m/s², weave a little, slow down at 1 m/s² to a knot."""
        target = np.full(seconds, speed_kn * KN)
        if slow_down:
            at, long, kn = slow_down
            target[at : at + long] = kn * KN
        target[-max(1, int(speed_kn * KN)) :] = KN
        speed = np.empty(seconds)
        now = self.speed
        for i in range(seconds):
            now += np.clip(target[i] - now, -1.0, 1.0)
            speed[i] = now
        speed *= 1 + 0.03 * self._slow_noise(seconds, 20)
        angle = np.radians(course) + 0.15 * self._slow_noise(seconds, 60)
        self._add("run", np.column_stack([speed * np.sin(angle), speed * np.cos(angle)]))

    def drift(self, seconds: int, speed_kn: float, course: float):
        speed = speed_kn * KN * (1 + 0.12 * self._slow_noise(seconds, 180))
        angle = np.radians(course) + 0.15 * self._slow_noise(seconds, 240)
        still = np.column_stack([speed * np.sin(angle), speed * np.cos(angle)])
        swell = self.sea.swell_mps * np.column_stack(
            [np.sin(np.arange(seconds) * 2 * np.pi / 7), np.cos(np.arange(seconds) * 2 * np.pi / 9)]
        )
        self._add("drift", still + swell)

    def hold(self, seconds: int):
        x, y = (self.sea.swing_m * self._slow_noise(seconds + 1, 80) for _ in range(2))
        self._add("hold", np.column_stack([np.diff(x), np.diff(y)]))

    def lose(self, seconds: int, speed_kn: float, course: float):
        """Go on without a fix."""
        angle, speed = np.radians(course), speed_kn * KN
        self._add(
            "gap", np.tile([speed * np.sin(angle), speed * np.cos(angle)], (seconds, 1)), lost=True
        )

    def trip(self, *, file: str = "boat.gpx") -> Trip:
        where = np.cumsum(np.vstack([[0.0, 0.0], *self.velocity]), axis=0)
        count = len(where)
        slow = np.column_stack([self._slow_noise(count, self.sea.wander_s) for _ in range(2)])
        share = self.sea.wander_share
        noise = self.sea.noise_m * (
            share * slow + np.sqrt(1 - share**2) * self.rng.normal(size=(count, 2))
        )
        seconds = np.arange(count)
        lost = np.append(self.lost, False)
        kept = seconds[(seconds % self.sea.sampling_s == 0) & ~lost]
        seen = (where + noise)[kept]
        latitude = AT[0] + seen[:, 1] / METRES_A_DEGREE
        longitude = AT[1] + seen[:, 0] / METRES_A_DEGREE / np.cos(np.radians(AT[0]))
        fixes = pd.DataFrame(
            {
                "time": (START + pd.to_timedelta(kept, unit="s")).as_unit("ns"),
                "longitude": longitude,
                "latitude": latitude,
                "depth_m": np.nan,
                "temperature_c": np.nan,
                "file": file,
                "track": 0,
                "segment": 0,
            }
        )
        kinds = np.array(self.kind, dtype=object)
        for a, b in pairwise(kept):
            if b - a > 120:
                kinds[a:b] = "gap"
        return Trip(fixes, kinds[kept[0] : kept[-1]], int(kept[0]))

    def _slow_noise(self, count: int, time_s: float) -> np.ndarray:
        """First-order autoregressive noise of unit variance."""
        keep = np.exp(-1.0 / time_s)
        steps = self.rng.normal(size=count) * np.sqrt(1 - keep**2)
        values = np.empty(count)
        now = self.rng.normal()
        for i in range(count):
            now = keep * now + steps[i]
            values[i] = now
        return values


def random_trip(seed: int, sea: Sea | None = None) -> Trip:
    """A morning's fishing: out, some spots with drifts or holds, back."""
    rng = np.random.default_rng(seed)
    if sea is None:
        sea = Sea(
            sampling_s=int(rng.choice([1, 2, 5, 10, 15, 30])),
            noise_m=rng.uniform(2, 10),
            wander_share=rng.uniform(0.0, 0.5),
            wander_s=rng.uniform(30, 120),
            swell_mps=rng.uniform(0, 0.25),
            swing_m=rng.uniform(1, 6),
        )
    boat = Boat(rng, sea)
    course = rng.uniform(0, 360)
    boat.run(int(rng.uniform(60, 180)), rng.uniform(4.5, 6), course)  # harbour speed
    boat.run(int(rng.uniform(240, 900)), rng.uniform(14, 28), course)
    for _ in range(int(rng.integers(2, 5))):
        water = rng.uniform(0, 360)
        if rng.random() < 0.35:
            boat.hold(int(rng.uniform(240, 1200)))
        for _ in range(int(rng.integers(1, 5))):
            driven = rng.random() < 0.3
            speed = rng.uniform(0.5, 2.5) if driven else rng.uniform(0.35, 1.6)
            boat.drift(int(rng.uniform(180, 1200)), speed, water + rng.normal(0, 15))
            if rng.random() < 0.15:
                boat.hold(int(rng.uniform(240, 900)))
            if rng.random() < 0.15:
                boat.lose(int(rng.uniform(180, 900)), rng.uniform(0.3, 12), rng.uniform(0, 360))
            boat.run(int(rng.uniform(60, 240)), rng.uniform(8, 20), water + 180 + rng.normal(0, 15))
        long = int(rng.uniform(180, 600))
        slow = (
            (int(long * 0.4), int(rng.uniform(15, 60)), rng.uniform(0.8, 2.2))
            if rng.random() < 0.5
            else None
        )
        boat.run(long, rng.uniform(12, 28), rng.uniform(0, 360), slow_down=slow)
    boat.run(int(rng.uniform(60, 180)), rng.uniform(4.5, 6), course + 180)
    return boat.trip()


def kind_by_second(pieces: pd.DataFrame, trip: Trip) -> np.ndarray:
    """Kind found for each second from the first fix on; "" where no piece, "!" where two."""
    said = np.full(len(trip.kinds), "", dtype=object)
    first = trip.fixes["time"].iloc[0]
    for piece in pieces.itertuples():
        a = round((piece.start - first).total_seconds())
        b = round((piece.end - first).total_seconds())
        said[a:b] = np.where(said[a:b] == "", piece.kind, "!")
    return said
