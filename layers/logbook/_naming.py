"""How a logbook names ground: by a function from outside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import geopandas as gpd


@dataclass(frozen=True, slots=True)
class Naming:
    """How the lines that drifts ran are named, in a corridor.

    name: `layers.scoring.naming.name_lines`: from drifts, known lines and corridor to the drifts
        with their ``line``, and the lines, the known ones first.
    """

    corridor_m: float
    name: Callable[..., tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]]
