"""Two logbooks made one, and a copy to show that gives no spot away.

Outside truth: every byte of the copy against every original coordinate; PROJ's geodesics.
"""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
from book_tables import made_entry

from layers.logbook import Logbook, merge
from layers.logbook.sharing import shared_layers
from seabed.errors import LogbookError


def test_merging_adds_what_is_missing_and_reports_what_differs(tmp_path):
    ours, theirs = Logbook(tmp_path / "a.gpkg"), Logbook(tmp_path / "b.gpkg")
    ours.add([made_entry("2031-06-14"), made_entry("2031-06-21")])
    theirs.add(
        [made_entry("2031-06-14"), made_entry("2031-06-21", seed=9), made_entry("2031-07-05")]
    )
    content = theirs.path.read_bytes()
    done = merge(ours, theirs)
    assert (done.added, done.same, done.differing) == (
        ("2031-07-05",), ("2031-06-14",), ("2031-06-21",),
    )  # fmt: skip
    assert ours.entry("2031-06-21").digest() == made_entry("2031-06-21").digest()
    assert merge(ours, theirs).added == ()
    assert merge(ours, theirs, prefer_other=True).differing == ("2031-06-21",)
    assert ours.entry("2031-06-21").digest() == made_entry("2031-06-21", seed=9).digest()
    assert theirs.path.read_bytes() == content
    fresh = Logbook(tmp_path / "c.gpkg")
    assert len(merge(fresh, theirs).added) == 3


def test_a_shared_copy_holds_no_original_coordinate(book, tmp_path):
    """Every number of eight bytes and every text in the file, against every original coordinate."""
    from layers.present import write_geopackage

    entries = [made_entry("2031-06-14", drifts=6), made_entry("2031-06-21", drifts=6)]
    book.add(entries)
    target = tmp_path / "shown.gpkg"
    write_geopackage(target, shared_layers(book, 1000.0))
    content = target.read_bytes()
    original = np.unique(
        np.concatenate([
            shapely.get_coordinates(table.geometry.to_numpy()).ravel()
            for entry in entries
            for table in entry.tables.values()
        ])
    )  # fmt: skip
    for value in original:
        for order in ("<f8", ">f8"):
            assert np.array(value, order).tobytes() not in content
        assert f"{value:.7f}".encode() not in content
    assert b"secret note" not in content and b".gpx" not in content
    layers = pyogrio.list_layers(target)[:, 0]
    assert set(layers) == {"drifts", "catches"}
    drifts = gpd.read_file(target, layer="drifts")
    assert len(drifts) == 12
    assert not {"course_deg", "depth_mean_m", "start", "note"} & set(drifts.columns)
    # no nearer than chance: the middles are on a lattice that the fish have no part in
    assert len(drifts.geometry.unique()) <= 12
    with pytest.raises(LogbookError, match=r"50 m would give the spots away. Give 100 m"):
        shared_layers(book, 50.0)
