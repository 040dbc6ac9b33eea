"""Station files from other people's JSON.

Two kinds are known: a record, or a list of them, of an open database of stations as package
registries carry, and what the U.S. agency's open data service returns for a station (its metadata
with ``harcon`` and ``datums`` expanded, or its harmonic constituents alone).
"""

from __future__ import annotations

import json
from http.client import HTTPException
from pathlib import Path
from typing import Any, Final
from urllib.error import URLError
from urllib.request import Request, urlopen

from layers.water.stations._records import from_agency, from_database
from layers.water.stations.station import Station
from layers.water.stations.station_file import FORMAT, station_of
from seabed.errors import WaterError
from seabed.tables.documents import read_json

__all__ = ["import_station"]

TIMEOUT_S: Final = 30.0


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
        Which bin of a current meter's profile; the one nearest the surface that has constituents
        by default (the notes then name it).
    datum : str, optional
        The datum that heights are to be above; by default the station's chart datum.

    Returns
    -------
    Station
        Its notes say what was left out or assumed.

    Raises
    ------
    WaterError
        If it can't be fetched or read, is of no known kind, or has no constituents.

    Examples
    --------
    >>> import json
    >>> one = {"name": "M2", "amplitude": 3.1, "phase_GMT": 90.0}
    >>> record = {"units": "feet", "HarmonicConstituents": [one]}
    >>> _ = Path("fetched.json").write_text(json.dumps(record))
    >>> import_station("fetched.json").heights.harmonics.amplitude.round(2).tolist()
    [0.94]
    """
    record = _fetch(source) if _is_url(source) else read_json(Path(source), WaterError)
    if isinstance(record, list):
        record = _pick(record, station_id, source)
    if not isinstance(record, dict):
        raise _unknown(source)
    if record.get("format") == FORMAT:
        return station_of(record, file=source)
    try:
        return _station_from(record, source, station_id, depth_bin, datum)
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
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
        return from_database(record, source, datum)
    if isinstance(record.get("stations"), list) and record["stations"]:
        return from_agency(_pick(record["stations"], station_id, source), source, depth_bin, datum)
    if "HarmonicConstituents" in record:
        return from_agency({"harmonicConstituents": record}, source, depth_bin, datum)
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
        "is not a station of a known kind",
        file=source,
        do="Give a station file, a record of an open database of stations, or the agency's own "
        "file of the station, with its harmonic constituents and its datums.",
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
