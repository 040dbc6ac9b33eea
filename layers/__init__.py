"""What is over the bottom: water, boats, fish, maps.  Imports ``seabed``, never the reverse.

Names here are imported when they are first used, so that ``import layers`` costs nothing.

Examples
--------
>>> import layers
>>> fixes, catches = layers.example_trip()
>>> fixes, report = layers.clean(fixes)
>>> drifts = layers.gather(layers.drifts(layers.cut(fixes), fixes))
>>> lines = layers.rank(drifts, layers.tie(catches, drifts, fixes))
>>> lines[["line", "kept", "short"]].to_dict("list")
{'line': ['N1', 'N2'], 'kept': [3, 0], 'short': [1, 1]}
"""

from seabed.lazy import lazily as _lazily

__getattr__, __dir__, __all__ = _lazily(__name__, __file__)
