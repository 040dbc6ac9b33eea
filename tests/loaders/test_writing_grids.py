"""Grids written as cloud-optimised GeoTIFF, against the raster library's own reading."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from affine import Affine

from seabed.errors import GridError, OutputError
from seabed.grid import make_grid
from seabed.loaders import open_surface
from seabed.loaders.writing import write_bands


@pytest.fixture
def grid():
    depth = np.random.default_rng(0).uniform(1, 30, (700, 600)).astype(np.float32)
    depth[:50] = np.nan
    return make_grid(
        depth, transform=Affine(1e-4, 0, -33.4, 0, -2e-4, 46.2), crs="EPSG:4326",
        vertical_datum="low water of the test", source="made up",
    )  # fmt: skip


def test_bands_tags_and_layout(tmp_path, grid):
    sigma = (grid * 0.1).rename("uncertainty")
    sigma.attrs = {"units": "m", "long_name": "one standard deviation"}
    write_bands(tmp_path / "a.tif", {"depth": grid, "uncertainty": sigma}, tags={"caution": "Ahoy"})
    with rasterio.open(tmp_path / "a.tif") as file:
        assert file.descriptions == ("depth", "uncertainty")
        assert file.units == ("m", "m")
        assert file.tags()["caution"] == "Ahoy"
        assert file.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert file.overviews(1)
        assert np.isnan(file.nodata)
        assert file.bounds == pytest.approx((-33.4, 46.06, -33.34, 46.2))
        np.testing.assert_array_equal(file.read(1), grid.values)
    again = open_surface(tmp_path / "a.tif")
    np.testing.assert_array_equal(again.depth.values, grid.values)
    np.testing.assert_array_equal(again.uncertainty.values, sigma.values)
    assert again.depth.attrs["vertical_datum"] == "low water of the test"
    assert [path.name for path in tmp_path.iterdir()] == ["a.tif"]


def test_an_old_file_stays_where_the_new_one_fails(tmp_path, grid):
    (tmp_path / "a.tif").write_text("old")
    with pytest.raises(GridError, match="dimensions"):
        write_bands(tmp_path / "a.tif", {"depth": grid.isel(x=0)})
    with pytest.raises(GridError, match="band other has not the cells"):
        write_bands(tmp_path / "a.tif", {"depth": grid, "other": grid[:, :10]})
    assert (tmp_path / "a.tif").read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 1
    with pytest.raises(OutputError, match="can't write"):
        write_bands(tmp_path / "a.tif" / "b.tif", {"depth": grid})
