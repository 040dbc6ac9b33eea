"""Files made to take a reader's time, memory or tongue: each ends in one message that says why."""

from __future__ import annotations

import time

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from layers.area import default_area, load_area
from layers.catches import read_catches
from layers.jobs.check import check_file
from layers.water.stations.importers import import_station
from seabed.errors import GridError, SeabedError
from seabed.loaders import describe, open_grid

DIGITS = "9" * 3000
POINT = '<trkpt lat="{}" lon="-33.4"><time>2031-06-14T08:00:00Z</time></trkpt>'


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("a.toml", f"[depths]\nband = {DIGITS}{DIGITS}", "line 2 has a number of more than 400"),
        ("a.toml", "a." * 50_000 + "b = 1", "a key has more than 50 parts"),
        ("a.toml", "a = " + "[" * 100_000, "nested too deeply"),
        ("a.toml", "#" * 2_000_001, "2,000,001 bytes; at most 2,000,000"),
        ("a.json", '{"a":' * 100_000, "nested too deeply"),
        ("a.json", f'{{"a": {DIGITS}}}', "line 1 has a number of more than 400"),
    ],
)
def test_limits_are_looked_at_before_parsing(tmp_path, name, text, words):
    path = tmp_path / name
    path.write_text(text)
    start = time.process_time()
    with pytest.raises(SeabedError, match=words):
        (load_area if name == "a.toml" else import_station)(path)
    assert time.process_time() - start < 3.0  # the dotted key alone took 46 s before


def test_an_area_that_names_itself(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text('[grid]\nfiles = ["a.toml"]\n[water]\nheights = "a.toml"\n')
    checked = check_file(str(path), default_area())
    assert not checked.usable
    assert [what.rpartition(": ")[2] for what, _ in checked.wrong] == ["this is an area file"] * 2


def test_positions_of_thousands_of_digits(tmp_path):
    csv, gpx = tmp_path / "a.csv", tmp_path / "a.gpx"
    row = f"2031-06-07 08:03,dab,11,yes,46 {DIGITS} {DIGITS}N,-33 {DIGITS}W"
    csv.write_text(f"time,species,length_in,kept,latitude,longitude\n{row}\n")
    gpx.write_text(
        f'<gpx version="1.1"><trk><trkseg>{POINT.format("4" + DIGITS)}</trkseg></trk></gpx>'
    )
    start = time.process_time()
    with pytest.raises(SeabedError, match="can't read the position") as error:
        read_catches(csv)
    assert len(str(error.value)) < 2000
    assert not check_file(str(gpx), default_area()).usable
    assert time.process_time() - start < 3.0


@pytest.mark.parametrize("piece", ["[", "( ", "_"])
def test_headings_of_thousands_of_characters(tmp_path, piece):
    path = tmp_path / "a.csv"
    path.write_text(f"time,lat,lon,depth{piece * 20_000}\n2031-06-14T08:00:00,46.2,-33.4,5\n")
    start = time.process_time()
    assert not check_file(str(path), default_area()).usable
    assert time.process_time() - start < 3.0


@pytest.mark.parametrize("digits", [400, 5000])  # too many for a float; for an integer of Python
def test_a_length_of_hundreds_of_digits_and_a_fraction(tmp_path, digits):
    path = tmp_path / "a.csv"
    path.write_text(
        f"time,species,length_in,kept\n2031-06-07 08:03:00-02:00,dab,{'9' * digits} 1/2,yes\n"
    )
    with pytest.raises(SeabedError, match="line 2, column 'length_in': can't read") as error:
        read_catches(path)
    assert len(str(error.value)) < 2000


def test_a_position_of_1e308_is_told(tmp_path):
    path = tmp_path / "a.gpx"
    points = POINT.format("1e308") + POINT.format("46.2")
    path.write_text(f'<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>')
    assert not check_file(str(path), default_area()).usable


def tiff(path, *, crs="EPSG:4326", west=-33.4, step=0.0002):
    place = from_origin(west, 46.2, step, step)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=30,
        height=24,
        count=1,
        dtype="float32",
        crs=crs,
        transform=place,
    ) as file:
        file.write(np.linspace(-20, -5, 720, dtype="f4").reshape(24, 30), 1)
    return path


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ({"crs": "EPSG:4978"}, "neither geographic nor projected"),
        ({"step": 1e-300}, "too small to be told apart"),
        ({"west": 720.0}, "can't be"),
        ({"crs": "EPSG:32629", "west": 1e308, "step": 10}, "too small|lie nowhere|not a number"),
    ],
)
def test_grids_that_lie_nowhere_are_not_usable(tmp_path, place, words):
    path = tiff(tmp_path / "a.tif", **place)
    assert not describe(path).usable
    with pytest.raises(GridError, match=words):
        open_grid(path)


def test_a_message_is_one_line_whatever_a_file_says():
    error = SeabedError("can't read 'a\n\tb'", where="row\r\n1", do="Look\nthere.")
    assert str(error) == "row 1: can't read 'a b'. Look there."
