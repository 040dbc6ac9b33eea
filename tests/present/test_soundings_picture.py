"""The picture of own soundings: read as XML, its words and their places looked at."""

import re
from itertools import combinations
from xml.etree import ElementTree as ET

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from affine import Affine
from shapely import LineString

from layers.present.pictures.survey import soundings_picture
from seabed.grid import make_grid
from seabed.soundings import sounding_table
from seabed.soundings.checks.crossovers import CROSSOVERS

SVG = "{http://www.w3.org/2000/svg}"


def picture(proposals=None, **words):
    grid = make_grid(
        np.tile(np.linspace(5, 30, 100, dtype=np.float32), (100, 1)),
        transform=Affine(0.0002, 0, -33.01, 0, -0.0002, 46.01),
        crs="EPSG:4326", vertical_datum="unknown", source="made up",
    )  # fmt: skip
    count = 50
    soundings = sounding_table(
        time=np.datetime64("2031-06-14T09:00", "ns") + np.arange(count) * np.timedelta64(1, "s"),
        longitude=np.linspace(-33.009, -32.991, count), latitude=np.full(count, 46.0),
        depth_m=np.full(count, 9.0), line=np.zeros(count), row=np.arange(count),
    )  # fmt: skip
    crossing = dict.fromkeys(CROSSOVERS.names, 0.0) | {
        "longitude": -33.0, "latitude": 46.0, "depth_1_m": 9.0, "depth_2_m": 8.0,
        "difference_m": 1.0,
    }  # fmt: skip
    drawn = soundings_picture(
        soundings, pd.DataFrame([crossing]), grid, grid * 0 + 1, proposals, title="<b>&", **words
    )
    return ET.fromstring(drawn)


def test_words_are_in_the_units_that_were_asked_for():
    drawn = picture(depth_unit="ft", distance_unit="nm")
    titles = [title.text for title in drawn.iter(f"{SVG}title")]
    assert "3.28 ft apart" in titles  # a metre
    words = " ".join(text.text or "" for text in drawn.iter(f"{SVG}text"))
    assert re.search(r"\b0\.\d+ nm\b", words)
    assert not re.search(r"\d m\b", words)
    assert "<b>&" in words


def test_the_ruler_is_as_long_as_it_says():
    """The panel shows 0.02 degrees of the parallel of 46, 1548 m (WGS 84; by geographiclib)."""
    geodesic = pytest.importorskip("geographiclib.geodesic").Geodesic.WGS84
    wide_m = geodesic.Inverse(46.0, -33.01, 46.0, -32.99)["s12"]
    drawn = picture(distance_unit="m")
    panel = next(drawn.iter(f"{SVG}image"))
    long = next(
        float(line.get("x2")) - float(line.get("x1"))
        for line in drawn.iter(f"{SVG}line")
        if line.get("stroke-width") == "3"
    )
    said = next(
        float(text.text[:-2])
        for text in drawn.iter(f"{SVG}text")
        if re.fullmatch(r"\d+ m", text.text or "")
    )
    assert long / float(panel.get("width")) * wide_m == pytest.approx(said, rel=0.01)


def test_names_of_lines_keep_clear_of_one_another():
    fan = [LineString([(-33.0, 46.0), (-32.995, 45.995 + 0.001 * i)]) for i in range(6)]
    names = [f"S{i}" for i in range(6)]
    lines = gpd.GeoDataFrame({"line": names}, geometry=fan, crs="EPSG:4326")
    drawn = picture(lines)
    places = [
        (float(text.get("x")), float(text.get("y")))
        for text in drawn.iter(f"{SVG}text")
        if text.text in names
    ]
    assert len(places) == len(names)
    for (x, y), (u, v) in combinations(places, 2):
        assert abs(x - u) > 16 or abs(y - v) > 12
