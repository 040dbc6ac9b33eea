"""What a map shows, and the online base map under it, where the user named one."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import geopandas as gpd
import pandas as pd
import xarray as xr

from layers.area import Units
from layers.maps.water import MapWater


@dataclass(frozen=True, slots=True)
class Basemap:
    """Pictures of the land from a server of the user's choice, asked only once the user ticks it.

    address: with ``{z}``, ``{x}`` and ``{y}`` in it.
    credit: the credit that its makers ask for.
    """

    address: str
    credit: str = ""

    @property
    def host(self) -> str:
        """The server that learns which water is looked at."""
        return urlsplit(self.address).netloc.rpartition("@")[2]

    @property
    def server(self) -> str:
        """Scheme and host."""
        return f"{urlsplit(self.address).scheme}://{self.host}"

    @property
    def warning(self) -> str:
        """What the user must know."""
        return (
            f"While the base map is shown, each picture that it loads shows {self.host} where you "
            "fish. It loads nothing until you switch it on, on the map."
        )


def pack_basemap(basemap: Basemap | None) -> dict[str, Any] | None:
    """Pack for the page."""
    if basemap is None:
        return None
    return {
        "address": basemap.address,
        "credit": basemap.credit,
        "host": basemap.host,
        "warning": basemap.warning,
    }


@dataclass(frozen=True, slots=True)
class MapContent:
    """Everything that may be on a map; any of it may be missing.

    grid: of depths, held in memory.
    contours, band, edges, features: tables of `seabed.structure`; `features` are humps and holes.
    pieces, drifts, lines, catches: tables of `layers.tracks`, `layers.scoring`, `layers.catches`.
    stretches: ``stretches`` of `layers.scoring.Scores`; the hot ones are shown.
    rose: arrows of a learned current by hour of the tide.
    chart_contours, hazards: of charts; hazards as `seabed.read_hazards` gives them.
    doubtful: lone soundings, which may be rocks or mistakes.
    changes, moves: since an older survey: `patches` and `moves` of `seabed.changes_since`.
    soundings: runs of an own sounder, as `layers.maps.features.SOUNDED` describes them.
    next_lines: what to sound next.
    plan, plan_passes, runs: drifts planned for a day, their passes and the ways between them, as
    `layers.planning.plan_day` gives them.
    expected: fish a rod-hour, ``rate``, ``rate_low`` and ``rate_high`` on the cells of a grid.
    band_m: depth band shown at first, metres; that of `band` if not given.
    water: tide, current and wind of a day, for the hour control and drifts tried on the map.
    basemap: an online one; by default none.
    species: names offered for a fish that is entered on the map, beside those of `catches`.
    beyond: that the plan is beyond the boat's limits, shown before all else; ``""`` if not.
    warnings: what else could hurt, the worst first.
    notes: sentences shown with the cautions: what the map leaves out.
    timezone: of the times that people read.

    Tables may be in any CRS.

    Examples
    --------
    >>> from seabed import contours, example_grid
    >>> grid = example_grid()
    >>> MapContent(grid=grid, contours=contours(grid, [8, 12])).title
    'Seabed'
    """

    grid: xr.DataArray | None = None
    contours: gpd.GeoDataFrame | None = None
    band: gpd.GeoDataFrame | None = None
    edges: gpd.GeoDataFrame | None = None
    features: gpd.GeoDataFrame | None = None
    pieces: gpd.GeoDataFrame | None = None
    drifts: gpd.GeoDataFrame | None = None
    lines: gpd.GeoDataFrame | None = None
    catches: gpd.GeoDataFrame | None = None
    stretches: gpd.GeoDataFrame | None = None
    rose: gpd.GeoDataFrame | None = None
    chart_contours: gpd.GeoDataFrame | None = None
    hazards: gpd.GeoDataFrame | None = None
    doubtful: gpd.GeoDataFrame | None = None
    changes: gpd.GeoDataFrame | None = None
    moves: gpd.GeoDataFrame | None = None
    soundings: gpd.GeoDataFrame | None = None
    next_lines: gpd.GeoDataFrame | None = None
    plan: gpd.GeoDataFrame | None = None
    plan_passes: pd.DataFrame | None = None
    runs: gpd.GeoDataFrame | None = None
    expected: xr.Dataset | None = None
    band_m: tuple[float, float] | None = None
    water: MapWater | None = None
    basemap: Basemap | None = None
    species: tuple[str, ...] = ()
    title: str = "Seabed"
    beyond: str = ""
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    timezone: str = "UTC"
    units: Units = field(default_factory=Units)
