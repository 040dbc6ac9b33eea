"""Station files: tidal constituents of one place, as JSON of our own (see docs/station_file.md)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from layers.water.heights.derived import SubordinateHeights
from layers.water.stations.harmonics import Harmonics, Nodal
from layers.water.stations.station import AxisCurrents, HarmonicHeights, Station, make_harmonics
from layers.water.times import zone_of
from seabed.errors import UnitError, WaterError
from seabed.files import write_text
from seabed.tables.documents import read_json
from seabed.units import parse_length, parse_speed

__all__ = ["read_station", "write_station"]


FORMAT: Final = "seabed-layers station 1"
LARGEST: Final = 1e12


def read_station(path: str | Path) -> Station:
    """Read a station file.

    Raises
    ------
    WaterError
        If it is not one, or a key is missing or wrong; the message names the key.

    Examples
    --------
    >>> from layers.water.stations.station import HarmonicHeights, make_harmonics
    >>> tide = HarmonicHeights(make_harmonics(["M2"], np.array([0.9]), np.array([90.0])), "MLLW")
    >>> write_station("quay.json", Station("Kettle Quay", heights=tide))
    >>> station = read_station("quay.json")
    >>> station.heights.height_m(np.array(["2031-06-14T10:00"], "datetime64[ns]")).shape
    (1,)
    """
    path = Path(path)
    return station_of(read_json(path, WaterError), file=path)


def station_of(record: Any, *, file: Any = None) -> Station:
    """Make a station of a station file's content; as `read_station`."""
    reader = _StationReader(record, file)
    if reader.text("format", "") != FORMAT:
        raise WaterError(
            f"key format is not {FORMAT!r}", file=file, do="See the page on station files."
        )
    timezone = reader.text("timezone", "UTC")
    zone_of(timezone)
    heights, currents = reader.part("heights"), reader.part("currents")
    if heights is None and currents is None:
        raise WaterError("neither heights nor currents are given", file=file, do="Give one.")
    return Station(
        name=reader.text("name", ""),
        longitude=reader.number("longitude", np.nan),
        latitude=reader.number("latitude", np.nan),
        timezone=timezone,
        source=reader.text("source", ""),
        licence=reader.text("licence", ""),
        heights=None if heights is None else _heights(heights),
        currents=None if currents is None else _currents(currents),
        datums_m={} if heights is None else _datums(heights),
        notes=tuple(str(note) for note in reader.record.get("notes", [])),
    )


def write_station(path: str | Path, station: Station) -> None:
    """Write a station file, which `read_station` gives back equal.

    Examples
    --------
    >>> from layers.water.stations.station import HarmonicHeights, make_harmonics
    >>> tide = HarmonicHeights(make_harmonics(["M2"], np.array([0.9]), np.array([90.0])), "MLLW")
    >>> write_station("quay.json", Station("Kettle Quay", heights=tide))
    >>> read_station("quay.json").heights.datum
    'MLLW'
    """
    record: dict[str, Any] = {
        "format": FORMAT,
        "name": station.name,
        "timezone": station.timezone,
        "source": station.source,
        "licence": station.licence,
        "notes": list(station.notes),
    }
    if np.isfinite([station.longitude, station.latitude]).all():
        record |= {"longitude": station.longitude, "latitude": station.latitude}
    if station.heights is not None:
        record["heights"] = _heights_record(station.heights, station.datums_m)
    if station.currents is not None:
        record["currents"] = _currents_record(station.currents)
    write_text(path, json.dumps(record, indent=1, ensure_ascii=False) + "\n")


@dataclass(frozen=True, slots=True)
class _StationReader:
    """Keys of one object of the file, with messages that name them."""

    record: Any
    file: Any
    at: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.record, dict):
            raise WaterError(f"{self.at or 'the file'} is not a JSON object", file=self.file)

    def refuse(self, key: str, what: str, do: str | None = None) -> WaterError:
        return WaterError(what, file=self.file, where=f"key {self.at}{key}", do=do)

    def text(self, key: str, default: str | None = None) -> str:
        value = self.record.get(key, default)
        if not isinstance(value, str):
            raise self.refuse(key, f"{value!r} is not text")
        return value

    def number(self, key: str, default: float | None = None) -> float:
        value = self.record.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.refuse(key, f"{value!r} is not a number")
        if key in self.record and not abs(value) < LARGEST:
            raise self.refuse(key, f"{value!r} can't be right")
        return float(value)

    def part(self, key: str) -> _StationReader | None:
        value = self.record.get(key)
        return None if value is None else _StationReader(value, self.file, f"{self.at}{key}.")

    def constituents(self, key: str = "constituents") -> list[_StationReader]:
        rows = self.record.get(key)
        if not isinstance(rows, list) or not rows:
            raise self.refuse(
                key,
                "constituents are missing",
                'List them: [{"name": "M2", "amplitude": 1.07, "phase": 11.6}, ...].',
            )
        return [
            _StationReader(row, self.file, f"{self.at}{key}[{i}].") for i, row in enumerate(rows)
        ]

    def harmonics(self, scale: float, mean: float) -> Harmonics:
        rows = self.constituents()
        return make_harmonics(
            [row.text("name") for row in rows],
            np.array([row.number("amplitude") for row in rows]) * scale,
            np.array([row.number("phase") for row in rows]),
            mean,
            nodal=self.nodal(),
            file=self.file,
        )

    def nodal(self) -> Nodal:
        word = self.text("nodal", "daily")
        if word == "daily":
            return "daily"
        if word == "yearly":
            return "yearly"
        raise self.refuse("nodal", f"{word!r} is neither daily nor yearly")


def _check_phase(reader: _StationReader) -> None:
    reference = reader.text("phase", "")
    if reference.casefold() not in {"greenwich", "gmt", "utc"}:
        raise reader.refuse(
            "phase",
            f"phases are on {reference!r} time"
            if reference
            else "the reference of the phases is missing",
            'Only Greenwich phases are read ("phase": "Greenwich"). Turn a local phase into one: '
            "G = g - zone x speed, with the zone in hours east and the speed in degrees an hour.",
        )


def _scale(reader: _StationReader, parse: Any) -> float:
    unit = reader.text("unit")
    try:
        return float(parse(f"1 {unit}"))
    except UnitError as error:
        raise reader.refuse("unit", error.what, error.do) from error


def _heights(reader: _StationReader) -> HarmonicHeights | SubordinateHeights:
    _check_phase(reader)
    scale = _scale(reader, parse_length)
    mean = reader.number("mean_level") * scale
    reference = HarmonicHeights(reader.harmonics(scale, mean), reader.text("datum"))
    part = reader.part("differences")
    if part is None:
        return reference
    kind = part.text("type", "ratio")
    if kind not in {"ratio", "fixed"}:
        raise part.refuse("type", f"{kind!r} is neither ratio nor fixed")
    times = part.number("high_minutes", 0.0), part.number("low_minutes", 0.0)
    if kind == "ratio":
        return SubordinateHeights(reference, *times, part.number("high"), part.number("low"))
    added = part.number("high") * scale, part.number("low") * scale
    return SubordinateHeights(reference, *times, *added, type="fixed")


def _heights_record(
    heights: HarmonicHeights | SubordinateHeights, datums_m: dict[str, float]
) -> dict[str, Any]:
    subordinate = isinstance(heights, SubordinateHeights)
    reference = heights.reference if isinstance(heights, SubordinateHeights) else heights
    if not isinstance(reference, HarmonicHeights):
        raise WaterError("a station file holds constituents, and this tide has none")
    record: dict[str, Any] = {
        "unit": "m",
        "phase": "Greenwich",
        "nodal": reference.harmonics.nodal,
        "datum": reference.datum,
        "mean_level": reference.harmonics.mean,
        "datums": datums_m,
        "constituents": _constituent_rows(reference.harmonics),
    }
    if subordinate:
        names = ("high_minutes", "low_minutes", "high", "low", "type")
        record["differences"] = {name: getattr(heights, name) for name in names}
    return record


def _datums(reader: _StationReader) -> dict[str, float]:
    scale = _scale(reader, parse_length)
    part = reader.part("datums")
    return {} if part is None else {key: part.number(key) * scale for key in part.record}


def _currents(reader: _StationReader) -> AxisCurrents:
    _check_phase(reader)
    scale = _scale(reader, parse_speed)
    flood = reader.number("flood_toward") % 360.0
    across = reader.part("across")
    return AxisCurrents(
        along=reader.harmonics(scale, reader.number("mean", 0.0) * scale),
        flood_toward_deg=flood,
        ebb_toward_deg=reader.number("ebb_toward", flood + 180.0) % 360.0,
        across=None
        if across is None
        else across.harmonics(scale, across.number("mean", 0.0) * scale),
    )


def _currents_record(currents: AxisCurrents) -> dict[str, Any]:
    record: dict[str, Any] = {
        "unit": "m/s",
        "phase": "Greenwich",
        "nodal": currents.along.nodal,
        "flood_toward": currents.flood_toward_deg,
        "ebb_toward": currents.ebb_toward_deg,
        "mean": currents.along.mean,
        "constituents": _constituent_rows(currents.along),
    }
    if currents.across is not None:
        record["across"] = {
            "nodal": currents.across.nodal,
            "mean": currents.across.mean,
            "constituents": _constituent_rows(currents.across),
        }
    return record


def _constituent_rows(harmonics: Harmonics) -> list[dict[str, Any]]:
    return [
        {"name": name, "amplitude": float(amplitude), "phase": float(phase)}
        for name, amplitude, phase in zip(
            harmonics.names, harmonics.amplitude, harmonics.phase_deg, strict=True
        )
    ]
