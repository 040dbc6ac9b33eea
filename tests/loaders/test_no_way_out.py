"""No file that is read may lead onto the network: a server of our own must never be asked.

The formats are those of the raster and vector libraries (virtual raster, virtual vector layer).
"""

from __future__ import annotations

import subprocess
import sys

import pytest

from layers.cli.marking import layers_of
from seabed.errors import GridError, SeabedError
from seabed.loaders import describe, open_grid, read_hazards

GRID = """<VRTDataset rasterXSize="20" rasterYSize="20"><SRS>EPSG:4326</SRS>
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


SERVER = """
import socket, sys
listening = socket.create_server(("127.0.0.1", 0))
print(listening.getsockname()[1], flush=True)
while True:
    client, _ = listening.accept()
    print("asked", flush=True)
    client.close()
"""


@pytest.fixture(scope="module")
def address():
    """Where a process of its own answers, since a library that asks may hold this one."""
    process = subprocess.Popen([sys.executable, "-c", SERVER], stdout=subprocess.PIPE, text=True)
    yield f"127.0.0.1:{process.stdout.readline().strip()}"
    process.kill()
    assert process.stdout.read() == "", "the server was asked"


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("a.vrt", "/vsicurl/http://{}/a.tif"),
        ("a.tif", "/vsicurl/http://{}/a.tif"),  # named like another kind
        ("a.vrt", "&#47;vsicurl&#x2f;http&#58;//{}/a.tif"),
        ("a.vrt", "http://{}/a.tif"),
    ],
)
@pytest.mark.parametrize("how", ["at once", "through another"])
def test_a_virtual_mosaic_leads_nowhere(tmp_path, address, file, name, how):
    path = tmp_path / file
    path.write_text(GRID.format(name=name.format(address), beside=0), encoding="utf-8")
    if how == "through another":
        outer = tmp_path / "outer.vrt"
        outer.write_text(GRID.format(name=file, beside=1), encoding="utf-8")
        path = outer
    for reader in (open_grid, describe):
        with pytest.raises(GridError, match="points to addresses on the network"):
            reader(path)


def test_what_the_text_does_not_show_is_still_not_reached(tmp_path, address, monkeypatch):
    """The second bolt: the library's own settings, with the first drawn back."""
    import seabed.loaders.raster as module

    monkeypatch.setattr(module, "refuse_hidden_addresses", lambda _: None)
    for number, name in enumerate(("/vsicurl/http://{}/a.tif", "http://{}/a.tif")):
        path = tmp_path / f"a{number}.vrt"
        path.write_text(GRID.format(name=name.format(address), beside=0), encoding="utf-8")
        with pytest.raises(GridError):
            open_grid(path).load()


def test_mosaics_that_name_each_other_come_to_an_end(tmp_path):
    path = tmp_path / "a.vrt"
    path.write_text(GRID.format(name="a.vrt", beside=1), encoding="utf-8")
    with pytest.raises(GridError, match="name mosaics without end"):
        open_grid(path)


def test_a_chart_or_result_that_is_another_kind_of_file_leads_nowhere(tmp_path, address):
    for file, reader in (("a.000", read_hazards), ("a.gpkg", layers_of)):
        path = tmp_path / file
        path.write_text(TABLE.format(name=f"/vsicurl/http://{address}/a.geojson"), encoding="utf-8")
        with pytest.raises(SeabedError, match=r"no S-57 chart cell|not a GeoPackage"):
            reader(path)
