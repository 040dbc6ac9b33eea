"""A small file of every kind that is read, made here."""
# ruff: noqa: E501  (contents of files are easier to read in one line)

from __future__ import annotations

import json
import sqlite3
import struct
import sys
from pathlib import Path

import geopandas as gpd
import h5py
import numpy as np
import openpyxl
import pandas as pd
import rasterio
import xarray as xr
from nmea_sentences import sentence
from PIL import Image
from rasterio.transform import from_origin
from shapely.geometry import LineString, Point

DEPTHS = (-20 + 5 * np.sin(np.arange(24)[:, None] / 3) + np.arange(30)[None, :] / 10).astype("f4")
WEST, NORTH, STEP = -33.4, 46.2, 0.0002


def make(folder: Path) -> dict[str, list[Path]]:
    """Files by the reader that they are for."""
    folder.mkdir(parents=True, exist_ok=True)
    return {
        "rasters": _rasters(folder),
        "hdf5 grids": _hdf5_grids(folder),
        "virtual mosaics": [_mosaic(folder)],
        "grids of points": _points(folder),
        "charts": [_chart(folder)],
        "packages": [_package(folder)],
        "logbooks": [_logbook(folder / "book.gpkg")],
        "merged logbooks": [_logbook(folder / "theirs.gpkg", shared=True)],
        "shared copies": [_logbook(folder / "ours.gpkg", shared=True), folder / "shared.gpkg"],
        "tracks": _tracks(folder),
        "sounder logs": _soundings(folder),
        "catches": _catches(folder),
        "photos": _photos(folder),
        "areas": _areas(folder),
        "stations": _stations(folder),
        "tide tables": _tide_tables(folder),
        "current tables": _current_tables(folder),
        "learned currents": [_learned_current(folder)],
        "wind tables": _wind_tables(folder),
        "water fields": _fields(folder),
        "corrections": [
            _text(
                folder / "a.corrections.txt", "2031-06-14 08:05-08:10 lines up\n08:20-08:30 drift\n"
            )
        ],
    }


def _text(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def _rasters(folder: Path) -> list[Path]:
    made = []
    place = from_origin(WEST, NORTH, STEP, STEP)
    for name, driver, how in (
        ("plain.tif", "GTiff", {}),
        ("packed.tif", "GTiff", {"compress": "deflate", "predictor": 3, "tiled": True, "blockxsize": 16, "blockysize": 16}),
        ("lzw.tif", "GTiff", {"compress": "lzw", "dtype": "int16", "nodata": -32768}),
        ("a.img", "HFA", {}), ("a.flt", "EHdr", {}), ("b.grd", "GSBG", {}), ("c.grd", "GS7BG", {}),
    ):  # fmt: skip
        options = {"dtype": "float32", **how}
        with rasterio.open(
            folder / name,
            "w",
            driver=driver,
            width=30,
            height=24,
            count=1,
            crs="EPSG:4326",
            transform=place,
            **options,
        ) as file:
            file.write(DEPTHS.astype(options["dtype"]), 1)
        made.append(folder / name)
    rows = "\n".join(" ".join(f"{one:.2f}" for one in row) for row in DEPTHS)
    made.append(
        _text(
            folder / "a.asc",
            f"ncols 30\nnrows 24\nxllcorner {WEST}\nyllcorner 46\ncellsize {STEP}\nNODATA_value -9999\n{rows}\n",
        )
    )
    _text(folder / "a.prj", rasterio.crs.CRS.from_epsg(4326).to_wkt())
    low, high = DEPTHS.min(), DEPTHS.max()
    made.append(
        _text(
            folder / "d.grd",
            f"DSAA\n30 24\n{WEST} {WEST + 0.006}\n46 46.005\n{low} {high}\n{rows}\n",
        )
    )
    return made


def _mosaic(folder: Path) -> Path:
    inner = "".join(
        f"<SimpleSource><SourceFilename relativeToVRT='1'>plain.tif</SourceFilename><SourceBand>1</SourceBand>"
        f"<SrcRect xOff='0' yOff='0' xSize='30' ySize='24'/><DstRect xOff='{30 * i}' yOff='0' xSize='30' ySize='24'/></SimpleSource>"
        for i in range(2)
    )
    return _text(
        folder / "a.vrt",
        "<VRTDataset rasterXSize='60' rasterYSize='24'><SRS>EPSG:4326</SRS>"
        f"<GeoTransform>{WEST}, {STEP}, 0, {NORTH}, 0, -{STEP}</GeoTransform>"
        f"<VRTRasterBand dataType='Float32' band='1'><NoDataValue>-9999</NoDataValue>{inner}</VRTRasterBand></VRTDataset>",
    )


def _hdf5_grids(folder: Path) -> list[Path]:
    sys.path.insert(0, str(Path(__file__).parents[1] / "loaders"))
    from test_bag_and_s102 import write_bag, write_s102

    y, x = NORTH - STEP * np.arange(24), WEST + STEP * np.arange(30)
    data = xr.Dataset(
        {"elevation": (("lat", "lon"), DEPTHS, {"units": "m", "grid_mapping": "crs"}), "crs": ((), 0, {"epsg": 4326})},
        {"lat": ("lat", y, {"units": "degrees_north"}), "lon": ("lon", x, {"units": "degrees_east"})},
    )  # fmt: skip
    data.to_netcdf(
        folder / "four.nc",
        engine="h5netcdf",
        encoding={
            "elevation": {"zlib": True, "dtype": "int16", "scale_factor": 0.01, "_FillValue": -9999}
        },
    )
    data.to_netcdf(folder / "three.nc", engine="scipy")
    return [
        folder / "four.nc", folder / "three.nc", write_bag(folder / "fine.bag"),
        write_bag(folder / "plain.bag", refined=False), write_s102(folder / "s102.h5", instances=2),
    ]  # fmt: skip


def _points(folder: Path) -> list[Path]:
    rows = [
        (WEST + STEP * c, NORTH - STEP * r, float(DEPTHS[r, c]))
        for r in range(12)
        for c in range(15)
    ]
    lines = "\n".join(f"{x:.4f},{y:.4f},{z:.2f}" for x, y, z in rows)
    return [
        _text(folder / "grid.csv", f"longitude,latitude,elevation_m\n{lines}\n"),
        _text(folder / "grid.xyz", lines.replace(",", " ")),
        _sheet(folder / "grid.xlsx", [("longitude", "latitude", "elevation"), *rows[:60]]),
    ]


def _sheet(path: Path, rows: list[tuple[object, ...]]) -> Path:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


def _chart(folder: Path) -> Path:
    from making.s57_writer import Cell

    made = Cell()
    made.feature(153, 1, [made.point(5.01, 50.01)], {179: "1.2", 187: "4", 116: "Old Tooth"})
    made.feature(43, 2, [made.edge([(5, 50), (5.01, 50.005), (5.02, 50)])], {174: "10"})
    made.feature(129, 1, [made.soundings([(5.001, 50.001, 12.3), (5.002, 50.001, -0.4)])])
    ring = [(5, 50.03), (5.01, 50.03), (5.01, 50.04), (5, 50.04), (5, 50.03)]
    made.feature(112, 3, [made.edge(ring)], {131: "1,3"})
    made.feature(42, 3, [made.edge([(x, y + 0.02) for x, y in ring])], {87: "-2", 88: "0"})
    return made.write(folder / "XX5TEST1.000")


def _package(folder: Path) -> Path:
    path = folder / "trip.gpkg"
    line = LineString([(-33.4, 46.19), (-33.39, 46.2)])
    tables = {
        "lines": {"line": ["A", "B"], "rank": [1, 2], "from": pd.to_datetime(["2031-06-14"] * 2, utc=True)},
        "features": {"kind": ["hump", "hole"], "height_m": [1.5, None]},
    }  # fmt: skip
    for name, columns in tables.items():
        shapes = [line, line] if name == "lines" else [Point(-33.4, 46.2), None]
        gpd.GeoDataFrame(columns, geometry=shapes, crs=4326).to_file(
            path, layer=name, driver="GPKG"
        )
    return path


def _logbook(path: Path, *, shared: bool = False) -> Path:
    """A logbook; one that was shared has a copy beside it, and keeps the secret of its squares."""
    sys.path.insert(0, str(Path(__file__).parents[1] / "logbook"))
    from book_tables import made_entry

    from layers.logbook import Logbook, Naming
    from layers.logbook.sharing import shared_layers
    from layers.present import write_geopackage
    from layers.scoring.naming import name_lines

    path.unlink(missing_ok=True)
    book = Logbook(path)
    book.add([made_entry("2031-06-14", points=4)], naming=Naming(40.0, name_lines))
    if shared:
        write_geopackage(path.with_name("shared.gpkg"), shared_layers(book, 1000.0))
    with sqlite3.connect(path) as file:
        file.execute("PRAGMA journal_mode = DELETE")
    return path


def _gpx(body: str) -> str:
    return f'<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>'


def _tracks(folder: Path) -> list[Path]:
    points = "".join(
        f'<trkpt lat="{46.2 + i * 1e-4:.5f}" lon="-33.40000"><ele>-5.2</ele><time>2031-06-14T08:{i:02d}:00Z</time></trkpt>'
        for i in range(30)
    )
    mark = '<wpt lat="46.2" lon="-33.4"><time>2031-06-14T08:05:00Z</time><name>keeper flounder 15 in</name><sym>Fish</sym></wpt>'
    nmea = "".join(
        sentence(f"GPRMC,0930{i:02d},A,4612.{i:04d},N,03324.5000,W,1.2,045.0,140631,,,A")
        + sentence(f"GPGGA,0930{i:02d},4612.{i:04d},N,03324.5000,W,1,08,0.9,5.1,M,45.0,M,,")
        for i in range(20)
    )
    csv = "time,latitude,longitude,depth_m\n" + "".join(
        f"2031-06-14T08:{i:02d}:00Z,{46.2 + i * 1e-4:.5f},-33.4,{5 + i / 10}\n" for i in range(20)
    )
    return [
        _text(folder / "track.gpx", _gpx(f"{mark}<trk><name>a</name><trkseg>{points}</trkseg></trk>")),
        _text(folder / "track.nmea", nmea), _text(folder / "track.csv", csv),
    ]  # fmt: skip


def _soundings(folder: Path) -> list[Path]:
    log = "".join(
        sentence(f"GPRMC,0930{i:02d},A,3130.{i:04d},S,02430.5000,W,1.2,045.0,140631,,,A")
        + sentence(f"SDDPT,{i + 3}.1,-0.4") + sentence("IIMTW,12.5,C")
        for i in range(14)
    )  # fmt: skip
    csv = "time,lat,lon,depth ft,temp\n" + "".join(
        f"2031-06-14T08:{i:02d}:00,{-31.5 + i * 1e-4:.5f},-24.5,{i + 9},12\n" for i in range(20)
    )
    return [_text(folder / "sounder.nmea", log), _text(folder / "sounder.csv", csv)]


def _catches(folder: Path) -> list[Path]:
    rows = [
        ("time", "species", "length_in", "kept", "rod", "latitude", "longitude", "note"),
        ("2031-06-07 08:03:58-02:00", "tasset gurnard", "11.25", "yes", "1", "46.2", "-33.4", "two in a minute"),
        ("2031-06-07 08:24:10", "brindle flounder", "14 1/2", "no", "2", "46.19632", "-33.42977", ""),
    ]  # fmt: skip
    text = "\n".join(",".join(row) for row in rows)
    return [
        _text(folder / "catches.csv", text), _text(folder / "catches.txt", text.replace(",", ";")),
        _sheet(folder / "catches.xlsx", rows),
    ]  # fmt: skip


def _photos(folder: Path) -> list[Path]:
    sys.path.insert(0, str(Path(__file__).parents[1] / "catches"))
    from photo_files import write_photo

    jpeg = write_photo(
        folder / "keeper.jpg",
        offset="-02:00",
        place=(-33.43, 46.2),
        gps_time=("2031:06:14", (12, 5, 28)),
    )
    with Image.open(jpeg) as picture:
        exif = picture.info["exif"]
    return [jpeg, _heic(folder / "keeper.heic", exif)]


def _heic(path: Path, exif: bytes) -> Path:
    """A picture without a picture: its list of items, and the one that is EXIF (ISO/IEC 23008-12)."""

    def box(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body) + 8) + name + body

    def full(name: bytes, body: bytes) -> bytes:
        return box(name, bytes(4) + body)

    item = struct.pack(">I", 6) + exif
    head = box(b"ftyp", b"heic\0\0\0\0mif1heic")
    entry = box(b"infe", b"\2\0\0\0" + struct.pack(">HH4s", 1, 0, b"Exif") + b"\0")
    about = full(b"hdlr", bytes(4) + b"pict" + bytes(13)) + full(
        b"iinf", struct.pack(">H", 1) + entry
    )

    def meta(start: int) -> bytes:
        place = struct.pack(">BBHHHHII", 0x44, 0, 1, 1, 0, 1, start, len(item))
        return full(b"meta", about + full(b"iloc", place))

    start = len(head) + len(meta(0)) + 8
    path.write_bytes(head + meta(start) + box(b"mdat", item))
    return path


def _areas(folder: Path) -> list[Path]:
    demo = Path(__file__).parents[2] / "demo_area" / "area.toml"
    path = folder / "area.toml"
    return [_text(path, demo.read_text(encoding="utf-8"))]


def _stations(folder: Path) -> list[Path]:
    parts = [
        {"name": "M2", "amplitude": 3.1, "phase": 90.0},
        {"name": "K1", "amplitude": 0.3, "phase": 120.5},
    ]
    station = {
        "format": "seabed-layers station 1", "name": "Kettle Quay", "longitude": -33.41, "latitude": 46.19,
        "timezone": "Etc/GMT+2", "source": "invented", "licence": "",
        "heights": {"unit": "ft", "phase": "Greenwich", "nodal": "daily", "datum": "MLLW", "mean_level": 4.4,
                    "datums": {"MHHW": 8.8}, "constituents": parts},
        "currents": {"unit": "kn", "phase": "Greenwich", "flood_toward": 352, "mean": 0.1, "constituents": parts[:1]},
    }  # fmt: skip
    agency = {
        "units": "feet",
        "HarmonicConstituents": [
            {"number": 1, "name": "M2", "amplitude": 3.1, "phase_GMT": 90.0, "phase_local": 10.0, "speed": 28.98}
        ],
    }  # fmt: skip
    return [
        _text(folder / "station.json", json.dumps(station, indent=1)),
        _text(folder / "agency.json", json.dumps(agency)),
    ]


def _tide_tables(folder: Path) -> list[Path]:
    rows = [("time", "height_m", "kind")]
    rows += [(f"2031-06-{1 + i // 4:02d}T{6 * (i % 4):02d}:05-02:00", f"{1 + (i % 2) * 1.7:.2f}", "high" if i % 2 else "low") for i in range(16)]  # fmt: skip
    return [
        _text(folder / "tide.csv", "\n".join(",".join(row) for row in rows)),
        _sheet(folder / "tide.xlsx", rows),
    ]


def _current_tables(folder: Path) -> list[Path]:
    rows = [
        f"2031-06-{1 + i // 8:02d}T{3 * (i % 8):02d}:05-02:00,{event},{speed}"
        for i, (event, speed) in enumerate(
            [("flood", "1.49"), ("slack", ""), ("ebb", "1.2"), ("slack", "")] * 4
        )
    ]
    return [_text(folder / "currents.csv", "time,event,speed_kn\n" + "\n".join(rows))]


def _learned_current(folder: Path) -> Path:
    kept = Path(__file__).parents[1] / "of_0_1" / "learned_current.json"
    return _text(folder / "learned.json", kept.read_text(encoding="utf-8"))


def _wind_tables(folder: Path) -> list[Path]:
    rows = [f"2031-06-14 {i:02d}:00,{5 + i % 7},SW,{12 + i % 5}" for i in range(20)]
    return [_text(folder / "wind.csv", "time,speed_kn,from,gust_kn\n" + "\n".join(rows))]


def _fields(folder: Path) -> list[Path]:
    flow = np.zeros((2, 3), [("surfaceCurrentSpeed", "f4"), ("surfaceCurrentDirection", "f4")])
    level = np.zeros((2, 3), [("waterLevelHeight", "f4"), ("waterLevelTrend", "i1")])
    flow["surfaceCurrentSpeed"], level["waterLevelHeight"] = 1.5, 2.0
    places = np.array([(-33.4, 46.2), (-33.3, 46.2)], [("longitude", "f8"), ("latitude", "f8")])
    made = []
    for product, values in (("SurfaceCurrent", flow), ("WaterLevel", level)):
        for coding in (2, 8):
            path = folder / f"{product}{coding}.h5"
            with h5py.File(path, "w") as file:
                feature = file.create_group(product)
                feature.attrs["dataCodingFormat"] = np.uint8(coding)
                one = feature.create_group(f"{product}.01")
                one.attrs.update(
                    gridOriginLongitude=-33.42, gridOriginLatitude=46.18, gridSpacingLongitudinal=0.01,
                    gridSpacingLatitudinal=0.02, numPointsLongitudinal=3, numPointsLatitudinal=2,
                )  # fmt: skip
                for hour in range(2):
                    group = one.create_group(f"Group_{hour + 1:03d}")
                    if coding == 2:
                        group.attrs["timePoint"] = f"20310614T{hour:02d}0000Z"
                        group["values"] = values
                    else:
                        group.attrs["startDateTime"] = "20310614T000000Z"
                        group.attrs["timeRecordInterval"] = 600
                        group["values"] = values.ravel()
                if coding == 8:
                    one["Positioning/geometryValues"] = places
            made.append(path)
    return made
