"""Passes over one line on one day: do scores say that they pay less, where they do and where not?

Seasons of several visits a day.  In the worlds without depletion the rate of a visit stays what it
is; but days and visits differ, fish come in pulses, and skippers leave when a pass gives nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

NONE = ("even", "days", "pulses", "leaves_when_blank", "few")
FALL = ("fall_30", "fall_15", "fall_30_leaves", "fall_30_pulses", "fall_30_few")
WORLDS = (*NONE, *FALL)


def season(seed: int, world: str) -> pd.DataFrame:
    """Drifts: line, trip, start, hours, count."""
    random = np.random.default_rng([seed, WORLDS.index(world)])
    lines = int(random.integers(4, 12))
    rate = random.gamma(2.0, 1.2, lines)
    kept = 1.0 - (int(world[5:7]) / 100 if world.startswith("fall") else 0.0)
    trips = int(random.integers(4, 7) if "few" in world else random.integers(12, 30))
    rows = []
    line = 0
    for trip in range(trips):
        worth = random.gamma(3.0, 1 / 3.0) if world == "days" else 1.0
        for _ in range(int(random.integers(1, 4))):
            line = (line + int(random.integers(1, lines))) % lines
            effort = 0.0
            for number in range(int(random.integers(1, 7))):
                hours = random.uniform(0.3, 0.7)
                due = rate[line] * worth * hours * kept ** (effort / 0.5)
                if "pulses" in world:
                    due *= random.choice([0.3, 3.1], p=[0.75, 0.25])
                fish = int(random.poisson(due))
                rows.append((line, trip, len(rows), hours, fish, number))
                effort += hours
                if "leaves" in world and fish == 0:
                    break
    return pd.DataFrame(rows, columns=["line", "trip", "start", "hours", "count", "number"])


def judged(seed: int, world: str) -> dict[str, float]:
    from layers.scoring.within.depletion import fit_depletion

    one = season(seed, world)
    depletion = fit_depletion(*(one[name] for name in ("count", "hours", "line", "trip", "start")))
    if depletion is None:
        return {"says": 0.0, "best": np.nan, "held": np.nan}
    fall = -np.log(1.0 - int(world[5:7]) / 100) if world.startswith("fall") else 0.0
    best, low, high = depletion.share(4)
    # a pass of ordinary length is that of the season, here about half a rod-hour
    true = float(np.exp(-3 * fall * depletion.pass_hours / 0.5))
    return {"says": float(depletion.is_sure), "best": best, "held": float(low <= true <= high)}


def rows(seeds: range) -> Iterator[tuple[str, str, str, str]]:
    for world in WORLDS:
        table = pd.DataFrame([judged(seed, world) for seed in seeds])
        figure = (
            f"said in {table['says'].mean():.0%} of {len(table)} seasons; fourth pass "
            f"{table['best'].median():.0%} of the first, 80 % interval holds "
            f"{table['held'].mean():.0%}"
        )
        wanted = "6 %" if world in NONE else "-"
        yield "passes", world, figure, wanted
