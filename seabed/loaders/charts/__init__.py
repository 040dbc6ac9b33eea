"""Official vector charts (S-57 cells): hazards, contours, soundings, and what a cell holds."""

from seabed.loaders.charts._cells import is_chart
from seabed.loaders.charts._words import HAZARD_KINDS
from seabed.loaders.charts.counts import ChartReport, describe_chart
from seabed.loaders.charts.objects import (
    CHART_DEPTHS,
    HAZARDS,
    read_chart_contours,
    read_chart_soundings,
    read_hazards,
)

__all__ = [
    "CHART_DEPTHS",
    "HAZARDS",
    "HAZARD_KINDS",
    "ChartReport",
    "describe_chart",
    "is_chart",
    "read_chart_contours",
    "read_chart_soundings",
    "read_hazards",
]
