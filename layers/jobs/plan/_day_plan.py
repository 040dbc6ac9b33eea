"""A day planned, and written as sheet, map, marks, calendar, tables and layers."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd
import xarray as xr
from pyproj import CRS

from layers.area import Area
from layers.jobs.parts.area_water import heights_of
from layers.jobs.parts.facts import launch_of, sea_of
from layers.jobs.parts.results import write_area_marks
from layers.jobs.parts.words import clock, say_length
from layers.jobs.plan._afloat import facts_of_day, put_afloat
from layers.jobs.plan._inputs import Hours, check_known, setting_of
from layers.jobs.plan._known_ground import KnownGround, ground_of
from layers.jobs.plan._plan_result import PlanResult, map_of_plan
from layers.jobs.plan._safety import Safety, open_hours, safety_of
from layers.jobs.plan._sheet import sheet_of
from layers.jobs.plan.printed_rows import with_local
from layers.jobs.progress import Step
from layers.jobs.requests import PlanRequest
from layers.jobs.scout.prospects import Prospects
from layers.maps import write_map
from layers.planning import DayWater, Plan, Setting, WorthAt, plan_day
from layers.planning.day.beside import Beside
from layers.planning.day.choice import LEFT_AFTER_A_DRIFT
from layers.planning.day.plan_day import STRUCTURE_SCORE
from layers.planning.day.reasons import Landmarks
from layers.planning.day.slots import SLOT_S, WHOLE_SPAN_S, Slot, slots_of_day
from layers.planning.day.timetable import arrival, legs_of, timetable
from layers.planning.drift.safe_water import hazards_near
from layers.planning.ground.expected_fish import EXPECTED_FISH, ExpectedFish, tells_ground
from layers.planning.ground.fished import FISHED_LINES, LEFT_WHERE_FISH_WERE, FishedGround
from layers.planning.ground.proven_lines import ProvenLine, proven_lines
from layers.planning.what_if.days import what_if_days
from layers.planning.what_if.drifts import what_if
from layers.present import write_calendar, write_geopackage, write_table_csv
from layers.present.sheet.html import write_sheet
from layers.present.sheet.pdf import write_sheet_pdf
from layers.scoring import Scores
from layers.water import OpenHours
from layers.water.times import day_bounds
from seabed.errors import without_settings
from seabed.grid import degree_bounds
from seabed.grid.extent import metric_crs

PLAN_STEPS: Final = 13

_FILES: Final = {
    "sheet": "sheet.pdf",
    "page": "sheet.html",
    "map": "map.html",
    "marks": "plan.gpx",
    "calendar": "plan.ics",
    "plan": "plan.csv",
    "timetable": "timetable.csv",
    "what_if": "what_if.csv",
    "layers": "plan.gpkg",
}


@dataclass(frozen=True, slots=True)
class Terms:
    """What a plan keeps to besides the area.

    spacing_m: between passes beside a line.
    drift_mps: speed over the ground that is wanted, least and greatest.
    """

    request: PlanRequest
    when: Hours
    water: DayWater
    spacing_m: float
    drift_mps: tuple[float, float]

    @property
    def beyond(self) -> bool:
        """Whether hours beyond the boat's limits are used anyway."""
        return self.request.beyond_limits


def work_out(area: Area, terms: Terms, step: Step = lambda doing: None) -> PlanResult:
    """Plan the day; SeabedError if no hour is within the boat's limits."""
    when = terms.when
    step("reading depths")
    ground = ground_of(area, step)
    grid, heights = ground.grid, heights_of(area)
    sea = sea_of(
        area, grid, wind=terms.water.wind, currents=terms.water.currents, heights=heights
    )  # fmt: skip
    water = replace(terms.water, sea=sea)
    check_known(water, when, grid)
    hours = open_hours(
        area, when, water, grid, beyond=terms.beyond, least_s=area.plan.shortest_drift_s
    )  # fmt: skip
    hazards, structure = ground.hazards, ground.structure
    step("reading the logbook")
    scores = ground.scores(area, required=terms.request.log is not None)
    setting = setting_of(area, water, grid, hazards, heights, trough_m=_trough_m(water, when))
    step("trying drifts")
    choice = _choice_of(area, ground, setting, scores, (when, hours))
    plan = _laid_out(area, terms, ground, setting, choice)
    covered = choice.cover or any(slot.to_cover for slot in plan.slots)
    slots = [*plan.slots] if covered else choice.slots
    launch = launch_of(
        area, *day_bounds(when.day, area.timezone), heights=heights, wind=water.wind
    )  # fmt: skip
    safety = safety_of(
        area, (plan.passes, plan.runs), setting, when, hours, asked_mps=terms.drift_mps,
        beyond=terms.beyond, launch=launch,
    )  # fmt: skip
    _warn(plan.lines, safety, hazards, area, metric_crs(grid))
    put_afloat(area, plan, setting)
    step("asking what if")
    lines_then = what_if(plan.lines, setting, slots)
    return PlanResult(
        area=area, when=when, structure=structure, prospects=ground.prospects, setting=setting,
        charted=hazards, scores=scores, plan=plan, safety=safety, worth_kind=choice.kind,
        timetable=timetable(plan, setting, hours), what_if=lines_then,
        what_if_days=what_if_days(plan.lines, lines_then, setting, slots, left=choice.left),
        facts=facts_of_day(area, when, setting, launch, plan),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _WorthOfDay:
    """What lines of a day are chosen by: worth, what it is, and the drifts tried in each slot."""

    worth: xr.DataArray | WorthAt
    kind: str
    slots: list[Slot]

    @property
    def cover(self) -> bool:
        """Whether ground not yet passed comes first."""
        return self.kind == STRUCTURE_SCORE

    @property
    def left(self) -> float:
        """Share of its worth that ground keeps once it is drifted."""
        return LEFT_AFTER_A_DRIFT if self.cover else LEFT_WHERE_FISH_WERE


def _choice_of(
    area: Area,
    ground: KnownGround,
    setting: Setting,
    scores: Scores | None,
    time: tuple[Hours, OpenHours],
) -> _WorthOfDay:
    worth, kind = worth_for(area, ground, setting, scores)
    slots = slots_of_day(
        setting, worth, time[0].start, time[0].end, hours=time[1],
        stretches=None if scores is None else scores.stretches,
        proven=proven_by(scores, setting) if kind == FISHED_LINES else (),
        slot_s=WHOLE_SPAN_S if kind == STRUCTURE_SCORE else SLOT_S,
    )  # fmt: skip
    return _WorthOfDay(worth, kind, slots)


def _laid_out(
    area: Area, terms: Terms, ground: KnownGround, setting: Setting, choice: _WorthOfDay
) -> Plan:
    line, each_side = terms.request.beside, terms.request.each_side
    beside = Beside(line, terms.spacing_m, each_side) if line else None
    return plan_day(
        setting, choice.worth, terms.when.start, terms.when.end, slots=choice.slots,
        worth_kind=choice.kind, left=choice.left, cover=choice.cover, beside=beside,
        structure=lambda: landmarks_of(ground.prospects, ground.grid), say=say_length(area),
        home=area.plan.launch,
    )  # fmt: skip


def _warn(
    lines: gpd.GeoDataFrame,
    safety: Safety,
    hazards: gpd.GeoDataFrame | None,
    area: Area,
    metric: CRS,
) -> None:
    """Put what could hurt beside each line, and what is charted near it into its reason."""
    lines["warning"] = [safety.of_line(name) for name in lines["plan_id"]]
    if hazards is not None:
        near = hazards_near(hazards, lines, area.plan.hazard_clearance_m, metric)
        words = [f" Charted there: {kinds}." if kinds else "" for kinds in near]
        lines["why"] = [why + more for why, more in zip(lines["why"], words, strict=True)]


def _trough_m(water: DayWater, when: Hours) -> float:
    """Give how far the deepest trough of the hours planned is below the still water."""
    if water.sea is None:
        return 0.0
    return float(water.sea.half_height_m(when.times).max())


def proven_by(scores: Scores | None, setting: Setting) -> tuple[ProvenLine, ...]:
    """Give the lines of a logbook that paid, with how the water ran over them."""
    if scores is None:
        return ()
    return proven_lines(scores.drifts, scores.lines, setting.water.currents, setting.safe.heights)


def landmarks_of(prospects: Prospects, grid: xr.DataArray) -> Landmarks:
    """Give edges, humps and holes as landmarks of reasons, as a scouting names them."""
    return Landmarks([prospects.edges, prospects.features], metric_crs(grid))


def write_plan(plan: PlanResult, paper: str = "A4") -> tuple[str, ...]:
    """Write sheet, marks, tables and layers of a plan; give what went wrong with the letters."""
    area, files, lines = plan.area, plan.files, plan.lines
    warnings = without_settings(filter(None, (plan.safety.beyond, *plan.safety.warnings)))
    clocks = {"slot_start": "start_local", "latest_start": "latest_local"}
    write_table_csv(files["plan"], with_local(lines, area, clocks))
    legs = legs_of(plan.timetable)
    write_table_csv(
        files["timetable"],
        with_local(
            legs.drop(columns="geometry"), area, {"start": "start_local", "end": "end_local"}
        ),
    )
    days = plan.what_if_days.add_prefix("day_").rename(columns={"day_scenario": "scenario"})
    write_table_csv(files["what_if"], plan.what_if.merge(days, on="scenario", how="left"))
    write_geopackage(files["layers"], {"plan": lines, "timetable": legs})
    title = f"{area.name} {plan.when.day}".strip()
    write_area_marks(
        files["marks"], area, title, lines.rename(columns={"plan_id": "line"}), warnings=warnings
    )
    write_calendar(
        files["calendar"], _calendar_of(plan), place=area.name,
        made=pd.Timestamp.now(tz="UTC"), warnings=warnings,
    )  # fmt: skip
    with ThreadPoolExecutor(1) as beside:
        drawn = beside.submit(write_map, files["map"], map_of_plan(plan))
        sheet = sheet_of(plan)
        write_sheet(files["page"], sheet, paper)
        lacking = write_sheet_pdf(files["sheet"], sheet, paper)
        drawn.result()
    if not lacking:
        return ()
    return (
        f"No font of this machine has the letters {lacking}: {files['sheet']} shows ? for them. "
        f"{files['page']} has them all.",
    )


def plan_files(out: Path) -> dict[str, Path]:
    """Files that `write_plan` makes in a folder, by name."""
    return {name: out / file for name, file in _FILES.items()}


def worth_for(
    area: Area, ground: KnownGround, setting: Setting, scores: Scores | None
) -> tuple[xr.DataArray | WorthAt, str]:
    """Give the worth of the ground and what it is.

    Expected fish if the logbook has a response that tells ground from ground; else what its lines
    paid, if it has a fish; else the structure score.
    """
    response = None if scores is None else scores.response
    if response is not None and tells_ground(response):
        place = degree_bounds(ground.grid).middle
        expected = ExpectedFish(
            response, ground.grid, ground.structure.edges, setting.water, setting.safe.heights,
            place,
        )  # fmt: skip
        return expected, EXPECTED_FISH
    worth = ground.structure_score
    if scores is not None and scores.lines["fish"].sum() > 0:
        fished = FishedGround(
            worth, scores.lines, scores.samples, setting.water.currents, area.lines.corridor_m,
            ground.fished_worth,
        )  # fmt: skip
        return fished, FISHED_LINES
    return worth, STRUCTURE_SCORE


def _calendar_of(plan: PlanResult) -> pd.DataFrame:
    """Give an event for each line and the way home, without a place: calendars are copied."""
    lines = plan.lines[plan.lines["kind"] == "line"]
    legs = plan.timetable
    home = legs[(legs["what"] == "run") & (legs["plan_id"] == "")]
    rows = [_line_event(row, plan) for row in lines.itertuples()]
    rows += [_home_event(row, arrival(row), plan.area) for row in home.itertuples()]
    return pd.DataFrame(rows, columns=["kind", "start", "end", "words", "limit"])


def _line_event(row: Any, plan: PlanResult) -> dict[str, Any]:
    passes = "1 pass" if row.passes == 1 else f"{row.passes} passes"
    limits = plan.safety.hours.limits_at([row.slot_start])[0]
    return {
        "kind": row.plan_id,
        "start": row.slot_start,
        "end": row.slot_end,
        "words": f"{row.plan_id}: drift toward {row.bearing_deg:03.0f}, {passes}",
        "limit": limits,
    }


def _home_event(row: Any, back: Any, area: Area) -> dict[str, Any]:
    return {
        "kind": "home",
        "start": row.start,
        "end": back,
        "words": f"Run home: back at the launch by {clock(back, area)}"
        + (f". The run {row.caution}" if row.caution else ""),
        "limit": "",
    }
