"""
Edges, with the depth that they drop
====================================

An edge is a line along which the bottom is steepest across the slope. Each has the depth at its top and at its foot.
"""

import matplotlib.pyplot as plt

import seabed

grid = seabed.example_grid()
breaks = seabed.edges(grid)

axes = plt.figure(figsize=(7, 5), layout="constrained").gca()
grid.plot(ax=axes, cmap="cividis_r", cbar_kwargs={"label": "depth, m"})
breaks.plot(ax=axes, color="black", linewidth=2)
for edge in breaks[breaks["length_m"] > 100].itertuples():
    x, y = edge.geometry.interpolate(0.5, normalized=True).coords[0]
    words = f"{edge.top_depth_m:.1f} to {edge.foot_depth_m:.1f} m"
    axes.annotate(words, (x, y), (8, 0), textcoords="offset points", color="white", weight="bold")
axes.set(
    title="Edges of an invented bottom", aspect="equal", xticks=[], yticks=[], xlabel="", ylabel=""
)
plt.show()
