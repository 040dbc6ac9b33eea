"""Grid in, table of features out: contours, depth bands, edges."""

from seabed.structure.contours import contours, depth_band
from seabed.structure.edges import edges

__all__ = ["contours", "depth_band", "edges"]
