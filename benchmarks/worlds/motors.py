"""Seasons of drifts of which some are motored: what is learned of the current, and how well?

The worlds share nothing with `layers.water.learned`.  The flow is rotary, sheared across the ground
and early inshore, with eddies and days of its own; gusts push the boat, downwind and to a side of
its own each drift; the craft's leeway and the wind that is given are off.  A skipper at the motor
holds a pace along the water, a line over the bottom, against the water, or drives through it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy.signal import lfilter

KN = 1852 / 3600
RATES = np.radians([28.9841042, 30.0, 28.4397295, 15.0410686, 13.9430356, 57.9682084])
"""Of M2, S2, N2, K1, O1 and M4, radians an hour."""
EPOCH = np.datetime64("2031-05-01", "ns")
EVERY_S = 10
HABITS = ("pace", "line", "against", "through")
SHARES = {
    "none": 0.0, "quarter": 0.25, "half": 0.5, "three_quarters": 0.75, "all": 1.0,
}  # fmt: skip
WORLDS = (
    *SHARES,
    "half_pace", "half_line", "half_against", "half_through",  # one habit all season
    "half_days",  # whole days of it
    "half_partly",  # of each second drift a part
    "half_light", "all_light", "none_light",  # hardly any wind
    "none_few", "half_few",  # four days
    "none_fast", "half_fast",  # half as fast again
    "none_unsaid", "half_unsaid",  # a wind that nobody names
)  # fmt: skip


@dataclass
class Ground:
    """Tide and flow of a season's ground; x across and y along it, metres."""

    random: np.random.Generator

    def __post_init__(self) -> None:
        r = self.random
        self.height = np.array([1.0, 0.3, 0.2, 0.15, 0.1, 0.03]) * r.uniform(0.6, 1.4, 6)
        self.phase = r.uniform(0, 2 * np.pi, 6)
        lead = r.uniform(0.5, 1.6) + r.normal(0, 0.08, 6)
        self.lead = np.where(RATES > 0.4, lead, lead / 2)
        self.flow = r.uniform(0.4, 0.75) * self.height / self.height[0] * r.uniform(0.85, 1.15, 6)
        self.flow[3:5] *= 0.5
        self.flow[5] = r.uniform(0.02, 0.08)
        self.minor = r.uniform(0.08, 0.25) * r.choice([-1, 1])
        self.axis = r.uniform(0, 2 * np.pi)
        self.shear = r.uniform(0.1, 0.3) * r.choice([-1, 1]) / 600
        self.early_h = r.uniform(0.0, 0.4) / 600
        self.bend = np.radians(r.uniform(-10, 10)) / 1000
        self.mean = r.normal(0, 0.04, 2)

    def heights(self, hours: np.ndarray) -> np.ndarray:
        return np.cos(RATES * hours[:, None] - self.phase) @ self.height

    def current(self, hours: Any, x: Any, y: Any) -> np.ndarray:
        hours, x, y = np.broadcast_arrays(np.asarray(hours, float), x, y)
        angle = RATES * (hours + self.early_h * x)[..., None] - self.phase + self.lead
        along = (np.cos(angle) @ self.flow) * (1 + self.shear * x)
        aside = self.minor * (np.sin(angle[..., :3]) @ self.flow[:3])
        way = self.axis + self.bend * y
        return self.mean + np.stack(
            [along * np.sin(way) + aside * np.cos(way), along * np.cos(way) - aside * np.sin(way)],
            axis=-1,
        )

    def table(self) -> Any:
        """High and low waters of 100 days, as an agency's table."""
        from layers.water import HighLowTable

        hours = np.arange(-72, 24 * 96, 0.05)
        height = self.heights(hours)
        rise = np.diff(height) > 0
        at = np.flatnonzero(rise[1:] != rise[:-1]) + 1
        times = EPOCH + (hours[at] * 3.6e12).astype("timedelta64[ns]")
        return HighLowTable(times, height[at].round(2), rise[at - 1])


def slow(random: np.random.Generator, count: int, time_s: float) -> np.ndarray:
    """Noise of unit variance that changes slowly, shape (count, 2)."""
    keep = np.exp(-EVERY_S / time_s)
    steps = random.normal(size=(count, 2)) * np.sqrt(1 - keep**2)
    start = keep * random.normal(size=(1, 2))
    return np.asarray(lfilter([1.0], [1.0, -keep], steps, axis=0, zi=start)[0])


@dataclass
class Season:
    ground: Ground
    fixes: pd.DataFrame
    drifts: pd.DataFrame
    wind: Any
    places: np.ndarray


def pushed(
    habit: str, random: np.random.Generator, water: np.ndarray, leeway: np.ndarray
) -> np.ndarray:
    """Give the velocity over the ground of a boat whose skipper is at the motor."""
    free = water + leeway
    first = water[: len(water) // 2].mean(axis=0)
    way = first / max(np.hypot(*first), 0.05)
    match habit:
        case "pace":  # along the water, neither too fast nor too slow
            size = np.hypot(*water.T)[:, None]
            low, high = random.uniform(0.15, 0.25), random.uniform(0.3, 0.5)
            return water / np.maximum(size, 1e-6) * np.clip(size, low, high)
        case "line":  # along an edge that runs about the way of the water
            angle = np.arctan2(way[0], way[1]) + random.normal(0, np.radians(20))
            line = np.array([np.sin(angle), np.cos(angle)])
            pace = np.clip(free @ line, random.uniform(0.2, 0.3), random.uniform(0.4, 0.6))
            return pace[:, None] * line
        case "against":  # bow to the water, sliding back
            return water * random.uniform(0.25, 0.65) + 0.1 * leeway
        case _:  # at a heading of its own through the water
            angle = np.arctan2(way[0], way[1]) + random.normal(0, 0.6) + np.pi * random.integers(2)
            push = random.uniform(0.25, 0.6)
            return free + push * np.array([np.sin(angle), np.cos(angle)])


def season(seed: int, world: str) -> Season:
    random = np.random.default_rng([seed, WORLDS.index(world)])
    ground = Ground(random)
    name, _, kind = world.partition("_") if world not in SHARES else (world, "", "")
    share = SHARES[name]
    ground.flow *= 1.5 if kind == "fast" else 1.0
    outings = 4 if kind == "few" else int(random.integers(8, 14))
    scale = random.uniform(0.75, 1.25)
    fixes, table, winds, places = [], [], [], []
    days = np.sort(random.choice(np.arange(1, 90), outings, replace=False))
    motored_days = random.permutation(outings) < round(share * outings)
    for number, day in enumerate(days):
        begin = 24.0 * day + random.uniform(7, 13)
        low, high = (0.2, 1.5) if kind == "light" else (1.0, 8.0)
        blow, toward = random.uniform(low, high), random.uniform(0, 2 * np.pi)
        told = 0.0 if kind == "unsaid" else max(blow * (1 + 0.2 * random.normal()), 0.0)
        told_from = np.degrees(toward + random.normal(0, 0.17)) + 180
        veer = random.normal(0, 0.06)
        winds += [(begin - 1, told, told_from % 360), (begin + 10, told, told_from % 360)]
        own = 0.03 * random.normal(size=2)
        hours = begin
        for at in range(int(random.integers(5, 10))):
            count = int(random.uniform(8, 25) * 60 / EVERY_S)
            is_motored = motored_days[number] if kind == "days" else random.random() < share
            habit = kind if kind in HABITS else str(random.choice(HABITS))
            x, y = random.uniform(-300, 300), random.uniform(-500, 500)
            eddies = 0.05 * slow(random, count, 300.0)
            gusts = 1 + 0.25 * slow(random, count, 45.0)[:, 0]
            swing = toward + veer * (hours - begin) + 0.15 * slow(random, count, 90.0)[:, 0]
            side = random.choice([-1, 1]) * random.uniform(0.0, 0.012)
            air = blow * gusts
            away = scale * (0.0287 * air + 0.04 * np.clip(air / 2, 0, 1))
            leeway = away[:, None] * np.stack([np.sin(swing), np.cos(swing)], axis=1)
            leeway += (side * air)[:, None] * np.stack([np.cos(swing), -np.sin(swing)], axis=1)
            clock = hours + np.arange(count) * EVERY_S / 3600
            water = ground.current(clock, x, y) + own + eddies
            velocity = water + leeway
            if is_motored:
                held = pushed(habit, random, water, leeway) + 0.03 * slow(random, count, 60.0)
                busy = np.arange(count) >= count * random.uniform(0.3, 0.7)
                busy = busy if kind == "partly" else np.ones(count, bool)
                velocity = np.where(busy[:, None], held, velocity)
            path = np.array([x, y]) + np.cumsum(velocity * EVERY_S, axis=0)
            path += random.normal(0, 2.0, path.shape)
            times = EPOCH + (clock * 3.6e12).astype("timedelta64[ns]")
            fixes.append(
                pd.DataFrame({
                    "time": times, "longitude": -33.4 + path[:, 0] / 77_200,
                    "latitude": 46.2 + path[:, 1] / 111_170,
                })
            )  # fmt: skip
            table.append({
                "drift_id": f"{day} #{at}", "trip": str(day), "start": times[0],
                "end": times[-1], "motored": bool(is_motored),
            })  # fmt: skip
            places.append((x, y))
            hours = clock[-1] + random.uniform(8, 20) / 60
    from layers.water import WindTable

    hour, speed, from_deg = (np.array(column) for column in zip(*winds, strict=True))
    wind = WindTable(
        EPOCH + (hour * 3.6e12).astype("timedelta64[ns]"), speed, from_deg, longest_gap_hours=12.0
    )
    return Season(ground, pd.concat(fixes), pd.DataFrame(table), wind, np.array(places))


def learned(one: Season) -> Any:
    """Learn the current from all drifts."""
    from layers.water import leeway_of
    from layers.water.learned.drift_motions import drift_motions
    from layers.water.learned.learning import learn_current

    motions = drift_motions(one.fixes.reset_index(drop=True), one.drifts, one.wind)
    return learn_current(motions, one.ground.table(), leeway_of("skiff, V-hull"))


def off_kn(one: Season, current: Any) -> tuple[np.ndarray, np.ndarray]:
    """Error of the speed, and whether the 90 % interval holds, each half hour of 90 days."""
    from layers.water.learned.learned import along_spread
    from layers.water.motion import set_and_drift

    hours = np.arange(24.0, 24 * 91, 0.5)
    times = EPOCH + (hours * 3.6e12).astype("timedelta64[ns]")
    toward, speed = set_and_drift(*current.velocity(times))
    truth = one.ground.current(hours, *one.places.mean(axis=0))
    known = np.isfinite(speed)
    way = np.radians(toward)
    along = truth[:, 0] * np.sin(way) + truth[:, 1] * np.cos(way)
    inside = np.abs(along - speed) < 1.645 * along_spread(current.spread(times), toward)
    return (speed - np.hypot(*truth.T))[known] / KN, inside[known]


def judged(seed: int, world: str) -> dict[str, float]:
    """Hold what is learned of a season against its flow, at the middle of the drifts.

    ``known`` is the error where it is known which drifts were motored, and they are not used.
    """
    from seabed.errors import WaterError

    one = season(seed, world)
    motored = one.drifts["motored"].to_numpy()
    answer = {"refused": 1.0, "known": np.nan}
    with suppress(WaterError):  # of none, or of too few, nothing is learned
        free = replace(one, drifts=one.drifts[~motored].reset_index(drop=True))
        answer["known"] = float(np.sqrt(np.mean(off_kn(one, learned(free))[0] ** 2)))
    try:
        current = learned(one)
    except WaterError:
        return answer
    off, inside = off_kn(one, current)
    left = one.drifts["drift_id"].isin([drift.drift_id for drift in current.motored]).to_numpy()
    return answer | {
        "refused": 0.0, "rms": float(np.sqrt(np.mean(off**2))), "bias": float(off.mean()),
        "holds": float(inside.mean()), "scale": current.leeway_scale[0],
        "caught": float((left & motored).sum() / max(motored.sum(), 1)),
        "false": float((left & ~motored).sum() / max((~motored).sum(), 1)),
    }  # fmt: skip


def rows(seeds: range, worlds: tuple[str, ...] = WORLDS) -> Iterator[tuple[str, str, str, str]]:
    for world in worlds:
        answers = pd.DataFrame([judged(seed, world) for seed in seeds])
        figure = f"refused {answers['refused'].mean():.0%}"
        if "rms" in answers:
            given = answers[answers["refused"] == 0]
            rms, known = (np.sqrt((given[name] ** 2).mean()) for name in ("rms", "known"))
            figure += (
                f", {rms:.3f} kn RMS ({given['rms'].max():.2f} at worst; {known:.3f} with the "
                f"motored known), bias {given['bias'].mean():+.2f}, "
                f"90 % holds {given['holds'].mean():.0%}, "
                f"wind {given['scale'].min():.2f}-{given['scale'].max():.2f}, "
                f"caught {given['caught'].mean():.0%}, false {given['false'].mean():.1%}"
            )
        wanted = "< 0.13 kn, 80 %" if world.startswith("half") else "-"
        yield "motors", world, figure, wanted
