"""Where the boat will go, and which lines to drift."""

from layers.planning.day._beside import Beside
from layers.planning.day._dangers import DANGERS, Danger, dangers_of
from layers.planning.day._latest_start import latest_start
from layers.planning.day._reasons import Landmarks
from layers.planning.day._repeat import NEXT_TIMES, Stage, next_times, repeat_drift, stage_of
from layers.planning.day._slack import slack_periods
from layers.planning.day._slots import Slot, WorthAt, slots_of_day
from layers.planning.day._timetable import TIMETABLE, arrival, home_at, legs_of, timetable
from layers.planning.day.choice import choose
from layers.planning.day.line import PASSES, PLAN
from layers.planning.day.plan import RUNS, Plan
from layers.planning.day.plan_day import plan_day
from layers.planning.drift._candidates import Candidates, DriftLimits, follow, starts_over
from layers.planning.drift._doubt import Doubt, SureCurrents
from layers.planning.drift._drift import DriftTracks, Ended, drift_tracks
from layers.planning.drift._fan import boats_stopped, chance_of_staying, fans, share_in_band
from layers.planning.drift._hand import Hand, Printed
from layers.planning.drift._motor import held_velocity
from layers.planning.drift._setting import DayWater, Setting
from layers.planning.drift.safe_water import CLEARANCE_M, LEAST_WATER_M, SafeWater, closed_depth
from layers.planning.ground._hot_stretches import hot_stretches_at, worth_over_hot
from layers.planning.ground._proven_lines import ProvenLine, proven_lines, setting_for
from layers.planning.ground._worth import structure_worth
from layers.planning.ground.expected_fish import EXPECTED_FISH, ExpectedFish, tells_ground
from layers.planning.ground.fished import FISHED_LINES, FishedGround
from layers.planning.runs._runs import Run, Runs
from layers.planning.what_if._days import WHAT_IF_DAYS, what_if_days
from layers.planning.what_if._drifts import WHAT_IF, what_if
from layers.planning.what_if._scenarios import SCENARIOS, Scenario

__all__ = [
    "CLEARANCE_M",
    "DANGERS",
    "EXPECTED_FISH",
    "FISHED_LINES",
    "LEAST_WATER_M",
    "NEXT_TIMES",
    "PASSES",
    "PLAN",
    "RUNS",
    "SCENARIOS",
    "TIMETABLE",
    "WHAT_IF",
    "WHAT_IF_DAYS",
    "Beside",
    "Candidates",
    "Danger",
    "DayWater",
    "Doubt",
    "DriftLimits",
    "DriftTracks",
    "Ended",
    "ExpectedFish",
    "FishedGround",
    "Hand",
    "Landmarks",
    "Plan",
    "Printed",
    "ProvenLine",
    "Run",
    "Runs",
    "SafeWater",
    "Scenario",
    "Setting",
    "Slot",
    "Stage",
    "SureCurrents",
    "WorthAt",
    "arrival",
    "boats_stopped",
    "chance_of_staying",
    "choose",
    "closed_depth",
    "dangers_of",
    "drift_tracks",
    "fans",
    "follow",
    "held_velocity",
    "home_at",
    "hot_stretches_at",
    "latest_start",
    "legs_of",
    "next_times",
    "plan_day",
    "proven_lines",
    "repeat_drift",
    "setting_for",
    "share_in_band",
    "slack_periods",
    "slots_of_day",
    "stage_of",
    "starts_over",
    "structure_worth",
    "tells_ground",
    "timetable",
    "what_if",
    "what_if_days",
    "worth_over_hot",
]
