"""The fish of a trip, out of logs, marks and photos, each on its drift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.area import Area
from layers.catches import as_catches, check_rules, read_catches, tie
from layers.catches.by_hand import correct_fish
from layers.catches.clocks import ClockOffset, LogClock, log_clock
from layers.catches.photos import fish_of_photos, photo_files, read_photos, set_clocks
from layers.jobs.parts.settings import clock_offset_s
from layers.jobs.requests import TripRequest
from layers.tracks.corrections import OF_FISH, Correction

MOST_NAMED = 3
"""Files named one by one in a sentence."""


@dataclass(frozen=True, slots=True)
class FishFound:
    """What was caught, by logs, marks and photos.

    catches: tied to their drifts.
    photos: every photo with its time, place and drift, fish or not; None without photos.
    notes: what was seen on the way, a plain sentence each.
    unused: a sentence for each correction by hand that matches no fish.
    clock: of the catch logs, as it was found.
    """

    catches: gpd.GeoDataFrame
    photos: gpd.GeoDataFrame | None
    notes: tuple[str, ...]
    unused: list[str]
    clock: LogClock


@dataclass(frozen=True, slots=True)
class Clocks:
    """How far clocks were ahead, seconds; None is to be found.

    track_s: of the track, and of the marks in its files.
    """

    log_s: float | None
    photo_s: float | None
    track_s: float


def clocks_of(request: TripRequest) -> Clocks:
    """Read the clocks of a request; cameras are as far ahead as the log if only that is given."""
    log, photo = request.clock_offset, request.photo_offset
    is_auto = log is not None and log.strip().lower() == "auto"
    log_s = None if is_auto else clock_offset_s(log)
    photo_s = None if log is None else log_s
    if photo is not None:
        photo_s = clock_offset_s(photo, key="photo_offset")
    return Clocks(log_s, photo_s, clock_offset_s(request.track_clock, key="track_clock"))


def read_fish(request: TripRequest, area: Area) -> gpd.GeoDataFrame:
    """Read the fish of logs, and those marked on the way."""
    every = [*request.catches, *_with_waypoints(request.tracks, request.catches)]
    return read_catches(
        every, timezone=area.timezone, default_unit=area.units.fish,
        table_unit=area.catches.length_unit, salvage=request.salvage, date_order=area.date_order,
        columns=area.catches.columns,
    )  # fmt: skip


def find_fish(
    request: TripRequest,
    area: Area,
    clocks: Clocks,
    *,
    drifts: gpd.GeoDataFrame,
    fixes: pd.DataFrame,
    by_hand: Sequence[Correction] = (),
    caught: gpd.GeoDataFrame | None = None,
) -> FishFound:
    """Read logs, marks and photos; apply the rules; tie each fish to its drift.

    caught: logs and marks from `read_fish`, if they are read already.
    """
    tracks, photos = request.tracks, request.photos
    if caught is None:
        caught = read_fish(request, area)
    away, clock, clock_note = _log_clocks(caught, tracks, area, clocks, drifts=drifts, fixes=fixes)
    without_zone = caught.attrs.get("without_zone", 0)
    shown: pd.DataFrame | None = None
    notes = [*caught.attrs["notes"], *([clock_note] if clock_note else [])]
    if without_zone and _clocks_change(fixes, area.timezone):
        notes.append(
            f"Clocks change in {area.timezone} during this track: times without an offset are "
            "read by the new time after the change."
        )
    if photos:
        shown, of_photos = _photos(photos, area, fixes, clocks.photo_s)
        notes += of_photos
        without_zone += int((~shown["zoned"] & shown["clock_utc"].notna()).sum())
        rows, repeats = fish_of_photos(shown)
        if repeats:
            notes.append(f"{repeats} photos show the fish of the photo before them.")
        caught = pd.concat([caught, as_catches(rows)], ignore_index=True)
        away = np.concatenate([away, np.zeros(len(rows))])
        order = np.argsort(caught["time"].to_numpy(), kind="stable")
        caught, away = caught.iloc[order].reset_index(drop=True), away[order]
    unused: list[str] = []
    if any(one.what in OF_FISH for one in by_hand):
        caught, away, unused = correct_fish(caught, away, by_hand, default_unit=area.units.fish)
    ruled = check_rules(caught, area.species, timezone=area.timezone)
    catches = tie(ruled, drifts, fixes, clock_offset_s=away)
    catches.attrs["without_zone"] = without_zone
    notes += _unsure(catches)
    photos_tied = None if shown is None else _tied(shown, drifts, fixes)
    return FishFound(catches, photos_tied, tuple(notes), unused, clock)


def _clocks_change(fixes: pd.DataFrame, timezone: str) -> bool:
    """Whether summer time begins or ends between the first fix and the last."""
    ends = [fixes["time"].iloc[at].tz_convert(timezone).utcoffset() for at in (0, -1) if len(fixes)]
    return len(set(ends)) > 1


def _unsure(catches: gpd.GeoDataFrame) -> list[str]:
    """Say how many fish may belong to two drifts, and the least chance."""
    sure = catches["sure"].dropna()
    if not len(sure):
        return []
    return [
        f"{len(sure)} of {len(catches)} fish came near the end of a drift and may belong to "
        f"two: each counts on both, by its chance (at least {sure.min():.0%} on the likelier)."
    ]


def _log_clocks(
    caught: gpd.GeoDataFrame,
    tracks: Sequence[Path],
    area: Area,
    clocks: Clocks,
    *,
    drifts: gpd.GeoDataFrame,
    fixes: pd.DataFrame,
) -> tuple[NDArray[np.float64], LogClock, str]:
    """Seconds that the clock behind each fish was ahead, and what there is to say of it."""
    file = caught["file"].to_numpy()
    marked = np.isin(file, [str(path) for path in tracks])
    away = np.where(marked, clocks.track_s, clocks.log_s or 0.0)
    if clocks.log_s or not len(fixes) or marked.all():
        return away, LogClock(), ""
    begins = fixes["time"].iloc[0].tz_convert(area.timezone)
    zone_s = begins.utcoffset().total_seconds()
    own = {name: ~marked & (file == name) for name in dict.fromkeys(file[~marked])}
    each = {name: log_clock(caught[rows], drifts, fixes) for name, rows in own.items()}
    words = {}
    for name, clock in each.items():
        if clocks.log_s is not None:
            words[name] = clock.sentence(zone_s, begins)
        elif clock.how:
            away[own[name]] = clock.offset_s
            words[name] = (
                f"The log's clock: {clock.words} ahead, by {clock.fish} of {clock.of} fish."
            )
        else:
            words[name] = (
                "The log's clock agrees with the track, or there are too few fish to tell."
            )
    worst = max(each.values(), key=lambda clock: abs(clock.offset_s))
    if len(each) == 1:
        return away, worst, words[next(iter(each))]
    notes = [f"{Path(name).name}: {one}" for name, one in words.items() if one]
    if clocks.log_s is not None and notes:
        notes.append('{clock_offset} shifts all logs; "auto" shifts each by what it is off.')
    return away, worst, " ".join(notes)


def _with_waypoints(tracks: Sequence[Path], logs: Sequence[Path]) -> list[Path]:
    """Give the GPX tracks that are not named as catch logs as well."""
    named = {Path(path).resolve() for path in logs}
    return [
        path for path in tracks if path.suffix.lower() == ".gpx" and path.resolve() not in named
    ]


def _photos(
    paths: Sequence[Path], area: Area, fixes: pd.DataFrame, offset_s: float | None
) -> tuple[pd.DataFrame, list[str]]:
    files, others = photo_files(paths)
    read = read_photos(files, timezone=area.timezone, default_unit=area.units.fish)
    shown, offsets = set_clocks(read, fixes, clock_offset_s=offset_s)
    fish = int(shown["fish"].sum())
    notes = [f"{len(shown)} photos, {fish} of fish by their words."]
    if others:
        notes.append(f"{len(others)} files beside them are not photos: {_named(others)}.")
    bad = shown[shown["problem"] != ""]
    notes += [f"{Path(one.file).name}: {one.problem}" for one in bad.itertuples()]
    return shown, notes + [_clock_words(camera, offset) for camera, offset in offsets.items()]


def _clock_words(camera: str, offset: ClockOffset) -> str:
    if offset.offset_s != offset.offset_s:
        taken = f"Clock of {camera}: assumed right; {offset.why}."
        return taken + " Give {photo_offset} if it is not."
    ahead = "ahead" if offset.offset_s >= 0 else "behind"
    return (
        f"Clock of {camera}: {abs(offset.offset_s):.0f} s {ahead}, {offset.why} "
        f"({offset.photos} photos, half of them within {offset.spread_s:.0f} s of that)."
    )


def _named(files: Sequence[Path]) -> str:
    more = len(files) - MOST_NAMED
    names = ", ".join(file.name for file in files[:MOST_NAMED])
    return f"{names} and {more} more" if more > 0 else names


def _tied(photos: pd.DataFrame, drifts: gpd.GeoDataFrame, fixes: pd.DataFrame) -> gpd.GeoDataFrame:
    """Tie every photo to its drift, as fish are."""
    rows = photos.assign(rod="", note="", row=np.arange(len(photos))).to_dict("records")
    tied = tie(as_catches(rows), drifts, fixes).sort_values("row", ignore_index=True)
    about = photos[["file", "camera", "clock_offset_s", "fish", "problem"]].reset_index(drop=True)
    places = tied[["time", "drift_id", "tied_by", "longitude", "latitude", "geometry"]]
    return gpd.GeoDataFrame(pd.concat([about, places], axis=1), crs="EPSG:4326")
