"""Own depths from a sounder's log, laid on an open grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr
from shapely import LineString

from layers.area import Area
from layers.cautions import SOUND_CAUTION
from layers.jobs.parts.area_water import heights_of
from layers.jobs.parts.outputs import keep_inputs
from layers.jobs.parts.settings import area_of, clock_offset_s, day_of, length_of
from layers.jobs.parts.structure import hazards_of, open_area_surface, search_of
from layers.jobs.progress import Progress, ignored, steps_of
from layers.jobs.requests import DEPTHS_FROM, SoundingsRequest
from layers.jobs.result import Result
from layers.jobs.soundings._answer import sounding_answer, sounding_lines
from layers.jobs.soundings._sounding import (
    SOUNDING_STEPS,
    Survey,
    SurveyOptions,
    near,
    sound,
    sounding_files,
    write_survey,
)
from layers.maps import MapContent, write_map
from layers.maps.features import SOUNDED
from layers.present.soundings_file import soundings_beside
from layers.water import Heights
from seabed.errors import SeabedError, WaterError
from seabed.grid.places import sample
from seabed.schema import joined_tables
from seabed.soundings import Mounting
from seabed.structure import find_bottom

LONGEST_LAG_S: Final = 60.0


@dataclass(frozen=True, kw_only=True)
class SoundingsResult(Result):
    """Own soundings on the open grid, and whether the tide was taken off them."""

    survey: Survey
    tided: bool

    def sentences(self) -> list[str]:
        """Say what was found, a sentence or two each, in the area's units."""
        return sounding_lines(self.survey, self.area, tided=self.tided)

    def answer(self) -> dict[str, Any]:
        """Give everything found for machines."""
        return {"files": self.files, **sounding_answer(self.survey)}


def run(request: SoundingsRequest, progress: Progress = ignored) -> SoundingsResult:
    """Read, clean and reduce soundings, grid them, lay them on the open grid, and write it all."""
    _check(request)
    area = area_of(request)
    options = _options(area, request)
    heights = None if request.no_tide else _heights(area)
    files = sounding_files(request.out)
    keep_inputs(files.values(), request, area)
    step = steps_of(progress, SOUNDING_STEPS)
    surface = open_area_surface(area)
    with soundings_beside(files["soundings"]) as begin:
        survey = sound(
            request.logs, surface, area, options, heights=heights, step=step, settled=begin
        )
        files = write_survey(request.out, survey, area, step)
        write_map(files["map"], _map_of(survey, surface.depth, area))
    return SoundingsResult(area=area, files=files, survey=survey, tided=heights is not None)


def _check(request: SoundingsRequest) -> None:
    for name in ("tide_error", "heights"):
        if request.no_tide and getattr(request, name) is not None:
            raise SeabedError("means nothing with {no_tide}", key=name, do="Leave out one of them.")
    if request.depths_from not in (None, *DEPTHS_FROM):
        raise SeabedError(
            f"{request.depths_from!r} can't be right",
            key="depths_from",
            do=f"Use {', '.join(DEPTHS_FROM)}.",
        )


def _options(area: Area, request: SoundingsRequest) -> SurveyOptions:
    """Read the words of a request."""
    return SurveyOptions(
        mounting=Mounting(
            transducer_m=area.boat.transducer_m,
            draft_m=area.boat.draft_m,
            measured_from=request.depths_from,
        ),
        lag_s=None if request.lag == "auto" else _lag_s(request.lag),
        cell_m=_metres(request.cell, "cell", least_m=0.1),
        reach_m=_metres(request.reach, "reach", least_m=0.1),
        tide_sigma_m=_metres(request.tide_error or "0.2 m", "tide_error") or 0.0,
        next_m=_metres(request.next_lines, "next_lines") or 0.0,
        salvage=request.salvage,
        day=None if request.date is None else day_of(request.date, "UTC"),
    )


def _metres(words: str | None, key: str, *, least_m: float = 0.0) -> float | None:
    if words is None:
        return None
    metres = length_of(words, key)
    if metres < least_m:
        raise SeabedError(
            f"{words!r} is less than {least_m:g} m", key=key, do="Give a greater length."
        )
    return metres


def _lag_s(words: str) -> float:
    if words.split()[:1] == ["0"]:
        return 0.0
    seconds = clock_offset_s(words, key="lag")
    if abs(seconds) > LONGEST_LAG_S:
        raise SeabedError(
            f"{words!r} is more than a minute",
            key="lag",
            do="Give seconds: a sounder is not so late.",
        )
    return seconds


def _heights(area: Area) -> Heights:
    heights = heights_of(area)
    if heights is None:
        raise WaterError(
            "no tide heights are named",
            file=area.file,
            do="Name them with {water.heights}; or go without: {no_tide}.",
        )
    return heights


def _map_of(survey: Survey, open_grid: xr.DataArray, area: Area) -> MapContent:
    """Gather what the map of own soundings shows, over a part of the merged grid."""
    merged = near(survey.merged.depth, survey.own.depth)
    return MapContent(
        grid=merged,
        contours=joined_tables([*find_bottom(merged, search_of(area)).contours()]),
        hazards=hazards_of(area, merged),
        soundings=_sounded(survey, open_grid),
        next_lines=survey.proposals,
        notes=(SOUND_CAUTION,),
        band_m=area.depths.band_m,
        title=f"{area.name or 'Own'} soundings",
        timezone=area.timezone,
        units=area.units,
    )


def _sounded(survey: Survey, open_grid: xr.DataArray) -> gpd.GeoDataFrame:
    """Give each run of the sounder as a line of its good soundings, beside the open grid.

    A run agrees where its median difference is within two standard deviations of both.
    """
    table = survey.soundings
    known = (table["flag"] == "") & table[["longitude", "latitude", "depth_m"]].notna().all(axis=1)
    runs = table[known].groupby("line", observed=True)
    rows = [
        _run(int(line), run, open_grid, survey.merged.open_sigma_m)
        for line, run in runs if len(run) > 1
    ]  # fmt: skip
    return SOUNDED.frame(rows, crs="EPSG:4326")


def _run(
    line: int, run: pd.DataFrame, open_grid: xr.DataArray, open_sigma_m: float
) -> dict[str, Any]:
    longitude, latitude = (run[name].to_numpy(float) for name in ("longitude", "latitude"))
    depth = run["depth_m"].to_numpy(float)
    off = depth - sample(open_grid, longitude, latitude)
    median = float(np.nanmedian(off)) if np.isfinite(off).any() else np.nan
    sigma = np.hypot(float(np.nanmedian(run["sigma_m"])), open_sigma_m)
    return {
        "line": line, "soundings": len(run), "shoalest_m": depth.min(), "deepest_m": depth.max(),
        "off_m": median, "agrees": not abs(median) > 2 * sigma,
        "geometry": LineString(np.column_stack([longitude, latitude])),
    }  # fmt: skip
