"""A learned current as a file, to be used on other days."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

import numpy as np

from layers.water.heights._heights import Heights
from layers.water.learned.learned import COEFFICIENTS, LearnedCurrent
from layers.water.times import moment
from seabed.errors import WaterError
from seabed.files import write_text

LEARNED_FORMAT: Final = "seabed-layers learned current 1"

NUMBERS: Final = ("usual_tide_m", "outings", "drifts", "pieces")
LISTS: Final = ("day_spreads_mps", "seen_sizes", "leeway_scale", "centre")
ARRAYS: Final = ("coefficients", "covariance", "seen_angles", "seen_hours")


def write_learned(path: str | Path, learned: LearnedCurrent) -> None:
    """Write a learned current; of places, only the middle of the drifts is in it."""
    record: dict[str, Any] = {"format": LEARNED_FORMAT}
    record |= {name: getattr(learned, name) for name in NUMBERS}
    record |= {name: list(getattr(learned, name)) for name in LISTS}
    record |= {name: getattr(learned, name).round(8).tolist() for name in ARRAYS}
    record["span"] = [str(end) + "Z" for end in learned.span]
    write_text(path, json.dumps(record) + "\n")


def learned_of(record: dict[str, Any], heights: Heights, *, file: str | Path) -> LearnedCurrent:
    """Give the learned current of a file's content, tied to the tide it was learned with.

    Raises WaterError if something is missing in it.
    """
    try:
        first, last = (moment(str(end)) for end in record["span"])
        values: dict[str, Any] = {name: record[name] for name in NUMBERS}
        values |= {name: tuple(float(value) for value in record[name]) for name in LISTS}
        values |= {name: np.array(record[name], float) for name in ARRAYS}
        learned = LearnedCurrent(heights=heights, span=(first, last), **values)
    except (KeyError, TypeError, ValueError) as error:
        raise WaterError(
            f"the learned current is not whole: {error}",
            file=file,
            do="Learn it again with {learn}.",
        ) from error
    if learned.coefficients.shape != (COEFFICIENTS,):
        raise WaterError(
            "the learned current is of another version",
            file=file,
            do="Learn it again with {learn}.",
        )
    return learned
