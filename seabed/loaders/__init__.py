"""Open depth grids of any kind, and say what a file is."""

from seabed.loaders.opening import open_grid

__all__ = ["open_grid"]
