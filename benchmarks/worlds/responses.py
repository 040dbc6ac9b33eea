"""What scores say that bottom, tide and wind do, where they do nothing and where they do.

Seasons of fixed lines: each has its own depths, slope and way to the nearest edge, and its own
worth.  In the worlds without a pattern, worth is a matter of lines, or of patches along them, and
of days; nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

STEPS, TRIPS, DRIFTS = 12, 18, 10
BAND_M = (6.0, 8.5)
LINES = {"few": (5, 10), "some": (14, 25), "many": (40, 61)}
WORLDS = (
    *(f"{kind}_{many}" for kind in ("lines", "patchy") for many in LINES),
    "band_some", "band_many",
)  # fmt: skip


def along(random: np.random.Generator, spread: float, reach: float) -> np.ndarray:
    """A smooth random curve over the steps of a line."""
    at = np.arange(STEPS)
    law = np.exp(-0.5 * ((at[:, None] - at) / reach) ** 2) + 1e-6 * np.eye(STEPS)
    return spread * np.linalg.cholesky(law) @ random.normal(size=STEPS)


def season(seed: int, world: str) -> pd.DataFrame:
    """Samples of two minutes, as `layers.scoring.factors.with_factors` would give them."""
    random = np.random.default_rng([seed, WORLDS.index(world)])
    kind, many = world.split("_")
    count = int(random.integers(*LINES[many]))
    depth = random.uniform(3, 10, count)[:, None] + [along(random, 0.8, 3.0) for _ in range(count)]
    slope = random.gamma(2, 1.2, count)[:, None] * np.exp(
        [along(random, 0.4, 2.0) for _ in range(count)]
    )
    edge = random.normal(0, 60, count)[:, None] + [along(random, 25.0, 4.0) for _ in range(count)]
    spread = {"lines": 0.7, "patchy": 0.3, "band": 0.3}[kind]
    worth = random.gamma(spread**-2, spread**2, count)[:, None] * np.ones(STEPS)
    if kind == "patchy":
        worth = worth * np.exp([along(random, 0.9, 1.5) - 0.4 for _ in range(count)])
    tables = []
    liked = random.dirichlet(np.full(count, 0.8 if many == "few" else 3.0))
    for trip in range(TRIPS):
        phase, day, wind = random.uniform(0, 12.4), random.gamma(6.0, 1 / 6), random.normal(0, 4)
        for drift in range(DRIFTS):
            line = int(random.choice(count, p=liked))
            hour = (phase + drift * 0.5 + np.arange(STEPS) / 30) % 12.4
            state = np.where(hour < 6.2, "ebb", "flood")
            rate = 2.2 * day * worth[line]
            if kind == "band":
                inside = (depth[line] >= BAND_M[0]) & (depth[line] <= BAND_M[1])
                rate = rate * np.where(inside, 1.8, 0.6) * np.where(state == "flood", 1.6, 0.64)
            tables.append(
                pd.DataFrame(
                    {
                        "drift_id": f"{trip}#{drift}", "trip": f"{trip}", "line": f"L{line}",
                        "rod_hours": 2 / 30, "depth_m": depth[line], "slope_deg": slope[line],
                        "edge_m": edge[line], "state": state, "wind_along_mps": wind,
                        "sog_mps": np.clip(random.normal(0.4, 0.1), 0.05, None)
                        + random.normal(0, 0.02, STEPS),
                        "fish": random.poisson(rate * 2 / 30),
                    }
                )
            )  # fmt: skip
    table = pd.concat(tables, ignore_index=True)
    return table.assign(kept=table["fish"])


def open_season(
    random: np.random.Generator, *, trips: int = 15, pattern: bool = True
) -> pd.DataFrame:
    """Drifts that begin anywhere: no lines, two-minute samples of four hours a trip."""
    tables = []
    for trip in range(trips):
        phase = random.uniform(0, 12.4)
        day = np.exp(random.normal(-0.02, 0.2))  # some days are better than others
        wind = random.normal(0, 4)
        for drift in range(12):
            steps = 10
            depth = random.uniform(3, 10) + np.cumsum(random.normal(0, 0.15, steps))
            hour = (phase + drift * 0.45 + np.arange(steps) / 30) % 12.4
            state = np.select(
                [(hour < 0.5) | (hour > 11.9) | (np.abs(hour - 6.2) < 0.5), hour < 6.2],
                ["slack", "ebb"],
                "flood",
            )
            speed = np.clip(random.normal(0.4, 0.1) + random.normal(0, 0.02, steps), 0.05, None)
            tables.append(
                pd.DataFrame(
                    {
                        "drift_id": f"{trip}#{drift}", "trip": f"{trip}", "rod_hours": 2 / 30,
                        "depth_m": depth, "state": state, "sog_mps": speed, "day": day,
                        "slope_deg": random.gamma(2, 1.2, steps), "wind_along_mps": wind,
                        "edge_m": random.normal(0, 60) + np.cumsum(random.normal(0, 8, steps)),
                    }
                )
            )  # fmt: skip
    samples = pd.concat(tables, ignore_index=True)
    rate = 1.6 * samples["day"].to_numpy()
    if pattern:
        in_band = samples["depth_m"].between(*BAND_M).to_numpy()
        rate = rate * np.where(in_band, 1.8, 0.6) * np.where(samples["state"] == "flood", 1.6, 0.64)
    samples["fish"] = random.poisson(rate * samples["rod_hours"])
    samples["kept"] = samples["fish"]
    return samples


def claims(seed: int, world: str) -> dict[str, object]:
    from layers.scoring.response import fit_response

    response = fit_response(season(seed, world))
    if response is None:
        return {"speaks": False, "maps": False, "ratio": np.nan, "band": False, "flood": False}
    effects = [response.effect(factor) for factor in response.factors]
    best = {
        factor: effect.loc[effect["rate"].idxmax(), "value"]
        for factor, effect in zip(response.factors, effects, strict=True)
    }
    depth = best.get("depth_m", np.nan)
    return {
        "speaks": True, "maps": getattr(response, "elsewhere", True),
        "ratio": max(effect["rate"].max() / effect["rate"].min() for effect in effects),
        "band": BAND_M[0] <= depth <= BAND_M[1], "flood": best.get("state") == "flood",
    }  # fmt: skip


def rows(seeds: range) -> Iterator[tuple[str, str, str, str]]:
    for world in WORLDS:
        table = pd.DataFrame([claims(seed, world) for seed in seeds])
        if world.startswith("band"):
            figure = (
                f"band in {table['band'].mean():.0%}, flood in {table['flood'].mean():.0%} of "
                f"{len(table)} seasons; map in {table['maps'].mean():.0%}"
            )
            yield "response", world, figure, "-"
            continue
        figure = f"speaks in {table['speaks'].mean():.0%} of {len(table)} seasons"
        if table["speaks"].any():
            figure += (
                f", contrast x{table['ratio'].median():.1f}; map in {table['maps'].mean():.0%}"
            )
        yield "response", world, figure, "6 %"
