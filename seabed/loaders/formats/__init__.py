"""Grid files of each format, opened as layers by their one reader."""

from seabed.loaders.formats._raster import is_url
from seabed.loaders.formats.opening import open_layer

__all__ = ["is_url", "open_layer"]
