"""A day planned."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import pandas as pd
import xarray as xr

from layers.jobs.parts.structure import Structure
from layers.jobs.plan._inputs import Hours
from layers.jobs.plan._safety import Safety
from layers.jobs.scout.prospects import Prospects
from layers.planning import Plan, Setting
from layers.scoring import Scores


@dataclass(frozen=True, slots=True)
class DayPlan:
    """A day planned.

    Attributes
    ----------
    when : Hours
    structure : Structure
    named : Ranked
        What the reasons name.
    setting : Setting
    hazards : GeoDataFrame or None
        None where no chart was named.
    scores : Scores or None
        Of the logbook.
    plan : Plan
        From `plan_day`.
    safety : Safety
        What could hurt.
    timetable, what_if, what_if_days : DataFrame
    worth_kind : str
    """

    when: Hours
    structure: Structure
    named: Prospects
    setting: Setting
    hazards: gpd.GeoDataFrame | None
    scores: Scores | None
    plan: Plan
    safety: Safety
    timetable: pd.DataFrame
    what_if: pd.DataFrame
    what_if_days: pd.DataFrame
    worth_kind: str

    @property
    def lines(self) -> gpd.GeoDataFrame:
        """The lines of the plan."""
        return self.plan.lines

    @property
    def grid(self) -> xr.DataArray:
        """The depth grid."""
        return self.structure.grid
