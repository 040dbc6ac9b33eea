"""What kind a file is, told by what is in it.  Our own contract.

The NMEA 0183 sentence is a published example.
"""

from __future__ import annotations

import pytest
from book_of_kinds import KINDS

from layers.area import default_area
from layers.cli.checking import check_file, kind_of
from layers.logbook import Logbook
from seabed.errors import SeabedError


@pytest.mark.parametrize(("name", "text", "kind"), KINDS)
def test_the_kind_is_told(tmp_path, name, text, kind):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    assert kind_of(str(path)) == kind


def test_the_kind_is_told_of_wide_text(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("Date\tTime\tSpecies\n2031-06-14\t08:30\tdab\n", encoding="utf-16")
    assert kind_of(str(path)) == "catch log"


def test_a_web_address_is_a_grid():
    assert kind_of("https://example.org/area.toml") == "depth grid"


def test_no_such_file(tmp_path):
    with pytest.raises(SeabedError, match=r"no such file. Check the name"):
        kind_of(str(tmp_path / "none"))


def test_what_cannot_be_read_is_told_not_raised(tmp_path):
    path = tmp_path / "a.gpx"
    path.write_text("<gpx><trk><trkseg><trkpt", encoding="utf-8")
    checked = check_file(str(path), default_area())
    assert not checked.usable
    assert checked.kind == "GPX, or meant to be"
    assert len(checked.wrong) == 1
    assert "  ! " in checked.text()


def test_a_logbook_and_what_is_none(tmp_path):
    import sqlite3

    path = tmp_path / "log.gpkg"
    Logbook(path).add([])
    checked = check_file(str(path), default_area())
    assert checked.usable and checked.facts["trips"] == "0"
    other = tmp_path / "other.gpkg"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE a (b)")
    checked = check_file(str(other), default_area())
    assert not checked.usable
    assert "is no logbook" in checked.wrong[0][0]


def test_an_area_file_that_names_what_is_not_there(tmp_path):
    path = tmp_path / "area.toml"
    gone = '[grid]\nfiles = ["gone.tif"]\n[charts]\nfiles = ["gone.000"]\n'
    path.write_text(gone, encoding="utf-8")
    checked = check_file(str(path), default_area())
    assert not checked.usable
    assert "[grid] files names a file that is not there" in checked.wrong[0][0]
    assert "[charts] files names a file that is not there" in checked.wrong[1][0]
