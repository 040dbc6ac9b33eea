"""What is real here, where it comes from, and the one thing that is done to it.

* The bottom: survey F00788 of NOAA's Office of Coast Survey (CC0), as BAG and as GeoTIFF, in the
  source archive of s100py 2.0.1.
* The tracks: recordings on land in the source archive of gpxpy 1.6.2 (Apache-2.0).  No open track
  of a drifting boat was found.

A track on land can't lie on a survey at sea, so `carried_over` takes the shape and the pace of half
an hour of a real walk and lays them on the survey.  Its result is no trip that anybody made.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from pyproj import Transformer

from layers.tracks import clean, read_fixes

BAG = ("s100py", "2.0.1", "tests/s102/F00788_SR_8m.bag")
TIFF = ("s100py", "2.0.1", "tests/s102/F00788_SR_8m.tif")
WALK = ("gpxpy", "1.6.2", "test_files/korita-zbevnica.gpx")
LAKE = ("gpxpy", "1.6.2", "test_files/cerknicko-jezero.gpx")
CAR = ("gpxpy", "1.6.2", "test_files/around-visnjan-with-car.gpx")
SCOUT = ("--units", "m", "--band", "40-50 m", "--contours", "40:65:5 m")

FROM, TO = "2010-10-03T10:23:43Z", "2010-10-03T10:52:22Z"
LANDS_AT = (524008.28, 5332897.72)
"""Easting and northing, UTM zone 10N: from here the whole half hour is on surveyed bottom."""

OF_WALK = Transformer.from_crs("EPSG:4326", "EPSG:32633", always_xy=True)
OF_SURVEY = Transformer.from_crs("EPSG:26910", "EPSG:4326", always_xy=True)


def half_hour(walk: Path):
    """The stretch of the walk that is used: times, and metres east and north of its first fix."""
    fixes, _ = clean(read_fixes([walk]))
    fixes = fixes[(fixes["time"] >= FROM) & (fixes["time"] <= TO)]
    x, y = OF_WALK.transform(fixes["longitude"].to_numpy(), fixes["latitude"].to_numpy())
    return fixes["time"], x - x[0], y - y[0]


def carried_over(walk: Path, target: Path, *, days_later: int = 0, aside_m: float = 0.0) -> Path:
    """Write the half hour of the walk as GPX over the survey.  No trip that anybody made."""
    times, east, north = half_hour(walk)
    lon, lat = OF_SURVEY.transform(LANDS_AT[0] + aside_m + east, LANDS_AT[1] + north)
    times = times + np.timedelta64(days_later, "D")
    points = "\n".join(
        f'<trkpt lat="{b:.7f}" lon="{a:.7f}"><time>{time:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>'
        for time, a, b in zip(times, lon, lat, strict=True)
    )
    name = "a walk on land, carried over"
    target.write_text(
        '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><name>{name}</name><trkseg>\n{points}\n</trkseg></trk></gpx>\n",
        encoding="utf-8",
    )
    return target
