"""
Drift is current plus leeway
============================

Which way a boat goes that is left to a current of 0.8 kn and a wind of 10 kn, for every direction of the wind.
"""

import matplotlib.pyplot as plt
import numpy as np

import layers

KNOT = 0.514444
current = np.array([0.0, 0.8])  # toward north, kn
leeway = layers.leeway_of("skiff, V-hull")

axes = plt.figure(figsize=(5, 5), layout="constrained").gca()
for wind_from in range(0, 360, 45):
    east, north = leeway.velocity(10 * KNOT, wind_from)
    end = current + np.array([float(east), float(north)]) / KNOT
    axes.annotate("", end, (0, 0), arrowprops={"arrowstyle": "->"})
    axes.annotate(f"from {wind_from}°", end, (3, 3), textcoords="offset points")
axes.annotate("", current, (0, 0), arrowprops={"arrowstyle": "->", "color": "tab:green", "lw": 2})
axes.set(xlim=(-0.6, 0.6), ylim=(-0.1, 1.4), aspect="equal", xlabel="kn east", ylabel="kn north")
plt.show()
