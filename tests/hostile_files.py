"""Files of every kind that try to lead out, onto the network or to other files.

Kinds are those that the raster and vector libraries, HDF5 and XML know (GDAL: "Security
considerations"; HDF5: external links; the XML standard: external entities).
"""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import h5py
import numpy as np
import rasterio
from rasterio.transform import from_origin

LEADER = b"01582 L"
"""What passes for the beginning of ISO 8211: a length, then L."""
SQLITE = b"SQLite format 3\x00"

MOSAIC = """<VRTDataset rasterXSize="20" rasterYSize="20"><SRS>EPSG:4326</SRS>
<GeoTransform>-33,0.001,0,46,0,-0.001</GeoTransform>
<VRTRasterBand dataType="Float32" band="1"><SimpleSource>
<SourceFilename relativeToVRT="{beside}">{name}</SourceFilename><SourceBand>1</SourceBand>
<SrcRect xOff="0" yOff="0" xSize="20" ySize="20"/>
<DstRect xOff="0" yOff="0" xSize="20" ySize="20"/>
</SimpleSource></VRTRasterBand></VRTDataset>"""
TABLE = (
    '<OGRVRTDataSource><OGRVRTLayer name="lines"><SrcDataSource>{name}</SrcDataSource>'
    "</OGRVRTLayer></OGRVRTDataSource>"
)
PIPELINE = (
    '{{"type": "gdal_streamed_alg", "command_line": "gdal vector pipeline ! read {name} ! write '
    '--output-format=stream streamed_dataset"}}'
)
SERVICES = (
    "<OGRWFSDataSource><URL>{http}</URL></OGRWFSDataSource>",
    "<GDAL_WMS><Service name='TMS'><ServerUrl>{http}</ServerUrl></Service></GDAL_WMS>",
    "<WCS_GDAL><ServiceURL>{http}</ServiceURL><CoverageName>a</CoverageName></WCS_GDAL>",
    '{{"stac_version": "1.0.0", "type": "Feature", "assets": {{"a": {{"href": "{http}"}}}}}}',
    '{{"links": [{{"href": "{http}", "rel": "data"}}], "collections": []}}',
)
GPX = (
    '<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "{http}" [<!ENTITY a SYSTEM "{http}">]>'
    '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="46" lon="-33">'
    "<name>&a;</name></wpt></gpx>"
)


def names(address: str) -> list[str]:
    """Ways to name something at an address."""
    return [f"/vsicurl/http://{address}/a.tif", f"http://{address}/a.tif"]


def chart_files(folder: Path, address: str) -> list[Path]:
    """Charts that are another kind of file, by all that a leader lets through."""
    folder.mkdir(parents=True, exist_ok=True)
    bodies = [TABLE.format(name=name) for name in names(address)]
    bodies += [PIPELINE.format(name=name) for name in names(address)]
    bodies += [one.format(http=f"http://{address}/a") for one in SERVICES]
    made = []
    for number, body in enumerate(bodies):
        for head in (b"", LEADER):
            made.append(folder / f"{number}{'leader' if head else 'plain'}.000")
            made[-1].write_bytes(head + body.encode())
    return made


def packages(folder: Path, address: str) -> list[Path]:
    """GeoPackages that are another kind of file: by their first bytes, and whole databases."""
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for number, name in enumerate(names(address)):
        body = TABLE.format(name=name)
        made.append(folder / f"{number}.gpkg")
        made[-1].write_bytes(SQLITE + body.encode())
        made.append(folder / f"{number}whole.gpkg")
        with sqlite3.connect(made[-1]) as book:
            book.execute("CREATE TABLE lines (a)")
        content = bytearray(made[-1].read_bytes())
        content[200 : 200 + len(body)] = body.encode()  # room that the first page has left
        made[-1].write_bytes(content)
    return made


def grids(folder: Path, address: str) -> list[Path]:
    """Grids that name others: virtual mosaics, their disguises, files beside, links inside."""
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for number, name in enumerate(names(address)):
        for ending in ("vrt", "tif", "nc", "asc", "bag", "csv"):
            made.append(folder / f"{number}.{ending}")
            made[-1].write_text(MOSAIC.format(name=name, beside=0), encoding="utf-8")
        made.append(folder / f"{number}outer.vrt")
        made[-1].write_text(MOSAIC.format(name=f"{number}.tif", beside=1), encoding="utf-8")
        for beside in ("msk", "ovr", "aux.xml"):
            made.append(_tiff(folder / f"{number}{beside}.tif"))
            text = MOSAIC.format(name=name, beside=0)
            if beside == "aux.xml":
                text = (
                    '<PAMDataset><Metadata domain="OVERVIEWS">'
                    f'<MDI key="OVERVIEW_FILE">{name}</MDI></Metadata></PAMDataset>'
                )
            Path(f"{made[-1]}.{beside}").write_text(text, encoding="utf-8")
        made.append(_tiff(folder / f"{number}inside.tif", OVERVIEW_FILE=name))
    for number, one in enumerate(SERVICES):
        made.append(folder / f"service{number}.tif")
        made[-1].write_text(one.format(http=f"http://{address}/a"), encoding="utf-8")
    return [*made, *linked(folder, address)]


def linked(folder: Path, address: str) -> list[Path]:
    """HDF5 files whose numbers lie in others: by a link, stored raw, or as a virtual data set."""
    folder.mkdir(parents=True, exist_ok=True)
    inner = folder / "inner.h5"
    with h5py.File(inner, "w") as file:
        file["elevation"] = np.full((8, 8), -5.0)
    (folder / "inner.raw").write_bytes(np.full(64, -5.0).tobytes())
    made = [folder / f"{how}.nc" for how in ("link", "raw", "virtual")]
    for path in made:
        with h5py.File(path, "w") as file:
            for name in ("y", "x"):
                file[name] = np.arange(8.0)
            if path.stem == "link":
                file["elevation"] = h5py.ExternalLink(str(inner), "/elevation")
                file["WaterLevel"] = h5py.ExternalLink(f"//{address}/a.h5", "/WaterLevel")
            elif path.stem == "raw":
                file.create_dataset(
                    "elevation", (8, 8), "f8", external=[(str(folder / "inner.raw"), 0, 512)]
                )
            else:
                layout = h5py.VirtualLayout((8, 8), "f8")
                layout[:] = h5py.VirtualSource(str(inner), "elevation", (8, 8))
                file.create_virtual_dataset("elevation", layout)
    return made


def gpx(folder: Path, address: str) -> Path:
    """GPX that names another file for its text and type."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "a.gpx"
    path.write_text(GPX.format(http=f"http://{address}/a"), encoding="utf-8")
    return path


def under_other_names(path: Path, endings: list[str]) -> list[Path]:
    """Copies of a file, each named like another kind."""
    return [Path(shutil.copy(path, path.with_suffix(ending))) for ending in endings]


def _tiff(path: Path, **overviews: str) -> Path:
    with rasterio.open(
        path, "w", driver="GTiff", width=20, height=20, count=1, dtype="float32",
        crs="EPSG:4326", transform=from_origin(-33.4, 46.2, 0.0001, 0.0001),
    ) as file:  # fmt: skip
        file.write(np.linspace(-20, -5, 400, dtype="f4").reshape(20, 20), 1)
        if overviews:
            file.update_tags(ns="OVERVIEWS", **overviews)
    return path
