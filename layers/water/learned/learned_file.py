"""A learned current as a file, to be used on other days."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any, Final

import numpy as np

from layers.water.currents.currents import STRONGEST_MPS
from layers.water.heights._heights import Heights
from layers.water.learned.learned import COEFFICIENTS, LearnedCurrent
from layers.water.times import moment
from seabed.errors import WaterError
from seabed.files import write_text

LEARNED_FORMAT: Final = "seabed-layers learned current 1"

NUMBERS: Final = ("usual_tide_m", "outings", "drifts", "pieces")
LISTS: Final = ("day_spreads_mps", "seen_sizes", "leeway_scale", "centre")
ARRAYS: Final = ("coefficients", "covariance", "seen_angles", "seen_hours")
MOST_PIECES: Final = 10_000
TIDES_M: Final = (0.001, 30.0)
AGAIN: Final = "Learn it again with {learn}."


def write_learned(path: str | Path, learned: LearnedCurrent) -> None:
    """Write a learned current; of places, only the middle of the drifts is in it."""
    record: dict[str, Any] = {"format": LEARNED_FORMAT}
    record |= {name: getattr(learned, name) for name in NUMBERS}
    record |= {name: list(getattr(learned, name)) for name in LISTS}
    record |= {name: getattr(learned, name).round(8).tolist() for name in ARRAYS}
    record["span"] = [str(end) + "Z" for end in learned.span]
    write_text(path, json.dumps(record) + "\n")


def learned_of(record: dict[str, Any], heights: Heights, *, file: str | Path) -> LearnedCurrent:
    """Give the learned current of a file's content, tied to the tide it was learned with."""
    try:
        first, last = (moment(str(end)) for end in record["span"])
        values: dict[str, Any] = {name: float(record[name]) for name in NUMBERS}
        values |= {name: int(values[name]) for name in NUMBERS[1:]}
        values |= {name: tuple(float(value) for value in record[name]) for name in LISTS}
        values |= {name: np.array(record[name], float) for name in ARRAYS}
        learned = LearnedCurrent(heights=heights, span=(first, last), **values)
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        raise WaterError(
            f"the learned current is not whole: {error}", file=file, do=AGAIN
        ) from error
    if learned.coefficients.shape != (COEFFICIENTS,):
        raise WaterError("the learned current is of another version", file=file, do=AGAIN)
    wrong = [name for name, right in _right(learned).items() if not right]
    if wrong:
        raise WaterError(
            "the learned current can't be right", file=file, where=", ".join(wrong), do=AGAIN
        )
    return learned


def _right(learned: LearnedCurrent) -> dict[str, bool]:
    """Whether each value of a file is what learning can have written; NaN never is."""
    spread, seen = learned.covariance, learned.seen_angles
    (low, high), (longitude, latitude) = _pair(learned.seen_sizes), _pair(learned.centre)
    _, doubt = _pair(learned.leeway_scale)
    first, last = learned.span
    return {
        "usual_tide_m": TIDES_M[0] <= learned.usual_tide_m <= TIDES_M[1],
        "outings": min(learned.outings, learned.drifts, learned.pieces) > 0,
        "day_spreads_mps": all(
            0 <= spread <= STRONGEST_MPS for spread in _pair(learned.day_spreads_mps)
        ),
        "seen_sizes": 0 <= low <= high < math.inf,
        "leeway_scale": doubt >= 0 and bool(np.isfinite(learned.leeway_scale).all()),
        "centre": abs(longitude) <= 360 and abs(latitude) <= 90,
        "coefficients": bool((np.abs(learned.coefficients) <= STRONGEST_MPS).all()),
        "covariance": spread.shape == (COEFFICIENTS, COEFFICIENTS)
        and bool((np.abs(spread) <= STRONGEST_MPS**2).all() and (np.diag(spread) >= 0).all()),
        "seen_angles": seen.ndim == 1
        and seen.size <= MOST_PIECES
        and bool(np.isfinite(seen).all()),
        "seen_hours": learned.seen_hours.shape == seen.shape,
        "span": bool(first <= last),
    }


def _pair(values: tuple[float, ...]) -> tuple[float, float]:
    return (values[0], values[1]) if len(values) == 2 else (math.nan, math.nan)
