"""The page: Leaflet's own files, our browser code and the data, in one file."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterator
from dataclasses import astuple, replace
from datetime import datetime
from importlib import resources
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np

from layers.cautions import CAUTIONS, CAUTIONS_SHORT
from layers.maps.content import MapContent, pack_basemap
from layers.maps.depths import pack_depths, pack_expected
from layers.maps.detail import places_that_matter
from layers.maps.features import SHOWN, pack_features, pack_passes
from layers.maps.water import pack_water
from layers.present.looks import css_variables, for_browser
from layers.present.web_page import web_page
from seabed.files import write_text
from seabed.grid import degree_bounds
from seabed.grid.arrays import as_grid
from seabed.markup import TURNING
from seabed.units import LENGTH, SPEED

MODULES: Final = (
    "frame/words.js", "frame/looks.js", "bottom/depths.js", "bottom/scale.js", "bottom/shades.js",
    "bottom/picture.js", "fishing/only.js", "bottom/water.js", "frame/state.js", "frame/card.js",
    "fishing/cards.js", "bottom/overlays.js", "fishing/bulk.js", "bottom/structure.js",
    "fishing/tracks.js", "bottom/profile.js", "frame/readout.js", "bottom/bandcontrol.js",
    "bottom/places.js", "fishing/lines.js", "bottom/section.js", "bottom/hour.js",
    "fishing/tally.js", "fishing/replay.js", "frame/afloat.js", "frame/basemap.js",
    "frame/labels.js", "bottom/hazards.js", "bottom/changes.js", "bottom/soundings.js",
    "fishing/plan.js", "bottom/expected.js", "frame/switches.js", "frame/frame_door.js",
    "frame/start.js",
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

    Examples
    --------
    >>> from layers import MapContent
    >>> from seabed import edges, example_grid
    >>> grid = example_grid()
    >>> write_map("bottom.html", MapContent(grid=grid, edges=edges(grid)))
    """
    write_text(path, page_of(content, datetime.now(ZoneInfo(content.timezone))))


def page_of(content: MapContent, made: datetime | None = None) -> str:
    """Give the map's HTML.

    A tally on it is kept under a sum of all that it shows but the time at which it is made: a map
    made again of the same data keeps its tally.
    """
    if content.grid is not None:
        content = replace(content, grid=as_grid(content.grid))
    data = _data(content)
    west, south, east, north = data["extent"]
    options = {
        "center": [(south + north) / 2, (west + east) / 2],
        "zoom": 13,
        "preferCanvas": True,
        "zoomControl": False,
        "attributionControl": False,
    }
    return web_page(
        content.title,
        "".join([_own("frame/frame.html"), "\n", *_blocks(data, made), '<div id="map"></div>']),
        styles=[leaflet_css(), css_variables() + _own("frame/look.css")],
        scripts=[leaflet_js(), f'{browser_code()}\nstart(L.map("map", {json.dumps(options)}));'],
        pictures_from="" if content.basemap is None else content.basemap.server,
    )


def _blocks(data: dict[str, Any], made: datetime | None) -> Iterator[str]:
    """Give what the page reads, as elements that don't run; the data are gone afterwards."""
    cells = _cells_apart(data["depths"])
    text = _json(data)
    data.clear()  # it is several times as large as its text
    key = hashlib.sha256(text.encode())
    for cell in cells.values():
        key.update(b"\n" + cell.encode())
    about = {"key": key.hexdigest()[:16], "made": made.isoformat()[:16] if made else ""}
    for kind, name, words in (
        ("application/json", "data", text),
        ("application/json", "about", _json(about)),
        ("application/json", "looks", _json(for_browser())),
        *(("text/plain", name, cell) for name, cell in cells.items()),
    ):
        yield f'<script type="{kind}" id="{name}">{words}</script>\n'


def _data(content: MapContent) -> dict[str, Any]:
    tables: dict[str, gpd.GeoDataFrame] = {
        name: table
        for name in SHOWN
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
        "columns": {
            name: [
                [column.name, column.label, column.form, column.digits] for column in SHOWN[name]
            ]
            for name in tables
        },
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
    cells = {"depths-whole": depths.pop("data")}
    if depths["tiles"]:
        cells["depths-tiles"] = depths["tiles"].pop("data")
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


def browser_code() -> str:
    """Give our modules in one scope, without their imports and exports.

    A module begins with its comment and imports, then an empty line; its exports are one list at
    its end.
    """
    bodies = (_own(name).split("\n\n", 1)[1].rpartition("\nexport {")[0] for name in MODULES)
    return "\n".join(['"use strict";', *bodies])


def leaflet_js() -> str:
    """Give Leaflet itself."""
    return _leaflet("leaflet.js")


def leaflet_css() -> str:
    """Give Leaflet's style sheet with its pictures inside."""
    images = resources.files(LEAFLET) / "static" / LEAFLET / "images"

    def inline(match: re.Match[str]) -> str:
        picture = base64.b64encode((images / match.group(1)).read_bytes()).decode("ascii")
        return f"url(data:image/png;base64,{picture})"

    return re.sub(r"url\(images/([\w.-]+)\)", inline, _leaflet("leaflet.css"))


def _leaflet(name: str) -> str:
    file = resources.files(LEAFLET) / "static" / LEAFLET / name
    return re.sub(r"//# sourceMappingURL=\S+", "", file.read_text(encoding="utf-8"))


def _json(data: dict[str, Any]) -> str:
    """JSON that can't end its script element."""
    text = json.dumps(data, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    for character in TURNING:  # each is sought at once, where translating looks at every letter
        text = text.replace(character, "")
    for character in "<\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text
