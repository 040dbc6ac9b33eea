"""Grid in, table of features out: contours, depth bands, edges, humps, holes."""

from seabed.structure.contours import contours, depth_band
from seabed.structure.edges import edges
from seabed.structure.highs import holes, humps

__all__ = ["contours", "depth_band", "edges", "holes", "humps"]
