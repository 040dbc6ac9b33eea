"""What ``trip`` computes and writes: tracks into drifts, fish onto drifts, lines ranked."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.area import Area
from layers.jobs.parts.area_water import currents_of, heights_of, wind_of
from layers.jobs.parts.cutting import by_hand_on, cut_settings, cut_tracks
from layers.jobs.parts.facts import mean_height_m
from layers.jobs.parts.results import map_water
from layers.jobs.parts.scores import (
    expected_over,
    naming_of,
    ranked_files,
    ranked_map,
    write_ranked,
)
from layers.jobs.parts.structure import Structure
from layers.jobs.parts.words import say_length
from layers.jobs.progress import Step
from layers.jobs.requests import TripRequest
from layers.jobs.trip._catches import clocks_of, find_fish
from layers.logbook import AddReport, Logbook, entries_of
from layers.maps import MapWater, write_map
from layers.present import write_table_csv
from layers.present.pictures.speed import speed_picture
from layers.scoring import Ground, Scores, score_season
from layers.tracks import (
    CleanReport,
    depth_under,
    drifts_of,
    with_conditions,
)
from layers.tracks.conditions import with_fish
from layers.tracks.corrections import correct, corrections_beside
from layers.tracks.depth import check_on_grid
from layers.water import leeway_of
from seabed.files import write_text

TRIP_STEPS = 8


@dataclass(frozen=True, slots=True)
class Trips:
    """One trip or several, worked out.

    on_grid: share of the fixes that are on the grid; None without one.
    height_m: mean height of the tide over the drifts; 0 without heights.
    notes: what else was seen on the way, a plain sentence each.
    files: tracks, corrections and logs that were read.
    photos: every photo, fish or not; None without photos.
    """

    fixes: pd.DataFrame
    report: CleanReport
    on_grid: float | None
    pieces: gpd.GeoDataFrame
    drifts: gpd.GeoDataFrame
    catches: gpd.GeoDataFrame
    scores: Scores
    height_m: float = 0.0
    notes: tuple[str, ...] = ()
    files: tuple[str, ...] = field(default=())
    photos: gpd.GeoDataFrame | None = None

    @property
    def lines(self) -> gpd.GeoDataFrame:
        """The lines, from the best."""
        return self.scores.lines

    @property
    def untied(self) -> gpd.GeoDataFrame:
        """Catches that belong to no drift, with why."""
        return self.catches[self.catches["drift_id"] == ""]


def work_out(
    request: TripRequest,
    area: Area,
    structure: Structure | None,
    step: Step = lambda doing: None,
    *,
    known: gpd.GeoDataFrame | None = None,
) -> Trips:
    """Read, clean and cut tracks, tie the catches, and rank the lines.

    Fish marked as waypoints in the tracks' own files, and photos of fish, count as catches too.
    Corrections by hand beside a track are applied.  Each drift has what it met (tide, current,
    wind, edges crossed) and caught.  Lines that are `known` keep their names.
    """
    ground, clocks = _ground(request, area, structure), clocks_of(request)
    step("reading tracks")
    fixes, report, pieces, notes = cut_trip(request, area)
    on_grid = None if ground.grid is None else check_on_grid(fixes, ground.grid)
    step("applying corrections by hand")
    by_hand = by_hand_on(area, request.tracks, request.corrections)
    pieces, unused = correct(pieces, fixes, by_hand) if by_hand else (pieces, [])
    drifts, depth = _drifts_over(ground, pieces, fixes, area)
    step("tying fish to drifts")
    fish = find_fish(request, area, clocks, drifts=drifts, fixes=fixes, by_hand=by_hand)
    unused += fish.unused
    if by_hand:
        notes += [f"{len(by_hand) - len(unused)} corrections by hand applied.", *unused]
    step("ranking lines")
    scores = score_season(
        drifts, fish.catches, fixes, depth=depth, ground=ground, known=known,
        corridor_m=area.lines.corridor_m, timezone=area.timezone, say=say_length(area),
    )  # fmt: skip
    drifts = _with_all(scores.drifts, ground, fish.catches, area)
    read = [*request.tracks, *correction_files(request), *request.catches]
    return Trips(
        fixes, report, on_grid, pieces, drifts, fish.catches, scores,
        height_m=mean_height_m(ground.heights, pd.DatetimeIndex(drifts["start"])),
        notes=(*notes, *fish.notes),
        files=tuple(map(str, dict.fromkeys(read))), photos=fish.photos,
    )  # fmt: skip


def _ground(request: TripRequest, area: Area, structure: Structure | None) -> Ground:
    """Gather what is known of bottom, water and wind."""
    wind = wind_of(area, request.wind) if request.wind else None
    bottom = Ground() if structure is None else Ground(
        structure.grid, structure.edges, structure.features
    )  # fmt: skip
    return replace(bottom, heights=heights_of(area), currents=currents_of(area), wind=wind)


def _drifts_over(
    ground: Ground, pieces: gpd.GeoDataFrame, fixes: pd.DataFrame, area: Area
) -> tuple[gpd.GeoDataFrame, NDArray[np.float64] | None]:
    """Describe the drifts; give the depth under each fix too, where there is a grid."""
    depth = charted = None
    if ground.grid is not None:
        charted = depth_under(fixes, ground.grid)
        depth = depth_under(fixes, ground.grid, heights=ground.heights)
    drifts = drifts_of(
        pieces, fixes, grid_depth=depth, charted_depth=charted, rods=area.boat.rods,
        band_m=area.depths.band_m, timezone=area.timezone,
    )  # fmt: skip
    return drifts, depth


def _with_all(
    drifts: gpd.GeoDataFrame, ground: Ground, catches: gpd.GeoDataFrame, area: Area
) -> gpd.GeoDataFrame:
    """Add what each drift met and caught."""
    met = with_conditions(
        drifts, heights=ground.heights, currents=ground.currents, wind=ground.wind,
        leeway=leeway_of(area.boat.craft), edges=ground.edges,
    )  # fmt: skip
    return with_fish(met, catches)


def cut_trip(
    request: TripRequest, area: Area
) -> tuple[pd.DataFrame, CleanReport, gpd.GeoDataFrame, list[str]]:
    """Cut the tracks of a trip, as `cut_tracks`."""
    ahead_s = clocks_of(request).track_s
    return cut_tracks(area, request.tracks, salvage=request.salvage, ahead_s=ahead_s)


def correction_files(request: TripRequest) -> list[Path]:
    """List the files of corrections: those beside the tracks, and those that are named."""
    return list(dict.fromkeys([*corrections_beside(request.tracks), *request.corrections]))


def log_trips(path: Path, trips: Trips, area: Area, *, replace: bool = False) -> AddReport:
    """Add what was worked out to a logbook; with `replace`, even if a logged trip loses by it."""
    entries = entries_of(
        trips.pieces, trips.drifts, trips.catches, files=trips.files, timezone=area.timezone
    )
    return Logbook(path).add(entries, replace=replace, naming=naming_of(area))


def up_to_date(path: Path) -> Path | None:
    """Bring an older logbook up to date; give the backup made, if one was needed."""
    book = Logbook(path)
    return None if book.is_new else book.update()


def trip_files(out: Path) -> dict[str, Path]:
    """Files that `write_trip` makes in a folder, by name."""
    return ranked_files(out, "trip.gpkg") | {
        "drifts": out / "drifts.csv",
        "catches": out / "tied_catches.csv",
        "untied": out / "untied_catches.csv",
        "photos": out / "photos.csv",
        "speed": out / "speed.svg",
    }


def write_trip(
    out: Path,
    trips: Trips,
    area: Area,
    structure: Structure | None,
    step: Step = lambda doing: None,
    *,
    hazards: gpd.GeoDataFrame | None = None,
) -> dict[str, Path]:
    """Write drifts, ranking, marks and map into a folder; give the files by name."""
    files = trip_files(out)
    step("writing tables and marks")
    for name in ("drifts", "catches", "untied", "photos"):
        table = getattr(trips, name)
        if table is None:
            del files[name]
        else:
            write_table_csv(files[name], table)
    layers = {name: getattr(trips, name) for name in ("drifts", "pieces", "catches")}
    expected = expected_over(trips.scores, structure, height_m=trips.height_m)
    write_ranked(files, trips.scores, area, layers, expected)
    picture = speed_picture(
        trips.pieces, trips.fixes, settings=cut_settings(area), timezone=area.timezone,
        unit=area.units.speed,
    )  # fmt: skip
    write_text(files["speed"], picture)
    step("drawing the map")
    content = ranked_map(
        trips.scores, area, area.name or "Drifts and lines", structure, **layers,
        water=_water(trips, area), species=tuple(area.species), expected=expected, hazards=hazards,
    )  # fmt: skip
    write_map(files["map"], content)
    return files


def _water(trips: Trips, area: Area) -> MapWater | None:
    """Sample the water of the last day, in the middle of the tracks; None without a drift."""
    if not len(trips.drifts):
        return None
    west, south, east, north = trips.pieces.total_bounds
    last = trips.drifts["start"].max()
    return map_water(area, last, longitude=(west + east) / 2, latitude=(south + north) / 2)
