"""
The whole job
=============

From a depth grid and tracks to ranked lines, a plan, a map and marks. Everything that the commands do is a function of arrays and tables.
A problem that the user can fix is a ``seabed.errors.SeabedError`` with ``what``, ``file``, ``where`` and ``do``.
"""

from datetime import date
from pathlib import Path
from tempfile import mkdtemp

import numpy as np

from layers.area import load_area
from layers.catches import read_catches, tie
from layers.maps import MapContent, write_map
from layers.planning import DayWater, SafeWater, Setting, plan_day, structure_worth
from layers.present import write_geopackage, write_marks
from layers.scoring import Ground, score_season
from layers.tracks import clean, cut, depth_under, drifts_of, read_fixes
from layers.water import (
    day_of_water,
    day_windows,
    leeway_of,
    parse_wind,
    read_currents,
    read_heights,
)
from seabed.loaders import open_grid
from seabed.soundings import flagged, grid_soundings, merge_onto, read_soundings, reduced
from seabed.structure import contours, depth_band, edges, humps

DEMO, OUT = Path("../../demo_area"), Path(mkdtemp())

# %%
# The bottom. A grid is an xarray array in metres, positive down, NaN on land; tables are GeoDataFrames in its CRS.

grid = open_grid(str(DEMO / "sound.tif"))
band_m = (5.5, 7.9)
breaks = edges(grid, scale_m=20, band=band_m)
tops = humps(grid, min_height_m=1)
print(breaks.nlargest(3, "drop_m")[["top_depth_m", "foot_depth_m", "drop_m", "length_m"]])

# %%
# The water of a day.

area = load_area(DEMO / "area.toml")
heights = read_heights(str(DEMO / "tide_table.csv"), timezone=area.timezone)
currents = read_currents(
    str(DEMO / "current_table.csv"), timezone=area.timezone, flood_toward=352, ebb_toward=172
)
wind = parse_wind(["SW 8 kn"], "2031-06-14T00:00", timezone=area.timezone)
leeway = leeway_of("skiff, V-hull")
day = day_of_water(
    date(2031, 6, 14), area.timezone, heights=heights, currents=currents, wind=wind, leeway=leeway
)
print(day_windows(day)[["start", "end", "kind"]].head())

# %%
# A trip: cleaned, cut into pieces, each fish tied to its drift.

fixes, report = clean(read_fixes([str(DEMO / f"trip_{n}.gpx") for n in (1, 3, 4)]))
print(report.sentences())
pieces = cut(fixes)
under = depth_under(fixes, grid, heights=heights)
drifts = drifts_of(pieces, fixes, grid_depth=under, rods=2, band_m=band_m, timezone=area.timezone)
fish = tie(read_catches(str(DEMO / "catches.csv"), timezone=area.timezone), drifts, fixes)

# %%
# What the lines are worth.

ground = Ground(grid, breaks, tops, heights, currents)
scores = score_season(drifts, fish, ground=ground, corridor_m=40, timezone=area.timezone)
print(scores.lines[["line", "drifts", "rod_hours", "kept", "rate"]].head(3))

# %%
# A plan for a morning.

water = DayWater(currents, leeway, wind, held_mps=(0.22, 0.45))
setting = Setting(SafeWater.of(grid, heights), water, band_m)
plan = plan_day(
    setting,
    structure_worth(grid, band_m, [breaks, tops]),
    np.datetime64("2031-06-14T11:00"),
    np.datetime64("2031-06-14T12:30"),
)
print(plan.lines[["plan_id", "slot_start", "bearing_deg", "sog_mps"]])

# %%
# Own soundings: every row stays, a flag says why one is set aside.

log = read_soundings(str(DEMO / "trip_3.gpx"))
checked, cleaning = flagged(log.soundings)
own = grid_soundings(reduced(checked, heights.height_m), like=grid)
merged = merge_onto(grid, own)
print(int((merged.provenance > 1).sum()), "cells know more than before")

# %%
# A map in one file, marks for the plotter, tables for a GIS.

content = MapContent(
    grid=grid,
    contours=contours(grid, [5, 10, 15]),
    band=depth_band(grid, *band_m),
    edges=breaks,
    drifts=scores.drifts,
    lines=scores.lines,
    catches=fish,
    title="The whole job",
)
write_map(OUT / "map.html", content)
write_marks(OUT / "job.gpx", scores.lines, breaks, tops)
write_geopackage(OUT / "job.gpkg", {"lines": scores.lines, "edges": breaks, "humps": tops})
