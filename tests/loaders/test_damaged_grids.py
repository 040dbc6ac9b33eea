"""Files of every kind, cut or with bytes changed: read, or refused with one of our errors."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
import xarray as xr
from rasterio.transform import from_origin
from test_bag_and_s102 import write_bag, write_s102
from test_charts import Cell
from thoroughness import THOROUGH

from seabed.errors import GridError
from seabed.loaders import describe, open_surface, read_hazards

RNG = np.random.default_rng(11)
EACH = 40 if THOROUGH else 10
VALUES = (-10 - RNG.random((40, 50))).astype(np.float32)


def tiff(path, **profile):
    with rasterio.open(
        path, "w", driver="GTiff", height=40, width=50, count=1, dtype="float32",
        crs="EPSG:32631", transform=from_origin(500_000, 4_200_000, 4, 4), **profile,
    ) as data:  # fmt: skip
        data.write(VALUES, 1)
    return path


def netcdf(path, engine):
    axes = {"lat": 50 + np.arange(40) / 100, "lon": 5 + np.arange(50) / 100}
    xr.Dataset({"elevation": (("lat", "lon"), VALUES)}, axes).to_netcdf(path, engine=engine)
    return path


def points(path):
    rows = [
        f"{5 + i / 100:.2f},{50 + j / 100:.2f},{i + j + 1}" for i in range(20) for j in range(15)
    ]
    path.write_text("\n".join(["lon,lat,depth", *rows]))
    return path


def ascii_grid(path):
    head = "ncols 50\nnrows 40\nxllcorner 5\nyllcorner 50\ncellsize 0.01\nNODATA_value -9999\n"
    path.write_text(head + "\n".join(" ".join(f"{v:.2f}" for v in row) for row in VALUES))
    return path


MAKERS = {
    "plain.tif": tiff,
    "tiled.tif": lambda p: tiff(p, tiled=True, blockxsize=16, blockysize=16, compress="deflate"),
    "three.nc": lambda p: netcdf(p, "scipy"),
    "four.nc": lambda p: netcdf(p, "h5netcdf"),
    "a.csv": points,
    "a.asc": ascii_grid,
    "vr.bag": write_bag,
    "one.bag": lambda p: write_bag(p, refined=False),
    "a.h5": write_s102,
}


def attempt(path):
    for work in (lambda: open_surface(path, crs="EPSG:4326" if path.suffix == ".asc" else None),
                 lambda: describe(path)):  # fmt: skip
        try:
            work()
        except GridError as error:
            assert str(path) in str(error)
            assert "\n" not in str(error)


@pytest.mark.parametrize("name", MAKERS)
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_cut_anywhere(tmp_path, name):
    path = MAKERS[name](tmp_path / name)
    whole = path.read_bytes()
    for length in RNG.integers(0, len(whole), EACH):
        path.write_bytes(whole[:length])
        attempt(path)


@pytest.mark.parametrize("name", MAKERS)
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_bytes_changed_anywhere(tmp_path, name):
    path = MAKERS[name](tmp_path / name)
    whole = path.read_bytes()
    for _ in range(EACH):
        spoilt = bytearray(whole)
        for place in RNG.integers(0, min(len(whole), 4096), 8):
            spoilt[place] = RNG.integers(0, 256)
        path.write_bytes(bytes(spoilt))
        attempt(path)


def test_a_chart_cut_anywhere(tmp_path):
    made = Cell()
    made.feature(153, 1, [made.point(5, 50)], {179: "1.2"})
    made.feature(43, 2, [made.edge([(5, 50), (5.1, 50.1), (5.2, 50)])], {174: "10"})
    path = made.write(tmp_path / "XX5TEST1.000")
    whole = path.read_bytes()
    for length in RNG.integers(0, len(whole), EACH):
        path.write_bytes(whole[:length])
        try:
            read_hazards(path)
        except GridError as error:
            assert str(path) in str(error)
