"""Where the boat will go, and which lines to drift."""

from layers.planning.day.line import PLAN as PLAN
from layers.planning.day.plan import RUNS as RUNS
from layers.planning.day.plan import Plan as Plan
from layers.planning.day.plan_day import plan_day as plan_day
from layers.planning.day.slots import WorthAt as WorthAt
from layers.planning.drift._candidates import DriftLimits as DriftLimits
from layers.planning.drift._setting import DayWater as DayWater
from layers.planning.drift._setting import Setting as Setting
from layers.planning.drift.doubt import Doubt as Doubt
from layers.planning.drift.safe_water import SafeWater as SafeWater
from layers.planning.ground._worth import structure_worth as structure_worth
