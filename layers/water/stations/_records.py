"""Other people's records of a station: the U.S. agency's open data service, an open database."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import numpy as np

from layers.water.heights.derived import SubordinateHeights
from layers.water.stations.harmonics import Nodal, canonical_name, known_constituent
from layers.water.stations.station import AxisCurrents, HarmonicHeights, Station, make_harmonics
from seabed.array_types import Floats
from seabed.errors import WaterError
from seabed.units import SPEED

LEFT_OUT_SHARE: Final = 0.05
"""Constituents that can't be predicted may make up this share of all amplitudes together."""

SUBORDINATE_NOTE: Final = (
    "A subordinate station: the highs and lows of its reference, moved and scaled."
)


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


def from_agency(
    record: dict[str, Any], source: str | Path, depth_bin: int | None, datum: str | None
) -> Station:
    """Make a station of the service's answer; what it lacks is a KeyError, TypeError, ValueError.

    record: the station, with its ``harmonicConstituents`` and perhaps its ``datums``.
    depth_bin, datum: as `layers.water.stations.importers.import_station`.
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


def from_database(record: dict[str, Any], source: str | Path, datum: str | None) -> Station:
    """Make a station of a record; what it lacks is a KeyError, TypeError or ValueError.

    datum: as `layers.water.stations.importers.import_station`.
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
