"""Lines ranked by what they pay."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.catches.reading import CATCHES
from layers.catches.tying import TIES, by_weight
from layers.scoring.clusters import medoids
from layers.scoring.day_rates import DayRates, rates_with_days
from layers.scoring.lines import ON_LINES
from layers.scoring.rates import CAUTION, KeptRates, kept_rates
from layers.scoring.within.depletion import PASS_COLUMNS, Depletion, fit_depletion
from seabed.array_types import Floats
from seabed.schema import Table, documented

LINES: Final = Table.of(
    "lines",
    "layers.scoring.rank_lines",
    """
    line [text "Line"] its name
    rank [int "Rank"] from 1: by the rate, or by the cautious one where a line was fished for less
        than `layers.scoring.ranking.LEAST_HOURS`, so that one lucky fish does not win
    drifts [int "Drifts"] how many
    trips [int "Trips"] on how many
    rod_hours ["Effort" .1] of all its drifts
    kept [int "Kept"] fish kept, each on its likeliest drift, as all that are counted
    short [int "Short"] fish known to have gone back
    fish [int] all, of known fate or not
    rate ["Kept a rod-hour" .1] kept fish a rod-hour; see `kept_rates`
    rate_low ["80% between" .1] lower end of its interval
    rate_high ["and" .1] upper end of its interval
    rate_all, rate_all_low, rate_all_high [.1] the same of all fish
    chance_best ["Chance it is the best" share] of all lines
    cautious the rate that the line beats with four chances in five
        (`layers.scoring.rates.CAUTION`)
    course_deg ["Runs toward" empty] of its middlemost drift
    length_m ["Length" distance .2] of its middlemost drift
    depth_mean_m ["Mean depth then" empty] of all its hours over known depth
    why [text "Why"] a sentence
    geometry [LineString] its middlemost drift
    """,
)

LEAST_HOURS: Final = 0.25
"""Rod-hours below which a line is ranked on its cautious rate.  The rate itself ranks best on
average (docs/scores.md), and this costs hardly anything; but two fish in ten minutes say little
of a line, whose rate is then mostly that of the other lines."""

_OF_DRIFTS: Final = (
    "drift_id", "trip", "start", "rod_hours", "duration_s", "distance_m", "course_deg",
    "depth_mean_m", "geometry",
)  # fmt: skip


@documented(LINES)
def rank_lines(
    drifts: gpd.GeoDataFrame,
    catches: gpd.GeoDataFrame,
    *,
    species: str | None = None,
    level: float = 0.8,
    seed: int = 0,
    middles: Mapping[Any, int] | None = None,
) -> gpd.GeoDataFrame:
    """Rank lines by kept fish a rod-hour, drawn toward the average of all as far as hours are few.

    Parameters
    ----------
    drifts : from `gather_lines`
    catches : from `layers.catches.tie`
    species : str, optional
        Count only this one, as written in the log (case does not matter); the effort is the same.
    level : float
        Of the intervals.
    seed : int
        For the chance of being best.
    middles : mapping of line to row, optional
        `medoids` of the same drifts, where they are known: they are the same for every species.

    Returns
    -------
    GeoDataFrame, EPSG:4326, best first
        No drifts give no rows.

        {lines}

        ``attrs["dispersion"]`` holds how bunched the fish came (``ratio``, variance over mean, good
        and bad days taken out): where they came more bunched than chance has them, counts and hours
        weigh as much less, and intervals are wider.  ``attrs["depletion"]`` is a `Depletion` where
        the passes of a visit pay less and less, None elsewhere: rates are then those of a first
        pass.  A fish that may be of two drifts counts on both, as likely as that is.

    Examples
    --------
    >>> from layers import clean, cut, drifts, example_trip, gather, tie
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> own = gather(drifts(cut(fixes), fixes))
    >>> lines = rank_lines(own, tie(catches, own, fixes))
    >>> lines[["line", "kept", "short"]].values.tolist()
    [['N1', 3, 1], ['N2', 0, 1]]
    """
    ON_LINES.check(drifts, "line")
    check_season(drifts, catches, *([] if species is None else ["species"]))
    if not len(drifts):
        return LINES.empty()
    counted = catches
    if species is not None:
        counted = catches[catches["species"].str.lower() == species.lower()]
    ties = by_weight(counted)
    table = _effort(drifts).join(_fish(drifts, counted.assign(weight=1.0)).astype(int))
    weighed = _fish(drifts, ties).reindex(table.index, fill_value=0.0)
    table = table.fillna({"kept": 0, "short": 0, "fish": 0})
    table = table.astype({"kept": int, "short": int, "fish": int})
    passes = pd.DataFrame(
        {
            "count": drifts["drift_id"].map(ties.groupby("drift_id")["weight"].sum()).fillna(0.0),
            "hours": drifts["rod_hours"], "line": table.index.get_indexer(drifts["line"]),
            "trip": pd.factorize(drifts["trip"])[0], "start": drifts["start"],
        }
    )  # fmt: skip
    every, kept, depletion = line_rates(
        passes, weighed["kept"], weighed["short"], level=level, seed=seed
    )
    why = _reasons(table, kept, every, level, fresh=depletion is not None)
    table = table.assign(
        rate=kept.mean, rate_low=kept.low, rate_high=kept.high, rate_all=every.mean,
        rate_all_low=every.low, rate_all_high=every.high, cautious=kept.cautious,
        chance_best=kept.chance_best, why=why,
    )  # fmt: skip
    table = _shape(table, drifts, medoids(drifts) if middles is None else middles)
    table = table.assign(value=ranked_on(kept, table["rod_hours"].to_numpy(float)))
    table = table.sort_values(["value", "rod_hours"], ascending=False, kind="stable")
    table = table.reset_index(names="line").assign(rank=np.arange(1, len(table) + 1))
    ranked = LINES.frame(table, crs=drifts.crs)
    ranked.attrs |= {"dispersion": {"ratio": every.ratio}, "depletion": depletion}
    return ranked


def check_season(drifts: gpd.GeoDataFrame, catches: gpd.GeoDataFrame, *names: str) -> None:
    """Refuse drifts and fish that lack what a ranking needs, and more columns of fish by name."""
    ON_LINES.check(drifts, *_OF_DRIFTS)
    TIES.check(catches, "drift_id")
    CATCHES.check(catches, "kept", *names)


def line_rates(
    passes: pd.DataFrame, kept: Any, short: Any, *, level: float = 0.8, seed: int = 0
) -> tuple[DayRates, KeptRates, Depletion | None]:
    """Rates of all fish and of kept fish of each line: `rates_with_days`, then `kept_rates`.

    passes: a row a drift; ``count`` of fish by weight, ``hours``, ``line`` and ``trip`` (numbers
        from 0), ``start``.
    Returned: also the depletion where it is sure; the hours of later passes then count for as much
        less.
    """
    depletion = fit_depletion(*(passes[name] for name in PASS_COLUMNS))
    hours = passes["hours"].to_numpy(float)
    if depletion is not None and depletion.is_sure:
        hours = hours * depletion.worth(passes)
    else:
        depletion = None
    every = rates_with_days(
        passes["count"], hours, passes["line"], passes["trip"], level=level, seed=seed
    )
    return every, kept_rates(every, kept, short, level=level, seed=seed), depletion


def ranked_on(rates: KeptRates, hours: Floats) -> Floats:
    """Give what lines are ranked on."""
    return np.where(hours >= LEAST_HOURS, rates.mean, rates.cautious)


def _effort(drifts: gpd.GeoDataFrame) -> pd.DataFrame:
    """Effort of each line, in order of their first drift."""
    sounded_s = drifts["duration_s"].where(drifts["depth_mean_m"].notna())
    weighted = drifts.assign(deep=drifts["depth_mean_m"] * drifts["duration_s"], sounded=sounded_s)
    by_line = weighted.groupby("line", sort=False)
    return pd.DataFrame(
        {
            "drifts": by_line.size(),
            "trips": by_line["trip"].nunique(),
            "rod_hours": by_line["rod_hours"].sum(),
            "depth_mean_m": by_line["deep"].sum(min_count=1) / by_line["sounded"].sum(),
        }
    )


def _fish(drifts: gpd.GeoDataFrame, ties: pd.DataFrame) -> pd.DataFrame:
    """Fish of each line that has any, by weight."""
    line = ties["drift_id"].map(drifts.set_index("drift_id")["line"])
    fate = ties["kept"].astype("boolean")
    counts = {
        "kept": fate.fillna(False).astype(float), "short": (~fate).fillna(False).astype(float),
        "fish": 1.0,
    }  # fmt: skip
    weighed = pd.DataFrame(counts, index=ties.index).mul(ties["weight"], axis=0)
    return weighed.groupby(line.to_numpy()).sum()


def _shape(
    table: pd.DataFrame, drifts: gpd.GeoDataFrame, middles: Mapping[Any, int]
) -> pd.DataFrame:
    """Add each line's middlemost drift."""
    rows = drifts.iloc[[middles[str(name)] for name in table.index]]
    return table.assign(
        course_deg=rows["course_deg"].to_numpy(),
        length_m=rows["distance_m"].to_numpy(),
        geometry=rows.geometry.to_numpy(),
    )


def _reasons(
    table: pd.DataFrame, rates: KeptRates, every: DayRates, level: float, *, fresh: bool
) -> NDArray[np.object_]:
    out = []
    for i, row in enumerate(table.itertuples()):
        fish = f"{row.kept} kept and {row.short} short in {row.rod_hours:.1f} rod-hours"
        over = f"over {row.drifts} drift{'s' if row.drifts != 1 else ''}"
        rate = (
            f"{rates.mean[i]:.1f} kept a rod-hour {'of a first pass ' * fresh}"
            f"({level:.0%} between {rates.low[i]:.1f} and {rates.high[i]:.1f}), "
            f"better than {rates.cautious[i]:.1f} with {1 - CAUTION:.0%} chance"
        )
        out.append(f"{fish} {over}: {rate}{_drawn(row.fish, row.rod_hours, every)}.")
    return np.array(out, dtype=object)


def _drawn(fish: int, hours: float, every: DayRates) -> str:
    """Say that few hours pull a rate toward the average, and that bunched fish count for less."""
    words = ""
    if 0 < hours < every.prior.hours * every.ratio:
        words = f"; {fish / hours:.1f} fish a rod-hour on so few hours counts for little"
    if every.ratio > 1.0:
        words += f"; fish came bunched, so that one counts as {1 / every.ratio:.1f}"
    return words
