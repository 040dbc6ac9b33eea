"""What the U.S. agency's open data service returns for a station.

Its metadata with ``harcon`` and ``datums`` expanded, or its harmonic constituents alone.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from layers.water.stations._record_parts import DATUMS, levels_above, metres_of, usable_constituents
from layers.water.stations.station import AxisCurrents, HarmonicHeights, Station, make_harmonics
from seabed.errors import WaterError


def from_agency(
    record: dict[str, Any], source: str | Path, depth_bin: int | None, datum: str | None
) -> Station:
    """Make a station of the service's answer; what it lacks is a KeyError, TypeError, ValueError.

    record: the station, with its ``harmonicConstituents`` and if it has them its ``datums``.
    source: for messages.
    depth_bin, datum: as `layers.water.stations.importers.import_station`.

    Raises WaterError if it has no constituents, or not that bin or datum.
    """
    listed = record.get("harmonicConstituents") or {}
    rows = listed.get("HarmonicConstituents") or []
    if not rows:
        raise WaterError(
            "no harmonic constituents are in it",
            file=source,
            do="Ask the service with expand=harcon,datums; subordinate stations have none.",
        )
    heights = currents = None
    datums: dict[str, float] = {}
    if "majorAmplitude" in rows[0]:
        currents, notes = _agency_currents(rows, depth_bin, source)
    else:
        heights, datums, notes = _agency_heights(record, listed, datum, source)
    return Station(
        name=str(record.get("name", "")),
        longitude=float(record.get("lng", np.nan)),
        latitude=float(record.get("lat", np.nan)),
        source=f"U.S. agency's open data service, station {record.get('id', 'not named')}",
        licence="public domain",
        heights=heights,
        currents=currents,
        datums_m=datums,
        notes=tuple(notes),
    )


def _agency_heights(
    record: dict[str, Any], listed: dict[str, Any], datum: str | None, source: str | Path
) -> tuple[HarmonicHeights, dict[str, float], list[str]]:
    names, amplitude, phase, notes = usable_constituents(
        [
            (str(r["name"]), float(r["amplitude"]), float(r["phase_GMT"]))
            for r in listed["HarmonicConstituents"]
        ],
        source,
    )
    table = record.get("datums") or {}
    levels = {
        str(row["name"]): float(row["value"]) * metres_of(str(table.get("units", "meters")), source)
        for row in table.get("datums") or []
        if row.get("value") is not None and str(row["name"]) in DATUMS
    }
    name, mean, datums, more = levels_above(levels, datum or "MLLW", source)
    scale = metres_of(str(listed.get("units") or "meters"), source)
    harmonics = make_harmonics(names, amplitude * scale, phase, mean, nodal="yearly", file=source)
    return HarmonicHeights(harmonics, name), datums, notes + more


def _agency_currents(
    rows: list[dict[str, Any]], depth_bin: int | None, source: str | Path
) -> tuple[AxisCurrents, list[str]]:
    bins = sorted({(float(row["binDepth"]), int(row["binNbr"])) for row in rows})
    chosen = bins[0][1] if depth_bin is None else depth_bin
    rows = [row for row in rows if int(row["binNbr"]) == chosen]
    if not rows:
        raise WaterError(
            f"bin {depth_bin} is not in it",
            file=source,
            do=f"It has {', '.join(f'{n} ({depth:g} m down)' for depth, n in bins)}.",
        )
    names, amplitude, phase, notes = usable_constituents(
        [
            (str(r["constituentName"]), float(r["majorAmplitude"]), float(r["majorPhaseGMT"]))
            for r in rows
        ],
        source,
    )
    notes.append(
        f"Bin {chosen}, {float(rows[0]['binDepth']):g} m down.  The flow across the main axis, "
        "which the agency does not predict with, was left out."
    )
    cm = 0.01  # the service gives centimetres a second
    flood = float(rows[0]["azi"])
    along = make_harmonics(
        names,
        amplitude * cm,
        phase,
        float(rows[0]["majorMeanSpeed"]) * cm,
        nodal="yearly",
        file=source,
    )
    return AxisCurrents(along, flood % 360, (flood + 180) % 360), notes
