"""A map for notebooks: a folium map of the same content, to look at and to add to."""

from __future__ import annotations

from typing import Any, Final, cast

import folium
import geopandas as gpd
import numpy as np
import xarray as xr
from branca.element import Element, Figure
from pyproj import CRS
from rasterio.transform import array_bounds

from layers.maps.content import MapContent
from layers.maps.depths import to_web
from layers.maps.features import SHOWN
from layers.maps.page import leaflet_css, leaflet_js
from layers.present.looks import MARKS, RAMPS
from seabed.geodesy import to_degrees
from seabed.grid.arrays import as_grid
from seabed.markup import markup_text

MOST_CELLS: Final = 1_000_000
DEEP: Final = np.array([20, 60, 110])
SHALLOW: Final = np.array([225, 240, 245])


def _style(mark: str, **more: Any) -> dict[str, Any]:
    return {"color": MARKS[mark].colour, "weight": MARKS[mark].width, **more}


STYLES: Final[dict[str, dict[str, Any]]] = {
    "band": {"color": "none", "fillColor": RAMPS["band"][0], "fillOpacity": 0.5},
    "contours": _style("contour"),
    "chart_contours": _style("chart_contour", dashArray="4 4"),
    "edges": _style("edge"),
    "features": _style("hump", fillOpacity=0.1),
    "pieces": _style("run"),
    "drifts": _style("drift"),
    "lines": _style("drift", weight=5),
    "stretches": _style("stretch", weight=8),
    "plan": _style("plan", weight=5),
    "catches": _style("fish", radius=5),
    "hazards": _style("danger", radius=6),
}


def explore(content: MapContent | None = None, /, **parts: Any) -> folium.Map:
    """Draw content on a folium map, which a notebook shows and to which more can be added.

    Its own parts load nothing from outside; with a base map, the browser fetches its tiles.

    Parameters
    ----------
    content : MapContent, optional
    **parts
        Instead of it, what `MapContent` takes: ``grid``, ``edges``, ``lines``, ...

    Returns
    -------
    folium.Map
        A layer for the grid and for each table, in the order of `MapContent`; a pointer over a
        feature shows its columns in the reader's units.

    Examples
    --------
    >>> from seabed import edges, example_grid
    >>> grid = example_grid()
    >>> chart = explore(grid=grid, edges=edges(grid))
    >>> [child.layer_name for child in chart._children.values() if hasattr(child, "layer_name")]
    ['depth', 'edges']
    """
    shown = content if content is not None else MapContent(**parts)
    chart = folium.Map(tiles=None, prefer_canvas=True)
    chart.default_js, chart.default_css = [], []  # inlined: a notebook may be without a network
    header = cast(Figure, chart.get_root()).header
    for tag, text in (("style", leaflet_css()), ("script", leaflet_js())):
        literal = f"<{tag}>{{% raw %}}{text}{{% endraw %}}</{tag}>"
        header.add_child(Element(literal), name=f"leaflet_{tag}")
    if shown.basemap is not None:
        base, credit = shown.basemap.address, _plain(shown.basemap.credit)
        folium.TileLayer(base, attr=credit, name="base map").add_to(chart)
    boxes: list[Any] = []
    if shown.grid is not None:
        picture = _picture(as_grid(shown.grid))
        picture.add_to(chart)
        boxes.append(picture.bounds)
    for name in STYLES:
        table = getattr(shown, name)
        if table is not None and len(table):
            layer = _layer(name, table, shown)
            layer.add_to(chart)
            boxes.append(layer.get_bounds())
    if boxes:
        corners = np.array(boxes, float).reshape(-1, 2)
        chart.fit_bounds([corners.min(axis=0).tolist(), corners.max(axis=0).tolist()])
    folium.LayerControl().add_to(chart)
    return chart


def _picture(grid: xr.DataArray) -> folium.raster_layers.ImageOverlay:
    """Depths as shades of blue, the deeper the darker, in the projection of the map."""
    depth, transform, *_ = to_web(grid, MOST_CELLS)
    known = np.isfinite(depth)
    low, high = np.nanpercentile(depth, [1, 99]) if known.any() else (0.0, 1.0)
    share = np.clip((np.nan_to_num(depth) - low) / max(high - low, 1e-6), 0, 1)[..., None]
    colour = (SHALLOW + share * (DEEP - SHALLOW)).astype(np.uint8)
    pixels = np.dstack([colour, np.where(known, 255, 0).astype(np.uint8)])
    west, south, east, north = array_bounds(*depth.shape, transform)
    web = CRS.from_epsg(3857)
    (west, east), (south, north) = to_degrees(web).transform([west, east], [south, north])
    return folium.raster_layers.ImageOverlay(
        pixels, bounds=[[south, west], [north, east]], name="depth", opacity=0.9
    )


def _layer(name: str, table: gpd.GeoDataFrame, content: MapContent) -> folium.GeoJson:
    """Features of a table, with a tooltip of what people read of it."""
    placed = table if table.crs is None else table.to_crs("EPSG:4326")
    placed = placed[placed.geometry.notna()]
    names = [column for column in SHOWN[name].names if column in placed]
    units = {part: getattr(content.units, part) for part in ("depth", "distance", "speed", "fish")}
    headings, rows = SHOWN[name].for_people(placed, names, units)
    rows = [[_plain(cell) for cell in row] for row in rows]
    words = gpd.GeoDataFrame(rows, columns=headings, geometry=placed.geometry.to_numpy(), crs=4326)
    style = STYLES[name]
    return folium.GeoJson(
        words.to_json(),
        name=name.replace("_", " "),
        style_function=lambda _: style,
        marker=folium.CircleMarker(**style),
        tooltip=folium.GeoJsonTooltip(headings) if headings else None,
    )


def _plain(text: str) -> str:
    """Keep text, which folium takes for HTML in a template, from being either."""
    return markup_text(text).replace("{", "&#123;")
