"""Parts of other people's station records: constituents, datums, units."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from layers.water.stations.harmonics import canonical_name, known_constituent
from seabed.array_types import Floats
from seabed.errors import WaterError

LEFT_OUT_SHARE: Final = 0.05
"""Constituents that can't be predicted may make up this share of all amplitudes together."""


def usable_constituents(
    rows: list[tuple[str, float, float]], source: str | Path
) -> tuple[list[str], Floats, Floats, list[str]]:
    """Leave out what is zero or can't be predicted, and say so."""
    notes, kept, names_known = [], [], set()
    unknown = [row for row in rows if row[1] != 0 and not known_constituent(row[0])]
    lost, total = sum(row[1] for row in unknown), sum(row[1] for row in rows)
    if lost > LEFT_OUT_SHARE * total:
        raise WaterError(
            f"unknown constituents {', '.join(row[0] for row in unknown)} make up "
            f"{100 * lost / total:.0f} % of its tide",
            file=source,
        )
    if unknown:
        notes.append(f"Left out, not known: {', '.join(f'{n} ({a:.3g})' for n, a, _ in unknown)}.")
    for row in rows:
        plain = canonical_name(row[0])
        if row[1] != 0 and known_constituent(row[0]) and plain not in names_known:
            names_known.add(plain)
            kept.append(row)
    names = [row[0] for row in kept]
    return names, np.array([r[1] for r in kept]), np.array([r[2] for r in kept]), notes


DATUMS: Final = {
    "STND", "HAT", "MHHW", "MHW", "MSL", "MTL", "DTL", "MLW", "MLLW", "LAT", "NAVD88", "CD", "MLWS",
    "MHWS", "MHWN", "MLWN",
}  # fmt: skip


def levels_above(
    levels: dict[str, float], datum: str | None, source: str | Path
) -> tuple[str, float, dict[str, float], list[str]]:
    """Datum, mean level above it, and the other datums above it."""
    mean = levels.get("MSL", levels.get("MTL"))
    if mean is None or datum is None or datum not in levels:
        if datum is not None and levels and datum not in levels and datum != "MLLW":
            raise WaterError(
                f"datum {datum!r} is not in it", file=source, do=f"It has {', '.join(levels)}."
            )
        return "MSL", 0.0, {}, ["No datums were given: heights are above mean sea level."]
    zero = levels[datum]
    others = {key: round(value - zero, 4) for key, value in levels.items() if key != datum}
    return datum, round(mean - zero, 4), others, []


def metres_of(unit: str, source: str | Path) -> float:
    """Metres in one of a named unit."""
    plain = unit.casefold()
    if plain.startswith(("meter", "metre")):
        return 1.0
    if plain.startswith(("feet", "foot")):
        return 0.3048
    raise WaterError(f"unknown unit {unit!r}", file=source, do="Ask for metric units.")
