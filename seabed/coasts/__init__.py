"""Structure of grids too large for memory: worked through in chunks, with whole features."""

from seabed.coasts.plan import CHUNK, Blocks, Wanted
from seabed.coasts.whole import Coast, scout_coast

__all__ = ["CHUNK", "Blocks", "Coast", "Wanted", "scout_coast"]
