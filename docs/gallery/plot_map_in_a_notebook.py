"""
A map in a notebook
===================

``layers.explore`` gives a folium map of whatever tables you have; ``layers.write_map`` writes the map of the command, in one file.
"""

import layers
import seabed

grid = seabed.example_grid()
layers.explore(grid=grid, edges=seabed.edges(grid), features=seabed.humps(grid))
