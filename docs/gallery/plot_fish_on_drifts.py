"""
Each fish on its drift
======================

A fish is tied to a drift by its time, and put where the boat was then.
"""

import matplotlib.pyplot as plt

import layers
import seabed

grid = seabed.example_grid()
fixes, catches = layers.example_trip()
fixes, _ = layers.clean(fixes)
drifts = layers.drifts(layers.cut(fixes), fixes, rods=2)
fish = layers.tie(catches, drifts, fixes)

axes = plt.figure(figsize=(7, 5), layout="constrained").gca()
grid.plot(ax=axes, cmap="cividis_r", cbar_kwargs={"label": "depth, m"})
drifts.to_crs(grid.spatial_ref.crs_wkt).plot(ax=axes, color="white")
fish.to_crs(grid.spatial_ref.crs_wkt).plot(
    ax=axes, column="kept", categorical=True, cmap="autumn", legend=True, markersize=40,
    legend_kwds={"title": "kept"},
)  # fmt: skip
axes.set(
    title="Four drifts and five fish", aspect="equal", xticks=[], yticks=[], xlabel="", ylabel=""
)
plt.show()
