"""Bait, lead, rod and person compared on the same trips, so that good days and lines favour none.

The fish of a trip are shared out to what was in use by hours, and by what the drifts' lines pay.
A log names what caught fish, so that each was seen with one at least: the law of the counts, given
their sum, is multinomial with none at zero.  Trips are the witnesses of the test and of the
interval (a score test with their own variance: White 1982), and the false share over all that are
compared is controlled (Benjamini & Hochberg 1995).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import chain, combinations
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import gammaln, logsumexp, ndtri, stdtr, stdtrit

from layers.scoring.rates import poisson_limits
from layers.tracks.motion import seconds_of
from seabed.array_types import Floats, Mask, Pair
from seabed.schema import Table
from seabed.units import rounded

TACKLE: Final = ("bait", "lead", "angle", "contact", "rod", "person")
"""What is compared, columns of the catches."""

BY_TACKLE: Final = Table.of(
    "by_tackle",
    "layers.scoring.within.tackle.compare_tackle",
    """
    factor [text] bait, lead, angle (of the line), contact (of the lead with the bottom), rod or
        person
    value [text] as the log names it, in lower case; of an angle which 15 degrees it is in
    trips [int] on which it caught fish
    fish [int] that it caught there
    hours fished with it on those trips: a rod or person fishes all drifts; all else stays on
        its rod (or, where the log names none, in the boat) until half-way to the fish that came to
        another
    rate, rate_low, rate_high fish an hour, and exact Poisson limits (80 %); flattered, since trips
        on which it caught nothing do not name it
    trips_beside [int] on which others caught fish too, so that it can be compared
    times [empty] as many fish as the others on those trips, for the same hours on the same lines
    times_low, times_high [empty] limits of that (80 %)
    p [empty] chance of such a difference by luck
    differs [bool] luck does not explain it, with the false share over all rows held
    """,
)

ANGLE_STEP: Final = 15
LEAST_TRIPS: Final = 6
LEAST_FISH: Final = 20
# Common practice, no source, both.
FALSE_SHARE: Final = 0.05
LEVEL: Final = 0.8
MOST_OTHERS: Final = 7
"""Others on a trip, one by one; more are put together."""
POWER: Final = ndtri(1 - FALSE_SHARE / 2) + ndtri(0.8)
"""Standard errors off zero that are seen four times in five."""
MORE: Final = 1.5
FARTHEST: Final = 4.0  # log of the greatest ratio that is sought


def compare_tackle(
    drifts: gpd.GeoDataFrame, catches: gpd.GeoDataFrame, lines: gpd.GeoDataFrame
) -> pd.DataFrame:
    """Compare baits, leads, rods and persons by the fish they caught on the same trips.

    Fish of no drift, and fish whose row does not say, count for nothing. Without rows where the log
    names no two of a kind.
    """
    line_rate = drifts["line"].map(lines.set_index("line")["rate_all"])
    fished = pd.DataFrame(
        {
            "trip": drifts["trip"], "start": seconds_of(drifts["start"]),
            "end": seconds_of(drifts["end"]), "worth": line_rate.to_numpy(float),
        }
    )  # fmt: skip
    trip = catches["drift_id"].map(drifts.set_index("drift_id")["trip"])
    tied = catches.assign(trip=trip)[trip.notna() & catches["time"].notna()]
    by_trip = {
        name: (own[["start", "end"]].to_numpy(float), own["worth"].to_numpy(float))
        for name, own in fished.groupby("trip")
    }
    tied = tied.sort_values(["trip", "time"], kind="stable")
    rows = [row for factor in TACKLE if factor in tied for row in _rows(factor, tied, by_trip)]
    if not rows:
        return BY_TACKLE.empty()
    table = pd.DataFrame(rows)
    return BY_TACKLE.frame(table.assign(differs=_beyond_luck(table["p"].to_numpy(float))))


def tackle_sentences(table: pd.DataFrame) -> list[str]:
    """Say what pays more or less than luck explains, or that nothing does; none without rows."""
    sentences = [
        f"{row.factor.capitalize()} {row.value}: {rounded(row.times, 1)} times as many fish as "
        f"others on the same trips ({rounded(row.times_low, 1)} to {rounded(row.times_high, 1)}; "
        f"{row.fish} fish, {row.trips_beside} trips)."
        for row in table[table["differs"]].itertuples()
    ]
    compared = table[table["p"].notna() & ~table["differs"]]
    few = table[table["p"].isna()]
    kinds = list(dict.fromkeys(compared["factor"]))
    for kind in kinds:
        luck = "luck explains the differences" if not sentences else "luck explains the others"
        power = _power(compared[compared["factor"] == kind])
        sentences.append(f"{kind.capitalize()}: {luck}{power}.")
    kinds = [kind for kind in dict.fromkeys(few["factor"]) if kind not in kinds]
    if kinds:
        sentences.append(f"{_listed(kinds)}: too few fish on trips with two or more to compare.")
    return sentences


def _power(rows: pd.DataFrame) -> str:
    """Say which difference such trips show four times in five, and how many would show more."""
    error = np.log(rows["times_high"] / rows["times_low"]) / 2 / ndtri(0.5 + LEVEL / 2)
    if not error.notna().any():
        return ""
    best = error.idxmin()
    trips, reach = int(rows.loc[best, "trips_beside"]), POWER * float(error[best])
    shows = f"; {trips} trips show {np.exp(reach):.1f} times as many fish"
    wanted = trips * (reach / np.log(MORE)) ** 2
    return shows + (f", some {wanted:.0f} would show {MORE:g} times" if wanted > trips else "")


def _listed(kinds: list[str]) -> str:
    return ", ".join(kinds).capitalize()


def _beyond_luck(p: Floats) -> Mask:
    """Say which hold with the false share controlled; NaN does not count."""
    known = np.sort(p[np.isfinite(p)])
    allowed = FALSE_SHARE * np.arange(1, len(known) + 1) / max(len(known), 1)
    passed = known[known <= allowed]
    return np.asarray(p <= (passed[-1] if len(passed) else -1.0))


@dataclass(frozen=True, slots=True)
class _Use:
    """One value's fish, hours and fish due on a trip."""

    fish: int
    hours: float
    due: float


Drifts = Pair
"""Start and end of a trip's drifts, seconds, shape (n, 2), and what their lines pay."""


def _rows(
    factor: str, tied: gpd.GeoDataFrame, by_trip: Mapping[Any, Drifts]
) -> list[dict[str, Any]]:
    words = _words(tied, factor)
    named = tied[words != ""]
    value, trip = words[words != ""], named["trip"].to_numpy()
    if len(np.unique(value)) < 2:
        return []
    moment, hand = seconds_of(named["time"]), _hand(named)
    starts = np.flatnonzero(trip[1:] != trip[:-1]) + 1
    trips = [
        _all_trip(value[rows], by_trip[trip[rows[0]]])
        if factor in {"rod", "person"}
        else _in_turns(value[rows], moment[rows], hand[rows], by_trip[trip[rows[0]]])
        for rows in np.split(np.arange(len(value)), starts)
    ]
    return [_row(factor, name, trips) for name in np.unique(value).tolist()]


def _words(tied: gpd.GeoDataFrame, name: str) -> NDArray[Any]:
    words = tied[name].fillna("").astype(str).str.strip().str.lower()
    if name == "angle":
        words = words.map(_angle_words)
    return np.asarray(words.to_numpy(), dtype=str)


def _angle_words(word: str) -> str:
    """Put an angle, as ``25°`` or ``25 deg``, among steps of 15 degrees; ``""`` for no angle."""
    match = re.match(r"(\d{1,2})(?:[.,]\d+)?\s*(?:°|deg|degrees)?$", word)
    if match is None:
        return ""
    step = int(match[1]) // ANGLE_STEP * ANGLE_STEP
    return f"{step} to {step + ANGLE_STEP} degrees"


def _hand(named: gpd.GeoDataFrame) -> NDArray[Any]:
    """Name the rod or the person of each fish where the log does of all; else all are one."""
    for name in ("rod", "person"):
        if name in named and ((words := _words(named, name)) != "").all():
            return words
    return np.zeros(len(named), str)


def _all_trip(value: NDArray[Any], drifts: Drifts) -> dict[str, _Use]:
    """Count what fished all drifts of a trip."""
    spans, worth = drifts
    hours = (spans[:, 1] - spans[:, 0]) / 3600.0
    names, counts = np.unique(value, return_counts=True)
    fished, due = float(hours.sum()), float(hours @ worth)
    return {str(name): _Use(int(n), fished, due) for name, n in zip(names, counts, strict=True)}


def _in_turns(
    value: NDArray[Any], moment: Floats, hand: NDArray[Any], drifts: Drifts
) -> dict[str, _Use]:
    """Count what each hand of a trip fished with in turn, fish in order of time."""
    spans, worth = drifts
    names, own, counts = np.unique(value, return_inverse=True, return_counts=True)
    sums = np.zeros((2, len(names)))
    for one in np.unique(hand):
        rows = np.flatnonzero(hand == one)
        change = np.flatnonzero(own[rows][1:] != own[rows][:-1])
        middle = (moment[rows[change]] + moment[rows[change + 1]]) / 2
        first, last = np.append(-np.inf, middle), np.append(middle, np.inf)
        inside = np.minimum(spans[:, 1], last[:, None]) - np.maximum(spans[:, 0], first[:, None])
        hours = np.maximum(inside, 0.0) / 3600.0
        used = own[rows[np.append(change, -1)]]
        sums += [np.bincount(used, one, len(names)) for one in (hours.sum(axis=1), hours @ worth)]
    return {str(name): _Use(int(counts[i]), *sums[:, i].tolist()) for i, name in enumerate(names)}


def _row(factor: str, value: str, trips: list[dict[str, _Use]]) -> dict[str, Any]:
    own = [uses[value] for uses in trips if value in uses]
    fish, hours = sum(use.fish for use in own), sum(use.hours for use in own)
    low, high = poisson_limits(fish, level=LEVEL)
    beside = [_split(uses, value) for uses in trips if value in uses and len(uses) > 1]
    open_ = [split for split in beside if len(split[1]) > 1]  # it could have been otherwise
    enough = len(open_) >= LEAST_TRIPS and sum(total for *_, total in open_) >= LEAST_FISH
    times = _times(open_) if enough else dict.fromkeys(_COMPARED, float("nan"))
    return {
        "factor": factor, "value": value, "trips": len(own), "fish": fish, "hours": hours,
        "rate": fish / hours, "rate_low": float(low) / hours, "rate_high": float(high) / hours,
        "trips_beside": len(beside), **times,
    }  # fmt: skip


def _split(uses: Mapping[str, _Use], value: str) -> tuple[int, Floats, int]:
    """Fish of a value on a trip, log chances of 1, 2, ... if nothing pays more, and fish of all."""
    own = uses[value]
    others = sorted((use for name, use in uses.items() if name != value), key=lambda u: -u.due)
    due = [use.due for use in others[:MOST_OTHERS]]
    due[-1] += sum(use.due for use in others[MOST_OTHERS:])
    total = own.fish + sum(use.fish for use in others)
    counts = np.arange(1, total - len(due) + 1, dtype=float)
    scale = max(own.due + sum(due), 1e-12)
    log_chance = (
        counts * np.log(max(own.due / scale, 1e-9)) - gammaln(counts + 1)
        - gammaln(total - counts + 1)
        + _covered(total - counts, np.maximum(np.array(due) / scale, 1e-9))
    )  # fmt: skip
    return own.fish, log_chance, total


def _covered(count: Floats, due: Floats) -> Floats:
    """Log of the ways to assign fish by `due` with none left out: inclusion and exclusion."""
    total = np.zeros(len(count))
    for some in chain.from_iterable(combinations(due, size) for size in range(1, len(due) + 1)):
        total += (-1.0) ** (len(due) - len(some)) * (sum(some) / due.sum()) ** count
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.maximum(total, 1e-300)) + count * np.log(due.sum()))


_COMPARED: Final = ("times", "times_low", "times_high", "p")


def _times(splits: list[tuple[int, Floats, int]]) -> dict[str, float]:
    """How many times as many fish as the others, its limits, and the chance of that by luck."""
    own = np.array([fish for fish, _, _ in splits], float)
    counts = np.arange(1, max(len(law) for _, law, _ in splits) + 1, dtype=float)
    laws = np.full((len(splits), len(counts)), -np.inf)
    for row, (_, law, _) in zip(laws, splits, strict=True):
        row[: len(law)] = law

    def chances(log_times: float) -> Floats:
        chance = laws + log_times * counts
        return np.asarray(np.exp(chance - logsumexp(chance, axis=1, keepdims=True)))

    def left(log_times: float) -> Floats:
        return own - chances(log_times) @ counts

    free = len(splits) - 1
    even = left(0.0)
    spread = float(np.sqrt((even**2).sum()))
    p = float(2 * stdtr(free, -abs(even.sum()) / spread)) if spread > 0 else 1.0
    if left(-FARTHEST).sum() * left(FARTHEST).sum() >= 0:  # all the fish, or none
        return dict.fromkeys(_COMPARED, float("nan")) | {"p": p}
    best = float(brentq(lambda at: left(at).sum(), -FARTHEST, FARTHEST, xtol=1e-6))
    law = chances(best)
    known = float((law @ counts**2 - (law @ counts) ** 2).sum())
    error = np.sqrt((left(best) ** 2).sum() * len(splits) / free) / known
    reach = float(stdtrit(free, 0.5 + LEVEL / 2) * error)
    times, low, high = np.exp([best, best - reach, best + reach])
    return {"times": float(times), "times_low": float(low), "times_high": float(high), "p": p}
