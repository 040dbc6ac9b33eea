"""Fish corrected by hand, by lines of the file of corrections beside the track."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.catches.reading import LONGEST_FISH_M, NO, TACKLE, YES, as_catches
from layers.tracks.corrections import Correction
from seabed.errors import TrackError, UnitError
from seabed.units import parse_length

_SAME_S = 1.0
"""A fish within this of the line's time is the one meant."""
_SAME_M = 0.002


def correct_fish(
    catches: gpd.GeoDataFrame,
    ahead_s: NDArray[np.float64],
    corrections: Sequence[Correction],
    *,
    default_unit: str = "in",
) -> tuple[gpd.GeoDataFrame, NDArray[np.float64], list[str]]:
    """Take out and add fish by the lines of a file of corrections, by the right time.

    ahead_s, shape (n,): seconds that the clock behind each fish was ahead.
    Returned: catches and `ahead_s` in order of time, and a sentence for each line that matches no
        fish.  TrackError at a line that does not describe a fish.
    """
    rows: list[dict[str, Any]] = catches.drop(columns="geometry").to_dict("records")
    clocks = ahead_s.tolist()
    unused: list[str] = []
    for one in corrections:
        if one.what == "fish":
            rows.append(_fish_of(one, default_unit))
            clocks.append(0.0)
        elif one.what == "no fish":
            wanted = _fish_of(one, default_unit) if one.words else {}
            at = next((n for n, row in enumerate(rows) if _is(row, clocks[n], one, wanted)), None)
            if at is None:
                unused.append(f"{one.place}: no such fish is there; it was left out")
            else:
                del rows[at], clocks[at]
    table = as_catches(rows)
    order = pd.Series([row["time"] for row in rows]).sort_values(kind="stable").index
    return table, np.asarray(clocks, float)[order], unused


def _is(row: dict[str, Any], ahead_s: float, one: Correction, wanted: dict[str, Any]) -> bool:
    if pd.isna(row["time"]):
        return False
    apart = (row["time"] - one.start).total_seconds() - ahead_s
    length = wanted.get("length_m", np.nan)
    return (
        abs(apart) <= _SAME_S
        and wanted.get("species", row["species"]) == row["species"]
        and not abs(length - row["length_m"]) > _SAME_M
    )


def _fish_of(one: Correction, default_unit: str) -> dict[str, Any]:
    """Read the words of a line: species first, then what there is of the rest."""
    species, *words = (word.strip() for word in one.words.split(","))
    fish: dict[str, Any] = dict.fromkeys(("longitude", "latitude", "length_m"), np.nan)
    fish |= {"time": one.start, "species": species.lower(), "kept": None}
    fish |= {"file": one.file, "row": one.line}
    notes = []
    for word in filter(None, words):
        low = word.lower()
        if word[0].isdigit():
            fish["length_m"] = _length(word, one, default_unit)
        elif low in YES | NO:
            fish["kept"] = low in YES
        elif low.partition(" ")[0] in TACKLE:
            fish[low.partition(" ")[0]] = word.partition(" ")[2].strip()
        else:
            notes.append(word.removeprefix("note "))
    return fish | {"note": ", ".join(notes)}


def _length(word: str, one: Correction, default_unit: str) -> float:
    try:
        length = parse_length(word, default=default_unit)
    except UnitError as error:
        raise TrackError(
            f"can't read the length {word!r}", file=one.file, where=f"line {one.line}", do=error.do
        ) from error
    if not 0 < length <= LONGEST_FISH_M:
        raise TrackError(f"a fish of length {word!r}", file=one.file, where=f"line {one.line}")
    return length
