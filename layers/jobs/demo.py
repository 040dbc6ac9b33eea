"""The main job on the invented sound that comes along."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from layers.jobs.demo_area import demo_files
from layers.jobs.parts.area_ground import area_ground
from layers.jobs.parts.outputs import keep_apart, keep_others
from layers.jobs.parts.settings import area_of
from layers.jobs.progress import Progress, ignored, steps_of
from layers.jobs.requests import DemoRequest, ScoutRequest, TripRequest
from layers.jobs.result import Result, records
from layers.jobs.scout._scouting import SCOUT_STEPS, scout_area, scout_files, write_scout
from layers.jobs.trip._outings import TRIP_STEPS, Trips, trip_files, work_out, write_trip
from seabed.files import replacing


@dataclass(frozen=True, kw_only=True)
class DemoResult(Result):
    """The trips of the demo."""

    trips: Trips

    def answer(self) -> dict[str, Any]:
        """Give the lines for machines."""
        return {"files": self.files, "lines": records(self.trips.lines)}


def run(request: DemoRequest, progress: Progress = ignored) -> DemoResult:
    """Scout the sound, and work out four trips on it."""
    out, folder = request.out, request.out / "area"
    copied = [folder / source.name for source in demo_files()]
    results = [*trip_files(out / "trip").values(), *scout_files(out / "scout").values()]
    keep_apart([*copied, *results], demo_files())
    keep_apart(results, copied)
    keep_others([*copied, *results])
    step = steps_of(progress, 1 + TRIP_STEPS + SCOUT_STEPS)
    step("copying the demo area")
    _copy(folder)
    area = area_of(ScoutRequest(area=folder / "area.toml"))
    step("reading depths")
    scouted = scout_area(area_ground(area, step))
    scout = write_scout(out / "scout", scouted, area, step)
    tracks = tuple(sorted(folder.glob("trip_*.gpx")))
    trip = TripRequest(tracks=tracks, catches=(folder / "catches.csv",))
    trips = work_out(trip, area, scouted.structure, step)
    hazards = scouted.prospects.hazards
    files = write_trip(out / "trip", trips, area, scouted.named, step, hazards=hazards)
    files |= {"scouted": scout["map"], "report": scout["report"]}
    return DemoResult(area=area, files=files, trips=trips)


def _copy(target: Path) -> None:
    """Copy the demo area's files, each whole or not at all."""
    for source in demo_files():
        with replacing(target / source.name) as partial:
            shutil.copyfile(source, partial)
