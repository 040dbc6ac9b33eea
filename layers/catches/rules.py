"""Local rules: what the log says held against minimum lengths and bags."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Protocol

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.catches.reading import CATCHES
from seabed.schema import Table, documented

FLAGS: Final = Table.of(
    "flags",
    "layers.catches.check_rules",
    """
    flag [text empty] "kept, but under the minimum length" or "over the daily bag"
    """,
)


class Rule(Protocol):
    """What the area file says of a species."""

    @property
    def min_length_m(self) -> float | None:
        """Shorter ones go back, metres."""

    @property
    def daily_bag(self) -> int | None:
        """The most one person may keep a day."""


@documented(FLAGS)
def check_rules(
    catches: gpd.GeoDataFrame,
    species: Mapping[str, Rule],
    *,
    timezone: str = "UTC",
    people: int = 1,
) -> gpd.GeoDataFrame:
    """Fill in what was kept from the minimum length, and flag what does not fit the rules.

    Parameters
    ----------
    catches : from `read_catches`
    species : mapping of species to rule
    timezone : str
        Whose days the bag counts.
    people : int
        Aboard, for the bag.

    Returns
    -------
    GeoDataFrame
        As `catches`, with ``kept`` filled where it was empty but length and rule decide, and a
        column more.

        {flags}

    Examples
    --------
    >>> from layers import example_trip
    >>> from layers.area import SpeciesRule
    >>> rules = {"flatfish": SpeciesRule(min_length_m=0.41)}
    >>> check_rules(example_trip()[1], rules)["flag"].unique().tolist()
    ['kept, but under the minimum length', '']
    """
    CATCHES.check(catches, "time", "species", "length_m", "kept")
    out = catches.copy()
    least = (
        out["species"]
        .map({name.lower(): rule.min_length_m for name, rule in species.items()})
        .astype(float)
    )
    judged = out["kept"].isna() & out["length_m"].notna() & least.notna()
    out["kept"] = out["kept"].where(~judged, out["length_m"] >= least - 1e-9)
    kept = out["kept"].fillna(False).astype(bool).to_numpy()
    short = kept & (out["length_m"] < least - 1e-9).to_numpy()
    bag = out["species"].map({name.lower(): rule.daily_bag for name, rule in species.items()})
    day = out["time"].dt.tz_convert(timezone).dt.date
    days = [day.to_numpy(), out["species"].to_numpy()]
    number = pd.Series(kept).groupby(days, dropna=False).cumsum()
    over = kept & (number.to_numpy() > bag.astype(float).to_numpy() * people)
    out["flag"] = np.select(
        [short, over], ["kept, but under the minimum length", "over the daily bag"], ""
    )
    return out
