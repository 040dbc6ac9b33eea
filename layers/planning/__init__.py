"""Where the boat will go, and which lines to drift."""

from layers.planning.again import AGAIN, Stage, drift_again, next_times, stage_of
from layers.planning.beside import Beside
from layers.planning.candidates import Candidates, DriftLimits, follow, starts_over
from layers.planning.choice import choose
from layers.planning.dangers import DANGERS, Danger, dangers_of
from layers.planning.day import plan_day
from layers.planning.doubt import Doubt, SureCurrents
from layers.planning.drift import DriftTracks, Ended, drift_tracks
from layers.planning.expected import EXPECTED_FISH, ExpectedFish, tells_ground
from layers.planning.fan import boats_stopped, chance_of_staying, fans, share_in_band
from layers.planning.fished import FISHED_LINES, FishedGround
from layers.planning.hand import Hand, Printed
from layers.planning.hot import hot_now, over_hot
from layers.planning.latest import latest_start
from layers.planning.line import PASSES, PLAN
from layers.planning.motor import held_velocity
from layers.planning.paid import PaidLine, paid_lines, setting_for
from layers.planning.plan import RUNS, Plan
from layers.planning.plan_anew import WHAT_IF_DAYS, what_if_days
from layers.planning.runs import Run, Runs
from layers.planning.safe import CLEARANCE_M, LEAST_WATER_M, SafeWater, closed_depth
from layers.planning.scenarios import SCENARIOS, Scenario
from layers.planning.setting import DayWater, Setting
from layers.planning.slack import slack_periods
from layers.planning.slots import Slot, WorthAt, slots_of_day
from layers.planning.timetable import TIMETABLE, arrival, home_at, legs_of, timetable
from layers.planning.what_if import WHAT_IF, what_if
from layers.planning.words import Structure
from layers.planning.worth import structure_worth

__all__ = [
    "AGAIN",
    "CLEARANCE_M",
    "DANGERS",
    "EXPECTED_FISH",
    "FISHED_LINES",
    "LEAST_WATER_M",
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
    "PaidLine",
    "Plan",
    "Printed",
    "Run",
    "Runs",
    "SafeWater",
    "Scenario",
    "Setting",
    "Slot",
    "Stage",
    "Structure",
    "SureCurrents",
    "WorthAt",
    "arrival",
    "boats_stopped",
    "chance_of_staying",
    "choose",
    "closed_depth",
    "dangers_of",
    "drift_again",
    "drift_tracks",
    "fans",
    "follow",
    "held_velocity",
    "home_at",
    "hot_now",
    "latest_start",
    "legs_of",
    "next_times",
    "over_hot",
    "paid_lines",
    "plan_day",
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
]
