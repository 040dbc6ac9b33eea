"""The logbook as a file: any GIS reads it, and what is not a logbook is refused.

Outside truth: the GeoPackage standard (OGC 12-128r19) as GDAL reads it, SQLite's own integrity
check, shapely's geometry.
"""

from __future__ import annotations

import sqlite3

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
from book_tables import made_entry
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point
from thoroughness import examples

from layers.logbook import Logbook
from layers.logbook._blobs import from_blobs, to_blobs
from seabed.errors import LogbookError


def test_any_gis_opens_it(book):
    """As GDAL reads a GeoPackage, against the tables that went in."""
    entry = made_entry("2031-06-14")
    book.add([entry])
    kinds = dict(pyogrio.list_layers(book.path))
    assert kinds["drifts"] == kinds["pieces"] == "LineString"
    assert kinds["catches"] == "Point"
    assert kinds["trips"] is None
    drifts = gpd.read_file(book.path, layer="drifts")
    assert drifts.crs == "EPSG:4326"
    assert np.allclose(drifts.total_bounds, entry.drifts.total_bounds)
    assert np.allclose(drifts["sog_mps"], entry.drifts["sog_mps"], atol=1e-6)
    assert drifts["start"].dt.tz_convert("UTC").tolist() == entry.drifts["start"].tolist()
    assert "Not for navigation" in pyogrio.read_info(book.path, layer="drifts")["layer_metadata"]["DESCRIPTION"]  # fmt: skip  # noqa: E501
    with sqlite3.connect(book.path) as connection:
        assert connection.execute("PRAGMA application_id").fetchone()[0] == 0x47504B47
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


LINES = st.lists(st.tuples(st.floats(-180, 180), st.floats(-90, 90)), min_size=2, max_size=30).map(
    LineString
)


@settings(max_examples=examples(50))
@given(st.lists(st.one_of(st.none(), st.just(Point()), LINES), max_size=8))
def test_geometry_goes_through_the_blob(shapes):
    back = from_blobs(to_blobs(shapes))
    for was, came in zip(shapes, back, strict=True):
        assert (was is None) == (came is None)
        assert was is None or shapely.equals_exact(was, came)


def test_a_newer_a_foreign_and_a_damaged_file_are_refused(book, tmp_path):
    book.add([made_entry("2031-06-14")])
    with sqlite3.connect(book.path) as connection:
        connection.execute("UPDATE logbook_info SET value = '99' WHERE name = 'schema_version'")
    for use in (book.trips, lambda: book.add([made_entry("2031-06-21")])):
        with pytest.raises(LogbookError, match=r"newer seabed-layers \(version 99.*Update seabed"):
            use()
    foreign = tmp_path / "other.gpkg"
    gpd.GeoDataFrame({"a": [1]}, geometry=[Point(0, 0)], crs="EPSG:4326").to_file(foreign)
    content = foreign.read_bytes()
    with pytest.raises(LogbookError, match="is not a logbook"):
        Logbook(foreign).add([made_entry("2031-06-14")])
    assert foreign.read_bytes() == content
    damaged = tmp_path / "damaged.gpkg"
    damaged.write_bytes(b"not a database at all" * 100)
    with pytest.raises(LogbookError, match="damaged, or not a logbook"):
        Logbook(damaged).trips()
    with pytest.raises(LogbookError, match=r"no such logbook. Add a trip first"):
        Logbook(tmp_path / "none.gpkg").trips()
    with pytest.raises(LogbookError, match="nothing can be written here"):
        Logbook(tmp_path).add([made_entry("2031-06-14")])
