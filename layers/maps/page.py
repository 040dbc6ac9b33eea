"""The page: folium's map, Leaflet's own files, our browser code and the data, in one file."""

from __future__ import annotations

import base64
import json
import re
from dataclasses import astuple
from importlib import resources
from pathlib import Path
from typing import Any, Final, cast

import folium
import geopandas as gpd
import numpy as np
from branca.element import Element, Figure

from layers.cautions import CAUTIONS, CAUTIONS_SHORT
from layers.maps.basemap import pack_basemap, security_policy
from layers.maps.content import MapContent
from layers.maps.depths import pack_depths
from layers.maps.detail import places_that_matter
from layers.maps.expected import pack_expected
from layers.maps.features import PROPERTIES, pack_features, pack_passes
from layers.maps.water import pack_water
from seabed.files import write_text
from seabed.grid import degree_bounds
from seabed.markup import markup_text
from seabed.ownership import MAKER
from seabed.units import LENGTH, SPEED

__all__ = ["page_of", "write_map"]

MODULES: Final = (
    "words.js", "depths.js", "scale.js", "shades.js", "picture.js", "card.js", "cards.js",
    "overlays.js", "bulk.js", "tracks.js", "only.js", "profile.js", "water.js", "readout.js",
    "bandcontrol.js", "lines.js", "section.js", "hour.js", "tally.js", "replay.js", "afloat.js",
    "basemap.js", "labels.js", "hazards.js", "plan.js", "expected.js", "switches.js", "start.js",
)  # fmt: skip
"""Our browser code, in the order in which a module needs those before it."""

LONG: Final = ("pieces", "drifts", "catches")
"""Tables that a season makes long."""

LEAFLET: Final = "js_lib_leaflet"


def write_map(path: str | Path, content: MapContent) -> None:
    """Write the map as one HTML file that loads nothing from outside.

    Parameters
    ----------
    path : str or Path
    content : MapContent
        Text in it may come from files: it is never taken for HTML.

    Raises
    ------
    OutputError
        If it can't be written; what was there before stays.
    """
    write_text(path, page_of(content))


def page_of(content: MapContent) -> str:
    """Give the map's HTML."""
    data = _data(content)
    cells = _cells_apart(data["depths"])
    west, south, east, north = data["extent"]
    chart = folium.Map(
        location=((south + north) / 2, (west + east) / 2),
        zoom_start=13,
        max_zoom=20,
        tiles=None,
        prefer_canvas=True,
        zoom_control=False,
        attribution_control=False,
    )
    chart.default_js, chart.default_css = [], []  # inlined below, from an installed package
    figure = cast(Figure, chart.get_root())
    title = markup_text(content.title).replace("{", "&#123;")
    header = {
        "policy": '<meta http-equiv="Content-Security-Policy" content="'
        f'{security_policy(content.basemap)}">',
        "title": f"<title>{title}</title>",
        "view": '<meta name="color-scheme" content="light">',
        "maker": f'<meta name="generator" content="{MAKER}">',
        "leaflet_css": f"<style>{_leaflet_css()}</style>",
        "leaflet_js": f"<script>{_leaflet('leaflet.js')}</script>",
        "look": f"<style>{_own('look.css')}</style>",
    }
    for name, text in header.items():
        figure.header.add_child(Element(_literal(text)), name=name)
    figure.html.add_child(Element(_literal(_own("frame.html"))), name="frame")
    figure.html.add_child(
        Element(_literal(f'<script type="application/json" id="data">{_json(data)}</script>')),
        name="data",
    )
    for part, text in cells.items():
        tag = f'<script type="text/plain" id="depths-{part}">{text}</script>'
        figure.html.add_child(Element(_literal(tag)), name=f"depths_{part}")
    # folium's own script comes after ours, and makes the map before the document is done
    name = json.dumps(chart.get_name())
    start = f'{_bundle()}\naddEventListener("DOMContentLoaded", () => start(window[{name}]));'
    figure.script.add_child(Element(_literal(start)), name="start")
    page = str(figure.render()).replace("<html>", '<html lang="en">', 1)
    # folium forbids pinching the page, which people who see badly need beside the map's own
    return page.replace(", maximum-scale=1.0, user-scalable=no", "", 1)


def _data(content: MapContent) -> dict[str, Any]:
    tables: dict[str, gpd.GeoDataFrame] = {
        name: table
        for name in PROPERTIES
        if (table := getattr(content, name)) is not None and len(table)
    }
    if "stretches" in tables:
        shown = tables["stretches"]
        tables["stretches"] = shown[shown["hot"].astype(bool)]
        if not len(tables["stretches"]):
            del tables["stretches"]
    depths = None
    if content.grid is not None:
        depths = pack_depths(content.grid, near=places_that_matter(content))
    return {
        "title": content.title,
        "timezone": content.timezone,
        "beyond": content.beyond,
        "warnings": list(content.warnings),
        "cautions": [CAUTIONS_SHORT, " ".join([CAUTIONS, *content.notes])],
        "units": {
            "depth": [content.units.depth, LENGTH[content.units.depth]],
            "distance": [content.units.distance, LENGTH[content.units.distance]],
            "speed": [content.units.speed, SPEED[content.units.speed]],
            "fish": [content.units.fish, LENGTH[content.units.fish]],
        },
        "species": list(content.species),
        "band_m": _band(content),
        "datum": "" if content.grid is None else str(content.grid.attrs.get("vertical_datum", "")),
        "extent": _extent(content, tables),
        "depths": depths,
        "expected": None if content.expected is None else pack_expected(content.expected),
        "basemap": pack_basemap(content.basemap),
        "plan_passes": pack_passes(content.plan_passes),
        "water": None if content.water is None else pack_water(content.water),
        **{name: _packed(name, table, content.timezone) for name, table in tables.items()},
    }


def _packed(name: str, table: gpd.GeoDataFrame, timezone: str) -> Any:
    """Pack a table; long ones as names and rows, a third of the text."""
    rows = pack_features(name, table, timezone)
    if name not in LONG or not rows:
        return rows
    columns = list(rows[0])
    return {"columns": columns, "rows": [[row[column] for column in columns] for row in rows]}


def _cells_apart(depths: dict[str, Any] | None) -> dict[str, str]:
    """Take the long texts of cells out of the data: they are not read before the first picture."""
    if depths is None:
        return {}
    cells = {"whole": depths.pop("data")}
    if depths["tiles"]:
        cells["tiles"] = depths["tiles"].pop("data")
    return cells


def _band(content: MapContent) -> list[float] | None:
    if content.band_m is not None:
        return list(content.band_m)
    band = content.band
    if band is None or not len(band) or "shallow_m" not in band.columns:
        return None
    return [float(band["shallow_m"].min()), float(band["deep_m"].max())]


def _extent(content: MapContent, tables: dict[str, gpd.GeoDataFrame]) -> list[float]:
    """West, south, east, north of all that is shown, in degrees."""
    boxes = [
        table.to_crs("EPSG:4326").total_bounds if table.crs is not None else table.total_bounds
        for name, table in tables.items()
        # what a chart holds reaches far beyond the water
        if name not in ("hazards", "chart_contours") or len(tables) == 1
    ]
    if content.grid is not None:
        boxes = [np.array(astuple(degree_bounds(content.grid)))]
    boxes = [box for box in boxes if np.isfinite(box).all()]
    if not boxes:
        return [-1.0, -1.0, 1.0, 1.0]
    every = np.array(boxes)
    return [*every[:, :2].min(axis=0).tolist(), *every[:, 2:].max(axis=0).tolist()]


def _own(name: str) -> str:
    return (resources.files("layers.maps") / "browser" / name).read_text(encoding="utf-8")


def _bundle() -> str:
    """Our modules in one scope: their imports name each other only, so both words fall away."""
    code = "\n".join(_own(name) for name in MODULES)
    code = re.sub(r"^import [^;]*;\n", "", code, flags=re.MULTILINE)
    return re.sub(r"^export ", "", code, flags=re.MULTILINE)


def _leaflet(name: str) -> str:
    file = resources.files(LEAFLET) / "static" / LEAFLET / name
    return re.sub(r"//# sourceMappingURL=\S+", "", file.read_text(encoding="utf-8"))


def _leaflet_css() -> str:
    """Leaflet's style sheet with its pictures inside."""
    images = resources.files(LEAFLET) / "static" / LEAFLET / "images"

    def inline(match: re.Match[str]) -> str:
        picture = base64.b64encode((images / match.group(1)).read_bytes()).decode("ascii")
        return f"url(data:image/png;base64,{picture})"

    return re.sub(r"url\(images/([\w.-]+)\)", inline, _leaflet("leaflet.css"))


def _json(data: dict[str, Any]) -> str:
    """JSON that can't end the script element, or the template, that it stands in."""
    text = json.dumps(data, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    for character in "<%\u2028\u2029":  # a percent sign could end the template's raw block
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text


def _literal(text: str) -> str:
    """Keep branca, which takes text for a Jinja template, from reading anything into it."""
    return "{% raw %}" + text + "{% endraw %}"
