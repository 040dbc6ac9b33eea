"""
Higher or lower than the ground around
======================================

The position index compares each cell with a ring around it: a narrow ring shows small humps, a broad ring shows banks.
"""

import matplotlib.pyplot as plt

import seabed

grid = seabed.open_grid("../../demo_area/sound.tif", box=(-33.398, 46.180, -33.374, 46.196))
figure, panels = plt.subplots(1, 2, figsize=(9, 4), layout="constrained")
for axes, (inner_m, outer_m) in zip(panels, ((15, 60), (100, 300)), strict=True):
    raised = seabed.position_index(grid, inner_m=inner_m, outer_m=outer_m)
    raised.plot(ax=axes, cmap="RdBu", vmin=-2, vmax=2, cbar_kwargs={"label": "m above the ring"})
    axes.set(
        title=f"Ring from {inner_m} to {outer_m} m",
        aspect="equal",
        xticks=[],
        yticks=[],
        xlabel="",
        ylabel="",
    )
plt.show()
