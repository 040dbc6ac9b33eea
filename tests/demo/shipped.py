"""The shipped demo area and its hidden truth, read with nothing of the toolkit.

A fault in the toolkit so can't hide one in the demo.
"""

from __future__ import annotations

import csv
import json
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
from pyproj import Transformer
from scipy.ndimage import map_coordinates

AREA = Path(__file__).parents[2] / "demo_area"
CELL = AREA / "XX5TOLLI.000"
TRACKS = sorted(AREA.glob("trip_*.gpx"))
TRUTH = json.loads((AREA / "truth.json").read_text(encoding="utf-8"))
GPX = "{http://www.topografix.com/GPX/1/1}"
KNOT = 1852 / 3600
TO_GRID = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True)


def moment(text):
    return datetime.fromisoformat(text.replace("Z", "+00:00")).astimezone(UTC)


def rows_of(name):
    with (AREA / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def fixes_of(files):
    """Seconds since 1970 and metres east and north of every fix."""
    points = [
        (moment(point.findtext(f"{GPX}time")).timestamp(), point.get("lon"), point.get("lat"))
        for file in files
        for point in ElementTree.parse(AREA / file).getroot().iter(f"{GPX}trkpt")
    ]
    time, lon, lat = np.array(points, float).T
    return time, *TO_GRID.transform(lon, lat)


def depth_at(grid, x, y):
    depth, transform = grid
    column = (np.asarray(x) - transform.c) / transform.a
    row = (np.asarray(y) - transform.f) / transform.e
    places = np.broadcast_arrays(row - 0.5, column - 0.5)
    return map_coordinates(depth, places, order=1, mode="nearest")


def stream(time):
    """Speed in mid-channel, m/s, flood positive, from the truth's constituents."""
    tides = TRUTH["tides"]
    hours = (time - moment(tides["hours_from"]).timestamp()) / 3600 + tides["current_leads_hours"]
    return sum(
        one["current_mps"] * np.cos(2 * np.pi * (hours - one["phase_h"]) / one["period_h"])
        for one in tides["constituents"].values()
    )
