"""
The depths that you fish
========================

The band between two depths, and contours at its ends.
"""

import matplotlib.pyplot as plt

import seabed

SHALLOW_M, DEEP_M = 7.0, 10.0
grid = seabed.example_grid()

axes = plt.figure(figsize=(7, 5), layout="constrained").gca()
grid.plot(ax=axes, cmap="Greys", cbar_kwargs={"label": "depth, m"})
seabed.depth_band(grid, SHALLOW_M, DEEP_M).plot(ax=axes, color="tab:orange", alpha=0.6)
seabed.contours(grid, [SHALLOW_M, DEEP_M]).plot(ax=axes, color="black", linewidth=0.8)
axes.set(title="From 7 to 10 m", aspect="equal", xticks=[], yticks=[], xlabel="", ylabel="")
plt.show()
