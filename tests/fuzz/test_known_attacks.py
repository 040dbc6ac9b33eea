"""Files made to take a reader's time, memory or tongue: each ends in one message that says why."""

from __future__ import annotations

import json
import math
import time
from pathlib import Path

import h5py
import numpy as np
import pytest
import rasterio
from processor_limit import processor_limit
from rasterio.transform import from_origin

from layers.area import default_area, load_area
from layers.catches import read_catches
from layers.jobs.check import check_file
from layers.water import read_currents, read_heights
from layers.water.stations.importers import import_station
from seabed.errors import GridError, SeabedError, WaterError
from seabed.loaders import describe, open_grid
from seabed.logs import read_delimited_fixes

DIGITS = "9" * 3000
POINT = '<trkpt lat="{}" lon="-33.4"><time>2031-06-14T08:00:00Z</time></trkpt>'


@pytest.fixture(autouse=True)
def _none_goes_on():
    """The dotted key alone took 46 s before."""
    with processor_limit(20):
        yield


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
    with pytest.raises(SeabedError, match=words):
        (load_area if name == "a.toml" else import_station)(path)


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
    with pytest.raises(SeabedError, match="can't read the position") as error:
        read_catches(csv)
    assert len(str(error.value)) < 2000
    assert not check_file(str(gpx), default_area()).usable


def test_a_fix_of_thousands_of_digits(tmp_path):
    """Its time grew with the cube of its digits."""
    path = tmp_path / "a.csv"
    path.write_text(f"time,lat,lon\n2031-06-14T08:00:00,46.2,-33.4\n,46.2 {DIGITS}x,-33.4\n")
    fixes = read_delimited_fixes(path)
    assert np.isnan(fixes.latitude).tolist() == [False, True]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (f'[plan]\nlaunch = "{"9" * 399} 11 N, 33 24 W"', "Write latitude and longitude"),
        (f'[charts]\nfiles = ["{"x" * 5000}.000"]', "of at most 255 bytes"),
        (f'[water]\nheights = "{"é" * 200}.csv"', "of at most 255 bytes"),
        ('[water]\nheights = "a\\u0000b.csv"', "of at most 255 bytes"),
    ],
)
def test_values_of_an_area_that_the_system_has_no_place_for(tmp_path, text, words):
    path = tmp_path / "a.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SeabedError, match=words):
        load_area(path)
    assert not check_file(str(path), default_area()).usable


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("usual_tide_m", 0.0), ("usual_tide_m", "x"), ("usual_tide_m", None), ("outings", "x"),
        ("drifts", -3), ("day_spreads_mps", [0.1]), ("day_spreads_mps", [1e308, 1]),
        ("seen_sizes", [2, 1]), ("leeway_scale", [1, math.nan]), ("centre", [720, 95]),
        ("coefficients", [1e308] * 14), ("coefficients", [math.nan] * 14), ("covariance", [[1]]),
        ("covariance", [[-5.0] * 14] * 14), ("seen_angles", [1, 2]), ("seen_angles", [[1], [2]]),
        ("seen_angles", [0.1] * 200_000), ("seen_hours", ["a"]), ("span", 5),
        ("span", ["2031-06-14Z", "2030-06-14Z"]), ("span", ["0001-06-14Z", "9031-06-14Z"]),
    ],
)  # fmt: skip
def test_a_learned_current_that_nobody_learned(tmp_path, name, value):
    """Some gave another exception, one took 2.6 GB, the rest gave a wrong current."""
    kept = Path(__file__).parents[1] / "of_0_1"
    record = json.loads((kept / "learned_current.json").read_text(encoding="utf-8"))
    path = tmp_path / "learned.json"
    path.write_text(json.dumps(record | {name: value}))
    tide = read_heights(kept / "tide_table.csv", timezone="Etc/GMT+2")
    with pytest.raises(WaterError, match=r"learned current (can't be right|is not whole)"):
        read_currents(path, heights=tide)


@pytest.mark.parametrize("piece", ["[", "( ", "_"])
def test_headings_of_thousands_of_characters(tmp_path, piece):
    path = tmp_path / "a.csv"
    path.write_text(f"time,lat,lon,depth{piece * 20_000}\n2031-06-14T08:00:00,46.2,-33.4,5\n")
    assert not check_file(str(path), default_area()).usable


@pytest.mark.parametrize("digits", [400, 5000])  # too many for a float; for an integer of Python
def test_a_length_of_hundreds_of_digits_and_a_fraction(tmp_path, digits):
    path = tmp_path / "a.csv"
    path.write_text(
        f"time,species,length_in,kept\n2031-06-07 08:03:00-02:00,dab,{'9' * digits} 1/2,yes\n"
    )
    with pytest.raises(SeabedError, match="line 2, column 'length_in': can't read") as error:
        read_catches(path)
    assert len(str(error.value)) < 2000


def test_a_position_of_1e308_is_reported(tmp_path):
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
        ({"step": 1e-300}, "too small to distinguish"),
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


def wide_tiff(path, cells):
    """Tiles that are all missing; only one is there."""
    with rasterio.open(
        path, "w", driver="GTiff", width=cells, height=cells, count=1, dtype="float32",
        crs="EPSG:32625", transform=from_origin(4e5, 5.2e6, 1, 1), tiled=True, blockxsize=2048,
        blockysize=2048, SPARSE_OK="TRUE", BIGTIFF="YES", nodata=-9999,
    ) as file:  # fmt: skip
        file.write(np.full((64, 64), -12, "f4"), 1, window=((2048, 2112), (2048, 2112)))
    return path


def wide_netcdf(path, cells):
    with h5py.File(path, "w") as file:
        data = file.create_dataset("elevation", (cells, cells), "f4", chunks=(2048, 2048),
                                   compression="gzip")  # fmt: skip
        data.attrs.update(units="m", _FillValue=np.float32(-9999))
        for place, (name, unit, first) in enumerate(
            [("lat", "degrees_north", 46.0), ("lon", "degrees_east", -33.0)]
        ):
            axis = file.create_dataset(name, data=first + 1e-5 * np.arange(cells))
            axis.make_scale(name)
            axis.attrs["units"] = unit
            data.dims[place].attach_scale(axis)
        data[2048:2112, 2048:2112] = -12
    return path


@pytest.mark.parametrize(("name", "made"), [("a.tif", wide_tiff), ("a.nc", wide_netcdf)])
def test_a_sparse_grid_of_90_thousand_million_cells_is_refused_at_once(tmp_path, name, made):
    """By its header; check and scout ask the same readers.  Whole it would take 360 GB."""
    resource = pytest.importorskip("resource")
    path = made(tmp_path / name, 300_000)
    before, start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
    checked = check_file(str(path), default_area())
    assert not checked.usable
    assert "claims 300,000 x 300,000 cells" in checked.wrong[0][0]
    with pytest.raises(GridError, match="claims 300,000 x 300,000 cells"):
        open_grid(path)
    assert time.process_time() - start < 5
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert grown * 1024 < 300_000_000
