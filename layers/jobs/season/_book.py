"""What is done with a logbook beside ranking it: list, show, change, export and share it."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from layers.area import Area
from layers.jobs.parts.outputs import keep_inputs, same_file
from layers.jobs.parts.scores import naming_of
from layers.jobs.parts.settings import length_of
from layers.jobs.parts.words import counted
from layers.jobs.requests import SeasonRequest
from layers.jobs.result import Result, records
from layers.logbook import Entry, Logbook, merge
from layers.logbook.sharing import shared_layers, square_m
from layers.present import write_geojson, write_geopackage, write_table_csv
from seabed.errors import SeabedError
from seabed.files import replacing


@dataclass(frozen=True, kw_only=True)
class ListResult(Result):
    """A row a trip, from `layers.logbook.Logbook.trips`."""

    trips: pd.DataFrame

    def answer(self) -> dict[str, Any]:
        """Give the trips for machines."""
        return {"trips": records(self.trips.drop(columns=["digest", "files"]))}


@dataclass(frozen=True, kw_only=True)
class LoggedTripResult(Result):
    """One trip as it is logged."""

    entry: Entry

    def answer(self) -> dict[str, Any]:
        """Give its drifts and catches for machines."""
        entry = self.entry
        return {
            "trip": entry.trip,
            "files": list(entry.files),
            "drifts": records(entry.drifts),
            "catches": records(entry.catches),
        }


@dataclass(frozen=True, kw_only=True)
class BookResult(Result):
    """What was done with a logbook: its notes for people, `about` it for machines."""

    about: dict[str, Any] = field(default_factory=dict)

    def answer(self) -> dict[str, Any]:
        """Give it for machines, with the files that were written."""
        return ({"files": self.files} if self.files else {}) | self.about


def remove(path: Path, trip: str, area: Area) -> BookResult:
    """Take a trip out."""
    backup = Logbook(path).remove(trip, naming=naming_of(area))
    notes = (
        f"Removed: {trip}",
        f"The logbook as it was, with that trip, is kept: {backup}",
        "Remove that file, and older ones beside it, if the trip is to be gone for good.",
    )
    return BookResult(area=area, notes=notes, about={"removed": trip, "backup": backup})


def restore(path: Path, which: str, area: Area) -> BookResult:
    """Bring a backup back."""
    restored, backup = Logbook(path).restore(which)
    notes = [f"Restored: {restored}"]
    if backup is not None:
        notes.append(f"Its state before that is kept: {backup}")
    about = {"restored": restored, "backup": backup}
    return BookResult(area=area, notes=tuple(notes), about=about)


def repair(path: Path, area: Area) -> BookResult:
    """Keep what can be read of a damaged logbook."""
    report = Logbook(path).repair()
    notes = [f"{counted(len(report.kept), 'trip')} kept."]
    if report.lost:
        notes.append(f"Not whole, and left out: {', '.join(report.lost)}. Log them again.")
    notes.append(f"The damaged file is kept: {report.damaged}")
    return BookResult(area=area, notes=tuple(notes), about=asdict(report))


_ENDINGS: Final = {"csv": "csv", "geojson": "geojson", "geoparquet": "parquet"}


def export(path: Path, form: str, area: Area, request: SeasonRequest) -> BookResult:
    """Write out every table."""
    out = request.out
    if form not in _ENDINGS:
        raise SeabedError(
            f"{form!r} is not a format", key="export", do=f"Use {', '.join(_ENDINGS)}."
        )
    if form == "geoparquet" and find_spec("pyarrow") is None:
        raise SeabedError(
            "GeoParquet needs the library pyarrow, which is not installed",
            key="export",
            do="Install it (pip install pyarrow), or write csv or geojson.",
        )
    files = {name: out / f"{name}.{_ENDINGS[form]}" for name in ("drifts", "pieces", "catches")}
    files["trips"] = out / "trips.csv"
    keep_inputs(files.values(), request, area)
    book = Logbook(path)
    write = {"csv": write_table_csv, "geojson": write_geojson, "geoparquet": _write_geoparquet}
    for name, table in (
        ("drifts", book.drifts()), ("pieces", book.pieces()), ("catches", book.catches()),
    ):  # fmt: skip
        write[form](files[name], table)
    write_table_csv(files["trips"], book.trips().drop(columns="digest"))
    return BookResult(area=area, files=files)


def _write_geoparquet(path: Path, table: gpd.GeoDataFrame) -> None:
    with replacing(path) as partial:
        table.to_parquet(partial)


def merge_in(path: Path, other: Path, area: Area, *, prefer_other: bool) -> BookResult:
    """Add another logbook's trips."""
    if same_file(path, other):
        raise SeabedError(
            "is the logbook itself", file=other, key="merge", do="Name another logbook."
        )
    report = merge(Logbook(path), Logbook(other), prefer_other=prefer_other)
    trips = "trip" if len(report.added) == 1 else "trips"
    notes = [f"{len(report.added)} {trips} added, {len(report.same)} the same in both"]
    if report.differing:
        how = "the other's taken" if prefer_other else "ours kept; {prefer_other} takes the other's"
        notes.append(f"{len(report.differing)} differ ({how}): {', '.join(report.differing)}")
    if report.backup is not None:
        notes.append(f"The logbook as it was is kept: {report.backup}")
    return BookResult(area=area, notes=tuple(notes), about=asdict(report))


def share(path: Path, target: Path, area: Area, request: SeasonRequest) -> BookResult:
    """Write a copy whose positions are middles of squares, without what says more."""
    coarse = request.coarse or "2 km"
    if same_file(path, target):
        raise SeabedError(
            "is the logbook itself, which a coarse copy must not replace",
            file=target,
            key="share",
            do="Name another file; nothing was changed.",
        )
    keep_inputs([target], request, area)
    coarse_m = length_of(coarse, "coarse")
    square = square_m(coarse_m)
    write_geopackage(target, shared_layers(Logbook(path), coarse_m, naming=naming_of(area)))
    shown = coarse if square == coarse_m else f"{square / 1000:g} km"
    note = (
        f"Positions are middles of squares of {shown}; left out: tracks, courses, depths, hours, "
        "files and notes."
    )
    return BookResult(
        area=area, files={"shared": target}, notes=(note,), about={"coarse_m": square}
    )


def update(path: Path, area: Area) -> BookResult:
    """Bring an older logbook up to date."""
    backup = Logbook(path).update()
    note = "The logbook is up to date."
    if backup is not None:
        note = f"Up to date; the old one is kept as {backup}"
    return BookResult(area=area, notes=(note,), about={"backup": backup})
