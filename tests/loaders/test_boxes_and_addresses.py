"""A box is read without the rest of the file, from disk and from a local web server."""

from __future__ import annotations

import sys
import threading
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import numpy as np
import pytest
import rasterio
import xarray as xr
from rasterio.transform import from_origin

from seabed.errors import GridError
from seabed.grid import Bounds
from seabed.loaders import describe, open_grid

SIZE, STEP = 2048, 0.001
DEPTH = (5 + np.random.default_rng(5).random((SIZE, SIZE))).astype(np.float32)
BOX = Bounds(10.1001, 52.8501, 10.1499, 52.8999)
ROWS, COLUMNS = slice(100, 150), slice(100, 150)


def write_tiff(path, **profile):
    with rasterio.open(
        path, "w", height=SIZE, width=SIZE, count=1, dtype="float32", crs="EPSG:4326",
        transform=from_origin(10, 53, STEP, STEP), **profile,
    ) as data:  # fmt: skip
        data.write(-DEPTH, 1)
    return path


class RangeHandler(SimpleHTTPRequestHandler):
    """Serves parts of files and counts the bytes."""

    sent = 0
    ranges = True

    def log_message(self, *_):
        pass

    def do_HEAD(self):
        self.answer(body=False)

    def do_GET(self):
        self.answer(body=True)

    def answer(self, *, body):
        path = Path(self.translate_path(self.path))
        if not path.is_file():
            self.send_error(404)
            return
        data, asked = path.read_bytes(), self.headers.get("Range")
        if asked and self.ranges:
            first, last = asked.removeprefix("bytes=").split("-")
            low, high = int(first), min(int(last or len(data) - 1), len(data) - 1)
            part = data[low : high + 1]
            self.send_response(206)
            self.send_header("Content-Range", f"bytes {low}-{high}/{len(data)}")
        else:
            part = data
            self.send_response(200)
        self.send_header("Accept-Ranges", "bytes")
        self.send_header("Content-Length", str(len(part)))
        self.end_headers()
        if body:
            type(self).sent += len(part)
            self.wfile.write(part)


@pytest.fixture
def server(tmp_path, monkeypatch):
    for name in (
        "http_proxy",
        "https_proxy",
        "HTTP_PROXY",
        "HTTPS_PROXY",
        "all_proxy",
        "ALL_PROXY",
    ):
        monkeypatch.delenv(name, raising=False)
    RangeHandler.sent = 0
    handler = partial(RangeHandler, directory=str(tmp_path))
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as web:
        thread = threading.Thread(target=web.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{web.server_port}"
        web.shutdown()


def test_box_of_an_address_takes_a_small_part(tmp_path, server):
    """50 x 50 cells out of 2048 x 2048 lie in one tile of 512 x 512, 1/16 of the file."""
    file = write_tiff(tmp_path / "cloud.tif", driver="COG", compress="deflate", overviews="none")
    grid = open_grid(f"{server}/cloud.tif", box=BOX)
    np.testing.assert_array_equal(grid.values, DEPTH[ROWS, COLUMNS])
    assert 0 < RangeHandler.sent < 0.12 * file.stat().st_size


def test_description_of_an_address_takes_a_part(tmp_path, server):
    """The middle 1024 x 1024 of 2048 x 2048 cells touch 3 x 3 tiles of 512 at most."""
    file = write_tiff(tmp_path / "cloud.tif", driver="COG", compress="deflate", overviews="none")
    report = describe(f"{server}/cloud.tif")
    assert RangeHandler.sent < 0.6 * file.stat().st_size
    assert report.usable
    assert (report.rows, report.valid_share) == (SIZE, 1.0)
    assert any("block in the middle" in guess for guess in report.guesses)


def test_a_box_may_be_four_numbers(tmp_path):
    file = write_tiff(tmp_path / "a.tif", driver="GTiff")
    four = (BOX.west, BOX.south, BOX.east, BOX.north)
    np.testing.assert_array_equal(open_grid(file, box=four).values, DEPTH[ROWS, COLUMNS])
    for wrong in ((1, 2, 3), "box", 7, (1, 2, 3, "north")):
        with pytest.raises(GridError, match=r"a box is four numbers.*Give west, south, east"):
            open_grid(file, box=wrong)


def test_address_with_nothing_there(server):
    with pytest.raises(
        GridError, match=r"nothing could be read from this address.*Check the address"
    ):
        open_grid(f"{server}/none.tif")


def test_box_of_a_damaged_file_beside_the_damage(tmp_path):
    """Half the file is gone: a box in the half that is there reads, the whole does not."""
    file = write_tiff(
        tmp_path / "a.tif", driver="GTiff", tiled=True, blockxsize=256, blockysize=256
    )
    data = file.read_bytes()
    file.write_bytes(data[: len(data) // 2])
    np.testing.assert_array_equal(open_grid(file, box=BOX).values, DEPTH[ROWS, COLUMNS])
    with pytest.raises(GridError, match="cut short"):
        open_grid(file)
    assert not describe(file).usable


@pytest.mark.skipif(sys.platform != "linux", reason="counts bytes with /proc")
def test_box_of_a_netcdf_takes_a_small_part(tmp_path):
    axis = np.arange(SIZE) + 0.5
    data = xr.Dataset(
        {"elevation": (("lat", "lon"), -DEPTH[::-1])},
        {"lat": 53 - axis[::-1] * STEP, "lon": 10 + axis * STEP},
    )
    file = tmp_path / "a.nc"
    data.to_netcdf(
        file, engine="h5netcdf", encoding={"elevation": {"chunksizes": (128, 128), "zlib": True}}
    )
    open_grid(file, box=BOX)

    def bytes_read():
        lines = Path("/proc/self/io").read_text().splitlines()
        return int(next(line for line in lines if line.startswith("rchar")).split()[1])

    before = bytes_read()
    grid = open_grid(file, box=BOX)
    assert bytes_read() - before < 0.1 * file.stat().st_size
    np.testing.assert_array_equal(grid.values, DEPTH[ROWS, COLUMNS])


def test_a_virtual_mosaic_may_not_reach_out(tmp_path):
    (tmp_path / "a.vrt").write_text(
        '<VRTDataset rasterXSize="1" rasterYSize="1"><VRTRasterBand dataType="Float32" band="1">'
        "<SimpleSource><SourceFilename>/vsicurl/http://127.0.0.1:9/a.tif</SourceFilename>"
        "</SimpleSource></VRTRasterBand></VRTDataset>"
    )
    with pytest.raises(GridError, match="points to addresses on the network"):
        open_grid(tmp_path / "a.vrt")


@pytest.mark.parametrize("box", [Bounds(11, 52, 10, 53), Bounds(10, 53, 11, 53)])
def test_empty_box(tmp_path, box):
    with pytest.raises(GridError, match="is empty"):
        open_grid(write_tiff(tmp_path / "a.tif", driver="GTiff"), box=box)


def test_box_on_a_projected_grid(tmp_path):
    """Every cell whose centre is in the box is there (centres through PROJ itself)."""
    from pyproj import Transformer

    file = tmp_path / "utm.tif"
    with rasterio.open(
        file, "w", driver="GTiff", height=400, width=400, count=1, dtype="float32",
        crs="EPSG:32632", transform=from_origin(650_000, 5_800_000, 20, 20),
    ) as data:  # fmt: skip
        data.write(-DEPTH[:400, :400], 1)
    box = Bounds(11.22, 52.29, 11.27, 52.32)
    grid = open_grid(file, box=box)
    whole = open_grid(file)
    x, y = np.meshgrid(whole.x, whole.y)
    longitude, latitude = Transformer.from_crs(32632, 4326, always_xy=True).transform(x, y)
    inside = (longitude > box.west) & (longitude < box.east)
    inside &= (latitude > box.south) & (latitude < box.north)
    assert inside.any()
    rows, columns = np.nonzero(inside)
    assert np.isin(whole.y.values[np.unique(rows)], grid.y.values).all()
    assert np.isin(whole.x.values[np.unique(columns)], grid.x.values).all()
    assert grid.size < 2 * inside.sum()
