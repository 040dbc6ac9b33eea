"""Which drift in which hour of a day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from layers.jobs.parts.answers import records
from layers.jobs.parts.outputs import files_of, keep_inputs
from layers.jobs.parts.settings import area_of, calm_words, drift_speed_mps, length_of
from layers.jobs.plan._day_plan import PLAN_STEPS, Asked, plan_files, work_out, write_plan
from layers.jobs.plan._inputs import hours_of, water_of
from layers.jobs.plan._next_times import DAYS_AHEAD, AgainResult, do_again
from layers.jobs.plan._planned import DayPlan
from layers.jobs.plan.printed_rows import hazard_words
from layers.jobs.progress import Progress, ignored, steps_of
from layers.jobs.requests import PlanRequest
from layers.jobs.result import Result
from layers.present.sheet.content import NO_HAZARDS

__all__ = ["DAYS_AHEAD", "AgainResult", "DayPlan", "PlanResult", "run"]


@dataclass(frozen=True, kw_only=True)
class PlanResult(Result):
    """The drift lines of a day."""

    plan: DayPlan

    @property
    def hazards(self) -> str:
        """Which hazards were kept clear of."""
        return hazard_words(self.plan.hazards, self.area) or NO_HAZARDS

    def answer(self) -> dict[str, Any]:
        """Give the plan for machines."""
        plan = self.plan
        return {
            "beyond": plan.safety.beyond,
            "warnings": plan.safety.records(),
            "plan": records(plan.lines),
            "passes": records(plan.plan.passes),
            "worth_kind": plan.worth_kind,
            "timetable": records(plan.timetable),
            "what_if": records(plan.what_if),
            "what_if_days": records(plan.what_if_days),
            "files": self.files,
            "hazards": self.hazards,
        }


def run(request: PlanRequest, progress: Progress = ignored) -> PlanResult | AgainResult:
    """Plan a day, and write its sheet, map, marks, calendar and tables.

    With `again`, find the next times for a drift of the logbook instead.

    Raises
    ------
    SeabedError
        If the current is not known, no hour is within the boat's limits, or a file can't be used.
    """
    area = area_of(request)
    wanted = drift_speed_mps(request.drift_speed)
    spacing_m = length_of(request.spacing, "spacing")
    files = plan_files(request.out)
    keep_inputs(files.values(), [*request.wind, *files_of(area)])
    when = hours_of(area, request.date or "", request.begin, request.end)
    held = None if request.free else wanted
    beyond = request.beyond_limits
    water = water_of(area, when, request.wind, held_mps=held, beyond=beyond)
    asked = Asked(
        when, water, log=request.log is not None, beside=request.beside or "",
        spacing_m=spacing_m, each_side=request.each_side, drift_mps=wanted, beyond=beyond,
    )  # fmt: skip
    step = steps_of(progress, PLAN_STEPS)
    if request.again:
        step("looking for the next times")
        return do_again(request.out, area, asked, request.again)
    plan = work_out(area, asked, step)
    step("writing sheet and marks")
    warnings = write_plan(files, area, plan)
    calm = calm_words(area, request.wind)
    notes = (calm,) if calm else ()
    return PlanResult(area=area, files=files, notes=notes, warnings=warnings, plan=plan)
