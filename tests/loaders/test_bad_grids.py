"""Each bad input gives one clear GridError: what, which file, what to do."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
import xarray as xr
from rasterio.transform import from_origin

from seabed.errors import GridError
from seabed.loaders import describe, open_grid

RNG = np.random.default_rng(7)
NOISE = (-10 - RNG.random((64, 64))).astype(np.float32)


def tiff(path, array=NOISE, *, crs="EPSG:32631", origin=(500_000, 4_200_000), step=4.0, **more):
    bands = array if array.ndim == 3 else array[None]
    with rasterio.open(
        path, "w", driver="GTiff", height=bands.shape[1], width=bands.shape[2], count=len(bands),
        dtype=bands.dtype.name, crs=crs, transform=from_origin(*origin, step, step), **more,
    ) as data:  # fmt: skip
        data.write(bands)
    return path


def netcdf(path, x, y, *, name="depth", dims=("y", "x")):
    values = np.ones((len(y), len(x)), np.float32)
    xr.Dataset({name: (dims, values)}, {"y": y, "x": x}).to_netcdf(path, engine="scipy")
    return path


def cut(path, share=0.5):
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    return path


def missing(tmp):
    return tmp / "nothing.tif", {}


def folder(tmp):
    return tmp, {}


def nothing_in_it(tmp):
    (tmp / "a.tif").touch()
    return tmp / "a.tif", {}


def words(tmp):
    (tmp / "a.tif").write_text("no grid at all, only words")
    return tmp / "a.tif", {}


def words_in_a_table(tmp):
    (tmp / "a.csv").write_text("to be, or not to be\nthat is the question\n")
    return tmp / "a.csv", {}


def gpx(tmp):
    (tmp / "a.gpx").write_text('<?xml version="1.0"?><gpx version="1.1"></gpx>')
    return tmp / "a.gpx", {}


def zipped(tmp):
    (tmp / "a.zip").write_bytes(b"PK\x03\x04rest")
    return tmp / "a.zip", {}


def picture(tmp):
    return tiff(tmp / "a.tif", np.zeros((3, 8, 8), np.uint8)), {}


def header_only(tmp):
    (tmp / "a.csv").write_text("lon,lat,depth\n")
    return tmp / "a.csv", {}


def all_void(tmp):
    return tiff(tmp / "a.tif", np.full((8, 8), -9999, np.float32), nodata=-9999), {}


def all_land(tmp):
    return tiff(tmp / "a.tif", -NOISE), {"sign": "elevation"}


def no_crs(tmp):
    return tiff(tmp / "a.tif", crs=None), {}


def no_crs_degrees(tmp):
    return tiff(tmp / "a.tif", crs=None, origin=(5, 52), step=0.001), {}


def degrees_said_to_be_metres(tmp):
    return tiff(tmp / "a.tif", origin=(5, 52), step=0.001), {}


def metres_said_to_be_degrees(tmp):
    return tiff(tmp / "a.tif", crs="EPSG:4326"), {}


def degrees_given_as_metres(tmp):
    return tiff(tmp / "a.tif", crs=None, origin=(5, 52), step=0.001), {"crs": "EPSG:32631"}


def metres_given_as_degrees(tmp):
    return tiff(tmp / "a.tif", crs=None), {"crs": "EPSG:4326"}


def unknown_crs(tmp):
    return tiff(tmp / "a.tif"), {"crs": "EPSG:999999"}


def crs_of_elsewhere(tmp):
    """A projected CRS given in which the coordinates fall far to the south of its area."""
    return tiff(tmp / "a.tif", crs=None, origin=(155_000, 463_000)), {"crs": "EPSG:3067"}


def rotated(tmp):
    path = tmp / "a.tif"
    affine = rasterio.Affine(4, 1, 500_000, 1, -4, 4_200_000)
    with rasterio.open(path, "w", driver="GTiff", height=8, width=8, count=1, dtype="float32",
                       crs="EPSG:32631", transform=affine) as data:  # fmt: skip
        data.write(NOISE[None, :8, :8])
    return path, {}


def cut_tiff(tmp):
    return cut(tiff(tmp / "a.tif", compress="deflate")), {}


def cut_ascii(tmp):
    rows = "\n".join(" ".join(f"{v:.4f}" for v in row) for row in NOISE)
    head = "ncols 64\nnrows 64\nxllcorner 500000\nyllcorner 4200000\ncellsize 4\n"
    (tmp / "a.asc").write_text(head + rows)
    return cut(tmp / "a.asc"), {"crs": "EPSG:32631"}


def cut_netcdf3(tmp):
    return cut(netcdf(tmp / "a.nc", np.arange(90.0), np.arange(80.0))), {"crs": "EPSG:32631"}


def cut_netcdf4(tmp):
    values = xr.Dataset(
        {"depth": (("y", "x"), NOISE)}, {"y": np.arange(64.0), "x": np.arange(64.0)}
    )
    values.to_netcdf(tmp / "a.nc", engine="h5netcdf")
    return cut(tmp / "a.nc"), {"crs": "EPSG:32631"}


def uneven(tmp):
    x = np.array([0, 1, 2, 3, 30.0])
    return netcdf(tmp / "a.nc", x, np.arange(5.0)), {"crs": "EPSG:32631"}


def folded(tmp):
    return netcdf(tmp / "a.nc", np.array([0, 1, 2, 1.0]), np.arange(5.0)), {"crs": "EPSG:32631"}


def no_variable_on_two_axes(tmp):
    xr.Dataset({"depth": ("time", np.arange(4.0))}).to_netcdf(tmp / "a.nc", engine="scipy")
    return tmp / "a.nc", {}


def months_of_temperature(tmp):
    values = (("month", "lat", "lon"), np.ones((12, 3, 3), np.float32))
    axes = {"month": np.arange(12.0), "lat": np.arange(3.0), "lon": np.arange(3.0)}
    xr.Dataset({"t": values}, axes).to_netcdf(tmp / "a.nc", engine="scipy")
    return tmp / "a.nc", {}


def several_variables(tmp):
    values = (("y", "x"), np.ones((3, 3), np.float32))
    data = xr.Dataset(
        {"depth_a": values, "depth_b": values}, {"y": np.arange(3.0), "x": np.arange(3.0)}
    )
    data.to_netcdf(tmp / "a.nc", engine="scipy")
    return tmp / "a.nc", {}


def curved(tmp):
    flat = (("j", "i"), np.ones((3, 3)))
    data = xr.Dataset({"depth": flat}, {"lon": flat, "lat": flat})
    data.to_netcdf(tmp / "a.nc", engine="scipy")
    return tmp / "a.nc", {}


def no_such_band(tmp):
    return tiff(tmp / "a.tif"), {"variable": "7"}


CASES = [
    (missing, "no such file.*Check the name"),
    (folder, "this is a folder.*Name the files"),
    (nothing_in_it, "the file is empty"),
    (words, "not a grid of a kind.*Give a GeoTIFF"),
    (words_in_a_table, "not a grid of a kind"),
    (gpx, "an XML file, not a grid"),
    (zipped, r"a zip archive, or a spreadsheet's workbook, not a grid of depths\. Unpack it, or"),
    (picture, "picture"),
    (header_only, "no rows"),
    (all_void, "empty: every cell in it is void"),
    (all_land, "all of it is land.*sign: depth"),
    (no_crs, "no coordinate reference system.*crs.*look like metres"),
    (no_crs_degrees, "no coordinate reference system.*look like degrees"),
    (degrees_said_to_be_metres, "look like degrees.*EPSG:4326 as crs"),
    (metres_said_to_be_degrees, "is in degrees, but the coordinates.*can't be"),
    (degrees_given_as_metres, "CRS given.*look like degrees"),
    (metres_given_as_degrees, "CRS given.*is in degrees"),
    (unknown_crs, "unknown coordinate reference system 'EPSG:999999'"),
    (crs_of_elsewhere, "far outside the area that CRS is made for"),
    (rotated, "rotated.*gdalwarp"),
    (cut_tiff, "cut short or damaged.*again|header is damaged"),
    (cut_ascii, "cut short or damaged.*again"),
    (cut_netcdf3, "cut short or damaged.*again"),
    (cut_netcdf4, "cut short or damaged.*again"),
    (uneven, "steps of axis 'x' differ from 1 to 27"),
    (folded, "doesn't rise or fall"),
    (no_variable_on_two_axes, "not a grid"),
    (months_of_temperature, r"change along month \(12 steps\) too"),
    (several_variables, "several variables.*depth_a, depth_b.*variable"),
    (curved, "two-dimensional: the grid is curved"),
    (no_such_band, "no band '7'.*Its bands: 1"),
]


@pytest.mark.parametrize(("make", "message"), CASES, ids=[make.__name__ for make, _ in CASES])
def test_one_clear_error(tmp_path, make, message):
    path, options = make(tmp_path)
    with pytest.raises(GridError, match=message) as caught:
        open_grid(path, **options)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "make", [no_crs, degrees_said_to_be_metres, all_void, cut_ascii, unknown_crs, all_land]
)
def test_description_tells_what_would_stop_it(tmp_path, make):
    path, options = make(tmp_path)
    report = describe(path, **options)
    assert not report.usable
    assert all(problem.do for problem in report.problems)


@pytest.mark.parametrize("make", [missing, words, gpx, picture])
def test_description_of_no_grid_is_an_error(tmp_path, make):
    with pytest.raises(GridError):
        describe(make(tmp_path)[0])


def test_no_source():
    with pytest.raises(GridError, match="no grid was named"):
        open_grid([])
