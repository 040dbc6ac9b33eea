"""The current of a ground, learned from own drifts."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd

from layers.area import Area
from layers.jobs.parts.facts import place_of
from layers.jobs.parts.outputs import files_of, keep_inputs
from layers.jobs.parts.results import area_map, basemap_warnings
from layers.jobs.parts.settings import (
    area_of,
    calm_words,
    currents_of,
    cut_settings,
    heights_of,
    station_currents_of,
    wind_of,
)
from layers.jobs.parts.structure import open_area_grid
from layers.jobs.requests import TideRequest
from layers.jobs.result import Result
from layers.maps import MapContent, water_of_day, write_map
from layers.present.csv import caution_beside
from layers.present.pictures.rose import rose_lines, rose_picture
from layers.tracks import clean, cut, drifts_of, read_fixes
from layers.water import (
    Currents,
    LearnedCurrent,
    day_bounds,
    drift_motions,
    leeway_of,
    needs_tide,
    to_local,
    write_learned,
)
from layers.water.learned.against_table import AgainstTable, against_table
from layers.water.learned.learning import learn_current
from seabed.errors import WaterError
from seabed.files import write_text


@dataclass(frozen=True, kw_only=True)
class LearnedResult(Result):
    """A current learned from own drifts."""

    learned: LearnedCurrent
    against: AgainstTable | None = None

    def answer(self) -> dict[str, Any]:
        """Give the current for machines: SI, None for unknown."""
        table = self.learned.by_hour()
        return {
            "outings": self.learned.outings,
            "drifts": self.learned.drifts,
            "leeway_scale": self.learned.leeway_scale,
            "against_table": None if self.against is None else asdict(self.against),
            "by_hour": table.astype(object).where(table.notna(), None).to_dict("records"),
        }


def learn(request: TideRequest) -> LearnedResult:
    """Clean and cut tracks, learn the current from their drifts, and write it.

    Raises WaterError if no tide heights are named, or too few drifts have a known tide and wind.
    """
    area, tracks = area_of(request), request.learn
    files = {} if request.out is None else _files(request.out, area)
    # a learned current may be learned again from more drifts, over the one that the area names
    named = [file for file in files_of(area) if file != area.water.currents]
    keep_inputs(files.values(), [*request.wind, *tracks, *named])
    heights = heights_of(area, place_of(area))
    heights = getattr(heights, "tide", heights)  # a current is learned by the tide alone
    if heights is None:
        raise WaterError(
            "a current is learned by the tide, and no tide heights are named",
            do="Name them with {heights}, or heights under [water] of the area file.",
        )
    settings, wind = cut_settings(area), wind_of(area, request.wind)
    read = read_fixes(tracks, timezone=area.timezone, date_order=area.date_order)
    fixes, _ = clean(read, settings)
    drifts = drifts_of(cut(fixes, settings), fixes, timezone=area.timezone)
    learned = learn_current(drift_motions(fixes, drifts, wind), heights, leeway_of(area.boat.craft))
    if files:
        _write(files, learned, drifts, area)
    calm = calm_words(area, request.wind)
    table = station_currents_of(area) or _table_of(area)
    against = None if table is None else against_table(learned, table)
    return LearnedResult(
        against=against,
        area=area,
        files=files,
        notes=(calm,) if calm else (),
        warnings=basemap_warnings(area) if "map" in files else (),
        learned=learned,
    )


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
    """Write the learned current, its table, its rose, and the rose's arrows for other maps.

    Where the area has a grid, a map as well: the drifts, and the current through the last day that
    was drifted on, by its hour control.
    """
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
