"""Every format gives the same depths: an analytic surface written by outside libraries."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import rasterio
import rasterio.shutil
import xarray as xr
from rasterio.transform import from_origin

from seabed.errors import GridError
from seabed.grid import Bounds, check_grid
from seabed.loaders import open_grid

ROWS, COLUMNS, STEP = 24, 30, 4.0
EAST0, NORTH0 = 500_000.0, 4_200_000.0


def surface() -> np.ndarray:
    """Depths in quarters of a metre (exact in float32 and as text), 5 m at the north-west."""
    row, column = np.mgrid[0:ROWS, 0:COLUMNS]
    return (5 + row * 0.25 + column * 0.5).astype(np.float32)


def write_tiff(path, array, *, crs="EPSG:32631", step=STEP, origin=None, nodata=None, **profile):
    west, north = origin or (EAST0, NORTH0)
    bands = array[None] if array.ndim == 2 else array
    with rasterio.open(
        path, "w", driver="GTiff", height=bands.shape[1], width=bands.shape[2],
        count=len(bands), dtype=bands.dtype.name, crs=crs, nodata=nodata,
        transform=from_origin(west, north, step, step), **profile,
    ) as data:  # fmt: skip
        data.write(bands)
    return path


def write_ascii(path, array, *, corner=True, prj=True, nodata=-9999.0):
    south = NORTH0 - array.shape[0] * STEP
    x, y = (EAST0, south) if corner else (EAST0 + STEP / 2, south + STEP / 2)
    word = "corner" if corner else "center"
    rows, columns = array.shape
    head = [f"ncols {columns}", f"nrows {rows}", f"xll{word} {x}", f"yll{word} {y}",
            f"cellsize {STEP}", f"NODATA_value {nodata:g}"]  # fmt: skip
    rows = [" ".join(f"{v:g}" for v in np.where(np.isnan(r), nodata, r)) for r in array]
    path.write_text("\n".join([*head, *rows]) + "\n")
    if prj:
        path.with_suffix(".prj").write_text(
            rasterio.crs.CRS.from_epsg(32631).to_wkt(version="WKT1_ESRI")
        )
    return path


def same(grid, expected=None):
    check_grid(grid)
    np.testing.assert_array_equal(grid.values, surface() if expected is None else expected)
    assert grid.x.values[0] == EAST0 + STEP / 2
    assert grid.y.values[0] == NORTH0 - STEP / 2
    assert grid.rio.crs.to_epsg() == 32631


def test_geotiff_of_elevations(tmp_path):
    array = -surface()
    array[3, 4] = -32768
    file = write_tiff(tmp_path / "a.tif", array, nodata=-32768)
    expected = surface()
    expected[3, 4] = np.nan
    same(open_grid(file), expected)


@pytest.mark.parametrize("corner", [True, False])
def test_ascii_grid_by_corner_and_centre(tmp_path, corner):
    same(open_grid(write_ascii(tmp_path / "a.asc", -surface(), corner=corner)))


def test_ascii_grid_whose_first_rows_are_whole_numbers(tmp_path):
    """However the raster library guesses the type of number, fractions must survive."""
    array = np.full((300, 300), -7.0, np.float32)
    array[-1, -1] = -7.25
    grid = open_grid(write_ascii(tmp_path / "a.asc", array))
    assert grid.values[-1, -1] == 7.25


def test_netcdf_projected_with_rows_running_north(tmp_path):
    data = xr.DataArray(
        surface()[::-1],
        dims=("northing", "easting"),
        coords={
            "northing": NORTH0 - STEP * (np.arange(ROWS)[::-1] + 0.5),
            "easting": EAST0 + STEP * (np.arange(COLUMNS) + 0.5),
        },
        attrs={"positive": "down", "units": "m", "grid_mapping": "crs"},
    )
    mapping = xr.DataArray(0, attrs={"crs_wkt": rasterio.crs.CRS.from_epsg(32631).to_wkt()})
    file = tmp_path / "a.nc"
    xr.Dataset({"z": data, "crs": mapping}).to_netcdf(file, engine="h5netcdf")
    grid = open_grid(file)
    same(grid)
    assert grid.attrs["guesses"] == []


@pytest.mark.parametrize("engine", ["h5netcdf", "scipy"])
def test_netcdf_in_the_manner_of_a_world_grid(tmp_path, engine):
    """int16 elevation on lat/lon with a fill value: no firm sign, the name gives it."""
    values = -np.arange(12, dtype=np.int16).reshape(3, 4) - 1
    values[0, 0] = -32767
    data = xr.Dataset(
        {"elevation": (("lat", "lon"), values, {"units": "m", "_FillValue": np.int16(-32767)})},
        coords={"lat": [10.0, 10.25, 10.5], "lon": [20.0, 20.25, 20.5, 20.75]},
    )
    data.lat.attrs["units"], data.lon.attrs["units"] = "degrees_north", "degrees_east"
    data.to_netcdf(tmp_path / "w.nc", engine=engine)
    grid = open_grid(tmp_path / "w.nc")
    check_grid(grid)
    assert grid.rio.crs.to_epsg() == 4326
    np.testing.assert_array_equal(grid.y, [10.5, 10.25, 10.0])
    assert np.isnan(grid.values[2, 0])
    assert grid.values[0, 3] == 12
    assert any("WGS 84" in guess for guess in grid.attrs["guesses"])
    assert any("elevation" in guess for guess in grid.attrs["guesses"])


def test_netcdf_with_scale_offset_and_axes_of_other_names(tmp_path):
    stored = np.arange(20, dtype=np.int16).reshape(4, 5) + 100
    stored[1, 1] = -1
    data = xr.Dataset(
        {"ROSE": (("ETOPO_Y", "ETOPO_X"), stored,
                  {"units": "METERS", "scale_factor": 0.5, "add_offset": -2.0,
                   "missing_value": np.int16(-1)})},
        coords={"ETOPO_Y": np.arange(4.0), "ETOPO_X": np.arange(5.0)},
    )  # fmt: skip
    data.ETOPO_X.attrs["units"], data.ETOPO_Y.attrs["units"] = "degrees_east", "degrees_north"
    data.to_netcdf(tmp_path / "a.nc", engine="scipy")
    grid = open_grid(tmp_path / "a.nc", sign="depth")
    assert grid.values[3, 0] == 100 * 0.5 - 2
    assert np.isnan(grid.values[2, 1])


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.xyz", lambda t: t.to_csv(sep=" ", header=False, index=False)),
        ("a.csv", lambda t: t.to_csv(index=False)),
        ("b.csv", lambda t: t.to_csv(sep=";", decimal=",", index=False)),
        ("a.txt", lambda t: "# survey\n" + t.to_csv(sep="\t", index=False)),
    ],
)
def test_tables_of_points_in_any_order(tmp_path, name, text):
    row, column = np.mgrid[0:ROWS, 0:COLUMNS]
    table = pd.DataFrame(
        {
            "easting": (EAST0 + STEP * (column + 0.5)).ravel(),
            "northing": (NORTH0 - STEP * (row + 0.5)).ravel(),
            "depth_m": surface().ravel(),
        }
    )
    keep = table.drop(index=[37]).sample(frac=1, random_state=1)
    (tmp_path / name).write_text(text(keep))
    expected = surface()
    expected.ravel()[37] = np.nan
    same(open_grid(tmp_path / name, crs="EPSG:32631"), expected)


def test_table_named_as_degrees_is_taken_as_wgs84(tmp_path):
    lines = ["lon,lat,depth (ft)"]
    lines += [f"{5 + i * 0.001:.3f},{50 + j * 0.001:.3f},10" for i in range(4) for j in range(3)]
    (tmp_path / "a.csv").write_text("\n".join(lines))
    grid = open_grid(tmp_path / "a.csv")
    assert grid.rio.crs.to_epsg() == 4326
    assert grid.shape == (3, 4)
    np.testing.assert_allclose(grid.values, 3.048, rtol=1e-6)


def test_table_with_positions_of_few_digits_and_gaps(tmp_path):
    """Steps of 1/240 degree written with 3 digits, with a whole column missing."""
    lines = [
        f"{round(5 + i / 240, 3)},{round(50 + j / 240, 3)},{i + 100 * j + 1}"
        for i in range(40)
        for j in range(20)
        if i != 11
    ]
    (tmp_path / "a.csv").write_text("\n".join(["lon,lat,depth", *lines]))
    grid = open_grid(tmp_path / "a.csv")
    assert grid.shape == (20, 40)
    assert np.isnan(grid.values[:, 11]).all()
    assert grid.values[0, 39] == 39 + 1900 + 1


def test_scattered_soundings_are_refused(tmp_path):
    rng = np.random.default_rng(3)
    points = rng.uniform(0, 1000, (200, 3))
    np.savetxt(tmp_path / "a.xyz", points, fmt="%.3f")
    with pytest.raises(
        GridError, match=r"don't lie on a regular grid.*Grid scattered soundings first"
    ):
        open_grid(tmp_path / "a.xyz", crs="EPSG:32631")


def test_scale_offset_and_bands_of_a_geotiff(tmp_path):
    """Band tags as the raster library writes them; value = stored * scale + offset."""
    bands = np.stack([surface() * 100, np.full((ROWS, COLUMNS), 30.0)]).astype(np.int16)
    file = write_tiff(tmp_path / "a.tif", bands)
    with rasterio.open(file, "r+") as data:
        data.scales, data.offsets = (0.01, 0.01), (2.0, 0.0)
        data.set_band_description(1, "Depth")
        data.set_band_description(2, "Uncertainty")
        data.units = ("m", "m")
    grid = open_grid(file)
    np.testing.assert_allclose(grid.values, surface() + 2, atol=1e-5)


def test_box_outside_says_what_is_covered(tmp_path):
    file = write_tiff(tmp_path / "a.tif", -surface())
    with pytest.raises(GridError, match=r"no part of the grid is in the box.*covers"):
        open_grid(file, box=Bounds(-10, 10, -9, 11))


def test_a_box_gives_the_cells_that_it_touches(tmp_path):
    array = np.arange(60, dtype=np.float32).reshape(6, 10) + 1
    file = write_tiff(tmp_path / "a.tif", -array, crs="EPSG:4326", step=0.5, origin=(10, 53))
    grid = open_grid(file, box=Bounds(11.1, 51.2, 12.4, 51.9))
    np.testing.assert_array_equal(grid.x, [11.25, 11.75, 12.25])
    np.testing.assert_array_equal(grid.y, [51.75, 51.25])
    np.testing.assert_array_equal(grid.values, array[2:4, 2:5])
    same_turn = open_grid(file, box=Bounds(11.1 + 360, 51.2, 12.4 + 360, 51.9))
    np.testing.assert_array_equal(same_turn.values, grid.values)


@pytest.mark.parametrize(
    ("driver", "name"),
    [("HFA", "a.img"), ("GSAG", "a.grd"), ("GSBG", "a.grd"), ("GS7BG", "a.grd"), ("EHdr", "a.flt"),
     ("EHdr", "a.bil")],
)  # fmt: skip
def test_the_fewer_kinds_that_the_raster_library_reads(tmp_path, driver, name):
    """Written by it; kinds without a CRS of their own are given one.

    GDAL 3.12 writes one kind of a square alone.
    """
    depths = surface()[:, :ROWS] if driver == "GS7BG" else surface()
    plain = write_tiff(tmp_path / "plain.tif", -depths)
    rasterio.shutil.copy(plain, tmp_path / name, driver=driver)
    same(open_grid(tmp_path / name, crs="EPSG:32631"), depths)


def test_a_height_tile(tmp_path):
    """Of a square degree, known by its name; heights in whole metres."""
    heights = -(np.arange(1201 * 1201).reshape(1201, 1201) % 300)
    plain = write_tiff(
        tmp_path / "plain.tif", heights.astype(np.int16), crs="EPSG:4326", step=1 / 1200,
        origin=(-33 - 1 / 2400, 47 + 1 / 2400), nodata=-32768,
    )  # fmt: skip
    rasterio.shutil.copy(plain, tmp_path / "N46W033.hgt", driver="SRTMHGT")
    grid = open_grid(tmp_path / "N46W033.hgt", sign="elevation")
    expected = np.where(heights < 0, -heights, np.nan)
    np.testing.assert_array_equal(grid.values, expected)
