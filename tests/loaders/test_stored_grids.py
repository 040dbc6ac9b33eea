"""Grids left in their files: every block is a part of the whole, in any order, in any process."""

from __future__ import annotations

import pickle
import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
from hypothesis import given, settings
from hypothesis import strategies as st
from rasterio.transform import from_origin
from test_bag_and_s102 import write_bag, write_s102
from test_damaged_grids import ascii_grid, netcdf, points, tiff
from thoroughness import examples

from seabed.errors import GridError
from seabed.grid import Bounds, check_grid, transform_of
from seabed.loaders import open_grid, open_stored

MAKERS = {
    "a.tif": lambda p: tiff(p, tiled=True, blockxsize=16, blockysize=16),
    "three.nc": lambda p: netcdf(p, "scipy"),
    "four.nc": lambda p: netcdf(p, "h5netcdf"),
    "a.csv": points,
    "a.asc": ascii_grid,
    "vr.bag": write_bag,
    "a.h5": write_s102,
}


@pytest.fixture(params=MAKERS)
def file(request, tmp_path):
    return MAKERS[request.param](tmp_path / request.param)


def options(file):
    return {"crs": "EPSG:4326"} if file.suffix == ".asc" else {}


def test_chunks_are_the_whole(file):
    whole = open_grid(file, **options(file))
    stored = pickle.loads(pickle.dumps(open_stored(file, **options(file))))
    assert stored.shape == whole.shape
    assert stored.transform == pytest.approx(transform_of(whole), rel=1e-12)
    lazy = stored.chunked(7)
    assert lazy.chunks is not None
    check_grid(lazy)
    np.testing.assert_array_equal(lazy.values, whole.values)
    np.testing.assert_allclose(lazy.x, whole.x, rtol=1e-14)
    np.testing.assert_allclose(lazy.y, whole.y, rtol=1e-14)


@pytest.fixture(scope="module")
def tiled(tmp_path_factory):
    return MAKERS["a.tif"](tmp_path_factory.mktemp("stored") / "a.tif")


@given(data=st.data())
@settings(max_examples=examples(40), deadline=None)
def test_any_block_is_a_part(tiled, data):
    whole, stored = open_grid(tiled), open_stored(tiled)
    rows, columns = whole.shape
    row, column = data.draw(st.integers(0, rows - 1)), data.draw(st.integers(0, columns - 1))
    height = data.draw(st.integers(1, rows - row))
    width = data.draw(st.integers(1, columns - column))
    part = stored.read(row, column, height, width)
    expected = whole[row : row + height, column : column + width]
    np.testing.assert_array_equal(part.values, expected.values)
    np.testing.assert_allclose(part.x, expected.x, rtol=1e-14)
    np.testing.assert_allclose(part.y, expected.y, rtol=1e-14)


@pytest.mark.parametrize("block", [(-1, 0, 2, 2), (0, 0, 0, 2), (39, 0, 2, 2), (0, 49, 2, 2)])
def test_no_block_beyond_the_grid(tiled, block):
    with pytest.raises(GridError, match=r"no block.*The grid has 40 x 50"):
        open_stored(tiled).depths(*block)


def test_box_offset_and_sign(tmp_path):
    file = netcdf(tmp_path / "a.nc", "h5netcdf")
    box = Bounds(5.1, 50.1, 5.3, 50.2)
    asked = {"box": box, "offset_m": 2.0, "sign": "elevation", "land_above_m": 0.5}
    np.testing.assert_array_equal(
        open_stored(file, **asked).chunked(8).values, open_grid(file, **asked).values
    )


@pytest.mark.skipif(sys.platform != "linux", reason="counts bytes with /proc")
def test_opening_reads_little(tmp_path):
    """16 looks of 512 x 512 in 6000 x 6000 cells touch 16 x 9 of 576 tiles at most: a quarter."""
    file = tmp_path / "large.tif"
    values = np.full((6000, 6000), -10.0, np.float32)
    values[512:768, 256:512] -= np.random.default_rng(1).random((256, 256))
    with rasterio.open(
        file, "w", driver="GTiff", height=6000, width=6000, count=1, dtype="float32", tiled=True,
        crs="EPSG:32631", transform=from_origin(500_000, 4_200_000, 1, 1), blockxsize=256,
        blockysize=256,
    ) as data:  # fmt: skip
        data.write(values, 1)

    def bytes_read():
        lines = Path("/proc/self/io").read_text().splitlines()
        return int(next(line for line in lines if line.startswith("rchar")).split()[1])

    before = bytes_read()
    stored = open_stored(file)
    assert bytes_read() - before < 0.25 * file.stat().st_size
    assert stored.meaning.sign == "elevation"
    before = bytes_read()
    np.testing.assert_array_equal(stored.depths(512, 256, 256, 256), -values[512:768, 256:512])
    assert bytes_read() - before < 0.01 * file.stat().st_size
