"""Grid in, table of features out: contours, bands, edges, humps, holes, sand waves; ranked."""

from seabed.structure.agreement import Offset, chart_agreement, chart_offset
from seabed.structure.band import depth_band
from seabed.structure.blocks.whole import CHUNK, Blocks
from seabed.structure.bottom import Bottom, Search, find_bottom
from seabed.structure.calm.noise import NoiseSettings
from seabed.structure.channels import banks, banks_and_channels, channels
from seabed.structure.contours import contours, round_levels
from seabed.structure.doubtful import doubtful_soundings
from seabed.structure.edges import edges
from seabed.structure.highs import holes, humps
from seabed.structure.overview import overview_of
from seabed.structure.profiles import across_edges, across_features
from seabed.structure.ranking import rank_structure, with_ranks
from seabed.structure.reasons import chart_words, reasons
from seabed.structure.sandwaves import sand_waves
from seabed.structure.uncertainty import StoredDoubt, with_uncertainty

__all__ = [
    "CHUNK",
    "Blocks",
    "Bottom",
    "NoiseSettings",
    "Offset",
    "Search",
    "StoredDoubt",
    "across_edges",
    "across_features",
    "banks",
    "banks_and_channels",
    "channels",
    "chart_agreement",
    "chart_offset",
    "chart_words",
    "contours",
    "depth_band",
    "doubtful_soundings",
    "edges",
    "find_bottom",
    "holes",
    "humps",
    "overview_of",
    "rank_structure",
    "reasons",
    "round_levels",
    "sand_waves",
    "with_ranks",
    "with_uncertainty",
]
