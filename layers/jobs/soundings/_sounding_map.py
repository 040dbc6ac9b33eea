"""The map of own soundings: where the sounder ran, what the open grid says, what comes next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
from shapely import LineString

from layers.cautions import SOUND_CAUTION
from layers.jobs.parts.structure import hazards_of, search_of
from layers.jobs.soundings._sounding import Survey, near
from layers.maps import MapContent
from layers.maps.features import SOUNDED
from seabed.grid.places import sample
from seabed.schema import joined_tables
from seabed.structure import find_bottom

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from layers.area import Area


def map_of_survey(survey: Survey, open_grid: xr.DataArray, area: Area) -> MapContent:
    """Gather what the map of own soundings shows, over a part of the merged grid."""
    merged = near(survey.merged.depth, survey.own.depth)
    return MapContent(
        grid=merged,
        contours=joined_tables([*find_bottom(merged, search_of(area)).contours()]),
        hazards=hazards_of(area, merged),
        soundings=sounded(survey, open_grid),
        next_lines=survey.proposals,
        notes=(SOUND_CAUTION,),
        band_m=area.depths.band_m,
        title=f"{area.name or 'Own'} soundings",
        timezone=area.timezone,
        units=area.units,
    )


def sounded(survey: Survey, open_grid: xr.DataArray) -> gpd.GeoDataFrame:
    """Give each run of the sounder as a line of its good soundings, beside the open grid.

    One agrees where its median difference is within two standard deviations of it: those of the
    sounder and of the open grid.
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
