"""Files of tiles and the page, held against the published forms and read by other libraries.

The ground is a plane that falls to the east, so where the band begins and ends is known.
"""

from __future__ import annotations

import io
import math
import re
import sqlite3
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pypdf
import pypdfium2
import pytest
import rasterio
import xmlschema
from affine import Affine
from PIL import Image
from pyproj import Transformer
from rasterio.warp import transform as warp_points

from layers.area import Units
from layers.cautions import CAUTIONS
from layers.maps.picture import BottomDepths, BottomPicture
from layers.maps.picture.tile_files import in_degrees
from layers.present.sheet.paper import PAPERS
from seabed.grid import make_grid

BAND = (8.0, 12.0)
WEST, NORTH, CELL = 620_000.0, 5_118_000.0, 5.0
NORTHING = NORTH - 80 * CELL
KML = "{http://www.opengis.net/kml/2.2}"


def easting_of(depth: float) -> float:
    """Where the plane has a depth: 5 m at the first cell's centre, 5 cm a cell deeper."""
    return WEST + (0.5 + (depth - 5.0) / 0.05) * CELL


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The picture of a plane of 200 columns and 160 rows, as every kind of file."""
    y, x = np.mgrid[0:160, 0:200]
    grid = make_grid(
        5 + 0.05 * x + 0.0 * y,
        transform=Affine(CELL, 0, WEST, 0, -CELL, NORTH),
        crs="EPSG:32624",
        source="invented",
    )
    made = tmp_path_factory.mktemp("picture")
    picture = BottomPicture(
        BottomDepths.of(grid), title="A <plane> & its depths", credits="Depths from nobody.",
        units=Units(), band_m=BAND, contours_m=(),
    )  # fmt: skip
    count = picture.write_tiles([made / f"b.{kind}" for kind in ("mbtiles", "gpkg", "kmz")])
    picture.write_page(made / "b.pdf", PAPERS["A4"])
    assert (
        count
        == sqlite3.connect(made / "b.mbtiles").execute("SELECT count(*) FROM tiles").fetchone()[0]
    )
    return made


def rows_of(path: Path, query: str) -> list[tuple[Any, ...]]:
    file = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    rows = file.execute(query).fetchall()
    file.close()
    return rows


def amber(pixels: np.ndarray) -> np.ndarray:
    """Where the band's colour is: red well above blue, in no other part of the ramp."""
    return pixels[..., 0].astype(int) - pixels[..., 2] > 60


def slippy(longitude: float, latitude: float, zoom: int) -> tuple[float, float]:
    """Column and row of tiles at a place, by the formula that web maps publish."""
    turn = math.radians(latitude)
    column = (longitude + 180) / 360 * 2**zoom
    row = (1 - math.log(math.tan(turn) + 1 / math.cos(turn)) / math.pi) / 2 * 2**zoom
    return column, row


def edge_of_band(depth: float) -> tuple[float, float]:
    onto = Transformer.from_crs(32624, 4326, always_xy=True)
    longitude, latitude = onto.transform(easting_of(depth), NORTHING)
    return longitude, latitude


@pytest.mark.parametrize("depth", BAND)
def test_the_band_begins_in_the_tile_and_pixel_where_the_plane_has_its_depth(
    folder: Path, depth: float
) -> None:
    rows = dict(rows_of(folder / "b.mbtiles", "SELECT name, value FROM metadata"))
    zoom = int(rows["maxzoom"])
    column, row = slippy(*edge_of_band(depth), zoom)
    tiles = rows_of(
        folder / "b.mbtiles",
        "SELECT tile_column, tile_data FROM tiles WHERE "
        f"zoom_level = {zoom} AND tile_row = {2**zoom - 1 - int(row)}",  # MBTiles counts from south
    )
    strips = {
        at: np.asarray(Image.open(io.BytesIO(png)).convert("RGBA"))[int(row % 1 * 256)]
        for at, png in tiles
    }
    within = np.concatenate([amber(strips[at]) for at in sorted(strips)])
    found = np.flatnonzero(within)[0 if depth == BAND[0] else -1] + (depth == BAND[1])
    # half a pixel of the tile, and half a cell, which is as wide, for the means of the grid
    assert found == pytest.approx((column - min(strips)) * 256, abs=1.0)


@pytest.mark.parametrize("kind", ["mbtiles", "gpkg"])
@pytest.mark.parametrize("depth", BAND)
def test_another_library_reads_the_files_and_finds_the_band_in_its_place(
    folder: Path, kind: str, depth: float
) -> None:
    with rasterio.open(folder / f"b.{kind}") as read:
        assert read.crs.to_epsg() == 3857
        beside = [easting_of(depth) + metres for metres in (-12.0, 12.0)]
        x, y = warp_points("EPSG:32624", read.crs, beside, [NORTHING + 3.0] * 2)
        outside, inside = (amber(np.array(one)) for one in read.sample(zip(x, y, strict=True)))
        assert (outside, inside) == ((False, True) if depth == BAND[0] else (True, False))
        assert CAUTIONS[:40] in "".join(map(str, read.tags().values()))


@pytest.mark.parametrize("depth", BAND)
def test_the_finest_overlay_of_the_kmz_has_the_band_in_its_place(
    folder: Path, depth: float
) -> None:
    archive = zipfile.ZipFile(folder / "b.kmz")
    longitude, latitude = edge_of_band(depth)
    overlays = [
        (int(one.findtext(f"{KML}drawOrder", "")), name, one)
        for name in archive.namelist() if name.startswith("tiles/") and name.endswith(".kml")
        for one in ElementTree.fromstring(archive.read(name)).iter(f"{KML}GroundOverlay")
    ]  # fmt: skip
    finest = max(zoom for zoom, _, _ in overlays)
    for zoom, name, overlay in overlays:
        west, south, east, north = box_of(overlay.find(f"{KML}LatLonBox"))
        if zoom == finest and west <= longitude < east and south <= latitude < north:
            png = archive.read(name.replace(".kml", ".png"))
            picture = amber(np.asarray(Image.open(io.BytesIO(png)).convert("RGBA").convert("RGB")))
            row = picture[int((north - latitude) / (north - south) * 256)]
            at = (longitude - west) / (east - west) * 256
            sides = [row[min(max(round(at + off), 0), 255)] for off in (-3, 2)]
            assert sides == ([False, True] if depth == BAND[0] else [True, False])
            break
    else:
        pytest.fail("no overlay there")
    # another library knows the form
    with rasterio.open(folder / "b.kmz") as read:
        assert read.driver == "KMLSUPEROVERLAY" and read.crs.to_epsg() == 4326


def test_mbtiles_are_as_their_specification_says(folder: Path) -> None:
    # MBTiles 1.3: application_id, tables, required and recommended rows of metadata
    path = folder / "b.mbtiles"
    assert rows_of(path, "PRAGMA application_id") == [(0x4D504258,)]
    about = dict(rows_of(path, "SELECT name, value FROM metadata"))
    assert about["name"] == "A <plane> & its depths"
    assert about["format"] == "png"
    assert about["attribution"] == "Depths from nobody."
    assert CAUTIONS in about["description"]
    zooms = [zoom for (zoom,) in rows_of(path, "SELECT DISTINCT zoom_level FROM tiles ORDER BY 1")]
    assert [int(about["minzoom"]), int(about["maxzoom"])] == [zooms[0], zooms[-1]]
    assert zooms == list(range(zooms[0], zooms[-1] + 1))
    west, south, east, north = map(float, about["bounds"].split(","))
    longitude, latitude = edge_of_band(10.0)
    assert west < longitude < east and south < latitude < north
    for zoom, column, row, png in rows_of(path, "SELECT * FROM tiles"):
        assert png.startswith(b"\x89PNG")
        assert Image.open(io.BytesIO(png)).size == (256, 256)
        left, top = slippy(west, north, zoom)
        right, low = slippy(east, south, zoom)
        assert int(left) <= column <= int(right)
        assert int(top) <= 2**zoom - 1 - row <= int(low)


def test_the_geopackage_is_as_its_specification_says(folder: Path) -> None:
    # OGC 12-128r17: requirements 2, 10-12, 17, 21-23, 36-48, 53-57
    path = folder / "b.gpkg"
    assert rows_of(path, "PRAGMA application_id") == [(int.from_bytes(b"GPKG"),)]
    assert rows_of(path, "PRAGMA user_version") == [(10301,)]
    assert rows_of(path, "PRAGMA integrity_check") == [("ok",)]
    assert rows_of(path, "PRAGMA foreign_key_check") == []
    systems = {row[0] for row in rows_of(path, "SELECT srs_id FROM gpkg_spatial_ref_sys")}
    assert {-1, 0, 4326} <= systems
    ((table, kind, srs),) = rows_of(path, "SELECT table_name, data_type, srs_id FROM gpkg_contents")
    assert kind == "tiles" and srs in systems
    ((*box,),) = rows_of(path, "SELECT min_x, min_y, max_x, max_y FROM gpkg_tile_matrix_set")
    levels = rows_of(path, "SELECT * FROM gpkg_tile_matrix ORDER BY zoom_level")
    for name, zoom, wide, high, tile_wide, tile_high, pixel_x, pixel_y in levels:
        assert name == table and wide == high == 2**zoom
        assert pixel_x * wide * tile_wide == pytest.approx(box[2] - box[0], rel=1e-12)
        assert pixel_y * high * tile_high == pytest.approx(box[3] - box[1], rel=1e-12)
    drawn = rows_of(path, f"SELECT DISTINCT zoom_level FROM {table} ORDER BY 1")
    assert [zoom for (zoom,) in drawn] == [level[1] for level in levels]
    same = f"SELECT zoom_level, tile_column, tile_row, tile_data FROM {table}"
    south = {
        (z, x, 2**z - 1 - y): png
        for z, x, y, png in rows_of(folder / "b.mbtiles", "SELECT * FROM tiles")
    }
    assert {row[:3]: row[3] for row in rows_of(path, same)} == south
    ((words,),) = rows_of(path, "SELECT metadata FROM gpkg_metadata")
    assert CAUTIONS in words and "Depths from nobody." in words
    extended = rows_of(path, "SELECT table_name FROM gpkg_extensions")
    assert {name for (name,) in extended} == {"gpkg_metadata", "gpkg_metadata_reference"}


def test_the_kmz_is_valid_kml_whose_regions_lie_in_one_another(
    folder: Path, registry_file: Callable[..., Path]
) -> None:
    *_, path = (
        registry_file("fastkml", "1.4.0", f"{name}.xsd", wheel=True)
        for name in ("atom-author-link", "kml22gx", "xAL", "ogckml22")
    )
    schema = xmlschema.XMLSchema(str(path))
    archive = zipfile.ZipFile(folder / "b.kmz")
    names = archive.namelist()
    pages = {name: archive.read(name).decode() for name in names if name.endswith(".kml")}
    assert names.count("doc.kml") == 1
    linked: list[str] = []
    for name, text in pages.items():
        schema.validate(text)
        root = ElementTree.fromstring(text)
        base = Path(name).parent
        own = root.find(f"{KML}Document/{KML}Region/{KML}LatLonAltBox")
        for link in root.iter(f"{KML}NetworkLink"):
            target = (base / link.findtext(f"{KML}Link/{KML}href", "")).as_posix()
            target = re.sub(r"[^/]+/[^/]+/\.\./\.\./", "", target)
            linked.append(target)
            box = box_of(link.find(f"{KML}Region/{KML}LatLonAltBox"))
            assert box == box_of(
                ElementTree.fromstring(pages[target]).find(
                    f"{KML}Document/{KML}Region/{KML}LatLonAltBox"
                )
            )
            if own is not None:
                west, south, east, north = box_of(own)
                assert west <= box[0] < box[2] <= east and south <= box[1] < box[3] <= north
        for overlay in root.iter(f"{KML}GroundOverlay"):
            picture = (base / overlay.findtext(f"{KML}Icon/{KML}href", "")).as_posix()
            assert picture in names
            zoom, column, row = map(int, re.findall(r"\d+", picture))
            left, top = slippy(box_of(own)[0], box_of(own)[3], zoom)
            assert (left, top) == pytest.approx((column, row), abs=1e-3)
            assert box_of(overlay.find(f"{KML}LatLonBox")) == box_of(own)
    assert sorted(linked) == sorted(set(pages) - {"doc.kml"})
    assert CAUTIONS[:60] in pages["doc.kml"]
    assert len(linked) == len(rows_of(folder / "b.mbtiles", "SELECT 1 FROM tiles"))


def box_of(element: Any) -> tuple[float, ...]:
    return tuple(float(element.findtext(KML + side)) for side in ("west", "south", "east", "north"))


@pytest.mark.parametrize(("zoom", "latitude"), [(9, 60), (9, -45), (12, 60), (16, 70)])
def test_a_tile_stretched_between_parallels_is_as_far_off_as_is_said(
    zoom: int, latitude: float
) -> None:
    _, row = slippy(0.0, latitude, zoom)
    degrees = [
        math.degrees(math.atan(math.sinh(math.pi * (1 - 2 * (int(row) + share) / 2**zoom))))
        for share in (0.0, 0.5, 1.0)
    ]
    off = abs((degrees[0] + degrees[2]) / 2 - degrees[1]) / (degrees[0] - degrees[2]) * 256
    height = math.radians(degrees[0] - degrees[2])
    assert off == pytest.approx(32 * height * abs(math.tan(math.radians(degrees[1]))), rel=0.02)
    assert off < 0.5


def test_each_tile_says_that_it_is_not_for_navigation(folder: Path) -> None:
    for zoom, _, _, png in rows_of(folder / "b.mbtiles", "SELECT * FROM tiles"):
        picture = Image.open(io.BytesIO(png)).convert("RGBA")
        ground = Image.new("RGBA", picture.size, "#808080")
        ground.alpha_composite(picture)
        corner = np.asarray(ground.crop((0, 236, 110, 256)))[..., :3].astype(int)
        letters, halo = corner.max(axis=-1) < 70, corner.min(axis=-1) > 190
        assert letters.sum() > 150 and halo.sum() > 250, zoom
        assert letters.any(axis=0).sum() > 45  # along the foot, not one blot


def test_the_page_knows_where_it_lies(folder: Path) -> None:
    # ISO 32000-2, 12.9 (viewports), 12.10 (geographic measures)
    (page,) = pypdf.PdfReader(folder / "b.pdf").pages
    (view,) = page["/VP"]
    left, bottom, right, top = map(float, view["/BBox"])
    measure = view["/Measure"]
    assert measure["/Subtype"] == "/GEO" and measure["/GCS"]["/EPSG"] == 3857
    places = np.reshape([float(one) for one in measure["/GPTS"]], (4, 2))
    corners = np.reshape([float(one) for one in measure["/LPTS"]], (4, 2))
    onto = Transformer.from_crs(4326, 3857, always_xy=True)
    x, y = onto.transform(places[:, 1], places[:, 0])
    low, high = corners == 0, corners == 1
    assert np.ptp(np.asarray(x)[low[:, 0]]) < 1e-3 and np.ptp(np.asarray(y)[high[:, 1]]) < 1e-3
    west, east = np.min(x), np.max(x)
    south, north = np.min(y), np.max(y)
    drawn = pypdfium2.PdfDocument(folder / "b.pdf")[0].render(scale=2).to_numpy()[..., ::-1]
    for depth in BAND:
        at = onto.transform(*edge_of_band(depth))
        row = page.mediabox.height - (bottom + (at[1] - south) / (north - south) * (top - bottom))
        within = np.flatnonzero(amber(drawn[round(float(row) * 2)]))
        found = within[0] if depth == BAND[0] else within[-1] + 1
        wanted = (left + (at[0] - west) / (east - west) * (right - left)) * 2
        assert found == pytest.approx(wanted, abs=2)  # a pixel here, and one of the picture's own
    words = page.extract_text().replace("\n", " ")
    assert "Not for navigation" in words and "Depths from nobody." in words
    assert "A <plane> & its depths" in words


def test_what_is_in_degrees_is_as_another_library_has_it() -> None:
    west, south, east, north = in_degrees((-3_722_616.2, 5_808_460.3, -3_713_926.3, 5_815_449.5))
    back = warp_points("EPSG:4326", "EPSG:3857", [west, east], [south, north])
    assert np.ravel(back) == pytest.approx([-3_722_616.2, -3_713_926.3, 5_808_460.3, 5_815_449.5])
