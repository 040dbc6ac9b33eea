"""What ``check`` found out about a file."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pandas as pd


@dataclass(frozen=True, slots=True)
class Checked:
    """What a file is.

    kind: as `layers.jobs.check._kinds.kind_of` gives it, more exact where the content says more.
    facts, wrong: what to show; pairs of fault and cure.  Settings and commands are in braces.
    usable: whether other commands take it as it is.
    detail: `facts` for machines.
    """

    file: str
    kind: str
    facts: dict[str, str] = field(default_factory=dict)
    wrong: list[tuple[str, str]] = field(default_factory=list)
    usable: bool = True
    detail: dict[str, Any] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain values."""
        wrong = [{"what": what, "do": do} for what, do in self.wrong]
        return {
            "file": self.file,
            "kind": self.kind,
            "usable": self.usable,
            **(self.detail or self.facts),
            "wrong": wrong,
        }


def span_words(times: pd.Series, timezone: str) -> str:
    """Say from when to when times go, on the clock of a zone."""
    known = pd.to_datetime(times, utc=True).dropna()
    if known.empty:
        return "no times"
    first, last = (moment.tz_convert(timezone) for moment in (known.min(), known.max()))
    return f"{first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M} ({timezone})"
