"""Grid in, table of features out: contours, depth bands, edges, humps, holes, axes, sand waves."""

from seabed.structure.channels import banks, channels
from seabed.structure.contours import contours, depth_band
from seabed.structure.edges import edges
from seabed.structure.highs import holes, humps
from seabed.structure.sandwaves import sand_waves
from seabed.structure.uncertainty import with_uncertainty

__all__ = [
    "banks",
    "channels",
    "contours",
    "depth_band",
    "edges",
    "holes",
    "humps",
    "sand_waves",
    "with_uncertainty",
]
