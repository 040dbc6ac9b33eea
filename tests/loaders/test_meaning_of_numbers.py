"""Sign, unit, datum and void: from what the file says, then from its numbers, as a stated guess."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from pyproj import CRS
from rasterio.transform import from_origin

from seabed.errors import GridError
from seabed.grid import Bounds
from seabed.loaders import describe, open_grid
from seabed.loaders.meaning import quick_tally, tally


def write(path, array, *, crs="EPSG:32631", nodata=None, description=None, unit=None, tags=None):
    with rasterio.open(
        path, "w", driver="GTiff", height=array.shape[0], width=array.shape[1], count=1,
        dtype=array.dtype.name, crs=crs, nodata=nodata,
        transform=from_origin(500_000, 4_200_000, 4, 4),
    ) as data:  # fmt: skip
        data.write(array, 1)
        if description:
            data.set_band_description(1, description)
        if unit:
            data.units = (unit,)
        data.update_tags(1, **(tags or {}))
    return path


SEA = np.array([[-9, -8, -7], [-6, -5, 4]], np.float32)


@pytest.mark.parametrize(
    ("array", "options", "deepest", "guess"),
    [
        (SEA, {}, 9, "83% of the values are negative"),
        (-np.abs(SEA), {}, 9, "all values are negative"),
        (np.abs(SEA), {}, 9, "all values are positive"),
        (SEA, {"description": "Elevation"}, 9, "by the name 'Elevation'"),
        (-np.abs(SEA), {"description": "depth"}, 9, "'depth' suggests depths"),
        (-SEA, {"tags": {"positive": "down"}}, 9, None),
        (SEA, {"tags": {"positive": "up"}}, 9, None),
    ],
)
def test_sign(tmp_path, array, options, deepest, guess):
    grid = open_grid(write(tmp_path / "a.tif", array, unit="m", **options))
    assert float(grid.max()) == deepest
    guesses = " ".join(grid.attrs["guesses"])
    assert (guess in guesses) if guess else guesses == ""


def test_a_few_drying_heights_leave_a_depth_grid_a_depth_grid(tmp_path):
    array = np.linspace(1, 20, 100, dtype=np.float32).reshape(10, 10)
    array[0, :5] = -2
    grid = open_grid(write(tmp_path / "a.tif", array))
    assert float(grid.max()) == 20
    assert int(grid.isnull().sum()) == 5


def test_heights_of_land_are_never_taken_for_depths_by_name(tmp_path):
    file = write(tmp_path / "a.tif", np.abs(SEA), description="Elevation")
    with pytest.raises(GridError, match=r"all of it is land.*say so with sign: depth"):
        open_grid(file)


def test_a_box_of_land_in_a_nameless_grid_is_land(tmp_path):
    height = np.full((40, 40), -12, np.float32)
    height[:, 20:] = 30
    file = write(tmp_path / "a.tif", height)
    west = describe(file).bounds.west
    east, north = describe(file).bounds.east, describe(file).bounds.north
    land = Bounds((west + 2 * east) / 3, north - 0.0005, east, north)
    with pytest.raises(GridError, match="all of it is land"):
        open_grid(file, box=land)


def test_a_box_of_voids_is_said_to_be_void(tmp_path):
    height = np.full((40, 40), -12, np.float32)
    height[:, 20:] = -9999
    file = write(tmp_path / "a.tif", height, nodata=-9999)
    edge = describe(file).bounds
    void = Bounds((edge.west + 2 * edge.east) / 3, edge.south, edge.east, edge.north)
    with pytest.raises(GridError, match="every cell in the box is void"):
        open_grid(file, box=void)


def test_numbers_outweigh_the_axis_of_a_vertical_datum(tmp_path):
    """EPSG:5866 is a depth below mean lower low water, which tells the datum, not the sign."""
    crs = CRS.from_user_input("EPSG:26919+5866").to_wkt()
    grid = open_grid(write(tmp_path / "a.tif", SEA, crs=crs))
    assert float(grid.max()) == 9
    assert grid.attrs["vertical_datum"] == "MLLW"
    down = open_grid(write(tmp_path / "b.tif", np.abs(SEA), crs=crs))
    assert float(down.max()) == 9


def test_a_large_grid_is_judged_by_some_of_it_as_by_all():
    rng = np.random.default_rng(4)
    values = rng.uniform(-12, 2, (2000, 1500)).astype(np.float32)
    whole, some = tally(values), quick_tally(values, sign_known=False)
    assert some != whole
    assert some.negative == pytest.approx(whole.negative, rel=0.1)
    assert some.valid == pytest.approx(whole.valid, rel=0.1)
    assert quick_tally(np.abs(values), sign_known=False) == tally(np.abs(values))
    assert quick_tally(np.abs(values), sign_known=True) != tally(np.abs(values))


def test_the_user_has_the_last_word_on_sign(tmp_path):
    file = write(tmp_path / "a.tif", SEA, description="Elevation")
    assert float(open_grid(file, sign="depth").max()) == 4


def test_land_is_blanked_at_the_limit(tmp_path):
    """Height over datum of the limit or more is land; 0 m itself is land by default."""
    array = np.array([[-1, 0, 0.5], [1.0, 2.0, -3]], np.float32)
    file = write(tmp_path / "a.tif", array, tags={"positive": "up"})
    np.testing.assert_array_equal(
        open_grid(file).values, [[1, np.nan, np.nan], [np.nan, np.nan, 3]]
    )
    higher = open_grid(file, land_above_m=1.0)
    np.testing.assert_array_equal(higher.values, [[1, 0, -0.5], [np.nan, np.nan, 3]])


@pytest.mark.parametrize(
    ("word", "factor"),
    [
        ("ft", 0.3048),
        ("feet", 0.3048),
        ("fathoms", 1.8288),
        ("US survey foot", 1200 / 3937),
        ("metre", 1),
    ],
)
def test_units(tmp_path, word, factor):
    """Factors: NIST SP 811, appendix B."""
    grid = open_grid(write(tmp_path / "a.tif", SEA, unit=word))
    assert float(grid.max()) == pytest.approx(9 * factor, rel=1e-6)
    given = open_grid(write(tmp_path / "b.tif", SEA, unit=word), unit="fm")
    assert float(given.max()) == pytest.approx(9 * 1.8288, rel=1e-6)


def test_unit_datum_and_sign_of_a_compound_crs(tmp_path):
    crs = CRS.from_user_input("EPSG:26919+8228")  # NAVD88 height (ft), EPSG register
    grid = open_grid(write(tmp_path / "a.tif", SEA, crs=crs.to_wkt()))
    assert grid.attrs["vertical_datum"].startswith("NAVD88")
    assert grid.rio.crs.to_epsg() == 26919
    assert float(grid.max()) == pytest.approx(9 * 0.3048, rel=1e-6)


def test_offset_and_datum_given(tmp_path):
    file = write(tmp_path / "a.tif", SEA, tags={"vertical_datum": "MSL"})
    assert open_grid(file).attrs["vertical_datum"] == "MSL"
    grid = open_grid(file, offset_m=-1.5, vertical_datum="MLLW")
    assert grid.attrs["vertical_datum"] == "MLLW"
    assert float(grid.max()) == 7.5


def test_a_void_that_the_file_keeps_to_itself_is_found_and_said(tmp_path):
    array = SEA.copy()
    array[0, 0] = -9999
    grid = open_grid(write(tmp_path / "a.tif", array))
    assert np.isnan(grid.values[0, 0])
    assert any("-9999 was taken" in guess for guess in grid.attrs["guesses"])


def test_nodata_at_the_limit_of_float64_is_void(tmp_path):
    array = SEA.astype(np.float64)
    array[0, 0] = -1.7976931348623157e308
    grid = open_grid(write(tmp_path / "a.tif", array, nodata=-1.7976931348623157e308))
    assert np.isnan(grid.values[0, 0])
    assert float(grid.max()) == 8


@pytest.mark.parametrize("option", [{"sign": "up"}, {"unit": "furlong"}])
def test_unknown_words(tmp_path, option):
    with pytest.raises(GridError, match=r"unknown .*Use auto"):
        open_grid(write(tmp_path / "a.tif", SEA), **option)


def test_description_of_a_good_file(tmp_path):
    report = describe(write(tmp_path / "a.tif", SEA, unit="ft", tags={"vertical_datum": "MLLW"}))
    assert (report.format, report.crs_code) == ("GeoTIFF", "EPSG:32631")
    assert (report.rows, report.columns) == (2, 3)
    assert (report.cell_easting_m, report.cell_northing_m) == (4, 4)
    assert (report.sign, report.unit, report.vertical_datum) == ("elevation", "ft", "MLLW")
    assert report.depth_min_m == pytest.approx(5 * 0.3048)
    assert report.depth_max_m == pytest.approx(9 * 0.3048)
    assert report.valid_share == pytest.approx(5 / 6)
    assert report.land_share == pytest.approx(1 / 6)
    assert report.usable
    assert report.problems == ()
    assert report.as_dict()["bounds"]["west"] == pytest.approx(3.0, abs=1e-6)
