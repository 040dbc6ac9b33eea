"""Grid in, table of features out: contours, bands, edges, humps, holes, sand waves; ranked."""

from seabed.structure.band import depth_band as depth_band
from seabed.structure.bottom import Bottom as Bottom
from seabed.structure.bottom import Search as Search
from seabed.structure.bottom import find_bottom as find_bottom
from seabed.structure.channels import banks_and_channels as banks_and_channels
from seabed.structure.contours import contours as contours
from seabed.structure.edges import edges as edges
from seabed.structure.highs import holes as holes
from seabed.structure.highs import humps as humps
from seabed.structure.profiles import across_edges as across_edges
from seabed.structure.ranking import rank_structure as rank_structure
from seabed.structure.reasons import reasons as reasons
from seabed.structure.sandwaves import sand_waves as sand_waves
