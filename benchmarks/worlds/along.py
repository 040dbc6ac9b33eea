"""Fish along lines: how often is a hot stretch claimed where there is none, and found where one is?

Six lines a season, each fished by 12 to 18 drifts on 6 to 9 days.  In the worlds without a stretch
every place is as good as the next, but fish come as fish do: in twos, in schools that pass a drift,
in shoals that stay a day, in short spells, and in logs whose times are round.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

LINES, LENGTH_M, STEP_S, SPEED = 6, 500.0, 30.0, 0.45
STRETCH_M, TIMES = 100.0, 3.0
METRE = 1 / 111_160
DAY = pd.Timestamp("2031-04-01T08:00Z")

EVEN = ("single", "twos", "schools", "shoals", "spells", "round_5", "round_15")
STAYING = "shoals_3"  # on three days running, where the method takes days for independent
WORLDS = (*EVEN, "hot", "hot_20", "hot_twos", STAYING)
WANTED = {"hot": "55 %, 15 %", "hot_20": "-", "hot_twos": "-", STAYING: "-"}


def bites(
    random: np.random.Generator, world: str, steps: int, rate: float, day: float
) -> list[float]:
    """Seconds into a drift at which fish are caught; `rate` is a mean number a drift."""
    long = steps * STEP_S
    if world == "twos":
        first = random.uniform(0, long, random.poisson(rate / 2))
        return [*first, *np.minimum(first + random.exponential(25.0, len(first)), long - 1)]
    if world == "schools":
        times: list[float] = []
        for middle in random.uniform(0, long, random.poisson(rate / 5)):
            times += (middle + random.normal(0, 50.0, random.poisson(5))).tolist()
        return [t for t in times if 0 <= t < long]
    if world == "spells":  # a quarter of an hour in which they bite, whatever the place
        middle = random.uniform(0, long)
        times = [*random.uniform(0, long, random.poisson(rate / 3))]
        times += (middle + random.normal(0, 120.0, random.poisson(rate * 2 / 3))).tolist()
        return [t for t in times if 0 <= t < long]
    return random.uniform(0, long, random.poisson(rate)).tolist()


def season(seed: int, world: str) -> tuple[gpd.GeoDataFrame, pd.DataFrame, pd.DataFrame, list]:
    """Drifts, samples, fish (time and line), and where each line's true stretch begins."""
    random = np.random.default_rng([seed, WORLDS.index(world)])
    drifts, samples, fish, begins = [], [], [], []
    wanted = (
        20.0 if world == "hot_20" else 40.0 if world.startswith("hot") else random.uniform(15, 60)
    )
    for line in range(LINES):
        begin = random.uniform(0, LENGTH_M - STRETCH_M)
        begins.append(begin)
        days = int(random.integers(6, 10))
        count = int(random.integers(12, 19))
        of_day = random.integers(0, days, count)
        worth = random.gamma(4.0, 0.25, days)
        shoal = random.uniform(0, LENGTH_M, days)
        if world == STAYING:
            shoal = np.repeat(shoal, 3)[:days]
        for number in range(count):
            start = random.uniform(0, 60)
            steps = int((LENGTH_M * random.uniform(0.75, 1.0) - start) / SPEED / STEP_S)
            where = start + SPEED * STEP_S * (np.arange(steps) + 0.5)
            day = int(of_day[number])
            at = DAY + pd.Timedelta(days=day) + pd.Timedelta(minutes=float(random.uniform(0, 400)))
            rate = wanted / count * (worth[day] if not world.startswith("hot") else 1.0)
            if world.startswith("hot"):
                inside = ((where >= begin) & (where < begin + STRETCH_M)).mean()
                rate *= (1 + (TIMES - 1) * inside) / (1 + (TIMES - 1) * STRETCH_M / LENGTH_M)
                many = random.poisson(rate / (2 if world == "hot_twos" else 1))
                chance = np.where((where >= begin) & (where < begin + STRETCH_M), TIMES, 1.0)
                own = (
                    random.choice(steps, many, p=chance / chance.sum()) + random.random(many)
                ) * STEP_S
                times = (
                    [*own, *np.minimum(own + 20.0, steps * STEP_S - 1)]
                    if world == "hot_twos"
                    else own
                )
            elif world in ("shoals", STAYING):
                chance = 0.5 + 4.0 * (np.abs(where - shoal[day]) < 40)
                own = random.choice(steps, random.poisson(rate), p=chance / chance.sum())
                times = (own + random.random(len(own))) * STEP_S
            else:
                times = bites(random, world, steps, rate, worth[day])
            moments = [at + pd.Timedelta(seconds=float(t)) for t in times]
            if world.startswith("round"):
                moments = [moment.round(f"{world[6:]}min") for moment in moments]
            counts = np.zeros(steps, int)
            for moment in moments:
                passed = (moment - at).total_seconds()
                if -60 < passed < steps * STEP_S + 60:  # others are tied to no drift
                    counts[int(np.clip(passed / STEP_S, 0, steps - 1))] += 1
                    fish.append(moment)
            east = 0.02 * line + random.normal(0, 5) * METRE
            name = f"{line}-{number}"
            samples.append(
                pd.DataFrame(
                    {
                        "drift_id": name, "trip": f"day {day}", "line": f"N{line}",
                        "time": at + pd.to_timedelta((np.arange(steps) + 0.5) * STEP_S, unit="s"),
                        "longitude": east, "latitude": where * METRE, "depth_m": np.nan,
                        "sog_mps": SPEED, "course_deg": 0.0, "rod_hours": 2 * STEP_S / 3600,
                        "fish": counts, "kept": counts,
                    }
                )
            )  # fmt: skip
            north = where[-1] + SPEED * STEP_S / 2
            drifts.append(
                {
                    "drift_id": name, "trip": f"day {day}", "line": f"N{line}", "start": at,
                    "end": at + pd.Timedelta(seconds=steps * STEP_S),
                    "duration_s": steps * STEP_S,
                    "geometry": LineString([(east, start * METRE), (east, north * METRE)]),
                }
            )  # fmt: skip
    table = gpd.GeoDataFrame(drifts, geometry="geometry", crs="EPSG:4326")
    return table, pd.concat(samples, ignore_index=True), pd.Series(fish), begins


def claims(seed: int, world: str) -> pd.DataFrame:
    """A row a line: claimed or not, right or not, the gain as stated and true."""
    return claimed(season(seed, world), seed)


def claimed(made: tuple[Any, pd.DataFrame, Any, list], seed: int) -> pd.DataFrame:
    """`claims` of a season as `season` gives it."""
    from layers.catches.tying import rounding_s
    from layers.scoring import rank_lines
    from layers.scoring.stretches import hot_stretches

    drifts, samples, fish, begins = made
    lines = rank_lines(
        drifts.assign(distance_m=LENGTH_M, course_deg=0.0, depth_mean_m=np.nan, rod_hours=1.0),
        pd.DataFrame({"drift_id": [], "kept": pd.array([], "boolean")}),
    )
    found = hot_stretches(lines, drifts, samples, seed=seed, rounded_s=rounding_s(fish)).set_index(
        "line"
    )
    rows = []
    for line, begin in enumerate(begins):
        name = f"N{line}"
        own = samples[samples["line"] == name]
        row = {"hot": False, "right": False, "told": np.nan, "true": np.nan}
        if name in found.index:
            one = found.loc[name]
            south, north = (
                drifts[drifts["line"] == name].geometry.bounds[["miny", "maxy"]].T.to_numpy()
            )
            axis_start = south[(north - south).argmax()] / METRE
            first, last = one["start_m"] + axis_start, one["end_m"] + axis_start
            shared = min(last, begin + STRETCH_M) - max(first, begin)
            y = own["latitude"].to_numpy() / METRE
            worth = np.where((y >= begin) & (y < begin + STRETCH_M), TIMES, 1.0)
            inside = (y >= first) & (y <= last)
            row = {
                "hot": bool(one["hot"]), "right": shared > 0.3 * STRETCH_M,
                "told": one["rate_here"] / one["rate_line"],
                "true": worth[inside].mean() / worth.mean(),
            }  # fmt: skip
        rows.append(row)
    return pd.DataFrame(rows)


def rows(seeds: range) -> Iterator[tuple[str, str, str, str]]:
    for world in WORLDS:
        table = pd.concat([claims(seed, world) for seed in seeds], ignore_index=True)
        yield (
            "stretches",
            world,
            summary(table, even=world in (*EVEN, STAYING)),
            WANTED.get(world, "3 %"),
        )


def summary(table: pd.DataFrame, *, even: bool) -> str:
    if even:
        return f"{table['hot'].mean():.1%} of {len(table)} lines falsely hot"
    right = table["hot"] & table["right"]
    hot = table[right]
    gain = (hot["told"].mean() / hot["true"].mean() - 1) if len(hot) else np.nan
    elsewhere = (table["hot"] & ~table["right"]).mean()
    return (
        f"{right.mean():.0%} of {len(table)} found, {elsewhere:.1%} elsewhere; worth told "
        f"{gain:+.0%} against true"
    )
