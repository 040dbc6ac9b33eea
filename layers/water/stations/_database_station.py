"""A station as an open database describes it: constituents, or differences of a subordinate one."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import numpy as np

from layers.water.heights._subordinate import SubordinateHeights
from layers.water.stations._record_parts import levels_above, usable_constituents
from layers.water.stations.harmonics import Nodal
from layers.water.stations.station import AxisCurrents, HarmonicHeights, Station, make_harmonics
from seabed.array_types import Floats
from seabed.errors import WaterError
from seabed.units import SPEED

SUBORDINATE_NOTE: Final = (
    "A subordinate station: the highs and lows of its reference, moved and scaled."
)


def from_database(record: dict[str, Any], source: str | Path, datum: str | None) -> Station:
    """Make a station of a record; what it lacks is a KeyError, TypeError or ValueError.

    source: for messages.
    datum: as `layers.water.stations.importers.import_station`.

    Raises WaterError if it is a subordinate station without constituents, or has not that datum.
    """
    if record.get("type") == "subordinate" and not record["harmonic_constituents"]:
        flow = record.get("current") or {}
        reference = (record.get("offsets") or flow.get("offsets") or {}).get("reference")
        raise WaterError(
            "is a subordinate station, without constituents of its own",
            file=source,
            do=f"Import its reference station {reference}, or use the agency's table.",
        )
    heights: HarmonicHeights | SubordinateHeights | None = None
    currents = None
    datums: dict[str, float] = {}
    if record.get("kind") == "current":
        currents, notes = _currents(record, source)
    else:
        heights, datums, notes = _heights(record, datum, source)
    licence = record.get("license") or {}
    return Station(
        name=str(record.get("name", "")),
        longitude=float(record.get("longitude", np.nan)),
        latitude=float(record.get("latitude", np.nan)),
        timezone=str(record.get("timezone", "UTC")),
        source=str(record.get("attribution", "")),
        licence=f"{licence.get('type', '')} {licence.get('url', '')}".strip(),
        heights=heights,
        currents=currents,
        datums_m=datums,
        notes=tuple(notes),
    )


def _constituents(
    record: dict[str, Any], source: str | Path
) -> tuple[list[str], Floats, Floats, list[str]]:
    rows = [
        (str(row["name"]), float(row["amplitude"]), float(row["phase"]))
        for row in record["harmonic_constituents"]
    ]
    return usable_constituents(rows, source)


def _nodal(record: dict[str, Any]) -> Nodal:
    agency = "National Oceanic" in str((record.get("source") or {}).get("name", ""))
    return "yearly" if agency else "daily"


def _currents(record: dict[str, Any], source: str | Path) -> tuple[AxisCurrents, list[str]]:
    names, amplitude, phase, notes = _constituents(record, source)
    flow = record.get("current") or {}
    if "flood_direction" not in flow:
        raise WaterError("the flood's direction is not in it", file=source)
    knot = SPEED["kn"]
    mean = float(flow.get("mean_flow", 0.0)) * knot
    along = make_harmonics(names, amplitude * knot, phase, mean, nodal=_nodal(record), file=source)
    flood = float(flow["flood_direction"])
    return AxisCurrents(along, flood, float(flow.get("ebb_direction", flood + 180)) % 360), notes


def _heights(
    record: dict[str, Any], datum: str | None, source: str | Path
) -> tuple[HarmonicHeights | SubordinateHeights, dict[str, float], list[str]]:
    names, amplitude, phase, notes = _constituents(record, source)
    levels = {str(key): float(value) for key, value in (record.get("datums") or {}).items()}
    name, mean, datums, more = levels_above(levels, datum or record.get("chart_datum"), source)
    harmonics = make_harmonics(names, amplitude, phase, mean, nodal=_nodal(record), file=source)
    heights = _with_differences(HarmonicHeights(harmonics, name), record, source)
    subordinate = [SUBORDINATE_NOTE] if isinstance(heights, SubordinateHeights) else []
    return heights, datums, [*notes, *more, *subordinate]


def _with_differences(
    reference: HarmonicHeights, record: dict[str, Any], source: str | Path
) -> HarmonicHeights | SubordinateHeights:
    """Heights of a subordinate station, whose record carries its reference's constituents."""
    if record.get("type") != "subordinate":
        return reference
    try:
        times, height = record["offsets"]["time"], record["offsets"]["height"]
        return SubordinateHeights(
            reference,
            float(times["high"]),
            float(times["low"]),
            float(height["high"]),
            float(height["low"]),
            "fixed" if height["type"] == "fixed" else "ratio",
        )
    except (KeyError, TypeError, ValueError) as error:
        raise WaterError(
            f"the differences of this subordinate station are not whole: {error}", file=source
        ) from error
