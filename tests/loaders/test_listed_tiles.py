"""Tiles that a virtual mosaic lists, against the raster library's own reading of the same list."""

from __future__ import annotations

import pickle
import re

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from seabed.errors import GridError
from seabed.grid import Bounds
from seabed.loaders import describe, open_grid, open_stored

WEST, NORTH, STEP = 500_000.0, 4_200_000.0, 4.0
HEAD = (
    '<VRTDataset rasterXSize="70" rasterYSize="50"><SRS>EPSG:32631</SRS>'
    "<GeoTransform>500000, 4, 0, 4200000, 0, -4</GeoTransform>"
    '<VRTRasterBand dataType="Float32" band="1"><Description>elevation</Description>'
    "<NoDataValue>-9999</NoDataValue>"
)
SOURCE = (
    '<ComplexSource><SourceFilename relativeToVRT="1">{name}</SourceFilename>'
    "<SourceBand>{band}</SourceBand>"
    '<SrcRect xOff="{sx}" yOff="{sy}" xSize="{w}" ySize="{h}"/>'
    '<DstRect xOff="{x}" yOff="{y}" xSize="{w}" ySize="{h}"/><NODATA>-9999</NODATA>'
    "</ComplexSource>"
)
TAIL = "</VRTRasterBand></VRTDataset>"


def source(name="a.tif", *, band=1, sx=0, sy=0, x=0, y=0, w=40, h=30):
    return SOURCE.format(name=name, band=band, sx=sx, sy=sy, x=x, y=y, w=w, h=h)


def written(folder, *sources, head=HEAD):
    path = folder / "all.vrt"
    path.write_text(head + "".join(sources) + TAIL, encoding="utf-8")
    return path


@pytest.fixture
def tiles(tmp_path):
    """Two tiles of two bands, with voids."""
    random = np.random.default_rng(7)
    for name in ("a.tif", "b.tif"):
        values = random.uniform(-60, -5, (2, 30, 40)).astype(np.float32)
        values[:, 3:6, 5:9] = -9999
        with rasterio.open(
            tmp_path / name, "w", driver="GTiff", width=40, height=30, count=2, dtype="float32",
            crs="EPSG:32631", transform=from_origin(WEST, NORTH, STEP, STEP), nodata=-9999,
        ) as file:  # fmt: skip
            file.write(values)
    return tmp_path


def test_the_same_as_the_raster_library(tiles):
    """Side by side, over each other, from the middle of a tile, of another band, and with a gap."""
    path = written(
        tiles,
        source(),
        source("b.tif", x=30, y=5, w=35),
        source("b.tif", band=2, sx=10, sy=4, x=2, y=34, w=20, h=16),
    )
    with rasterio.open(path) as data:
        expected = data.read(1, masked=True).filled(np.nan)
    grid = open_grid(path)
    np.testing.assert_array_equal(grid.values, -expected)
    assert np.isnan(expected).any()
    stored = pickle.loads(pickle.dumps(open_stored(path)))
    np.testing.assert_array_equal(stored.depths(20, 25, 17, 31), -expected[20:37, 25:56])
    report = describe(path)
    assert (report.format, report.variable, report.sign) == (
        "virtual mosaic", "elevation", "elevation",
    )  # fmt: skip


def test_a_box_of_it(tiles):
    path = written(tiles, source())
    whole = open_grid(path)
    box = Bounds(3.0001, 37.9465, 3.001, 37.9475)
    part = open_grid(path, box=box)
    assert 0 < part.size < whole.size
    known = part.values[~np.isnan(part.values)]
    assert known.size and np.isin(known, whole.values).all()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (HEAD.replace("<VRTDataset", '<VRTDataset subClass="VRTWarpedDataset"') + source() + TAIL,
         "more than lay tiles side by side (VRTWarpedDataset)"),
        (HEAD.replace("<VRTRasterBand", '<VRTRasterBand subClass="VRTDerivedRasterBand"')
         + source() + TAIL, "(VRTDerivedRasterBand)"),
        (HEAD + source().replace("<NODATA>", "<ScaleRatio>2</ScaleRatio><NODATA>") + TAIL,
         "(ScaleRatio)"),
        (HEAD + TAIL, "more than lay tiles side by side."),
        (HEAD + source(w=20).replace('xSize="20" ySize="30"/><DstRect', 'xSize="40" ySize="30"/>'
         "<DstRect") + TAIL, "on other cells than its own"),
        (HEAD + source(), "cut short or damaged"),
        (HEAD + source(x="nan") + TAIL, "cut short or damaged"),
        (HEAD.replace("4200000", "") + source() + TAIL, "cut short or damaged"),
        (HEAD + source("gone.tif") + TAIL, "names gone.tif, which is not a GeoTIFF or is missing"),
    ],
)  # fmt: skip
def test_lists_that_are_not_read(tiles, text, message):
    path = tiles / "bad.vrt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(GridError, match=re.escape(message)):
        open_grid(path)


def test_a_tile_cut_short_is_said(tiles):
    path = written(tiles, source())
    whole = (tiles / "a.tif").read_bytes()
    (tiles / "a.tif").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(GridError, match="cut short or damaged"):
        open_grid(path)
