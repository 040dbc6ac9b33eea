"""Logs and tracks whose clocks are wrong: found, reported, or wrong without a word?

Trips of the boats of `benchmarks.worlds.boats` that cut well; six to twenty fish in their drifts,
logged at once, with or without a place.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from benchmarks.worlds.boats import WORLDS as BOATS
from benchmarks.worlds.boats import Boat, true_drifts

HOUR = 3600.0
WORLDS = {  # seconds ahead, places in the log, seconds by which most and some fish are logged late
    "right, places": (0.0, True, 0.0, 0.0), "right, places, late": (0.0, True, 30.0, 240.0),
    "two minutes, places": (120.0, True, 0.0, 0.0), "17 min, places": (1020.0, True, 0.0, 0.0),
    "an hour behind, places": (-HOUR, True, 0.0, 0.0),
    "an hour ahead, places": (HOUR, True, 0.0, 0.0),
    "an hour ahead, places, late": (HOUR, True, 30.0, 240.0),
    "right": (0.0, False, 0.0, 0.0), "right, late": (0.0, False, 30.0, 240.0),
    "an hour behind": (-HOUR, False, 0.0, 0.0), "an hour ahead": (HOUR, False, 0.0, 0.0),
    "an hour ahead, late": (HOUR, False, 30.0, 240.0),
    "seven hours": (7 * HOUR, False, 0.0, 0.0), "ten behind": (-10 * HOUR, False, 0.0, 0.0),
}  # fmt: skip
FORGOTTEN = 0.15
"""Share of the fish that are logged late by some minutes."""


def trip(seed: int, world: str) -> dict[str, bool]:
    from layers.catches import as_catches, tie
    from layers.catches.clocks import log_clock
    from layers.tracks import clean, cut, drifts_of

    offset, placed, late_s, forgotten_s = WORLDS[world]
    random = np.random.default_rng([seed, 77])
    boat = Boat(random, every_s=5)
    BOATS["plotter" if seed % 2 else "slow_boat"](boat)
    raw, kinds = boat.track()
    fixes, _ = clean(raw)
    drifts = drifts_of(cut(fixes), fixes)
    true = true_drifts(boat, len(kinds))
    bites = [random.uniform(a, b, random.poisson(2.0)) for a, b in true]
    at = np.sort(np.concatenate([np.zeros(0), *bites]))[:20]
    if len(at) < 6:
        return {}
    time = fixes["time"].iloc[0] + pd.to_timedelta(at, unit="s")
    row = pd.DataFrame({"time": time}).assign(
        species="dab", length_m=np.nan, kept=True, rod="", note="", file="log.csv",
        row=np.arange(len(at)), longitude=np.nan, latitude=np.nan,
    )  # fmt: skip
    if placed:
        second = (fixes["time"] - fixes["time"].iloc[0]).dt.total_seconds()
        for name in ("longitude", "latitude"):
            there = np.interp(at, second, fixes[name])
            row[name] = there + random.normal(0, 8 / 111_000, len(at))
    right = tie(as_catches(row.to_dict("records")), drifts, fixes)["drift_id"].to_numpy()
    late = late_s * random.exponential(size=len(at))
    late += forgotten_s * random.exponential(size=len(at)) * (random.random(len(at)) < FORGOTTEN)
    away = offset + random.normal(0, 10, len(at)) + late
    row["time"] = row["time"] + pd.to_timedelta(away, unit="s")
    log = as_catches(row.to_dict("records"))
    found = log_clock(log, drifts, fixes)
    plain = tie(log, drifts, fixes)["drift_id"].to_numpy()
    put_right = tie(log, drifts, fixes, clock_offset_s=found.offset_s)["drift_id"].to_numpy()
    wrong = float(((plain != right) & (plain != "")).mean())
    doubted = bool(found.or_s)
    return {
        "said": bool(found.how), "doubted": doubted, "right": abs(found.offset_s - offset) <= 120.0,
        "silent": 0.0 if found.how or doubted else wrong,
        "after": float((put_right == right).mean()),
    }  # fmt: skip


def rows(seeds: range) -> Iterator[tuple[str, str, str, str]]:
    for world, (offset, *_) in WORLDS.items():
        table = pd.DataFrame([one for seed in seeds if (one := trip(seed, world))])
        figure = (
            f"offset on {table['said'].mean():.0%} of {len(table)} trips, doubt on "
            f"{table['doubted'].mean():.0%}, "
            f"{table['right'].mean():.0%} right; fish on a wrong drift without a word "
            f"{table['silent'].mean():.1%}; right when it is used {table['after'].mean():.0%}"
        )
        yield "clocks", world, figure, "5 % without a word" if offset else "-"
