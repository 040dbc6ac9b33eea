"""Official vector charts (S-57 cells): hazards, contours, soundings, and what a cell holds."""

from seabed.loaders.charts._cells import is_chart as is_chart
from seabed.loaders.charts.objects import CHART_DEPTHS as CHART_DEPTHS
from seabed.loaders.charts.objects import HAZARD_KINDS as HAZARD_KINDS
from seabed.loaders.charts.objects import HAZARDS as HAZARDS
from seabed.loaders.charts.objects import ChartReport as ChartReport
from seabed.loaders.charts.objects import describe_chart as describe_chart
from seabed.loaders.charts.objects import read_chart_contours as read_chart_contours
from seabed.loaders.charts.objects import read_chart_soundings as read_chart_soundings
from seabed.loaders.charts.objects import read_hazards as read_hazards
