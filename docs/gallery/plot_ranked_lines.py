"""
What the lines are worth
========================

Rates for each rod-hour with their intervals. Few hours pull a rate towards the others, so that one lucky fish does not win.
"""

import matplotlib.pyplot as plt

import layers

fixes, catches = layers.example_trip()
fixes, _ = layers.clean(fixes)
drifts = layers.gather(layers.drifts(layers.cut(fixes), fixes, rods=2))
lines = layers.rank(drifts, layers.tie(catches, drifts, fixes))
print(lines[["line", "drifts", "rod_hours", "kept", "rate", "rate_low", "rate_high"]])

axes = plt.figure(figsize=(7, 2.5), layout="constrained").gca()
spread = [lines["rate"] - lines["rate_low"], lines["rate_high"] - lines["rate"]]
axes.errorbar(lines["rate"], lines["line"], xerr=spread, fmt="o", capsize=4)
axes.invert_yaxis()
axes.set(xlabel="fish kept a rod-hour, with 80 % interval", xlim=(0, None), ylim=(1.5, -0.5))
plt.show()
