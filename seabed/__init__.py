"""The bottom, and nothing that moves: depth grids, terrain and structure.

Names here are imported when they are first used, so that ``import seabed`` costs nothing.

Examples
--------
>>> import seabed
>>> grid = seabed.example_grid()
>>> steepness = seabed.slope(grid)
>>> seabed.edges(grid)["drop_m"].round().tolist()
[8.0, 2.0, 2.0]
"""

from seabed.accessor import register as _register
from seabed.lazy import lazily as _lazily

__version__ = "0.2.0"

__getattr__, __dir__, __all__ = _lazily(__name__, __file__)
_register()
