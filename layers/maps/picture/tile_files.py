"""Files of tiles in open formats: MBTiles, GeoPackage tiles, KMZ.

Each is written tile by tile, and is whole once it is closed.  The raster library's own drivers
reduce one level from another: the words in the corner of a tile could then not be read.
"""

from __future__ import annotations

import sqlite3
import zipfile
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Protocol

from pyproj import CRS

from layers.maps.picture.bottom_depths import Box
from layers.maps.picture.pyramid import HALF, TILE_PX, Tile, tile_box
from seabed.files import MAKER
from seabed.geodesy import to_degrees
from seabed.markup import markup_text


@dataclass(frozen=True, slots=True)
class About:
    """What a file of tiles says of itself and of the box that it shows."""

    title: str
    cautions: str
    credits: str
    zooms: range
    box: Box

    @property
    def degrees(self) -> tuple[float, float, float, float]:
        """West, south, east, north."""
        return in_degrees(self.box)


class TileFile(Protocol):
    """A file that takes tiles."""

    def __init__(self, path: Path, about: About) -> None: ...

    def put(self, tile: Tile, png: bytes) -> None:
        """Take a tile."""

    def close(self) -> None:
        """Make the file whole."""

    def stop(self) -> None:
        """Let go of the file, whole or not."""


def in_degrees(box: Box) -> tuple[float, float, float, float]:
    """Give a box of web Mercator as west, south, east, north in degrees."""
    onto = to_degrees("EPSG:3857")
    (west, south), (east, north) = onto.transform(*box[:2]), onto.transform(*box[2:])
    return west, south, east, north


class _Sqlite:
    """Tiles as rows of a table, in one transaction."""

    application_id: int
    user_version: int = 0
    insert: str

    def __init__(self, path: Path) -> None:
        path.unlink(missing_ok=True)  # an empty file would be taken for an old one
        self._file = sqlite3.connect(path, isolation_level=None)
        self._file.execute("PRAGMA journal_mode = OFF")  # the whole file is thrown away on a fault
        self._file.execute(f"PRAGMA application_id = {self.application_id}")
        self._file.execute(f"PRAGMA user_version = {self.user_version}")
        self._file.execute("BEGIN")

    def close(self) -> None:
        """Make the file whole."""
        with closing(self._file):
            self._file.execute("COMMIT")

    def stop(self) -> None:
        """Let go of the file, whole or not."""
        self._file.close()


class MbTiles(_Sqlite):
    """MBTiles 1.3: rows are counted from the south."""

    application_id = 0x4D504258
    insert = "INSERT INTO tiles VALUES (?, ?, ?, ?)"

    def __init__(self, path: Path, about: About) -> None:
        super().__init__(path)
        self._file.execute("CREATE TABLE metadata (name text, value text)")
        self._file.execute(
            "CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, "
            "tile_data blob)"
        )
        self._file.execute(
            "CREATE UNIQUE INDEX tile_index ON tiles (zoom_level, tile_column, tile_row)"
        )
        west, south, east, north = about.degrees
        rows = {
            "name": about.title,
            "format": "png",
            "bounds": f"{west:.6f},{south:.6f},{east:.6f},{north:.6f}",
            "center": f"{(west + east) / 2:.6f},{(south + north) / 2:.6f},{about.zooms[-1]}",
            "minzoom": str(about.zooms[0]),
            "maxzoom": str(about.zooms[-1]),
            "attribution": about.credits,
            "description": about.cautions,
            "type": "overlay",
            "generator": MAKER,
        }
        self._file.executemany("INSERT INTO metadata VALUES (?, ?)", rows.items())

    def put(self, tile: Tile, png: bytes) -> None:
        """Take a tile."""
        zoom, column, row = tile
        self._file.execute(self.insert, (zoom, column, 2**zoom - 1 - row, png))


_GPKG: Final = """
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY,
  organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL,
  description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL,
  identifier TEXT UNIQUE, description TEXT DEFAULT '', last_change DATETIME NOT NULL,
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_tile_matrix_set (table_name TEXT NOT NULL PRIMARY KEY, srs_id INTEGER NOT NULL,
  min_x DOUBLE NOT NULL, min_y DOUBLE NOT NULL, max_x DOUBLE NOT NULL, max_y DOUBLE NOT NULL,
  CONSTRAINT fk_gtms_table_name FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gtms_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_tile_matrix (table_name TEXT NOT NULL, zoom_level INTEGER NOT NULL,
  matrix_width INTEGER NOT NULL, matrix_height INTEGER NOT NULL, tile_width INTEGER NOT NULL,
  tile_height INTEGER NOT NULL, pixel_x_size DOUBLE NOT NULL, pixel_y_size DOUBLE NOT NULL,
  CONSTRAINT pk_ttm PRIMARY KEY (table_name, zoom_level),
  CONSTRAINT fk_tmm_table_name FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name));
CREATE TABLE bottom (id INTEGER PRIMARY KEY AUTOINCREMENT, zoom_level INTEGER NOT NULL,
  tile_column INTEGER NOT NULL, tile_row INTEGER NOT NULL, tile_data BLOB NOT NULL,
  UNIQUE (zoom_level, tile_column, tile_row));
CREATE TABLE gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL,
  definition TEXT NOT NULL, scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
CREATE TABLE gpkg_metadata (id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL,
  md_scope TEXT NOT NULL DEFAULT 'dataset', md_standard_uri TEXT NOT NULL,
  mime_type TEXT NOT NULL DEFAULT 'text/xml', metadata TEXT NOT NULL DEFAULT '');
CREATE TABLE gpkg_metadata_reference (reference_scope TEXT NOT NULL, table_name TEXT,
  column_name TEXT, row_id_value INTEGER, timestamp DATETIME NOT NULL, md_file_id INTEGER NOT NULL,
  md_parent_id INTEGER,
  CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
  CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id));
"""
_METADATA: Final = "http://www.geopackage.org/spec131/#extension_metadata"


class GeoPackageTiles(_Sqlite):
    """OGC GeoPackage 1.3, tiles of web Mercator: rows are counted from the north."""

    application_id = 0x47504B47
    user_version = 10_301
    insert = "INSERT INTO bottom (zoom_level, tile_column, tile_row, tile_data) VALUES (?, ?, ?, ?)"

    def __init__(self, path: Path, about: About) -> None:
        super().__init__(path)
        for statement in filter(str.strip, _GPKG.split(";")):
            self._file.execute(statement)
        now = f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%S.000Z}"
        wkt = {code: CRS.from_epsg(code).to_wkt("WKT1_GDAL") for code in (4326, 3857)}
        undefined = ((-1, "Undefined Cartesian"), (0, "Undefined geographic"))
        systems = [(name, code, "NONE", code, "undefined", "") for code, name in undefined]
        systems += [
            ("WGS 84", 4326, "EPSG", 4326, wkt[4326], ""),
            ("WGS 84 / Pseudo-Mercator", 3857, "EPSG", 3857, wkt[3857], ""),
        ]
        self._put("gpkg_spatial_ref_sys", *systems)
        contents = ("bottom", "tiles", about.title, about.cautions, now, *about.box, 3857)
        self._put("gpkg_contents", contents)
        self._put("gpkg_tile_matrix_set", ("bottom", 3857, -HALF, -HALF, HALF, HALF))
        for zoom in about.zooms:
            size = 2 * HALF / TILE_PX / 2**zoom
            row = ("bottom", zoom, 2**zoom, 2**zoom, TILE_PX, TILE_PX, size, size)
            self._put("gpkg_tile_matrix", row)
        words = f"{about.cautions}\n{about.credits}\nMade by {MAKER}."
        self._put("gpkg_metadata", (1, "dataset", "http://purl.org/dc/terms/", "text/plain", words))
        self._put("gpkg_metadata_reference", ("table", "bottom", None, None, now, 1, None))
        for table in ("gpkg_metadata", "gpkg_metadata_reference"):
            row_of = (table, None, "gpkg_metadata", _METADATA, "read-write")
            self._put("gpkg_extensions", row_of)

    def _put(self, table: str, *rows: Sequence[object]) -> None:
        marks = ", ".join("?" * len(rows[0]))
        self._file.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)  # noqa: S608 (ours)

    def put(self, tile: Tile, png: bytes) -> None:
        """Take a tile."""
        self._file.execute(self.insert, (*tile, png))


class KmzTiles:
    """KML 2.2 with a region for each tile: it is loaded when it is looked at, then those in it.

    A tile is stretched between its parallels, which are even in latitude there and in web Mercator
    here: in the middle of a tile of height h (radians of the globe) that is 32 h tan(latitude)
    pixels apart, less than half a pixel from zoom 9 on up to 60 degrees.
    """

    def __init__(self, path: Path, about: About) -> None:
        self._zip = zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED)
        self._about = about
        self._tiles: set[Tile] = set()

    def put(self, tile: Tile, png: bytes) -> None:
        """Take a tile."""
        self._tiles.add(tile)
        name = "tiles/{}/{}/{}.png".format(*tile)
        self._zip.writestr(zipfile.ZipInfo(name, _NO_DATE), png)  # a PNG is deflated already

    def close(self) -> None:
        """Make the file whole."""
        with self._zip as archive:
            archive.comment = MAKER.encode()
            first = [tile for tile in sorted(self._tiles) if tile[0] == self._about.zooms[0]]
            archive.writestr("doc.kml", self._document("".join(map(_link, first))))
            for tile in sorted(self._tiles):
                zoom, column, row = tile
                finer = [(zoom + 1, 2 * column + i, 2 * row + j) for i in (0, 1) for j in (0, 1)]
                links = "".join(_link(one, "../../") for one in finer if one in self._tiles)
                text = f"{_region(tile)}{_overlay(tile)}{links}"
                archive.writestr("tiles/{}/{}/{}.kml".format(*tile), _kml(text))

    def stop(self) -> None:
        """Let go of the file, whole or not."""
        with suppress(OSError, ValueError):  # it can't be written, as reported before
            self._zip.close()

    def _document(self, links: str) -> str:
        about = self._about
        words = markup_text(f"{about.cautions}\n{about.credits}")
        return _kml(f"<name>{markup_text(about.title)}</name><description>{words}</description>"
                    f"{links}")  # fmt: skip


_NO_DATE: Final = (1980, 1, 1, 0, 0, 0)
_LEAST_PX: Final = 128
"""A tile is shown once it is so large on the screen, half its own size."""


def _kml(body: str) -> str:
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">'
        f"<Document>{body}</Document></kml>\n"
    )


def _edges(tile: Tile) -> str:
    west, south, east, north = in_degrees(tile_box(*tile))
    return (
        f"<north>{north:.9f}</north><south>{south:.9f}</south>"
        f"<east>{east:.9f}</east><west>{west:.9f}</west>"
    )


def _region(tile: Tile) -> str:
    return (
        f"<Region><LatLonAltBox>{_edges(tile)}</LatLonAltBox>"
        f"<Lod><minLodPixels>{_LEAST_PX}</minLodPixels><maxLodPixels>-1</maxLodPixels></Lod>"
        "</Region>"
    )


def _overlay(tile: Tile) -> str:
    zoom, _, row = tile
    return (
        f"<GroundOverlay><name>{'/'.join(map(str, tile))}</name><drawOrder>{zoom}</drawOrder>"
        f"<Icon><href>{row}.png</href></Icon><LatLonBox>{_edges(tile)}</LatLonBox></GroundOverlay>"
    )


def _link(tile: Tile, before: str = "tiles/") -> str:
    place = before + "{}/{}/{}.kml".format(*tile)
    return (
        f"<NetworkLink>{_region(tile)}<Link><href>{place}</href>"
        "<viewRefreshMode>onRegion</viewRefreshMode></Link></NetworkLink>"
    )


TILE_FILES: Final[dict[str, Callable[[Path, About], TileFile]]] = {
    "mbtiles": MbTiles,
    "gpkg": GeoPackageTiles,
    "kmz": KmzTiles,
}
"""By the suffix of the file."""
