"""Tracks into drifts, fish onto drifts, lines ranked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from layers.area import Area
from layers.jobs.check import files_inside, kind_of
from layers.jobs.parts.area_ground import bottom_of
from layers.jobs.parts.outputs import files_of, given_by, keep_apart, keep_inputs
from layers.jobs.parts.results import basemap_warnings
from layers.jobs.parts.scores import known_lines, naming_of, sentences_of
from layers.jobs.parts.settings import area_of
from layers.jobs.parts.structure import STRUCTURE_STEPS
from layers.jobs.progress import Progress, ignored, steps_of
from layers.jobs.requests import TripRequest
from layers.jobs.result import Result, records
from layers.jobs.trip._catches import clocks_of as clocks_of
from layers.jobs.trip._catches import find_fish as find_fish
from layers.jobs.trip._catches import read_fish as read_fish
from layers.jobs.trip._outings import (
    TRIP_STEPS,
    log_trips,
    trip_files,
    up_to_date,
    work_out,
    write_trip,
)
from layers.jobs.trip._outings import Trips as Trips
from layers.jobs.trip._outings import correction_files as correction_files
from layers.jobs.trip._outings import cut_trip as cut_trip
from layers.logbook import AddReport
from seabed.errors import TrackError

TRACKS: Final = {"GPX", "track log", "sounder's log"}


@dataclass(frozen=True, kw_only=True)
class TripResult(Result):
    """One trip or several, and what the logbook took of them; None without a logbook."""

    trips: Trips
    logged: AddReport | None = None

    def answer(self) -> dict[str, Any]:
        """Give drifts, lines and what could not be used for machines."""
        trips = self.trips
        return {
            "files": self.files,
            "cleaning": trips.report.as_dict(),
            "share_on_grid": trips.on_grid,
            "drifts": records(trips.drifts),
            "lines": records(trips.lines),
            "stretches": records(trips.scores.stretches),
            "shown": sentences_of(trips.scores),
            "untied": records(trips.untied),
            "logged": None if self.logged is None else asdict(self.logged),
            "notes": [*trips.notes, *self.notes],
        }


def run(request: TripRequest, progress: Progress = ignored) -> TripResult:
    """Cut tracks into drifts, tie fish to them, rank the lines, and write and log it all."""
    area = area_of(request)
    book = area.logbook.file
    request = replace(request, tracks=_tracks_of(request.tracks))
    request = replace(request, corrections=tuple(correction_files(request)))
    _keep_inputs(request, area)
    backup = None if book is None else up_to_date(book)
    known = known_lines(book, naming_of(area))
    step = steps_of(progress, TRIP_STEPS + STRUCTURE_STEPS)
    if area.grid.files:
        step("reading depths")
    structure, hazards = bottom_of(area, step)
    trips = work_out(request, area, structure, step, known=known)
    # the logbook last: where it refuses the trip, the files do not take their places either
    files = write_trip(request.out, trips, area, structure, step, hazards=hazards)
    logged = None if book is None else log_trips(book, trips, area, replace=request.replace)
    if book is not None:
        files["logbook"] = book
    notes = []
    if request.area is None and request.timezone is None and trips.catches.attrs["without_zone"]:
        notes.append("Times without a zone were read as UTC; give {timezone}.")
    if backup is not None:
        notes.append(f"The logbook was brought up to date; the old one is kept as {backup}")
    return TripResult(
        area=area, files=files, notes=tuple(notes), warnings=basemap_warnings(area), trips=trips,
        logged=logged,
    )  # fmt: skip


def _tracks_of(paths: Sequence[Path]) -> tuple[Path, ...]:
    """Name the tracks; of a folder all that are in it."""
    tracks: list[Path] = []
    for path in paths:
        if not path.is_dir():
            tracks.append(path)
            continue
        inside = [Path(name) for name in files_inside(str(path)) if kind_of(name) in TRACKS]
        if not inside:
            raise TrackError("no track is in this folder", file=path, do="Name the files.")
        tracks += inside
    return tuple(tracks)


def _keep_inputs(request: TripRequest, area: Area) -> None:
    """Refuse to write over what is read; only the logbook may be both."""
    keep_inputs(trip_files(request.out).values(), request, area)
    if (book := area.logbook.file) is not None:
        keep_apart([book], [*given_by(request, but=["log"]), *files_of(area, logbook=False)])
