"""The bottom, and nothing that moves: depth grids, terrain and structure.

Modules are imported where they are used (``from seabed.loaders import open_grid``), so that
``import seabed`` costs nothing.
"""

__version__ = "0.1.0"
