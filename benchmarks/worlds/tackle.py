"""Baits, rods and persons on seasons of trips: does one seem to pay more where none does, and found
where one does?

Two rods fish every drift.  Days, lines and bunches differ; the second bait is tried now and then,
more on good days or on the best line, at the end of trips, or where nothing bites.
"""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import Point

NONE = ("even", "bunched", "on_good_days", "on_good_lines", "late", "when_slow", "few")
MORE = ("rod_150", "bait_150", "bait_200", "person_150")
WORLDS = (*NONE, *MORE)
DAY = pd.Timestamp("2031-04-01T08:00Z")


def season(seed: int, world: str) -> tuple[pd.DataFrame, gpd.GeoDataFrame]:
    """Drifts with their line, and fish with bait, rod and person."""
    random = np.random.default_rng([seed, WORLDS.index(world)])
    lines = int(random.integers(3, 9))
    rate = random.gamma(3.0, 0.7, lines)
    trips = int(random.integers(4, 8) if world == "few" else random.integers(15, 35))
    times = int(world[-3:]) / 100 if world in MORE else 1.0
    drifts, fish = [], []
    for trip in range(trips):
        worth = random.gamma(4.0, 0.25)
        begin, blank = DAY + pd.Timedelta(days=trip), 0
        for number in range(int(random.integers(6, 14))):
            line = int(random.integers(0, lines))
            start = begin + pd.Timedelta(minutes=25 * number)
            minutes = random.uniform(12, 20)
            name, caught = f"{trip}#{number}", 0
            drifts.append(
                {
                    "drift_id": name, "trip": f"day {trip}", "line": f"N{line}", "start": start,
                    "end": start + pd.Timedelta(minutes=minutes), "rod_hours": minutes / 30,
                }
            )  # fmt: skip
            second = _second(random, world, trip, number, worth, rate[line] >= rate.max(), blank)
            for rod in (0, 1):
                bait = "squid" if (second and rod == 1) else "worm"
                due = rate[line] * worth * minutes / 60
                due *= times if world == "rod_150" and rod == 1 else 1.0
                due *= times if world == "person_150" and rod == 0 else 1.0
                due *= times if world.startswith("bait") and bait == "squid" else 1.0
                if world == "bunched":
                    due *= random.choice([0.2, 4.2], p=[0.8, 0.2])
                for _ in range(random.poisson(due)):
                    caught += 1
                    fish.append(
                        {
                            "drift_id": name, "bait": bait, "rod": str(rod + 1),
                            "person": "ab"[rod],
                            "time": start + pd.Timedelta(minutes=float(random.uniform(0, minutes))),
                            "geometry": Point(0, 0),
                        }
                    )  # fmt: skip
            blank = 0 if caught else blank + 1
    return pd.DataFrame(drifts), gpd.GeoDataFrame(fish, geometry="geometry", crs="EPSG:4326")


def _second(
    random: np.random.Generator, world: str, trip: int, number: int, worth: float, best: bool,
    blank: int,
) -> bool:  # fmt: skip
    """Whether the second bait is on the second rod."""
    if world == "on_good_days":
        return worth > 1.0 and random.random() < 0.8
    if world == "on_good_lines":
        return best
    if world == "late":
        return number >= 6
    if world == "when_slow":
        return blank >= 2
    return trip % 2 == 0 or number % 6 >= 3


def judged(seed: int, world: str) -> dict[str, float]:
    from layers.scoring.within.tackle import compare_tackle

    drifts, fish = season(seed, world)
    caught = drifts["drift_id"].map(fish["drift_id"].value_counts()).fillna(0)
    sums = drifts.assign(caught=caught).groupby("line")[["caught", "rod_hours"]].sum()
    paid = ((sums["caught"] + 2) / (sums["rod_hours"] + 2 / 2.1)).rename("rate_all").reset_index()
    table = compare_tackle(drifts, fish, paid)
    true = {"rod_150": ("rod", "2"), "person_150": ("person", "a")}.get(world, ("bait", "squid"))
    row = table[(table["factor"] == true[0]) & (table["value"] == true[1])]
    times = float(row["times"].iloc[0]) if len(row) else np.nan
    wanted = int(world[-3:]) / 100 if world in MORE else 1.0
    held = (row["times_low"] <= wanted) & (wanted <= row["times_high"]) if len(row) else []
    return {
        "says": float(table["differs"].any()),
        "right": float(len(row) > 0 and row["differs"].iloc[0] and times > 1),
        "times": times,
        "held": float(held.iloc[0]) if len(row) and np.isfinite(times) else np.nan,
    }


def rows(seeds: range) -> Iterator[tuple[str, str, str, str]]:
    for world in WORLDS:
        table = pd.DataFrame([judged(seed, world) for seed in seeds])
        says = "says" if world in NONE else "right"
        figure = (
            f"{'something said' if world in NONE else 'found'} in {table[says].mean():.0%} of "
            f"{len(table)} seasons; told x{table['times'].median():.2f}, 80 % interval holds "
            f"{table['held'].mean():.0%}"
        )
        yield "tackle", world, figure, "6 %" if world in NONE else "-"
