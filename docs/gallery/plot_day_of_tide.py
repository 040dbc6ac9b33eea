"""
A day of tide and current
=========================

Heights from a table of high and low water, the current from a table of slacks and greatest rates.
"""

from datetime import date

import matplotlib.pyplot as plt

import layers

ZONE = "Etc/GMT+2"
heights = layers.read_heights("../../demo_area/tide_table.csv", timezone=ZONE)
currents = layers.read_currents(
    "../../demo_area/current_table.csv", timezone=ZONE, flood_toward=352, ebb_toward=172
)
day = layers.tide(date(2031, 6, 14), ZONE, heights=heights, currents=currents)
local = day["time"].dt.tz_convert(ZONE)

figure, (top, low) = plt.subplots(2, 1, figsize=(8, 5), sharex=True, layout="constrained")
top.plot(local, day["height_m"])
top.set(ylabel="height, m", title="14 June 2031")
low.plot(local, day["current_mps"] / 0.514444, color="tab:green")
low.set(ylabel="current, kn")
low.xaxis.set_major_formatter(plt.matplotlib.dates.DateFormatter("%H:%M", tz=local.dt.tz))
plt.show()
