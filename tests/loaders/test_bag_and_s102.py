"""Hydrographic grid formats, made by their published structure.

Outside truth: an analytic plane, and the raster library's own drivers where they take the file.
"""

from __future__ import annotations

import os

import h5py
import numpy as np
import pytest
import rasterio

from seabed.errors import GridError
from seabed.grid import Bounds, check_grid
from seabed.loaders import describe, open_grid, open_surface

WEST, SOUTH = 500_000.0, 4_200_000.0
WIDTH, HEIGHT = 32.0, 24.0
ROWS, COLUMNS = 4, 5


def plane(x, y):
    return 20 + (x - WEST) * 0.02 + (y - SOUTH) * 0.03


def metadata_xml():
    """The least that gives the place of a BAG (BAG format specification, metadata chapter)."""
    wkt = rasterio.crs.CRS.from_epsg(32631).to_wkt()
    first = f"{WEST + WIDTH / 2},{SOUTH + HEIGHT / 2}"
    last = f"{WEST + WIDTH * (COLUMNS - 0.5)},{SOUTH + HEIGHT * (ROWS - 0.5)}"

    def axis(name, count, step):
        return (
            "<gmd:axisDimensionProperties><gmd:MD_Dimension><gmd:dimensionName>"
            f'<gmd:MD_DimensionNameTypeCode codeListValue="{name}">{name}'
            "</gmd:MD_DimensionNameTypeCode></gmd:dimensionName><gmd:dimensionSize>"
            f"<gco:Integer>{count}</gco:Integer></gmd:dimensionSize><gmd:resolution>"
            f'<gco:Measure uom="m">{step}</gco:Measure></gmd:resolution></gmd:MD_Dimension>'
            "</gmd:axisDimensionProperties>"
        )

    def reference(text):
        return (
            "<gmd:referenceSystemInfo><gmd:MD_ReferenceSystem><gmd:referenceSystemIdentifier>"
            f"<gmd:RS_Identifier><gmd:code><gco:CharacterString>{text}</gco:CharacterString>"
            "</gmd:code><gmd:codeSpace><gco:CharacterString>WKT</gco:CharacterString>"
            "</gmd:codeSpace></gmd:RS_Identifier></gmd:referenceSystemIdentifier>"
            "</gmd:MD_ReferenceSystem></gmd:referenceSystemInfo>"
        )

    return (
        '<?xml version="1.0" encoding="UTF-8"?><gmi:MI_Metadata '
        'xmlns:gmi="http://www.isotc211.org/2005/gmi" '
        'xmlns:gmd="http://www.isotc211.org/2005/gmd" xmlns:gml="http://www.opengis.net/gml/3.2" '
        'xmlns:gco="http://www.isotc211.org/2005/gco">'
        "<gmd:spatialRepresentationInfo><gmd:MD_Georectified>"
        + axis("row", ROWS, HEIGHT)
        + axis("column", COLUMNS, WIDTH)
        + '<gmd:cornerPoints><gml:Point gml:id="id1"><gml:coordinates decimal="." cs="," ts=" ">'
        f"{first} {last}</gml:coordinates></gml:Point></gmd:cornerPoints>"
        "</gmd:MD_Georectified></gmd:spatialRepresentationInfo>"
        + reference(wkt)
        + reference('VERT_CS["MLLW", VERT_DATUM["MLLW", 2000]]')
        + "</gmi:MI_Metadata>"
    )


def write_bag(path, *, refined=True, spoil=None):
    """A BAG of a plane; each base cell has 2 x 3 to 8 x 12 nodes, one has none."""
    entry = np.dtype(
        [("index", "<u4"), ("dimensions_x", "<u4"), ("dimensions_y", "<u4"),
         ("resolution_x", "<f4"), ("resolution_y", "<f4"),
         ("sw_corner_x", "<f4"), ("sw_corner_y", "<f4")]
    )  # fmt: skip
    node = np.dtype([("depth", "<f4"), ("depth_uncrt", "<f4")])
    table = np.zeros((ROWS, COLUMNS), entry)
    nodes = []
    base = np.empty((ROWS, COLUMNS), np.float32)
    for row in range(ROWS):
        for column in range(COLUMNS):
            west, south = WEST + column * WIDTH, SOUTH + row * HEIGHT
            base[row, column] = -plane(west + WIDTH / 2, south + HEIGHT / 2)
            if (row, column) == (1, 2):
                table[row, column] = (0xFFFFFFFF, 0, 0, 0, 0, 0, 0)
                continue
            fine = (row + column) % 3 + 1
            nx, ny = 4 * fine, 3 * fine
            rx, ry = WIDTH / nx, HEIGHT / ny
            table[row, column] = (len(nodes), nx, ny, rx, ry, rx / 2, ry / 2)
            x, y = np.meshgrid(
                west + rx * (np.arange(nx) + 0.5), south + ry * (np.arange(ny) + 0.5)
            )
            depth = -plane(x, y)
            if spoil:
                spoil(row, column, depth)
            nodes += list(zip(depth.ravel(), np.full(depth.size, 0.1 * fine), strict=True))
    with h5py.File(path, "w") as data:
        root = data.create_group("BAG_root")
        root.attrs["Bag Version"] = np.bytes_(b"1.6.2")
        root.create_dataset("elevation", data=base)
        root.create_dataset("uncertainty", data=np.full_like(base, 0.5))
        root.create_dataset("metadata", data=np.frombuffer(metadata_xml().encode(), "S1"))
        if refined:
            made = root.create_dataset("varres_metadata", data=table)
            made.attrs["min_resolution_x"], made.attrs["min_resolution_y"] = 32 / 12, 24 / 9
            made.attrs["max_resolution_x"], made.attrs["max_resolution_y"] = 8.0, 8.0
            root.create_dataset("varres_refinements", data=np.array([nodes], node))
    return path


def test_bag_of_variable_resolution_gives_the_plane(tmp_path):
    surface = open_surface(write_bag(tmp_path / "vr.bag"))
    grid = surface.depth
    check_grid(grid)
    assert grid.shape == (36, 60)
    assert grid.attrs["vertical_datum"] == "MLLW"
    x, y = np.meshgrid(grid.x, grid.y)
    empty = (x > WEST + 64) & (x < WEST + 96) & (y > SOUTH + 24) & (y < SOUTH + 48)
    assert np.isnan(grid.values[empty]).all()
    np.testing.assert_allclose(grid.values[~empty], plane(x, y)[~empty], atol=1e-4)
    spread = surface.uncertainty.values
    assert set(np.round(spread[~empty], 4)) == {np.float32(0.1), np.float32(0.2), np.float32(0.3)}


def test_nodes_agree_with_the_raster_library_by_supergrid(tmp_path):
    """Where nodes are as fine as the cells, cells are the nodes."""
    file = write_bag(tmp_path / "vr.bag")
    grid = open_grid(file)
    with rasterio.open(f'BAG:"{file}":supergrid:0:2') as data:
        nodes, affine = data.read(1), data.transform
    x = affine.c + affine.a * (np.arange(nodes.shape[1]) + 0.5)
    y = affine.f + affine.e * (np.arange(nodes.shape[0]) + 0.5)
    part = grid.sel(x=x, y=y, method="nearest")
    np.testing.assert_allclose(part.values, -nodes, atol=1e-4)


def test_void_nodes_leave_voids_of_their_own_size(tmp_path):
    def spoil(row, column, depth):
        if (row, column) == (0, 0):
            depth[1, 2] = 1e6

    grid = open_grid(write_bag(tmp_path / "vr.bag", spoil=spoil))
    x, y = np.meshgrid(grid.x, grid.y)
    hole = (x > WEST + 16) & (x < WEST + 24) & (y > SOUTH + 8) & (y < SOUTH + 16)
    cell = (x < WEST + 32) & (y < SOUTH + 24)
    np.testing.assert_array_equal(np.isnan(grid.values[cell]), hole[cell])
    np.testing.assert_allclose(grid.values[cell & ~hole], plane(x, y)[cell & ~hole], atol=0.25)


def test_box_of_a_bag_is_part_of_the_whole(tmp_path):
    file = write_bag(tmp_path / "vr.bag")
    report = describe(file)
    west, south, east, north = (
        report.bounds.west, report.bounds.south, report.bounds.east, report.bounds.north,
    )  # fmt: skip
    box = Bounds(west + (east - west) * 0.3, south + (north - south) * 0.2, east, north)
    part, whole = open_grid(file, box=box), open_grid(file)
    assert part.size < 0.7 * whole.size
    np.testing.assert_array_equal(
        part.values, whole.sel(x=part.x, y=part.y, method="nearest").values
    )


def test_base_grid_of_a_bag_on_request(tmp_path):
    file = write_bag(tmp_path / "vr.bag")
    coarse = open_grid(file, variable="elevation")
    assert coarse.shape == (ROWS, COLUMNS)
    assert describe(file).format == "BAG of variable resolution"
    assert describe(write_bag(tmp_path / "one.bag", refined=False)).format == "BAG"


def write_s102(path, edition="3.0", *, instances=1):
    """By the product specification; edition 2.0 named its groups otherwise."""
    compound = np.dtype([("depth", "<f4"), ("uncertainty", "<f4")])
    values = np.zeros((5, 6), compound)
    values["depth"] = 5 + np.arange(30, dtype=np.float32).reshape(5, 6)
    values["uncertainty"] = 0.4
    values[1, 2] = (1e6, 1e6)
    first, group = ("001", "Group.001") if edition == "2.0" else ("01", "Group_001")
    with h5py.File(path, "w") as data:
        data.attrs["productSpecification"] = f"INT.IHO.S-102.{edition}"
        if edition in ("2.0", "2.1"):
            data.attrs["horizontalDatumReference"] = "EPSG"
            data.attrs["horizontalDatumValue"] = np.int32(32631)
        else:
            data.attrs["horizontalCRS"] = np.int32(32631)
        data.attrs["verticalDatum"] = np.uint16(12)
        feature = data.create_group("BathymetryCoverage")
        feature.attrs["dataCodingFormat"] = np.uint8(2)
        for number in range(1, instances + 1):
            name = f"BathymetryCoverage.{number:0{len(first)}d}"
            one = feature.create_group(name)
            one.attrs["gridOriginLongitude"] = WEST + 100 * (number - 1)
            one.attrs["gridOriginLatitude"] = SOUTH
            one.attrs["gridSpacingLongitudinal"] = 4.0
            one.attrs["gridSpacingLatitudinal"] = 8.0
            one.attrs["numPointsLongitudinal"] = np.uint32(6)
            one.attrs["numPointsLatitudinal"] = np.uint32(5)
            one.attrs["startSequence"] = "0,0"
            one.create_dataset(f"{group}/values", data=values)
    return path


@pytest.mark.parametrize("edition", ["2.0", "2.1", "2.2", "3.0"])
def test_s102_by_its_specification(tmp_path, edition):
    surface = open_surface(write_s102(tmp_path / "a.h5", edition))
    grid = surface.depth
    check_grid(grid)
    assert grid.rio.crs.to_epsg() == 32631
    assert grid.attrs["vertical_datum"] == "MLLW"
    assert grid.attrs["guesses"] == []
    np.testing.assert_array_equal(grid.x, WEST + 4 * np.arange(6))
    np.testing.assert_array_equal(grid.y, SOUTH + 8 * np.arange(5)[::-1])
    expected = (5 + np.arange(30, dtype=np.float32).reshape(5, 6))[::-1].copy()
    expected[3, 2] = np.nan
    np.testing.assert_array_equal(grid.values, expected)
    np.testing.assert_allclose(surface.uncertainty, np.where(np.isnan(expected), np.nan, 0.4))


def test_s102_as_the_raster_library_reads_it(tmp_path):
    """Its driver takes editions 2.1 and later."""
    file = write_s102(tmp_path / "a.h5", "2.2")
    grid = open_grid(file)
    try:
        data = rasterio.open(file, driver="S102")
    except rasterio.errors.RasterioError as error:
        if os.environ.get("CI"):
            raise
        pytest.skip(f"NOT TESTED: this build of the raster library refuses S-102: {error}")
    with data:
        stored = data.read(1)
        x, y = data.xy([0], [0])
    np.testing.assert_array_equal(np.isnan(grid.values), stored == data.nodata)
    np.testing.assert_array_equal(grid.values[stored != data.nodata], stored[stored != data.nodata])
    assert (grid.x.values[0], grid.y.values[0]) == (x[0], y[0])


def test_s102_instances(tmp_path):
    file = write_s102(tmp_path / "a.h5", instances=2)
    assert open_grid(file).x.values[0] == WEST
    assert open_grid(file, variable="BathymetryCoverage.02").x.values[0] == WEST + 100
    assert describe(file).others == ("BathymetryCoverage.01", "BathymetryCoverage.02")
    with pytest.raises(GridError, match=r"no instance 'x'.*Its instances"):
        open_grid(file, variable="x")


def test_s102_that_is_not_built_so(tmp_path):
    with h5py.File(tmp_path / "a.h5", "w") as data:
        data.create_group("BathymetryCoverage")
    with pytest.raises(GridError, match=r"a\.h5: the file lacks parts that its format needs"):
        open_grid(tmp_path / "a.h5")
