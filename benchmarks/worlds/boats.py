"""Boats whose every second is known: how many drifts does cutting keep apart?

A drift is apart if a piece of kind drift shares at least 60 % with it (intersection over union).
The worlds share nothing with `layers.tracks`: speeds and headings wander as first-order
autoregressions, receivers add noise that is partly slow, and legs follow what a skipper does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy.signal import lfilter

KN = 1852 / 3600
START = pd.Timestamp("2031-06-14T08:00:00Z")
SHARED = 0.6


@dataclass
class Boat:
    """Velocity and kind of every second, leg after leg."""

    random: np.random.Generator
    every_s: int = 2
    noise_m: float = 3.0
    velocity: list[np.ndarray] = field(default_factory=list)
    kinds: list[tuple[str, int]] = field(default_factory=list)
    lost: list[tuple[int, int]] = field(default_factory=list)

    def slow(self, count: int, time_s: float) -> np.ndarray:
        """Noise of unit variance that changes slowly."""
        keep = np.exp(-1.0 / time_s)
        steps = self.random.normal(size=count) * np.sqrt(1 - keep**2)
        return lfilter([1.0], [1.0, -keep], steps, zi=[keep * self.random.normal()])[0]

    def leg(self, kind: str, seconds: float, speed_kn: float, toward: float) -> None:
        """Go so long at about that speed and heading; wander is that of a boat under way or not."""
        count = max(2, round(seconds))
        drifting = kind == "drift"
        speed = speed_kn * KN * (1 + (0.08 if drifting else 0.05) * self.slow(count, 90.0))
        angle = np.radians(toward) + (0.12 if drifting else 0.08) * self.slow(count, 150.0)
        legs = np.column_stack([speed * np.sin(angle), speed * np.cos(angle)])
        if self.velocity:  # change over a few seconds
            take = min(count, int(self.random.integers(4, 12)))
            share = np.linspace(1, 0, take)[:, None]
            legs[:take] = share * self.velocity[-1][-1] + (1 - share) * legs[:take]
        if drifting:  # swell
            beat = np.arange(count)
            legs += 0.08 * np.column_stack([np.sin(beat * 0.9), np.cos(beat * 0.7)])
        self.velocity.append(legs)
        self.kinds.append((kind, count))

    def hold(self, seconds: float) -> None:
        swing = 4.0 * np.column_stack([self.slow(round(seconds) + 1, 80.0) for _ in range(2)])
        self.velocity.append(np.diff(swing, axis=0))
        self.kinds.append(("hold", round(seconds)))

    def lose(self, share: float) -> None:
        """Lose fixes, a minute here and there, as phones in pockets do."""
        total = sum(count for _, count in self.kinds)
        at = 0
        while at < total:
            at += int(self.random.exponential(60.0 / share))
            self.lost.append((at, at + int(self.random.uniform(20, 100))))
            at = self.lost[-1][1]

    def track(self) -> tuple[pd.DataFrame, np.ndarray]:
        """Fixes, and the kind of each second from the first fix to the last."""
        where = np.cumsum(np.vstack([[0.0, 0.0], *self.velocity]), axis=0)
        count = len(where)
        noise = np.column_stack([self.slow(count, 60.0) for _ in range(2)]) * 0.4
        noise += 0.9 * self.random.normal(size=(count, 2))
        keep = np.arange(count) % self.every_s == 0
        for first, last in self.lost:
            keep[first:last] = False
        at = np.flatnonzero(keep)
        seen = (where + self.noise_m * noise)[at]
        kinds = np.repeat([k for k, _ in self.kinds], [c for _, c in self.kinds])
        fixes = pd.DataFrame(
            {
                "time": (START + pd.to_timedelta(at, unit="s")).as_unit("ns"),
                "longitude": -24.5 + seen[:, 0] / (111_320 * np.cos(np.radians(-31.5))),
                "latitude": -31.5 + seen[:, 1] / 110_900,
                "depth_m": np.nan, "temperature_c": np.nan, "file": "boat", "track": 0,
                "segment": 0,
            }
        )  # fmt: skip
        return fixes, kinds[at[0] : at[-1]]


def _out(boat: Boat) -> float:
    toward = boat.random.uniform(0, 360)
    boat.leg("run", boat.random.uniform(60, 150), boat.random.uniform(4.5, 6), toward)
    boat.leg("run", boat.random.uniform(240, 600), boat.random.uniform(12, 25), toward)
    return toward


def _home(boat: Boat, toward: float) -> None:
    boat.leg("run", boat.random.uniform(240, 600), boat.random.uniform(12, 25), toward + 180)


def _passes(
    boat: Boat,
    *,
    drift_kn: tuple[float, float],
    back_kn: tuple[float, float],
    drift_s: tuple[float, float] = (240, 720),
    spots: tuple[int, int] = (1, 3),
    flips: bool = False,
    swings_deg: float = 25.0,
) -> None:
    """Drift down and go back up, over and over, at one to three spots."""
    random = boat.random
    home = _out(boat)
    for _ in range(int(random.integers(*spots))):
        set_deg, speed, back = (
            random.uniform(0, 360),
            *(random.uniform(*s) for s in (drift_kn, back_kn)),
        )
        turn = random.normal(0, swings_deg)  # by which the set turns over the spot
        passes = int(random.integers(4, 9))
        for number in range(passes):
            set_now = set_deg + turn * number / passes
            if flips and number >= passes / 2:
                set_now += 180.0
            seconds = random.uniform(*drift_s)
            own = speed * random.uniform(0.85, 1.15)
            boat.leg("drift", seconds, own, set_now + random.normal(0, 6))
            if number < passes - 1:
                again = back * random.uniform(0.9, 1.1)
                # nobody starts the motor for less than a quarter of a minute
                away = max(15.0, own * seconds / again * random.uniform(0.8, 1.05))
                boat.leg("run", away, again, set_now + 180 + random.normal(0, 8))
        boat.leg("run", random.uniform(120, 400), random.uniform(10, 20), random.uniform(0, 360))
    _home(boat, home)


def motored(boat: Boat) -> None:
    """Return under motor."""
    _passes(boat, drift_kn=(0.4, 1.2), back_kn=(1.5, 2.5))


def narrows(boat: Boat) -> None:
    """Drift at 3 to 4 kn, run at 8 to 18."""
    _passes(boat, drift_kn=(3.0, 4.0), back_kn=(8, 18), drift_s=(150, 480), spots=(1, 2))


def hops(boat: Boat) -> None:
    """Drift for 1 to 3 min, with short runs."""
    boat.every_s = int(boat.random.choice([1, 2]))
    _passes(boat, drift_kn=(0.5, 1.5), back_kn=(5, 12), drift_s=(60, 180), spots=(2, 4))


def today(boat: Boat) -> None:
    _passes(boat, drift_kn=(0.35, 1.6), back_kn=(8, 18), drift_s=(180, 1200), spots=(1, 3))


def plotter(boat: Boat) -> None:
    """Log a fix a second."""
    boat.every_s, boat.noise_m = 1, 2.5
    today(boat)


def ten_seconds(boat: Boat) -> None:
    """Log a fix in 10 s."""
    boat.every_s = 10
    today(boat)


def half_minutes(boat: Boat) -> None:
    """Log a fix in 30 s."""
    boat.every_s, boat.noise_m = 30, 4.0
    today(boat)


def phone(boat: Boat) -> None:
    """Log on a phone with gaps."""
    boat.every_s, boat.noise_m = 5, 6.0
    today(boat)
    boat.lose(0.08)


def holds(boat: Boat) -> None:
    """Hold before each drift."""
    home = _out(boat)
    for _ in range(3):
        set_deg = boat.random.uniform(0, 360)
        boat.hold(boat.random.uniform(300, 1200))
        boat.leg("drift", boat.random.uniform(300, 900), boat.random.uniform(0.5, 1.5), set_deg)
        boat.leg("run", boat.random.uniform(60, 240), boat.random.uniform(8, 18), set_deg + 180)
    _home(boat, home)


def slow_boat(boat: Boat) -> None:
    """Run at 4.5 to 6 kn."""
    _passes(boat, drift_kn=(0.35, 1.2), back_kn=(4.5, 6.0))


def trolling(boat: Boat) -> None:
    """Fish both ways at one speed."""
    home = _out(boat)
    set_deg, speed = boat.random.uniform(0, 360), boat.random.uniform(1.4, 2.2)
    for number in range(6):
        boat.leg("drift", boat.random.uniform(300, 600), speed, set_deg + 180 * number)
    _home(boat, home)


def alike(boat: Boat) -> None:
    """Drift and return both at 2 to 3 kn."""
    _passes(boat, drift_kn=(2.0, 2.6), back_kn=(2.1, 2.9))


def narrows_slow_runs(boat: Boat) -> None:
    """Drift at 3 to 4 kn, run at 5 to 6."""
    _passes(boat, drift_kn=(3.0, 4.0), back_kn=(5, 6), spots=(1, 2))


def turning_tide(boat: Boat) -> None:
    """Return under motor while the tide turns."""
    _passes(boat, drift_kn=(0.5, 1.2), back_kn=(1.5, 2.5), flips=True, spots=(1, 2))


WORLDS: dict[str, Callable[[Boat], None]] = {
    "motored": motored, "narrows": narrows, "hops": hops, "plotter": plotter, "phone": phone,
    "ten_seconds": ten_seconds, "half_minutes": half_minutes, "holds": holds,
    "slow_boat": slow_boat, "trolling": trolling, "alike": alike,
    "narrows_slow_runs": narrows_slow_runs, "turning_tide": turning_tide,
}  # fmt: skip
TARGETS = {"motored": "95 %", "narrows": "95 %", "hops": "85 %"}
BEYOND = ("alike", "narrows_slow_runs", "turning_tide")


def spans(kinds: np.ndarray) -> list[tuple[int, int]]:
    """Where runs of one kind begin and end, of kind drift; neighbours of one kind are one."""
    inside = np.concatenate([[False], kinds == "drift", [False]]).astype(int)
    change = np.flatnonzero(np.diff(inside))
    return list(zip(change[::2].tolist(), change[1::2].tolist(), strict=True))


def true_drifts(boat: Boat, until: int) -> list[tuple[int, int]]:
    ends = np.cumsum([count for _, count in boat.kinds])
    return [
        (int(end - count), min(int(end), until))
        for (kind, count), end in zip(boat.kinds, ends, strict=True)
        if kind == "drift" and end - count < until
    ]


def fished(name: str, seed: int) -> dict[str, float]:
    """Cut one trip of a world; how much of it is right."""
    boat = Boat(np.random.default_rng([seed, sorted(WORLDS).index(name)]))
    boat.every_s = int(boat.random.choice([1, 2, 5]))
    boat.noise_m = float(boat.random.uniform(2, 5))
    WORLDS[name](boat)
    raw, kinds = boat.track()
    return graded(raw, kinds, true_drifts(boat, len(kinds)))


def graded(raw: pd.DataFrame, kinds: np.ndarray, true: list[tuple[int, int]]) -> dict[str, float]:
    """How much of a trip, whose every second is of a known kind, is cut right."""
    from layers.tracks import clean, cut

    fixes, _ = clean(raw)
    pieces = cut(fixes)
    answer = np.full(len(kinds), "", dtype=object)
    begun = raw["time"].iloc[0]
    own = []
    for kind, start, end in zip(pieces["kind"], pieces["start"], pieces["end"], strict=True):
        a, b = (round((moment - begun).total_seconds()) for moment in (start, end))
        answer[a:b] = kind
        if kind == "drift":
            own.append((a, b))
    apart = sum(any(_shared(one, other) >= SHARED for other in own) for one in true)
    effort = sum(b - a for a, b in own) / max(sum(b - a for a, b in true), 1)
    asked = ~np.isin(answer, ["gap"])
    return {
        "drifts": len(true), "apart": apart, "effort": effort,
        "seconds": float((answer == kinds)[asked].mean()),
        "spoken": bool(pieces.attrs.get("doubts")),
    }  # fmt: skip


def _shared(one: tuple[int, int], other: tuple[int, int]) -> float:
    both = min(one[1], other[1]) - max(one[0], other[0])
    return max(both, 0) / (max(one[1], other[1]) - min(one[0], other[0]))


def rows(seeds: range) -> Iterator[tuple[str, str, str, str]]:
    for name, fish in WORLDS.items():
        trips = pd.DataFrame([fished(name, seed) for seed in seeds])
        label = f"{name}: {fish.__doc__}"
        yield "cutting", label, summary(trips), TARGETS.get(name, "-")


def summary(trips: pd.DataFrame) -> str:
    return (
        f"{trips['apart'].sum() / trips['drifts'].sum():.0%} of {trips['drifts'].sum()} apart, "
        f"{trips['seconds'].mean():.1%} of seconds, effort x{trips['effort'].mean():.2f}, "
        f"doubt on {trips['spoken'].mean():.0%}"
    )
