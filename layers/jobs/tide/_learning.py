"""The current of a ground, learned from own drifts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from layers.area import Area
from layers.jobs.parts.area_water import (
    calm_words,
    currents_of,
    heights_of,
    station_currents_of,
    wind_of,
)
from layers.jobs.parts.cutting import by_hand_on, cut_tracks
from layers.jobs.parts.facts import place_of
from layers.jobs.parts.outputs import files_of, given_by, keep_apart, keep_others
from layers.jobs.parts.results import area_map, basemap_warnings
from layers.jobs.parts.settings import area_of
from layers.jobs.parts.structure import open_area_grid
from layers.jobs.requests import TideRequest
from layers.jobs.result import Result
from layers.maps import MapContent, water_of_day, write_map
from layers.present.csv import caution_beside
from layers.present.pictures.rose import rose_lines, rose_picture
from layers.tracks import drifts_of
from layers.tracks.corrections import MOTOR, Correction, correct
from layers.water import Currents, LearnedCurrent, leeway_of
from layers.water.learned.against_table import AgainstTable, against_table
from layers.water.learned.drift_motions import drift_motions
from layers.water.learned.learned_file import write_learned
from layers.water.learned.learning import learn_current
from layers.water.learned.motored import FEWEST
from layers.water.sources import needs_tide
from layers.water.times import day_bounds, to_local
from seabed.errors import WaterError
from seabed.files import write_text
from seabed.units import format_quantity


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A drift that was left out in part or whole, and why in words.

    push_mps, push_deg: its velocity beyond what water and wind do; None where the log says motor.
    """

    trip: str
    drift_id: str
    start: pd.Timestamp
    end: pd.Timestamp
    why: str
    push_mps: float | None = None
    push_deg: float | None = None


@dataclass(frozen=True, kw_only=True)
class LearnedResult(Result):
    """A current learned from own drifts, except motored ones."""

    learned: LearnedCurrent
    against: AgainstTable | None = None
    motored: tuple[LeftOut, ...] = ()

    def motored_lines(self) -> list[str]:
        """Say of each drift that was left out which it is, when, and why."""
        zone = self.area.timezone
        hours = (to_local([one.start, one.end], zone) for one in self.motored)
        return [
            f"{one.drift_id}, {start:%H:%M} to {end:%H:%M}: {one.why}"
            for one, (start, end) in zip(self.motored, hours, strict=True)
        ]

    def answer(self) -> dict[str, Any]:
        """Give the current for machines: SI, None for unknown."""
        table = self.learned.by_hour()
        return {
            "outings": self.learned.outings,
            "drifts": self.learned.drifts,
            "leeway_scale": self.learned.leeway_scale,
            "motored": [
                {**asdict(one), "words": line}
                for one, line in zip(self.motored, self.motored_lines(), strict=True)
            ],
            "against_table": None if self.against is None else asdict(self.against),
            "by_hour": table.astype(object).where(table.notna(), None).to_dict("records"),
        }


def learn(request: TideRequest) -> LearnedResult:
    """Clean and cut tracks, learn the current from their drifts, and write it."""
    area, tracks = area_of(request), request.learn
    files = {} if request.out is None else _files(request.out, area)
    # a learned current may be learned again from more drifts, over the one that the area names
    read = [one for one in files_of(area) if one != area.water.currents]
    keep_apart(files.values(), [*given_by(request, but=["currents"]), *read])
    keep_others(files.values())
    heights = heights_of(area, place_of(area))
    heights = getattr(heights, "tide", heights)  # a current is learned by the tide alone
    if heights is None:
        raise WaterError(
            "a current is learned by the tide, and no tide heights are named",
            do="Name them with {water.heights}.",
        )
    wind, by_hand = wind_of(area, request.wind), by_hand_on(area, tracks)
    fixes, _, pieces, _ = cut_tracks(area, tracks)
    pieces, unused = correct(pieces, fixes, by_hand)
    drifts = drifts_of(pieces, fixes, timezone=area.timezone)
    motions, motored = _without_motor(drift_motions(fixes, drifts, wind), drifts, by_hand)
    learned = learn_current(motions, heights, leeway_of(area.boat.craft))
    motored += _looking_motored(learned, drifts, area)
    if files:
        _write(files, learned, drifts, area)
    calm = calm_words(area, request.wind)
    notes = [*unused, *([calm] if calm else [])]
    if motions["drift_id"].nunique() < FEWEST:
        notes.append(
            f"With fewer than {FEWEST} drifts, motored ones look like free ones: all count as free."
        )
    table = station_currents_of(area) or _table_of(area)
    against = None if table is None else against_table(learned, table)
    return LearnedResult(
        against=against,
        area=area,
        files=files,
        notes=tuple(notes),
        warnings=basemap_warnings(area) if "map" in files else (),
        learned=learned,
        motored=motored,
    )


def _without_motor(
    motions: pd.DataFrame, drifts: gpd.GeoDataFrame, by_hand: Sequence[Correction]
) -> tuple[pd.DataFrame, tuple[LeftOut, ...]]:
    """Take out the pieces of drifts during which the log says that the motor ran."""
    spans = [one for one in by_hand if one.what == MOTOR]
    half = pd.to_timedelta(motions["seconds"] / 2, unit="s")
    begin, end = motions["time"] - half, motions["time"] + half
    gone = np.zeros(len(motions), bool)
    for one in spans:
        gone |= ((begin < one.end) & (end > one.start)).to_numpy()
    if gone.all():
        raise WaterError(
            "no current can be learned: by the corrections the motor ran on every drift",
            do="Learn from tracks of days without the motor.",
        )
    named, kept = (set(motions["drift_id"][rows]) for rows in (gone, ~gone))
    return motions[~gone].reset_index(drop=True), tuple(
        LeftOut(
            row.trip, row.drift_id, row.start, row.end,
            "by its corrections the motor ran"
            + (" part of the time" if row.drift_id in kept else ""),
        )
        for row in drifts.itertuples() if row.drift_id in named
    )  # fmt: skip


def _looking_motored(
    learned: LearnedCurrent, drifts: gpd.GeoDataFrame, area: Area
) -> tuple[LeftOut, ...]:
    times = {row.drift_id: (row.start, row.end) for row in drifts.itertuples()}
    unit = area.units.speed
    return tuple(
        LeftOut(
            one.trip, one.drift_id, *times[one.drift_id],
            f"it goes {format_quantity(one.push_mps, unit, digits=1)} toward {one.push_deg:03.0f} "
            "beyond what water and wind do to the others",
            one.push_mps, one.push_deg,
        )
        for one in learned.motored
    )  # fmt: skip


def _table_of(area: Area) -> Currents | None:
    """Give the area's currents where they are a source by themselves, and not a learned current."""
    named = area.water.currents
    return None if named is None or needs_tide(named) else currents_of(area)


def _files(out: Path, area: Area) -> dict[str, Path]:
    files = {
        "current": out / "learned_current.json",
        "table": out / "current_by_hour.csv",
        "rose": out / "current_rose.svg",
        "arrows": out / "current_rose.geojson",
    }
    return {**files, "map": out / "map.html"} if area.grid.files else files


def _write(
    files: dict[str, Path], learned: LearnedCurrent, drifts: gpd.GeoDataFrame, area: Area
) -> None:
    """Write the learned current, its table, rose and arrows, and over a grid its last day's map."""
    table = learned.by_hour()
    write_learned(files["current"], learned)
    write_text(files["table"], table.round(3).to_csv(index=False, lineterminator="\n"))
    caution_beside(files["table"])
    title = f"{area.name or 'This ground'}: current by hour of the tide"
    write_text(files["rose"], rose_picture(table, title=title, speed_unit=area.units.speed))
    write_text(files["arrows"], rose_lines(table, learned.centre).to_json(drop_id=True) + "\n")
    if "map" in files:
        write_map(files["map"], _map_content(learned, drifts, area, title))


def _map_content(
    learned: LearnedCurrent, drifts: gpd.GeoDataFrame, area: Area, title: str
) -> MapContent:
    last = to_local(learned.span[1], area.timezone)[0].date()
    start, end = day_bounds(last, area.timezone)
    return area_map(
        area,
        title,
        grid=open_area_grid(area),
        band_m=area.depths.band_m,
        drifts=drifts,
        pieces=drifts.assign(kind="drift"),
        rose=rose_lines(learned.by_hour(), learned.centre),
        water=water_of_day(start, end, heights=learned.heights, currents=learned),
    )
