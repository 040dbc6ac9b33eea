"""Fish marked as waypoints: what the words of their names mean.

In the name, the description or the symbol of a waypoint:

- ``keeper``, ``kept``, ``keep`` say that it was kept; ``short``, ``released``, ``back`` that it
  went back; ``fish``, ``catch``, ``caught`` alone leave that open.  One of these must stand there,
  else the waypoint is no fish.
- A number with a unit (``14.5 in``, ``37cm``) is its length; so is a bare number after one of these
  words (``keeper 21``), in the default unit, if it is 12 cm or more: ``keeper 2`` is a count.
- Words that are left are the species.

A waypoint with no time is a mark on the chart, no catch ("fish bank", "back to harbour"), unless it
says both that a fish was kept or went back and how long it was: ``keeper 21`` is tied by its place.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final

import pandas as pd

from layers.tracks.reading import read_waypoints
from seabed.units import parse_length

KEPT: Final = {"keeper", "keepers", "kept", "keep"}
BACK: Final = {"short", "shorts", "released", "release", "back", "undersized"}
OPEN: Final = {"fish", "catch", "catches", "caught"}
LEAST_BARE_M: Final = 0.12
"""A bare number that would be a shorter fish is no length.  Common practice, no source."""

_LENGTH = re.compile(r"(\d+(?:[.,]\d+)?)\s*(inches|inch|in\b|cm|mm|ft|\"|″)?", re.IGNORECASE)


def fish_in_words(words: str, *, default_unit: str = "in") -> dict[str, Any] | None:
    """Give species, length and kept (None: not said) of the fish in a waypoint's words, or None.

    >>> fish_in_words("short 12 in")["kept"], fish_in_words("anchor 3")
    (False, None)
    """
    tokens = re.findall(r"[^\W\d_]+", words.lower())
    if not KEPT.union(BACK, OPEN).intersection(tokens):
        return None
    kept = True if KEPT.intersection(tokens) else False if BACK.intersection(tokens) else None
    length = float("nan")
    match = _LENGTH.search(words)
    if match:
        unit = (match.group(2) or default_unit).lower()
        number = match.group(1).replace(",", ".")
        length = float(number) / 1000 if unit == "mm" else parse_length(number, default=unit)
        if not match.group(2) and length < LEAST_BARE_M:
            length = float("nan")
    rest = [w for w in tokens if w not in KEPT | BACK | OPEN and w not in _UNIT_WORDS]
    return {"species": " ".join(rest), "length_m": length, "kept": kept}


def only_fish_words(words: str) -> bool:
    """Say whether words, such as the name of a folder, are of fish and nothing else."""
    tokens = set(re.findall(r"[^\W\d_]+", words.lower()))
    return bool(tokens) and tokens <= KEPT | BACK | OPEN


_UNIT_WORDS: Final = {"in", "inch", "inches", "cm", "mm", "ft"}


def read_marked_fish(
    path: str | Path, *, default_unit: str = "in", salvage: bool = False
) -> list[dict[str, Any]]:
    """Read the fish among the waypoints of a GPX file, as rows of catches.

    ``time`` is NaT where the waypoint has none but gives a fish's length, and that it was kept
    or went back.  With `salvage`, a damaged file gives the fish before the damage.
    """
    marks = read_waypoints([path], salvage=salvage)
    rows = []
    for number, mark in enumerate(marks.to_dict("records"), 1):
        fish = fish_in_words(str(mark["name"] or ""), default_unit=default_unit)
        fish = fish or fish_in_words(str(mark.get("sym") or ""), default_unit=default_unit)
        if fish is None:
            continue
        plain = fish["kept"] is not None and fish["length_m"] > 0
        if pd.isna(mark["time"]) and not plain:
            continue
        rows.append(
            {
                **fish,
                "time": mark["time"],
                "rod": "",
                "note": str(mark.get("desc") or ""),
                "longitude": mark["longitude"],
                "latitude": mark["latitude"],
                "file": str(path),
                "row": number,
            }
        )
    return rows
