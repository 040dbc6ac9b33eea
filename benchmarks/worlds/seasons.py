"""Which line pays best?  Seasons whose truth is known, ranked by ours and by simple rules.

Regret is the true kept rate of the best line less that of the line put first, as a share of the
best; a season's line rates are those of average days and of fresh ground.  Intervals are held to
what they claim: a first pass where the fall from pass to pass is seen, else the passes that
were fished.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

WORLDS = (
    "gamma", "log_normal", "bunched", "days", "returning", "depletion", "pulses", "few_lines",
    "kept_by_line",
)  # fmt: skip


@dataclass(frozen=True)
class Season:
    """Drifts of a season: line, day, rod-hours, fish and kept fish; and the lines' true worth:
    rate, kept share, and what their passes as fished pay of a first one."""

    line: np.ndarray
    day: np.ndarray
    hours: np.ndarray
    fish: np.ndarray
    kept: np.ndarray
    rate: np.ndarray
    share: np.ndarray
    fresh: np.ndarray


def season(seed: int, world: str) -> Season:
    random = np.random.default_rng([seed, WORLDS.index(world)])
    count = int(random.integers(3, 6) if world == "few_lines" else random.integers(5, 16))
    mean, spread = random.uniform(0.5, 4.0), random.uniform(0.4, 0.9)
    sigma = np.sqrt(np.log1p(spread**2))
    rate = (
        random.gamma(spread**-2, spread**2 * mean, count)
        if world == "gamma"
        else mean * np.exp(random.normal(-(sigma**2) / 2, sigma, count))
    )
    alike = 3.0 if world == "kept_by_line" else 40.0
    share = random.beta(alike * 0.6, alike * 0.4, count)
    days = int(random.integers(5, 16))
    worth = random.gamma(3.0, 1 / 3.0, days) if world in {"days", "returning"} else np.ones(days)
    liked = random.dirichlet(np.full(count, 1.0))
    rows, paid, fished = [], np.full(count, 0.5), np.full(count, 0.5)
    left = np.zeros(count)
    for day in range(days):
        for _ in range(int(random.integers(2, 4))):  # visits: some passes over one line
            if world == "returning":
                liked = (paid / fished) ** 1.5
                liked = liked / liked.sum()
            line = int(random.choice(count, p=liked))
            for number in range(int(random.integers(1, 6 if world == "depletion" else 4))):
                hours = random.uniform(0.2, 0.8)
                due = rate[line] * worth[day] * hours
                fresh = 0.75**number if world == "depletion" else 1.0
                due *= fresh
                if world == "pulses":
                    due *= random.choice([0.3, 3.1], p=[0.75, 0.25])
                if world == "bunched":
                    due = random.gamma(due / 1.5, 1.5)
                fish = int(random.poisson(due))
                rows.append((line, day, hours, fish, random.binomial(fish, share[line])))
                paid[line] += fish
                fished[line] += hours
                left[line] += hours * fresh
    line, day, hours, fish, kept = (np.array(column) for column in zip(*rows, strict=True))
    seen, line = np.unique(line, return_inverse=True)
    _, day = np.unique(day, return_inverse=True)
    return Season(
        line, day, hours, fish, kept, rate[seen], share[seen], left[seen] / (fished[seen] - 0.5)
    )


def with_days(one: Season) -> np.ndarray:
    """The simple rule that we ask of ours: empirical Bayes with days, one common kept share."""
    from layers.scoring.day_rates import _in_turn

    fish = np.zeros((len(one.rate), one.day.max() + 1))
    effort = np.zeros_like(fish)
    np.add.at(fish, (one.line, one.day), one.fish)
    np.add.at(effort, (one.line, one.day), one.hours)
    return _in_turn(fish, effort)[2]


def judged(seed: int, world: str) -> dict[str, float]:
    from layers.scoring.ranking import line_rates, ranked_on

    one = season(seed, world)
    n = len(one.rate)
    fish, hours, kept = (np.bincount(one.line, x, n) for x in (one.fish, one.hours, one.kept))
    if n < 2 or not fish.sum():
        return {}
    true = one.rate * one.share
    passes = pd.DataFrame({"count": one.fish, "hours": one.hours, "line": one.line})
    passes = passes.assign(trip=one.day, start=np.arange(len(passes)))
    _, told, depletion = line_rates(passes, kept, fish - kept, seed=seed)
    value = ranked_on(told, hours)
    said = true if depletion is not None else true * one.fresh
    first = int(np.argmax(value))
    out = {
        "held": float(((told.low <= said) & (said <= told.high)).mean()),
        "fresh": float(((told.low <= true) & (true <= told.high)).mean()),
        "beaten": float(said[first] >= told.cautious[first]),
        "chance": float(told.chance_best.max()),
        "best": float(np.argmax(told.chance_best) == np.argmax(true)),
        "depleted": float(depletion is not None),
    }
    rules = {
        "ours": value, "mean": told.mean, "cautious": told.cautious, "counted": kept,
        "plain": kept / hours, "Bayes with days": with_days(one),
    }  # fmt: skip
    for name, value in rules.items():
        out[name] = float(1 - true[int(np.argmax(value))] / true.max())
    return out


def rows(seeds: range) -> Iterator[tuple[str, str, str, str]]:
    whole = []
    for world in (*WORLDS, "pooled"):
        if world == "pooled":
            table = pd.concat(whole)
        else:
            table = pd.DataFrame([one for seed in seeds if (one := judged(seed, world))])
            whole.append(table)
        said = table.mean()
        regret = ", ".join(
            f"{name} {said[name]:.1%}"
            for name in ("ours", "mean", "cautious", "Bayes with days", "plain", "counted")
        )
        figure = (
            f"regret: {regret}; 80 % intervals hold {said['held']:.0%}; first beats its rate "
            f"{said['beaten']:.0%}; best with {said['chance']:.2f}, is {said['best']:.2f} "
            f"({len(table)})"
        )
        yield "ranking", world, figure, "-"
