"""What comes of a job, for people and as JSON for machines."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layers.area import Area
from layers.cautions import CAUTIONS

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Result:
    """What came of a job.

    area: with what the request overruled.
    files: what was written, by name.
    notes: what is worth knowing, a sentence each. Settings and commands stand in braces, as in
        `seabed.errors.SeabedError`.
    warnings: what could do harm, likewise.
    """

    area: Area
    files: dict[str, Path] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether everything that was asked about is fit for use."""
        return True

    def answer(self) -> dict[str, Any]:
        """Give what machines read: SI, plain values."""
        return {"files": self.files}


def json_text(answer: Mapping[str, Any]) -> str:
    """Write an answer as JSON in plain ASCII, with the cautions; NaN becomes null."""
    whole = _plain({**answer, "cautions": CAUTIONS})
    return json.dumps(whole, ensure_ascii=True, allow_nan=False, indent=1)


def records(table: pd.DataFrame, columns: Sequence[str] | None = None) -> list[dict[str, Any]]:
    """Give rows as plain values, rounded as in files, without geometry."""
    from seabed.schema import for_files

    wanted = [name for name in (columns or table.columns) if name != "geometry"]
    return [dict(row) for row in for_files(table[wanted]).to_dict("records")]


def _plain(value: Any) -> Any:
    """Turn a value into what JSON can hold."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if hasattr(value, "item"):  # a number of numpy's
        value = value.item()
    if isinstance(value, datetime | date):
        return value.isoformat() if value == value else None  # noqa: PLR0124 (NaT)
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if isinstance(value, bool | int | float | str | None) else str(value)
