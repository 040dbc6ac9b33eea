"""Grid files of each format, opened as layers by their one reader."""

from seabed.loaders.formats._raster import is_url as is_url
from seabed.loaders.formats.opening import open_layer as open_layer
