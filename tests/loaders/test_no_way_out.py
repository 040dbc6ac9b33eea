"""No file that is read may lead onto the network: a server of our own must never be asked."""

from __future__ import annotations

import subprocess
import sys

import hostile_files
import pyogrio
import pytest

from layers.jobs.parts.earlier import layers_of, read_results
from layers.water.currents.s100 import read_s104
from seabed.errors import GridError, SeabedError
from seabed.guarded import ReadingError
from seabed.loaders import describe, open_grid, read_hazards
from seabed.loaders.charts import describe_chart
from seabed.loaders.vector_layers import layers_in, read_layer

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


@pytest.fixture(autouse=True)
def no_proxy_between(monkeypatch):
    """Nobody's settings send what asks elsewhere."""
    monkeypatch.setenv("NO_PROXY", "*")
    monkeypatch.setenv("no_proxy", "*")


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("a.vrt", "/vsicurl/http://{}/a.tif"),
        ("a.tif", "/vsicurl/http://{}/a.tif"),  # named like another kind
        ("a.vrt", "&#47;vsicurl&#x2f;http&#58;//{}/a.tif"),
        ("a.vrt", "http://{}/a.tif"),
    ],
)
def test_a_virtual_mosaic_leads_nowhere(tmp_path, address, file, name):
    path = tmp_path / file
    path.write_text(hostile_files.MOSAIC.format(name=name.format(address), beside=0))
    for reader in (open_grid, describe):
        with pytest.raises(GridError, match="points to addresses on the network"):
            reader(path)


@pytest.mark.parametrize("name", ["a.vrt", "inner.vrt", "/etc/hostname"])
def test_a_virtual_mosaic_lists_geotiffs_and_nothing_else(tmp_path, name):
    (tmp_path / "inner.vrt").write_text(hostile_files.MOSAIC.format(name="b.tif", beside=1))
    path = tmp_path / "a.vrt"
    path.write_text(hostile_files.MOSAIC.format(name=name, beside=1))
    with pytest.raises(GridError, match="which is not a GeoTIFF or is missing"):
        open_grid(path)


def test_a_chart_or_result_that_is_another_kind_of_file_leads_nowhere(tmp_path, address):
    for path in hostile_files.chart_files(tmp_path / "charts", address):
        for reader in (read_hazards, describe_chart):
            with pytest.raises(SeabedError, match="not an S-57 chart cell"):
                reader(path)
    for path in hostile_files.packages(tmp_path / "packages", address):
        with pytest.raises(SeabedError, match="not a GeoPackage"):
            layers_of(path)


def test_grids_that_name_others_lead_nowhere(tmp_path, address):
    for path in hostile_files.grids(tmp_path, address):
        try:
            open_grid(path)
            describe(path)
        except GridError:
            assert not (path.suffix == ".tif" and path.stem.endswith(("msk", "ovr", "xml")))


@pytest.mark.parametrize("how", ["link", "raw", "virtual"])
def test_numbers_that_lie_in_another_file_are_refused(tmp_path, address, how):
    path = next(one for one in hostile_files.linked(tmp_path, address) if one.stem == how)
    with pytest.raises(
        SeabedError, match=r"(elevation|WaterLevel): parts of it lie in another file"
    ):
        open_grid(path)
    if how == "link":
        with pytest.raises(SeabedError, match="parts of it lie in another file"):
            read_s104(path)


def test_two_drivers_read_and_no_others(tmp_path):
    """What the library would open as another kind, by its content or its name, is refused."""
    path = tmp_path / "a.geojson"
    path.write_text('{"type": "FeatureCollection", "features": []}')
    assert len(pyogrio.list_layers(path)) == 1
    with pytest.raises(ReadingError):
        layers_in(path)
    with pytest.raises(ReadingError):
        read_layer(path, "a")


def test_results_are_still_read(tmp_path):
    """Against the same library with all its drivers."""
    import geopandas as gpd
    from pandas.testing import assert_frame_equal
    from shapely.geometry import LineString

    table = gpd.GeoDataFrame(
        {"line": ["A", None], "rank": [1, 2], "good": [True, False], "deep_m": [1.5, None]},
        geometry=[LineString([(0, 0), (1, 1)]), None], crs="EPSG:4326",
    )  # fmt: skip
    table.to_file(tmp_path / "a.gpkg", layer="lines", driver="GPKG")
    expected = gpd.read_file(tmp_path / "a.gpkg", layer="lines")
    assert_frame_equal(read_results([tmp_path / "a.gpkg"])["lines"], expected)
