"""Any array a user brings: made a depth grid that gives the same features, or refused."""

from __future__ import annotations

import functools

import numpy as np
import pytest
import xarray as xr
from affine import Affine
from pyproj import CRS

from seabed.errors import GridError
from seabed.geodesy import to_degrees
from seabed.grid import crs_of, make_grid
from seabed.grid.arrays import as_grid, as_layer
from seabed.grid.contract import check_grid, with_crs
from seabed.grid.places import sample
from seabed.structure import contours, depth_band, edges, humps
from seabed.terrain import aspect, position_index, slope
from seabed.terrain.smoothing import smoothed

ROWS, COLUMNS, STEP = 90, 120, 5.0
METRES_A_FOOT = 0.3048


def bottom() -> np.ndarray:
    """A ramp with an edge across it and a hump upon it, whole quarters of a metre, one void."""
    row, column = np.mgrid[:ROWS, :COLUMNS]
    depth = 10 + 8 / (1 + np.exp(-(column - 70) / 3.0)) + 0.02 * row
    depth -= 3 * np.exp(-((row - 40) ** 2 + (column - 30) ** 2) / 60)
    depth = np.round(depth * 64) / 64
    depth[5:8, 100:104] = np.nan
    return depth.astype(np.float32)


RIGHT = make_grid(
    bottom(), transform=Affine(STEP, 0, 500_000, 0, -STEP, 5_100_000), crs="EPSG:32631"
)
DEGREES = make_grid(bottom(), transform=Affine(2**-14, 0, 1.0, 0, -(2**-14), 46.0), crs="EPSG:4326")
"""Steps of a power of two: sums of them are exact."""


def found(grid: xr.DataArray) -> dict[str, object]:
    """What is found on a grid, by kind."""
    return {
        "slope": slope(grid),
        "aspect": aspect(grid),
        "position": position_index(grid, inner_m=10, outer_m=40),
        "contours": contours(grid, [11, 14, 17]),
        "band": depth_band(grid, 11, 14),
        "edges": edges(grid, scale_m=20, band=(11, 14)),
        "humps": humps(grid),
    }


@functools.cache
def found_on(name: str) -> dict[str, object]:
    """What is found on a grid that is right as it is."""
    return found({"metres": RIGHT, "degrees": DEGREES}[name])


def assert_same(grid: xr.DataArray, right: str) -> None:
    features = found(grid)
    for kind, table in found_on(right).items():
        own = features[kind]
        assert len(table), kind
        if isinstance(table, xr.DataArray):
            xr.testing.assert_equal(own.compute(), table)
        else:
            assert own.equals(table), kind
            assert own.crs == table.crs


def axes(grid: xr.DataArray, y: str, x: str) -> xr.DataArray:
    return grid.rename(y=y, x=x)


CASES = {
    "south-up": lambda: RIGHT[::-1],
    "east to west": lambda: RIGHT[:, ::-1],
    "columns first": lambda: RIGHT.T,
    "one band": lambda: RIGHT.expand_dims(band=[1]),
    "a time of one step": lambda: RIGHT.expand_dims(time=[0]).transpose("y", "x", "time"),
    "elevations by positive": lambda: (-RIGHT).assign_attrs(units="m", positive="up"),
    "elevations by standard name": lambda: xr.DataArray(
        -RIGHT.values, coords=RIGHT.coords, dims=RIGHT.dims,
        attrs={"standard_name": "height_above_mean_sea_level", "units": "metres"},
    ),
    "elevations by name": lambda: xr.DataArray(
        -RIGHT.values, coords=RIGHT.coords, dims=RIGHT.dims, name="elevation", attrs={"units": "m"}
    ),
    "64 bits": lambda: RIGHT.astype(np.float64).assign_attrs(RIGHT.attrs),
    "whole numbers with a scale": lambda: xr.DataArray(
        np.nan_to_num(RIGHT.values * 64, nan=-1).astype(np.int32), coords=RIGHT.coords,
        dims=RIGHT.dims, name="depth",
        attrs={"units": "m", "positive": "down", "scale_factor": 1 / 64, "_FillValue": -1},
    ),
    "a number for no depth": lambda: RIGHT.fillna(-9999).assign_attrs(
        RIGHT.attrs, _FillValue=np.float32(-9999)
    ),
    "a CRS among its attributes": lambda: RIGHT.drop_vars("spatial_ref").assign_attrs(
        RIGHT.attrs, crs="EPSG:32631"
    ),
    "projected axes of other names": lambda: axes(RIGHT, "northing", "easting"),
}  # fmt: skip

GEOGRAPHIC = {
    "lat and lon": lambda: axes(DEGREES, "lat", "lon"),
    "latitude and longitude, rising": lambda: axes(DEGREES, "latitude", "longitude")[::-1],
    "lat and lon without a CRS": lambda: axes(DEGREES, "lat", "lon").drop_vars("spatial_ref"),
    "by standard names": lambda: axes(DEGREES, "row", "column").assign_coords(
        row=("row", DEGREES["y"].values, {"standard_name": "latitude"}),
        column=("column", DEGREES["x"].values, {"units": "degrees_east"}),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_the_same_features_as_of_the_right_grid(case):
    array = CASES[case]()
    check_grid(as_grid(array))
    assert_same(array, "metres")


@pytest.mark.parametrize("case", GEOGRAPHIC)
def test_the_same_features_in_degrees(case):
    grid = as_grid(GEOGRAPHIC[case]())
    check_grid(grid)
    assert_same(grid, "degrees")


@pytest.mark.parametrize(
    ("unit", "metres"), [("ft", 0.3048), ("fathoms", 1.8288), ("US survey foot", 1200 / 3937)]
)
def test_feet_and_fathoms_are_metres(unit, metres):
    """A fathom is six feet, a US survey foot 1200/3937 m: NIST SP 811, appendix B."""
    right = RIGHT.copy(data=RIGHT.values * np.float32(metres))
    np.testing.assert_array_equal(as_grid(RIGHT.assign_attrs(units=unit)).values, right.values)
    xr.testing.assert_equal(slope(RIGHT.assign_attrs(units=unit)), slope(right))
    levels = [12 * metres, 16 * metres]
    assert contours(RIGHT.assign_attrs(units=unit), levels).equals(contours(right, levels))


def test_a_right_grid_is_taken_as_it_is():
    assert as_grid(RIGHT) is RIGHT
    assert as_grid(RIGHT[10:20, 5:50]).values.base is not None  # a view: nothing was copied
    bare = with_crs(RIGHT.drop_attrs(), "EPSG:32631")  # what is left of one after a sum
    assert as_grid(bare) is bare


def test_a_chunked_array_stays_lazy():
    chunked = RIGHT.chunk(y=40, x=50)[::-1]
    grid = as_grid((chunked / np.float32(METRES_A_FOOT)).assign_attrs(RIGHT.attrs, units="ft"))
    assert grid.chunks is not None
    xr.testing.assert_equal(slope(chunked).compute(), slope(RIGHT))


def test_land_of_elevations_is_void_and_drying_depths_stay():
    heights = RIGHT - 12.0
    as_up = as_grid((-heights).assign_attrs(units="m", positive="up"))
    np.testing.assert_array_equal(as_up.values, heights.where(heights > 0).values)
    as_down = as_grid(heights.assign_attrs(RIGHT.attrs)[::-1])
    np.testing.assert_array_equal(as_down.values, heights.values)


def test_uneven_steps_are_made_even_and_it_says_so():
    """A plane is the same however it is interpolated."""
    x = np.cumsum(np.r_[500_000, np.tile([3.0, 7.0], 50)])
    y = 5_100_000 - STEP * np.arange(80)
    plane = (x[None, :] - 500_000) * 0.01 + (5_100_000 - y[:, None]) * 0.02 + 5
    array = with_crs(
        xr.DataArray(plane, coords={"y": y, "x": x}, dims=("y", "x"), attrs=RIGHT.attrs), 32631
    )
    grid = as_grid(array)
    check_grid(grid)
    even = (grid["x"].values[None, :] - 500_000) * 0.01 + plane[:, :1]
    np.testing.assert_allclose(grid.values, even, rtol=1e-6)
    assert "interpolated onto even steps of 5" in grid.attrs["guesses"][0]
    with pytest.raises(GridError, match=r"steps of a lazy array differ\. Load it first"):
        as_grid(array.chunk())


def test_rounded_coordinates_are_made_even():
    rounded = DEGREES.assign_coords(x=DEGREES["x"].values.round(5), y=DEGREES["y"].values.round(5))
    check_grid(as_grid(rounded))
    step = np.ptp(rounded["x"].values) / (COLUMNS - 1)
    assert as_grid(rounded).attrs["guesses"][1] == (
        f"The steps of axis 'x' differ; {step:g} was taken."
    )
    np.testing.assert_allclose(as_grid(rounded)["x"], DEGREES["x"], atol=1e-5)


def test_it_reads_what_another_library_wrote():
    """The CRS that rioxarray writes, under another name, and its own nodata."""
    array = RIGHT.drop_vars("spatial_ref")
    array.encoding.clear()
    array = array.rio.write_crs("EPSG:32631", grid_mapping_name="place").rio.write_nodata(-9999)
    assert crs_of(as_grid(array[::-1])) == CRS.from_epsg(32631)
    assert_same(array.fillna(-9999), "metres")


def test_it_says_what_it_had_to_assume():
    grid = as_grid(GEOGRAPHIC["lat and lon without a CRS"]())
    assert grid.attrs["guesses"] == [
        "Longitudes and latitudes without a geodetic datum: WGS 84 was assumed."
    ]


def bare(**attributes: object) -> xr.DataArray:
    return with_crs(RIGHT.drop_attrs().rename("b1").assign_attrs(attributes), "EPSG:32631")


@pytest.mark.parametrize("crs", ["EPSG:32631", 32631, CRS.from_epsg(32631)])
def test_a_crs_may_stand_among_the_attributes(crs):
    array = RIGHT.drop_vars("spatial_ref").assign_attrs(crs=crs)
    assert crs_of(as_grid(array)) == CRS.from_epsg(32631)


def test_a_smoothed_bottom_is_a_depth_grid_too():
    lower = smoothed(RIGHT, deviation_m=10)
    assert as_grid(lower) is lower


def test_other_values_are_laid_alike_and_stay():
    steep = slope(RIGHT)
    assert as_layer(steep) is steep
    xr.testing.assert_equal(as_layer(steep[::-1].T), steep)
    place = to_degrees(CRS.from_epsg(32631)).transform([500_300.0, 500_100.0], [5_099_800.0] * 2)
    assert (sample(steep[::-1, ::-1], *place) == sample(steep, *place)).all()
    with pytest.raises(GridError, match="not a ndarray"):
        sample(steep.values, *place)


def test_one_depth_is_enough_for_contours():
    assert contours(RIGHT, 14).equals(contours(RIGHT, [14.0]))


REFUSED = {
    "numbers alone": (lambda: RIGHT.values, "is an xarray.DataArray with coordinates, not a ndarr"),
    "a list": (lambda: [[1.0, 2.0]], "not a list. Wrap it with `seabed.grid.make_grid`"),
    "a set of arrays": (RIGHT.to_dataset, "not a Dataset: take one of depth"),
    "many bands": (lambda: xr.concat([RIGHT, RIGHT], "band"), r"axes band \(2\), y \(90\), x"),
    "one axis": (lambda: RIGHT[0], r"the axes x \(120\) are not the two of a depth grid"),
    "strange axes": (lambda: axes(RIGHT, "a", "b"), r"the axes a \(90\), b \(120\)"),
    "no coordinates": (lambda: RIGHT.drop_vars(["x"]), "the axis 'x' has no coordinates"),
    "words": (lambda: RIGHT.astype(str), "a depth grid holds numbers, not"),
    "no CRS": (lambda: RIGHT.drop_vars("spatial_ref"), "no coordinate reference system. Write one"),
    "no sign": (lambda: bare(units="m"), "whether it holds depths or elevations. Set attrs"),
    "no unit": (lambda: bare(positive="down"), "does not say its unit. Set attrs"),
    "another unit": (lambda: bare(positive="down", units="K"), "the unit 'K' is not known"),
    "steps far apart": (
        lambda: RIGHT.isel(x=[0, 1, 2, 9, 10, 11]), "steps of axis 'x' differ from 5 to 35"
    ),
    "a step back": (lambda: RIGHT.isel(x=[0, 2, 1]), "'x' doesn't rise or fall all the way"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_does_not_say_what_it_is_is_refused(case):
    make, fault = REFUSED[case]
    for function in (as_grid, slope, lambda array: contours(array, [5]), edges, humps):
        with pytest.raises(GridError, match=fault):
            function(make())
