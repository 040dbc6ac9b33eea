"""
Humps and holes
===============

A hump is measured from its saddle: the depth at which you would have to cross to reach higher ground. The outline is the contour of the saddle.
"""

import matplotlib.pyplot as plt

import seabed

grid = seabed.example_grid()
axes = plt.figure(figsize=(7, 5), layout="constrained").gca()
grid.plot(ax=axes, cmap="cividis_r", cbar_kwargs={"label": "depth, m"})
for features, colour, name in (
    (seabed.humps(grid), "black", "hump"),
    (seabed.holes(grid), "white", "hole"),
):
    features.boundary.plot(ax=axes, color=colour)
    for feature in features.itertuples():
        place = feature.geometry.representative_point()
        words = f"{name}\n{feature.height_m:.1f} m"
        axes.annotate(words, (place.x, place.y), ha="center", va="center", color=colour)
axes.set(
    title="Heights are counted from the saddle",
    aspect="equal",
    xticks=[],
    yticks=[],
    xlabel="",
    ylabel="",
)
plt.show()
