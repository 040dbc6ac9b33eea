"""The score that structure is ranked by: a rule of thumb, with no fish behind it.

Common practice, no source.  It is::

    score = 100 · fit · sure · clear · (0.35 size + 0.25 drop + 0.20 steep + 0.20 company)

where every factor and part is between 0 and 1:

- size: L / (L + 150 m), with L the length that is in the band
- drop: d / (d + 2 m)
- steep: s / (s + 3°), with s the mean slope
- company: 1 beside other structure, falling evenly to 0 at 150 m; at least 0.5 among sand waves
- fit: 1 if some of it is in the band, else exp(-g / 1 m), with g the depth between the two
- sure: d² / (d² + u²), with u the uncertainty of the depths; 1 where that is unknown
- clear: 0.5 at a charted danger, rising evenly to 1 at 100 m; 0.1 where boats are kept out
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from seabed.array_types import Floats
from seabed.schema import Table
from seabed.structure.company import REACH_M

SCORE: Final = Table.of(
    "score",
    "seabed.structure.rank_structure",
    """
    size_part ["size"] by the length in the band
    drop_part ["drop"] by the drop
    steep_part ["steepness"] by the mean slope
    company_part ["company"] by other structure close by
    fit ["in the band"] by how far it is from the band in depth
    sure ["sure"] by the drop and the uncertainty of the depths
    clear ["clear"] by charted dangers and closed areas
    """,
)
"""What the score is made of, 0 to 1 each."""
WEIGHTS: Final = {"size": 0.35, "drop": 0.25, "steep": 0.20, "company": 0.20}
HALF_LENGTH_M: Final = 150.0
HALF_DROP_M: Final = 2.0
HALF_SLOPE_DEG: Final = 3.0
FADE_M: Final = 1.0
WAVES: Final = 0.5
CLEAR_M: Final = 100.0
CLOSED: Final = 0.1


def scored(table: pd.DataFrame) -> dict[str, Floats]:
    """Score structure.

    table: with ``band_length_m``, ``drop_m``, ``slope_deg``, ``nearest_m``, ``wave_height_m``,
        ``gap_m``, ``uncertainty_m``, ``hazard_m`` (NaN for none or unknown) and ``closed`` (``""``
        for open).
    Returned: ``score`` and each column of `SCORE`.
    """
    column = {name: table[name].to_numpy(float) for name in table.columns if name.endswith("_m")}
    drop, spread = column["drop_m"], np.nan_to_num(column["uncertainty_m"], nan=0.0)
    near = np.nan_to_num(1 - column["nearest_m"] / REACH_M, nan=0.0)
    away = np.nan_to_num(column["hazard_m"], nan=CLEAR_M)
    parts = {
        "size_part": _half(column["band_length_m"], HALF_LENGTH_M),
        "drop_part": _half(drop, HALF_DROP_M),
        "steep_part": _half(table["slope_deg"].to_numpy(float), HALF_SLOPE_DEG),
        "company_part": np.maximum(near, WAVES * ~np.isnan(column["wave_height_m"])),
    }
    factors = {
        "fit": np.exp(-column["gap_m"] / FADE_M),
        "sure": drop**2 / np.maximum(drop**2 + spread**2, 1e-30),
        "clear": np.where(
            table["closed"] != "", CLOSED, 0.5 + 0.5 * np.minimum(away / CLEAR_M, 1.0)
        ),
    }
    total = np.zeros(len(table))
    for name, weight in WEIGHTS.items():
        total += weight * parts[f"{name}_part"]
    score = 100 * factors["fit"] * factors["sure"] * factors["clear"] * total
    return {**parts, **factors, "score": score}


def _half(value: Floats, half: float) -> Floats:
    """From 0 to 1, one half at `half`; NaN is none."""
    known = np.nan_to_num(value, nan=0.0)
    return known / (known + half)
