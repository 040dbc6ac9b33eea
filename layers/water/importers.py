"""Station files from other people's JSON.

Two kinds are known: a station of the open tide database that the npm registry carries
(``@neaps/tide-database``; one record, or a list of them), and what the U.S. agency's open data
service returns for a station (its metadata with ``harcon`` and ``datums`` expanded, or its harmonic
constituents alone).
"""

from __future__ import annotations

import json
from http.client import HTTPException
from pathlib import Path
from typing import Any, Final
from urllib.error import URLError
from urllib.request import Request, urlopen

import numpy as np
from numpy.typing import NDArray

from layers.water.harmonics import Nodal, canonical_name, known_constituent
from layers.water.station import (
    FORMAT,
    AxisCurrents,
    HarmonicHeights,
    Station,
    load_json,
    make_harmonics,
    station_of,
)
from layers.water.subordinate import SubordinateHeights
from seabed.errors import WaterError
from seabed.units import SPEED

__all__ = ["import_station"]

Floats = NDArray[np.float64]

TIMEOUT_S: Final = 30.0
SUBORDINATE_NOTE: Final = (
    "A subordinate station: the highs and lows of its reference, moved and scaled."
)
LEFT_OUT_SHARE: Final = 0.05
"""Constituents that can't be predicted may make up this share of all amplitudes together."""


def import_station(
    source: str | Path,
    *,
    station_id: str | None = None,
    depth_bin: int | None = None,
    datum: str | None = None,
) -> Station:
    """Read a station from a file, or from a URL that the user names.

    Parameters
    ----------
    source : str or Path
        A file, or an ``http(s)://`` address; nothing else is ever fetched.
    station_id : str, optional
        Which one, where the source holds several.
    depth_bin : int, optional
        Which bin of a current meter's profile; the one nearest the surface that has constituents if
        not said (the notes then name it).
    datum : str, optional
        The datum that heights are to be above; the station's chart datum if not said.

    Returns
    -------
    Station
        Its notes say what was left out or assumed.

    Raises
    ------
    WaterError
        If it can't be fetched or read, is of no known kind, or has no constituents.
    """
    record = _fetch(source) if _is_url(source) else load_json(Path(source))
    if isinstance(record, list):
        record = _pick(record, station_id, source)
    if not isinstance(record, dict):
        raise _unknown(source)
    if record.get("format") == FORMAT:
        return station_of(record, file=source)
    try:
        return _station_from(record, source, station_id, depth_bin, datum)
    except (LookupError, TypeError, ValueError, AttributeError) as error:
        lacks = isinstance(error, KeyError)
        raise WaterError(
            f"is not whole: a record lacks {error}" if lacks else f"can't be used: {error}",
            file=source,
            do="Fetch it again; every constituent needs its name, amplitude and phase.",
        ) from error


def _station_from(
    record: dict[str, Any],
    source: str | Path,
    station_id: str | None,
    depth_bin: int | None,
    datum: str | None,
) -> Station:
    """Read one of other people's records; what it lacks is a KeyError, TypeError or ValueError."""
    if "harmonic_constituents" in record:
        return _from_database(record, source, datum)
    if isinstance(record.get("stations"), list) and record["stations"]:
        return _from_agency(_pick(record["stations"], station_id, source), source, depth_bin, datum)
    if "HarmonicConstituents" in record:
        return _from_agency({"harmonicConstituents": record}, source, depth_bin, datum)
    raise _unknown(source)


def _is_url(source: str | Path) -> bool:
    return str(source).startswith(("http://", "https://"))


def _fetch(url: str | Path) -> Any:
    try:
        request = Request(str(url), headers={"Accept": "application/json"})  # noqa: S310 (http)
        with urlopen(request, timeout=TIMEOUT_S) as answer:  # noqa: S310
            return json.load(answer)
    except (URLError, OSError, HTTPException, ValueError) as error:
        raise WaterError(
            f"can't be fetched: {error}",
            file=str(url),
            do="Check the address and the line, or save the answer to a file and import that.",
        ) from error


def _unknown(source: str | Path) -> WaterError:
    return WaterError(
        "is no station of a kind that is known",
        file=source,
        do="Give a station file, a record of the open tide database, or the agency's metadata with "
        "harcon and datums expanded.",
    )


def _pick(records: list[Any], station_id: str | None, source: str | Path) -> dict[str, Any]:
    rows = [row for row in records if isinstance(row, dict)]
    if not rows:
        raise _unknown(source)
    if station_id is not None:
        rows = [row for row in rows if str(row.get("id")) == station_id]
    if len(rows) == 1:
        return rows[0]
    names = ", ".join(str(row.get("id")) for row in records[:5] if isinstance(row, dict))
    raise WaterError(
        f"no station {station_id!r} in it" if not rows else f"{len(rows)} stations are in it",
        file=source,
        do=f"Name one by its id ({names}, ...).",
    )


def _from_database(record: dict[str, Any], source: str | Path, datum: str | None) -> Station:
    if record.get("type") == "subordinate" and not record["harmonic_constituents"]:
        flow = record.get("current") or {}
        reference = (record.get("offsets") or flow.get("offsets") or {}).get("reference")
        raise WaterError(
            "is a subordinate station, without constituents of its own",
            file=source,
            do=f"Import its reference station {reference}, or use the agency's table.",
        )
    rows = [
        (str(row["name"]), float(row["amplitude"]), float(row["phase"]))
        for row in record["harmonic_constituents"]
    ]
    names, amplitude, phase, notes = _known(rows, source)
    agency = "National Oceanic" in str((record.get("source") or {}).get("name", ""))
    nodal: Nodal = "yearly" if agency else "daily"
    heights: HarmonicHeights | SubordinateHeights | None = None
    currents = None
    datums: dict[str, float] = {}
    if record.get("kind") == "current":
        flow = record.get("current") or {}
        if "flood_direction" not in flow:
            raise WaterError("the flood's direction is not in it", file=source)
        knot = SPEED["kn"]
        along = make_harmonics(
            names,
            amplitude * knot,
            phase,
            float(flow.get("mean_flow", 0.0)) * knot,
            nodal=nodal,
            file=source,
        )
        flood = float(flow["flood_direction"])
        currents = AxisCurrents(along, flood, float(flow.get("ebb_direction", flood + 180)) % 360)
    else:
        levels = {str(key): float(value) for key, value in (record.get("datums") or {}).items()}
        name, mean, datums, more = _above(levels, datum or record.get("chart_datum"), source)
        notes += more
        harmonics = make_harmonics(names, amplitude, phase, mean, nodal=nodal, file=source)
        heights = _with_differences(HarmonicHeights(harmonics, name), record, source)
        notes += [SUBORDINATE_NOTE] if isinstance(heights, SubordinateHeights) else []
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


def _from_agency(
    record: dict[str, Any], source: str | Path, depth_bin: int | None, datum: str | None
) -> Station:
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
    names, amplitude, phase, notes = _known(
        [
            (str(r["name"]), float(r["amplitude"]), float(r["phase_GMT"]))
            for r in listed["HarmonicConstituents"]
        ],
        source,
    )
    table = record.get("datums") or {}
    levels = {
        str(row["name"]): float(row["value"]) * _length(str(table.get("units", "meters")), source)
        for row in table.get("datums") or []
        if row.get("value") is not None and str(row["name"]) in DATUMS
    }
    name, mean, datums, more = _above(levels, datum or "MLLW", source)
    scale = _length(str(listed.get("units") or "meters"), source)
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
    names, amplitude, phase, notes = _known(
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


def _known(
    rows: list[tuple[str, float, float]], source: str | Path
) -> tuple[list[str], Floats, Floats, list[str]]:
    """Leave out what is nought or can't be predicted, and say so."""
    notes, kept, seen = [], [], set()
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
        if row[1] != 0 and known_constituent(row[0]) and plain not in seen:
            seen.add(plain)
            kept.append(row)
    names = [row[0] for row in kept]
    return names, np.array([r[1] for r in kept]), np.array([r[2] for r in kept]), notes


DATUMS: Final = {
    "STND", "HAT", "MHHW", "MHW", "MSL", "MTL", "DTL", "MLW", "MLLW", "LAT", "NAVD88", "CD", "MLWS",
    "MHWS", "MHWN", "MLWN",
}  # fmt: skip


def _above(
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


def _length(unit: str, source: str | Path) -> float:
    plain = unit.casefold()
    if plain.startswith(("meter", "metre")):
        return 1.0
    if plain.startswith(("feet", "foot")):
        return 0.3048
    raise WaterError(f"unknown unit {unit!r}", file=source, do="Ask for metric units.")
