"""
Own soundings on an open grid
=============================

Soundings are gridded, levelled on the open grid, and laid on it: where you have been, the depth is known better.
"""

import matplotlib.pyplot as plt

import seabed
from seabed.geodesy import from_degrees
from seabed.grid import crs_of

grid = seabed.example_grid()
soundings = seabed.example_soundings()
merged = seabed.merge_onto(grid, seabed.grid_soundings(soundings, like=grid))

figure, (left, right) = plt.subplots(1, 2, figsize=(9, 4), layout="constrained")
grid.plot(ax=left, cmap="cividis_r", cbar_kwargs={"label": "depth, m"})
places = from_degrees(crs_of(grid)).transform(soundings["longitude"], soundings["latitude"])
left.plot(*places, "k.", markersize=1)
merged.uncertainty.plot(ax=right, cmap="viridis_r", cbar_kwargs={"label": "sigma, m"})
for axes, title in ((left, "Open grid and soundings"), (right, "Uncertainty when merged")):
    axes.set(title=title, aspect="equal", xticks=[], yticks=[], xlabel="", ylabel="")
plt.show()
