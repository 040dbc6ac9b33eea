"""Where the boat will go, and which lines to drift."""

from layers.planning.candidates import Candidates, DriftLimits, follow, starts_over
from layers.planning.choice import choose
from layers.planning.day import Slot, WorthAt, plan_day, slots_of_day
from layers.planning.drift import DriftTracks, Ended, drift_tracks
from layers.planning.fan import Doubt, chance_of_staying, fan, share_in_band
from layers.planning.hot import hot_now, over_hot
from layers.planning.latest import latest_start
from layers.planning.line import PLAN_COLUMNS
from layers.planning.motor import held_velocity
from layers.planning.safe import CLEARANCE_M, LEAST_WATER_M, SafeWater, closed_depth
from layers.planning.setting import DayWater, Setting
from layers.planning.words import Structure
from layers.planning.worth import structure_worth

__all__ = [
    "CLEARANCE_M",
    "LEAST_WATER_M",
    "PLAN_COLUMNS",
    "Candidates",
    "DayWater",
    "Doubt",
    "DriftLimits",
    "DriftTracks",
    "Ended",
    "SafeWater",
    "Setting",
    "Slot",
    "Structure",
    "WorthAt",
    "chance_of_staying",
    "choose",
    "closed_depth",
    "drift_tracks",
    "fan",
    "follow",
    "held_velocity",
    "hot_now",
    "latest_start",
    "over_hot",
    "plan_day",
    "share_in_band",
    "slots_of_day",
    "starts_over",
    "structure_worth",
]
