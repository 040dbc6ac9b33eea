"""A small map of each place of the report."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import geopandas as gpd
import xarray as xr
from shapely.geometry import LineString

from layers.present.sheet.ground_plan import GroundPlan, ground_plan
from layers.present.sheet.pictures import MAP_SIZE
from seabed.geodesy import ahead


class PlaceMaps:
    """Maps of places on one grid.

    Each has the cut that the report draws, from its shallow side or one side to the other, and the
    edges, humps and holes around it by name.
    """

    def __init__(
        self,
        grid: xr.DataArray,
        edges: gpd.GeoDataFrame,
        features: gpd.GeoDataFrame,
        *,
        hazards: gpd.GeoDataFrame | None,
        unit: str,
        most: int,
    ) -> None:
        self.grid, self.hazards, self.unit = grid, hazards, unit
        self.outlines: dict[str, LineString] = {}
        self.across: dict[str, float] = {}
        for table, bearing, turn in ((edges, "faces_deg", 0), (features, "bearing_deg", 90)):
            best = table[table["rank"] <= most]
            shapes = best.geometry.to_crs("EPSG:4326") if len(best) else best.geometry
            for row, shape in zip(best.to_dict("records"), shapes, strict=True):
                name = f"R{row['rank']:.0f}"
                self.outlines[name] = shape if turn == 0 else LineString(shape.exterior.coords)
                self.across[name] = row[bearing] + turn

    def of(
        self, row: Mapping[Hashable, Any], position: tuple[float, float], reach_m: float
    ) -> GroundPlan:
        """Give the map of a row of the ranking, whose cut reaches so far either way."""
        name = row["name"]
        ends = [ahead(*position, self.across[name] + turn, reach_m) for turn in (180, 0)]
        return ground_plan(
            self.grid,
            LineString(ends),
            shape=MAP_SIZE,
            unit=self.unit,
            others=self.outlines.items(),
            hazards=self.hazards,
        )
