"""Names in files that people send each other run nothing on the map."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import pytest
import xarray as xr
from map_content import HOSTILE, PHONE, SIZES

from layers.catches import read_catches
from layers.maps import MapContent, write_map

pytestmark = pytest.mark.browser


def logs(folder: Path) -> list[Path]:
    """A catch log and a plotter's waypoints, both with script for names."""
    table, marks = folder / "catches.csv", folder / "marks.gpx"
    with table.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["time", "species", "kept", "rod", "note", "latitude", "longitude"])
        writer.writerow(
            ["2031-06-14T10:05:00Z", HOSTILE, "yes", HOSTILE, HOSTILE, "46.2065", "-31.4404"]
        )
    words = escape(HOSTILE)
    marks.write_text(
        '<?xml version="1.0"?><gpx version="1.1" creator="x" '
        'xmlns="http://www.topografix.com/GPX/1/1">'
        f'<wpt lat="46.2070" lon="-31.4410"><time>2031-06-14T10:15:00Z</time><name>{words}</name>'
        f"<cmt>{words}</cmt><desc>{words}</desc><sym>Fish</sym></wpt></gpx>",
        encoding="utf-8",
    )
    return [table, marks]


@pytest.mark.parametrize("size", SIZES)
def test_script_in_a_catch_log_and_in_waypoints_is_only_text(
    open_map: Callable[..., Any], small_grid: xr.DataArray, tmp_path: Path, size: Any
) -> None:
    catches = read_catches(logs(tmp_path), timezone="UTC")
    told = catches.assign(drift_id="", why="")
    assert any(HOSTILE in str(note) for note in told["species"])
    write_map(tmp_path / "map.html", MapContent(grid=small_grid, catches=told))
    page = open_map(tmp_path / "map.html", size)
    assert page.evaluate("seabedMap.data.catches.length") == len(catches) >= 1
    for number in range(len(catches)):
        page.evaluate(
            "(i) => { const row = seabedMap.data.catches[i];"
            " L.popup().setLatLng([row.g.coordinates[1], row.g.coordinates[0]])"
            ".setContent(bulkLayers().find((l) => l.marks).about(row)).openOn(seabedMap.map); }",
            number,
        )
    if size is PHONE:
        page.click("#side-open")
    page.get_by_label("Fish of", exact=True).select_option(HOSTILE)
    if size is PHONE:
        page.click("#side-open")
    page.click("#tool-fish")
    assert page.evaluate("window.hit === undefined")
    assert page.locator("img").count() == 0
