"""Where the boat will go, and which lines to drift."""

from layers.planning.day._beside import Beside
from layers.planning.day._dangers import Danger, dangers_of
from layers.planning.day._latest_start import latest_start
from layers.planning.day._reasons import Landmarks
from layers.planning.day._repeat import Stage, next_times, repeat_drift, stage_of
from layers.planning.day._slots import WorthAt, slots_of_day
from layers.planning.day._timetable import TIMETABLE, arrival, home_at, legs_of, timetable
from layers.planning.day.line import PLAN
from layers.planning.day.plan import RUNS, Plan
from layers.planning.day.plan_day import plan_day
from layers.planning.drift._candidates import DriftLimits
from layers.planning.drift._doubt import Doubt, SureCurrents
from layers.planning.drift._fan import share_in_band
from layers.planning.drift._hand import Hand
from layers.planning.drift._setting import DayWater, Setting
from layers.planning.drift.safe_water import SafeWater, closed_depth
from layers.planning.ground._proven_lines import ProvenLine, proven_lines
from layers.planning.ground._worth import structure_worth
from layers.planning.ground.expected_fish import EXPECTED_FISH, ExpectedFish, tells_ground
from layers.planning.ground.fished import FISHED_LINES, FishedGround
from layers.planning.runs._runs import Run, Runs
from layers.planning.what_if._days import what_if_days
from layers.planning.what_if._drifts import what_if

__all__ = [
    "EXPECTED_FISH",
    "FISHED_LINES",
    "PLAN",
    "RUNS",
    "TIMETABLE",
    "Beside",
    "Danger",
    "DayWater",
    "Doubt",
    "DriftLimits",
    "ExpectedFish",
    "FishedGround",
    "Hand",
    "Landmarks",
    "Plan",
    "ProvenLine",
    "Run",
    "Runs",
    "SafeWater",
    "Setting",
    "Stage",
    "SureCurrents",
    "WorthAt",
    "arrival",
    "closed_depth",
    "dangers_of",
    "home_at",
    "latest_start",
    "legs_of",
    "next_times",
    "plan_day",
    "proven_lines",
    "repeat_drift",
    "share_in_band",
    "slots_of_day",
    "stage_of",
    "structure_worth",
    "tells_ground",
    "timetable",
    "what_if",
    "what_if_days",
]
