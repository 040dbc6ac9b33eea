"""
How steep the bottom is
=======================

Slope in degrees by Horn's 3 x 3 window. Cells are measured in metres, also on a grid in degrees.
"""

import matplotlib.pyplot as plt

import seabed

grid = seabed.open_grid("../../demo_area/sound.tif", box=(-33.398, 46.180, -33.374, 46.196))
steepness = seabed.slope(grid)

figure, (left, right) = plt.subplots(1, 2, figsize=(9, 4), layout="constrained")
grid.plot(ax=left, cmap="cividis_r", cbar_kwargs={"label": "depth, m"})
steepness.plot(ax=right, cmap="magma", robust=True, cbar_kwargs={"label": "slope, degrees"})
for axes, title in ((left, "Depth"), (right, "Slope")):
    axes.set(title=title, aspect="equal", xticks=[], yticks=[], xlabel="", ylabel="")
plt.show()
