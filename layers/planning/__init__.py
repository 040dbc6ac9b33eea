"""Where the boat will go, and which lines to drift."""

from layers.planning.candidates import Candidates, DriftLimits, follow, starts_over
from layers.planning.choice import choose
from layers.planning.day import DayWater, depth_over, plan_day
from layers.planning.drift import DriftTracks, Ended, drift_tracks
from layers.planning.fan import Doubt, fan, share_in_band
from layers.planning.motor import held_velocity
from layers.planning.worth import structure_worth

__all__ = [
    "Candidates",
    "DayWater",
    "Doubt",
    "DriftLimits",
    "DriftTracks",
    "Ended",
    "choose",
    "depth_over",
    "drift_tracks",
    "fan",
    "follow",
    "held_velocity",
    "plan_day",
    "share_in_band",
    "starts_over",
    "structure_worth",
]
