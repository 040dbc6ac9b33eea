"""
What the wind does to a drifting boat
=====================================

Leeway of three kinds of boat by the published fits, with one standard deviation.
"""

import matplotlib.pyplot as plt
import numpy as np

import layers

KNOT = 0.514444
wind_mps = np.linspace(3, 12, 30)
axes = plt.figure(figsize=(7, 4), layout="constrained").gca()
for craft in ("skiff, V-hull", "sport boat", "kayak with a person"):
    leeway = layers.leeway_of(craft)
    _, north = leeway.velocity(wind_mps, 180.0)  # wind from the south drives the boat north
    spread, _ = leeway.spread(wind_mps)
    axes.fill_between(wind_mps / KNOT, *((north + s * spread) / KNOT for s in (-1, 1)), alpha=0.2)
    axes.plot(wind_mps / KNOT, north / KNOT, label=craft)
axes.set(xlabel="wind, kn", ylabel="leeway downwind, kn", title="Leeway")
axes.legend()
plt.show()
