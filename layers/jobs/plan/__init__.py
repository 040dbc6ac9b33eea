"""Which drift in which hour of a day."""

from __future__ import annotations

from dataclasses import replace

from layers.jobs.parts.area_water import calm_words, tables_hold
from layers.jobs.parts.outputs import keep_inputs
from layers.jobs.parts.settings import area_of, drift_speed_mps, length_of, zone_words
from layers.jobs.plan._day_plan import PLAN_STEPS, Terms, plan_files, work_out, write_plan
from layers.jobs.plan._inputs import hours_of, water_of
from layers.jobs.plan._next_times import DAYS_AHEAD, NextTimesResult, find_next_times
from layers.jobs.plan._plan_result import PlanResult
from layers.jobs.progress import Progress, ignored, steps_of
from layers.jobs.requests import PlanRequest
from layers.present.sheet.content import NOTHING_WORTH
from layers.present.sheet.paper import paper_named
from seabed.grid import degree_bounds

__all__ = ["DAYS_AHEAD", "NextTimesResult", "PlanResult", "run"]


def run(request: PlanRequest, progress: Progress = ignored) -> PlanResult | NextTimesResult:
    """Plan a day, and write its sheet, map, marks, calendar and tables.

    With `again`, find the next times for a drift of the logbook instead.
    """
    area = area_of(request)
    paper_named(request.paper)  # before a minute's work
    wanted = drift_speed_mps(request.drift_speed)
    spacing_m = length_of(request.spacing, "spacing")
    files = plan_files(request.out)
    keep_inputs(files.values(), request, area)
    when = hours_of(area, request.date or "", request.begin, request.end)
    water = water_of(area, when, request, held_mps=None if request.free else wanted)
    tables_hold(area, when.start, when.end)  # before a minute's work
    terms = Terms(request, when, water, spacing_m, wanted)
    step = steps_of(progress, PLAN_STEPS)
    if request.again:
        step("looking for the next times")
        return find_next_times(area, terms, request.again)
    plan = work_out(area, terms, step)
    notes = (
        "" if len(plan.lines) else NOTHING_WORTH,
        zone_words(area, when.day, degree_bounds(plan.grid).middle[0]),
        calm_words(area, request.wind),
    )
    plan = replace(plan, files=files, notes=tuple(filter(None, notes)), why=request.why)
    step("writing sheet and marks")
    return replace(plan, warnings=write_plan(plan, request.paper))
