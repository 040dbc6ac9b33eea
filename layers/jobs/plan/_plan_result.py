"""A day planned, as the job gives it, and its map."""

from __future__ import annotations

from dataclasses import astuple, dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import xarray as xr

from layers.jobs.parts.facts import mean_height_m
from layers.jobs.parts.scores import expected_over
from layers.jobs.parts.structure import Structure
from layers.jobs.plan._inputs import Hours
from layers.jobs.plan._safety import Safety
from layers.jobs.plan.printed_rows import hazard_words
from layers.jobs.result import Result, records
from layers.jobs.scout.prospects import Prospects
from layers.maps import MapContent, MapWater, water_of_day
from layers.planning import Plan, Setting
from layers.planning.ground.expected_fish import EXPECTED_FISH
from layers.present.sheet.content import NO_HAZARDS
from layers.scoring import Scores
from layers.water import FixedWind
from layers.water.times import day_bounds
from seabed.errors import without_settings
from seabed.grid import degree_bounds


@dataclass(frozen=True, kw_only=True)
class PlanResult(Result):
    """The drift lines of a day, and what they were planned with.

    prospects: the structure that the reasons name.
    charted: hazards of the charts; None where no chart was named.
    facts: what water, light and sea do, a sentence each.
    why: whether to print the reasons, every run and the other scenarios.
    """

    when: Hours
    structure: Structure
    prospects: Prospects
    setting: Setting
    charted: gpd.GeoDataFrame | None
    scores: Scores | None
    plan: Plan
    safety: Safety
    timetable: pd.DataFrame
    what_if: pd.DataFrame
    what_if_days: pd.DataFrame
    worth_kind: str
    facts: tuple[str, ...] = ()
    why: bool = False

    @property
    def lines(self) -> gpd.GeoDataFrame:
        """The lines of the plan."""
        return self.plan.lines

    @property
    def grid(self) -> xr.DataArray:
        """The depth grid."""
        return self.structure.grid

    @property
    def hazards(self) -> str:
        """Which hazards were kept clear of, in words."""
        return hazard_words(self.charted, self.area) or NO_HAZARDS

    def answer(self) -> dict[str, Any]:
        """Give the plan for machines."""
        return {
            "beyond": self.safety.beyond,
            "facts": list(self.facts),
            "warnings": self.safety.records(),
            "plan": records(self.lines),
            "passes": records(self.plan.passes),
            "worth_kind": self.worth_kind,
            "timetable": records(self.timetable),
            "what_if": records(self.what_if),
            "what_if_days": records(self.what_if_days),
            "files": self.files,
            "hazards": self.hazards,
        }


def map_of_plan(plan: PlanResult) -> MapContent:
    """Gather what the map of a plan shows.

    Expected fish, at the mean tide of the hours planned, are shown if they chose the lines.
    """
    area, structure, scores = plan.area, plan.structure, plan.scores
    expected = None
    if plan.worth_kind == EXPECTED_FISH and scores is not None:
        height = mean_height_m(plan.setting.safe.heights, plan.when.times)
        expected = expected_over(scores, structure, height_m=height)
    return MapContent(
        grid=plan.grid,
        contours=structure.contours,
        band=structure.band,
        edges=plan.prospects.edges,
        features=plan.prospects.features,
        stretches=None if scores is None else scores.stretches,
        hazards=plan.charted,
        plan=plan.lines,
        plan_passes=plan.plan.passes,
        runs=plan.plan.runs,
        expected=expected,
        band_m=area.depths.band_m,
        water=_water(plan),
        beyond=plan.safety.beyond,
        warnings=(
            *without_settings(plan.safety.warnings),
            *([NO_HAZARDS] if plan.charted is None else []),
        ),
        notes=tuple(without_settings(plan.facts)),
        title=f"{area.name or 'Drift plan'}, {plan.when.day}",
        timezone=area.timezone,
        units=area.units,
    )


def _water(plan: PlanResult) -> MapWater:
    """Sample the day in the middle of the lines; the wind is the first that is known."""
    west, south, east, north = (
        plan.lines.total_bounds if len(plan.lines) else astuple(degree_bounds(plan.grid))
    )
    water = plan.setting.water
    wind = None
    if water.wind is not None:
        speed, from_deg = water.wind.at(plan.when.times)
        known = np.flatnonzero(np.isfinite(speed))
        if known.size:
            wind = FixedWind(float(speed[known[0]]), float(from_deg[known[0]]))
    start, end = day_bounds(plan.when.day, plan.area.timezone)
    return water_of_day(
        start,
        end,
        heights=plan.setting.safe.heights,
        currents=water.currents,
        longitude=(west + east) / 2,
        latitude=(south + north) / 2,
        wind=wind,
        leeway=water.leeway,
    )
