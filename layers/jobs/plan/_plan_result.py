"""A day planned, as the job gives it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import pandas as pd
import xarray as xr

from layers.jobs.parts.answers import records
from layers.jobs.parts.structure import Structure
from layers.jobs.plan._inputs import Hours
from layers.jobs.plan._safety import Safety
from layers.jobs.plan.printed_rows import hazard_words
from layers.jobs.result import Result
from layers.jobs.scout.prospects import Prospects
from layers.planning import Plan, Setting
from layers.present.sheet.content import NO_HAZARDS
from layers.scoring import Scores


@dataclass(frozen=True, kw_only=True)
class PlanResult(Result):
    """The drift lines of a day, and what they were planned with.

    prospects: the structure that the reasons name.
    charted: hazards of the charts; None where no chart was named.
    scores: of the logbook.
    safety: what could hurt.
    facts: what water, light and sea do, a sentence each.
    why: whether the reasons, every run and the other scenarios are to be printed.
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
