"""
Landforms
=========

Each cell named by which of the eight directions rise and which fall from it (geomorphons).
"""

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.colors import ListedColormap

import seabed

grid = seabed.example_grid()
forms = seabed.geomorphons(grid, search_m=100)
names = forms.attrs["flag_meanings"].split()

axes = plt.figure(figsize=(7, 5), layout="constrained").gca()
colours = ListedColormap(plt.get_cmap("tab10").colors[: len(names)])
drawn = forms.where(forms > 0).plot(
    ax=axes, cmap=colours, vmin=0.5, vmax=len(names) + 0.5, add_colorbar=False
)
bar = plt.colorbar(drawn, ticks=np.arange(1, len(names) + 1))
bar.set_ticklabels(names)
axes.set(title="Landforms", aspect="equal", xticks=[], yticks=[], xlabel="", ylabel="")
plt.show()
