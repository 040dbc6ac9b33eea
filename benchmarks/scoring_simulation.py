"""A thousand simulated seasons: is the score honest?

One world alone, whose laws are those of the method; `benchmarks.worlds` has the others.
``python -m benchmarks.scoring_simulation [seasons [workers]]`` prints its table.
Every season is made of drawn truths; the scores see only effort and fish.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pandas as pd

from layers.scoring import dispersion, fit_prior, fit_response, kept_rates, rates_of, scan_stretch

CHUNK = 25
BAND_M = (5.2, 7.6)
"""The true depth band of seasons with a pattern."""


def lines_of_a_season(random, *, bunched=1.0):
    """True kept rates of 4 to 15 lines, and drifts on them: line, hours, fish, kept."""
    count = random.integers(4, 16)
    mean, spread = random.uniform(0.5, 4.0), random.uniform(0.4, 1.0)
    if random.random() < 0.5:
        rate = random.gamma(spread**-2, spread**2 * mean, count)
    else:
        sigma = np.sqrt(np.log1p(spread**2))
        rate = mean * np.exp(random.normal(-(sigma**2) / 2, sigma, count))
    share = random.beta(5.0, 3.0, count)
    line = np.repeat(np.arange(count), random.geometric(0.2, count))
    hours = random.uniform(0.2, 0.8, len(line))
    due = rate[line] * hours
    if bunched > 1:
        due = random.gamma(due / (bunched - 1), bunched - 1)
    fish = random.poisson(due)
    return rate, share, line, hours, fish, random.binomial(fish, share[line])


def score_lines(random, found, *, bunched=1.0):
    rate, share, line, hours, fish, kept = lines_of_a_season(random, bunched=bunched)
    count = len(rate)
    spread = dispersion(fish, hours, line)
    weight = 1.0 / spread.ratio
    effort, caught, of_size = (np.bincount(line, x, count) for x in (hours, fish, kept))
    every = rates_of(caught * weight, effort * weight, fit_prior(caught * weight, effort * weight))
    told = kept_rates(every, of_size, caught - of_size, draws=2000, seed=int(random.integers(1e9)))
    true = rate * share
    found["cover all"] += ((every.low <= rate) & (rate <= every.high)).tolist()
    found["cover kept"] += ((told.low <= true) & (true <= told.high)).tolist()
    found["bunched"].append(spread.bunched)
    for name, value in {
        "ours": told.cautious, "posterior mean": told.mean, "fish counted": of_size,
        "plain rate": of_size / effort, "all fish counted": caught,
    }.items():  # fmt: skip
        found[f"lost by {name}"].append(true.max() - true[int(np.argmax(value))])
    found["chance said"].append(told.chance_best.max())
    found["chance right"].append(int(np.argmax(told.chance_best)) == int(np.argmax(true)))


def score_stretches(random, found, *, times=1.0):
    """A line of 20 to 50 bins, drifts of unequal length; `times` the rate on a fifth of it."""
    bins = random.integers(20, 51)
    hours = np.zeros(bins)
    for _ in range(random.integers(3, 16)):
        begin, end = random.integers(0, bins // 4), bins - random.integers(0, bins // 2)
        hours[begin:end] += 0.4 / bins
    rate = np.full(bins, random.uniform(1.0, 5.0))
    width = bins // 5
    begin = int(random.integers(0, bins - width))
    rate[begin : begin + width] *= times
    fish = random.poisson(rate * hours)
    hot = scan_stretch(hours, fish, seed=int(random.integers(1e9)))
    said = hot is not None and hot.p < 0.05
    found["hot said"].append(said)
    if said and times > 1:
        shared = min(hot.last + 1, begin + width) - max(hot.first, begin)
        found["hot right"].append(shared > 0)


def season_of_samples(random, *, trips=15, pattern=True):
    """Two-minute samples of four hours' drifting a trip with two rods, with covariates and fish."""
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


def score_response(random, found):
    told = fit_response(season_of_samples(random))
    band = stage = False
    if told is not None and "depth_m" in told.factors:
        effect = told.effect("depth_m")
        band = BAND_M[0] <= effect.loc[effect["rate"].idxmax(), "value"] <= BAND_M[1]
    if told is not None and "state" in told.factors:
        effect = told.effect("state")
        stage = effect.loc[effect["rate"].idxmax(), "value"] == "flood"
    found["band found"].append(band)
    found["stage found"].append(stage)
    found["both found"].append(band and stage)
    found["silent"].append(fit_response(season_of_samples(random, pattern=False)) is None)


def simulate(seasons, *, seed=2031, response_seasons=None):
    """Score so many seasons; give what was found, by part."""
    parts = defaultdict(lambda: defaultdict(list))
    random = np.random.default_rng(seed)
    for _ in range(seasons):
        score_lines(random, parts["Poisson"])
        score_lines(random, parts["bunched"], bunched=2.5)
        score_stretches(random, parts["even"])
        score_stretches(random, parts["hot"], times=5.0)
    for _ in range(seasons if response_seasons is None else response_seasons):
        score_response(random, parts["response"])
    return parts


def rows_of(parts):
    poisson, bunched, response = parts["Poisson"], parts["bunched"], parts["response"]
    lost = {name: np.mean(values) for name, values in poisson.items() if name.startswith("lost")}
    ours, counted, plain = (lost[f"lost by {x}"] for x in ("ours", "fish counted", "plain rate"))
    held = "80 % intervals that hold the truth"
    bunches = "the same, where fish come in bunches"
    rows = [
        (f"{held}, all fish", share(poisson["cover all"]), "76-84 %"),
        (f"{held}, kept fish", share(poisson["cover kept"]), "76-84 %"),
        (f"{bunches}, all fish", share(bunched["cover all"]), "-"),
        (f"{bunches}, kept fish", share(bunched["cover kept"]), "-"),
        ("bunches seen where there are", share(bunched["bunched"]), "-"),
        ("bunches seen where there are none", share(poisson["bunched"]), "5 %"),
        *((f"kept fish a rod-hour {name}", f"{value:.3f}", "-") for name, value in lost.items()),
        ("ours loses less than fish counted by", f"{1 - ours / counted:.0%}", "30 %"),
        ("ours loses less than plain rate by", f"{1 - ours / plain:.0%}", "0 %"),
        ("chance of being best, as said", share(poisson["chance said"]), "-"),
        ("how often that line was the best", share(poisson["chance right"]), "as said"),
        ("hot stretches said of even lines", share(parts["even"]["hot said"]), "at most 6 %"),
        ("hot stretches of five times the rate seen", share(parts["hot"]["hot said"]), "-"),
        ("of those, in the right place", share(parts["hot"]["hot right"]), "-"),
    ]
    if response:
        rows += [
            ("response: true depth band found", share(response["band found"]), "90 %"),
            ("response: true stage found", share(response["stage found"]), "90 %"),
            ("response: both found", share(response["both found"]), "90 %"),
            ("response: silent without a pattern", share(response["silent"]), "90 %"),
        ]
    return rows


def share(values):
    return f"{np.mean(values):.1%}"


def in_parts(seasons, workers):
    """Simulate in chunks, each with its own seed, so that any number of workers agree."""
    chunks = [min(CHUNK, seasons - begin) for begin in range(0, seasons, CHUNK)]
    whole = defaultdict(lambda: defaultdict(list))
    with ProcessPoolExecutor(workers) as pool:
        for parts in pool.map(_chunk, chunks, range(2031, 2031 + len(chunks))):
            for part, found in parts.items():
                for name, values in found.items():
                    whole[part][name] += values
    return whole


def _chunk(seasons, seed):
    return {part: dict(found) for part, found in simulate(seasons, seed=seed).items()}


def main(seasons, workers=2):
    begun = time.perf_counter()
    rows = rows_of(in_parts(seasons, workers))
    print("| what | found | asked |\n|---|---|---|")
    for what, found, asked in rows:
        print(f"| {what} | {found} | {asked} |")
    print(f"\n{seasons} seasons in {time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:] or ["1000"]))
