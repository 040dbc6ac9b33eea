"""What is done with a logbook beside ranking it: list, show, remove, export, merge, update."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd

from layers.area import Area
from layers.jobs.parts.answers import records
from layers.jobs.parts.outputs import files_of, keep_inputs, same_file
from layers.jobs.parts.scores import naming_of
from layers.jobs.result import Result
from layers.logbook import Entry, Logbook, MergeReport, RepairReport, merge
from layers.present import write_geojson, write_table_csv
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
class RemoveResult(Result):
    """The trip that was taken out."""

    trip: str
    backup: Path

    def answer(self) -> dict[str, Any]:
        """Name it for machines."""
        return {"removed": self.trip, "backup": self.backup}


@dataclass(frozen=True, kw_only=True)
class RestoreResult(Result):
    """The backup that is the logbook now, and where the logbook is kept as it was."""

    restored: Path
    backup: Path | None

    def answer(self) -> dict[str, Any]:
        """Name both for machines."""
        return {"restored": self.restored, "backup": self.backup}


@dataclass(frozen=True, kw_only=True)
class RepairResult(Result):
    """What could be kept of a damaged logbook."""

    report: RepairReport

    def answer(self) -> dict[str, Any]:
        """Give the report for machines."""
        return asdict(self.report)


@dataclass(frozen=True, kw_only=True)
class ExportResult(Result):
    """Where every table is."""


@dataclass(frozen=True, kw_only=True)
class MergeResult(Result):
    """What came of another logbook's trips."""

    report: MergeReport
    prefer_other: bool

    def answer(self) -> dict[str, Any]:
        """Give the report for machines."""
        return asdict(self.report)


@dataclass(frozen=True, kw_only=True)
class UpdateResult(Result):
    """Where the old logbook is kept; None if it was up to date."""

    backup: Path | None

    def answer(self) -> dict[str, Any]:
        """Name the backup for machines."""
        return {"backup": self.backup}


def list_trips(path: Path, area: Area) -> ListResult:
    """List the trips."""
    return ListResult(area=area, trips=Logbook(path).trips())


def show_trip(path: Path, trip: str, area: Area) -> LoggedTripResult:
    """Give one trip, drift by drift."""
    return LoggedTripResult(area=area, entry=Logbook(path).entry(trip))


def remove(path: Path, trip: str, area: Area) -> RemoveResult:
    """Take a trip out."""
    backup = Logbook(path).remove(trip, naming=naming_of(area))
    return RemoveResult(area=area, trip=trip, backup=backup)


def restore(path: Path, which: str, area: Area) -> RestoreResult:
    """Bring a backup back."""
    restored, backup = Logbook(path).restore(which)
    return RestoreResult(area=area, restored=restored, backup=backup)


def repair(path: Path, area: Area) -> RepairResult:
    """Keep what can be read of a damaged logbook."""
    return RepairResult(area=area, report=Logbook(path).repair())


_ENDINGS: Final = {"csv": "csv", "geojson": "geojson", "geoparquet": "parquet"}


def export(path: Path, form: str, area: Area, out: Path) -> ExportResult:
    """Write out every table."""
    if form not in _ENDINGS:
        raise SeabedError(f"{form!r} is no format", key="export", do=f"Use {', '.join(_ENDINGS)}.")
    files = {name: out / f"{name}.{_ENDINGS[form]}" for name in ("drifts", "pieces", "catches")}
    files["trips"] = out / "trips.csv"
    keep_inputs(files.values(), [path, *files_of(area)])
    book = Logbook(path)
    write = {"csv": write_table_csv, "geojson": write_geojson, "geoparquet": _write_geoparquet}
    for name, table in (
        ("drifts", book.drifts()), ("pieces", book.pieces()), ("catches", book.catches()),
    ):  # fmt: skip
        write[form](files[name], table)
    write_table_csv(files["trips"], book.trips().drop(columns="digest"))
    return ExportResult(area=area, files=files)


def _write_geoparquet(path: Path, table: gpd.GeoDataFrame) -> None:
    with replacing(path) as partial:
        table.to_parquet(partial)


def merge_in(path: Path, other: Path, area: Area, *, prefer_other: bool) -> MergeResult:
    """Add another logbook's trips."""
    if same_file(path, other):
        raise SeabedError(
            "is the logbook itself", file=other, key="merge", do="Name another logbook."
        )
    report = merge(Logbook(path), Logbook(other), prefer_other=prefer_other)
    return MergeResult(area=area, report=report, prefer_other=prefer_other)


def update(path: Path, area: Area) -> UpdateResult:
    """Bring an older logbook up to date."""
    return UpdateResult(area=area, backup=Logbook(path).update())
