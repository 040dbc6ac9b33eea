"""CSV against the csv module and OWASP's rule; layers against what GDAL reads back."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from layers.cautions import CAUTIONS
from layers.jobs.result import records
from layers.present import write_geojson, write_geopackage, write_table_csv
from layers.present.csv import csv_text
from layers.present.positions import degrees_minutes
from layers.present.vector import ABOUT
from seabed.errors import OutputError


def catches() -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {
            "time": pd.to_datetime(["2031-06-14T10:05:00Z", None], utc=True),
            "species": ['=HYPERLINK("http://x")', "brindle flounder, ö"],
            "note": ["-1+1", "two\nlines"],
            "length_m": [-0.5, np.nan],
            "kept": [True, False],
            "longitude": [-31.123456789, np.nan],
        },
        geometry=[Point(-31.123456789, -40.5), Point()],
        crs="EPSG:4326",
    )


def test_cells_a_spreadsheet_would_run_are_defused_but_numbers_stay(tmp_path):
    path = tmp_path / "c.csv"
    write_table_csv(path, catches())
    assert path.read_bytes().startswith(b"\xef\xbb\xbf")
    with path.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert rows[0]["species"] == '\'=HYPERLINK("http://x")'
    assert rows[0]["note"] == "'-1+1"
    assert rows[0]["length_m"] == "-0.5"
    assert rows[0]["longitude"] == "-31.1234568"
    assert rows[0]["time"] == "2031-06-14T10:05:00Z"
    assert rows[1]["time"] == "" and rows[1]["length_m"] == ""
    assert rows[1]["note"] == "two\nlines"
    assert "geometry" not in rows[0]


@example(["\x1e\t", "\x0b=", "a\r=1"])  # what only some readers take for the end of a line
@settings(deadline=None)
@given(st.lists(st.text(st.characters(exclude_categories=["Cs"])), min_size=1, max_size=20))
def test_no_text_cell_begins_as_a_formula(words):
    """OWASP "CSV Injection": = + - @, tab and carriage return are the starts to guard."""
    for table in (pd.DataFrame({"note": words}), pd.DataFrame({word: [1] for word in words})):
        text = csv_text(table)
        cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
        assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in cells)


def test_places_of_lines_and_areas_are_degrees():
    line = gpd.GeoDataFrame(
        {"line": ["L1"]}, geometry=[LineString([(500000, 0), (500000, 1000)])], crs="EPSG:32631"
    )
    row = next(csv.DictReader(csv_text(line).splitlines()))
    # the central meridian of zone 31 is 3 E; the false easting 500 000 m is on it (EPSG:32631)
    assert float(row["start_longitude"]) == pytest.approx(3.0, abs=1e-7)
    assert float(row["start_latitude"]) == pytest.approx(0.0, abs=1e-7)
    assert float(row["end_latitude"]) == pytest.approx(0.00904, abs=1e-5)
    ring = Polygon([(0, 0), (0, 1), (1, 1), (1, 0)])
    area = gpd.GeoDataFrame({"a": [1]}, geometry=[ring], crs="EPSG:4326")
    row = next(csv.DictReader(csv_text(area).splitlines()))
    assert ring.contains(Point(float(row["longitude"]), float(row["latitude"])))
    assert csv_text(area[:0]).strip() == "a"


@pytest.mark.parametrize(
    ("latitude", "longitude", "written"),
    [
        (46.19, -33.41, "46°11.400'N 033°24.600'W"),
        (-0.00001, 0.0, "00°00.001'S 000°00.000'E"),
        (-0.000001, -0.000001, "00°00.000'N 000°00.000'E"),
        (59.9999999, 179.9999999, "60°00.000'N 180°00.000'E"),  # never 59°60.000'
        (float("nan"), 1.0, ""),
    ],
)
def test_positions_in_degrees_and_minutes(latitude, longitude, written):
    assert degrees_minutes(latitude, longitude) == written


def test_a_geopackage_holds_each_layer_as_it_was(tmp_path):
    path = tmp_path / "unicode ö and space.gpkg"
    two = gpd.GeoDataFrame(
        {"x": [1.5, 2.5]},
        geometry=[
            Polygon([(0, 0), (0, 1), (1, 1)]),
            MultiPolygon([Polygon([(0, 0), (0, 2), (1, 1)])]),
        ],
        crs="EPSG:32631",
    )
    write_geopackage(path, {"catches": catches(), "band": two, "none": two[:0]})
    assert [str(name) for name in pyogrio.list_layers(path)[:, 0]] == ["catches", "band", "none"]
    back = gpd.read_file(path, layer="catches")
    assert list(back["species"]) == list(catches()["species"])
    assert back["time"][0] == pd.Timestamp("2031-06-14T10:05:00Z")
    band = gpd.read_file(path, layer="band")
    assert band.crs == two.crs and list(band["x"]) == [1.5, 2.5]
    assert len(gpd.read_file(path, layer="none")) == 0
    assert pyogrio.read_info(path, layer="band")["layer_metadata"]["DESCRIPTION"] == ABOUT
    assert [item.name for item in tmp_path.iterdir()] == [path.name]


def test_a_failed_write_leaves_the_older_file(tmp_path):
    path = tmp_path / "g.gpkg"
    write_geopackage(path, {"catches": catches()})
    before = path.read_bytes()
    with pytest.raises(OutputError, match="no layer"):
        write_geopackage(path, {})
    twice = catches().assign(fid=[1, 1])  # a key GDAL refuses to write twice
    with pytest.raises((OutputError, RuntimeError)):
        write_geopackage(path, {"good": catches(), "bad": twice})
    assert path.read_bytes() == before
    assert [item.name for item in tmp_path.iterdir()] == ["g.gpkg"]


def test_other_databases_wait_for_the_disk_as_before(tmp_path):
    """The setting is put back for others in the same process, after a failure too."""
    table = gpd.GeoDataFrame({"a": [1]}, geometry=[Point(0, 0)], crs="EPSG:4326")
    setting = "OGR_SQLITE_SYNCHRONOUS"
    (tmp_path / "folder.gpkg").mkdir()
    for before in (None, "NORMAL"):
        pyogrio.set_gdal_config_options({setting: before})
        write_geopackage(tmp_path / "a.gpkg", {"a": table})
        assert pyogrio.get_gdal_config_option(setting) == before
        with pytest.raises(OutputError):
            write_geopackage(tmp_path / "folder.gpkg", {"a": table})
        assert pyogrio.get_gdal_config_option(setting) == before
    pyogrio.set_gdal_config_options({setting: None})


def test_geojson_is_degrees_with_cautions(tmp_path):
    path = tmp_path / "l.geojson"
    table = gpd.GeoDataFrame({"a": [1]}, geometry=[Point(500000, 0)], crs="EPSG:32631")
    write_geojson(path, table)
    content = json.loads(path.read_text(encoding="utf-8"))
    assert content["features"][0]["geometry"]["coordinates"] == pytest.approx([3.0, 0.0], abs=1e-6)
    assert content["description"] == ABOUT
    assert "crs" not in content  # RFC 7946, section 4


def test_csv_layers_and_json_hold_the_same_numbers(tmp_path: Path) -> None:
    table = gpd.GeoDataFrame(
        {"depth_m": [1 / 3, np.nan, -0.00005], "p": [0.123456789, 1.0, 0.0]},
        geometry=gpd.points_from_xy([-33.123456789, -33.0, -33.0], [46.0, 46.0, 46.0]),
        crs="EPSG:4326",
    )
    write_table_csv(tmp_path / "one.csv", table)
    write_geopackage(tmp_path / "one.gpkg", {"one": table})
    write_geojson(tmp_path / "one.geojson", table)
    rows = pd.read_csv(tmp_path / "one.csv", encoding="utf-8-sig")
    for name in ("depth_m", "p"):
        for other in ("one.gpkg", "one.geojson"):
            layer = gpd.read_file(tmp_path / other)
            np.testing.assert_array_equal(layer[name].to_numpy(float), rows[name].to_numpy())
        plain = [row[name] for row in records(table)]
        np.testing.assert_array_equal(plain, rows[name].to_numpy())
    assert rows["depth_m"][0] == 0.33333  # by hand
    assert table["depth_m"][0] == 1 / 3  # the table itself is not touched


def test_cautions_are_beside_a_table_and_nothing_is_written_over(tmp_path: Path) -> None:
    write_table_csv(tmp_path / "one.csv", pd.DataFrame({"depth_m": [1.0]}))
    assert CAUTIONS in (tmp_path / "README.txt").read_text(encoding="utf-8")
    (tmp_path / "README.txt").write_text("mine", encoding="utf-8")
    write_table_csv(tmp_path / "two.csv", pd.DataFrame({"depth_m": [1.0]}))
    assert (tmp_path / "README.txt").read_text(encoding="utf-8") == "mine"
    assert CAUTIONS in (tmp_path / "CAUTIONS.txt").read_text(encoding="utf-8")
