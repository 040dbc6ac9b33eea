"""What kind a file is, by what is in it.  Our own contract.

The NMEA 0183 sentence is a published example.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import rasterio
from book_of_kinds import KINDS
from rasterio.transform import from_origin

from layers.area import default_area
from layers.cli.main import main
from layers.jobs.check import run
from layers.jobs.check._checking import check_file
from layers.jobs.check._kinds import kind_of
from layers.jobs.requests import CheckRequest
from layers.logbook import Logbook
from seabed.errors import SeabedError


@pytest.mark.parametrize(("name", "text", "kind"), KINDS)
def test_the_kind_is_recognised(tmp_path, name, text, kind):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    assert kind_of(str(path)) == kind


def test_wide_text_is_recognised(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("Date\tTime\tSpecies\n2031-06-14\t08:30\tdab\n", encoding="utf-16")
    assert kind_of(str(path)) == "catch log"


def test_a_web_address_is_a_grid():
    assert kind_of("https://example.org/area.toml") == "depth grid"


def test_no_such_file(tmp_path):
    with pytest.raises(SeabedError, match=r"no such file. Check the name"):
        kind_of(str(tmp_path / "none"))


def test_an_unreadable_file_is_reported_not_raised(tmp_path):
    path = tmp_path / "a.gpx"
    path.write_text("<gpx><trk><trkseg><trkpt", encoding="utf-8")
    checked = check_file(str(path), default_area())
    assert not checked.usable
    assert checked.kind == "GPX, or meant to be"
    assert len(checked.wrong) == 1
    assert checked.wrong


def test_a_logbook_and_what_is_none(tmp_path):
    import sqlite3

    path = tmp_path / "log.gpkg"
    Logbook(path).add([])
    checked = check_file(str(path), default_area())
    assert checked.usable and checked.facts["trips"] == "0"
    other = tmp_path / "other.gpkg"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE a (b)")
    checked = check_file(str(other), default_area())
    assert not checked.usable
    assert "is not a logbook" in checked.wrong[0][0]


def test_an_area_file_that_names_what_is_not_there(tmp_path):
    path = tmp_path / "area.toml"
    gone = '[grid]\nfiles = ["gone.tif"]\n[charts]\nfiles = ["gone.000"]\n'
    path.write_text(gone, encoding="utf-8")
    checked = check_file(str(path), default_area())
    assert not checked.usable
    assert "{grid.files}: " in checked.wrong[0][0]
    assert "no such file" in checked.wrong[1][0]


DEMO = Path(__file__).parents[2] / "demo_area"


@pytest.fixture(scope="module")
def water(tmp_path_factory):
    """The demo area's files beside files that something is wrong with."""
    folder = tmp_path_factory.mktemp("water")
    for name in ("sound.tif", "tide_table.csv", "current_table.csv", "XX5TOLLI.000"):
        shutil.copy(DEMO / name, folder)
    (folder / "cut.tif").write_bytes((DEMO / "sound.tif").read_bytes()[:5000])
    (folder / "cut.000").write_bytes((DEMO / "XX5TOLLI.000").read_bytes()[:2000])
    (folder / "bad_tide.csv").write_text("time,height_m\nyesterday,0.2\n", encoding="utf-8")
    (folder / "no_log.gpkg").write_text("hello", encoding="utf-8")
    station = {
        "format": "seabed-layers station 1",
        "heights": {"unit": "m", "phase": "Greenwich", "datum": "MSL", "mean_level": 0.0,
                    "constituents": [{"name": "M2", "amplitude": 1.0, "phase": 30.0}]},
    }  # fmt: skip
    (folder / "above_msl.json").write_text(json.dumps(station), encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"sound.tif"', '"cut.tif"', "{{grid.files}}: {}/cut.tif: this is not a grid"),
        (
            '"sound.tif"',
            '"."',
            "{{grid.files}}: {}: this is a folder, where a depth grid is wanted",
        ),
        ('"XX5TOLLI.000"', '"cut.000"', "{{charts.files}}: {}/cut.000: this is not an S-57 chart"),
        ('"XX5TOLLI.000"', '"sound.tif"', "{}/sound.tif: this is a depth grid, where a chart is"),
        (
            "tide_table.csv",
            "bad_tide.csv",
            "{{water.heights}}: {}/bad_tide.csv: line 2, column 'time'",
        ),
        ("current_table", "tide_table", "this is a table of tide heights, where a table of curr"),
        ("skiff, V-hull", "canoe", "{{boat.craft}}: unknown craft 'canoe'"),
        (
            "[grid]",
            '[logbook]\nfile = "no_log.gpkg"\n[grid]',
            "no_log.gpkg: damaged, or not a logb",
        ),
        ("46°11.779'N", "11°11.779'N", "{{plan.launch}}: 35 degrees off the grid"),
        (
            "Etc/GMT+2",
            "Asia/Tokyo",
            "The time zone Asia/Tokyo is 11 hours ahead of the sun at this",
        ),
        ("tide_table.csv", "above_msl.json", "depths are measured from MLLW and tide heights from"),
    ],
)
def test_an_area_file_is_checked_with_all_that_it_names(water, old, new, said):
    path = water / "area.toml"
    text = (DEMO / "area.toml").read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    checked = check_file(str(path), default_area())
    assert said.format(water) in " ".join(what for what, _ in checked.wrong)
    assert all(do for _, do in checked.wrong)
    warned = (
        "launch",
        "measured from",
        "time zone",
    )  # that may be meant; the others stop a command
    assert checked.usable == any(word in said for word in warned)


def test_a_datum_that_the_area_file_names_is_not_missed(water):
    with rasterio.open(water / "sound.tif") as file:
        depth, profile = file.read(), file.profile
    with rasterio.open(water / "nameless.tif", "w", **profile) as file:
        file.write(depth)
    path = water / "nameless.toml"
    text = (DEMO / "area.toml").read_text(encoding="utf-8").replace("sound.tif", "nameless.tif")
    path.write_text(text, encoding="utf-8")
    assert check_file(str(path), default_area()).wrong == []
    path.write_text(text.replace("vertical_datum", "# vertical_datum"), encoding="utf-8")
    ((what, _),) = check_file(str(path), default_area()).wrong
    assert "no vertical datum is named, so tide heights can't be added safely" in what


def test_the_area_file_of_the_demo_is_well(water):
    checked = check_file(str(DEMO / "area.toml"), default_area())
    assert checked.usable and checked.wrong == []
    assert "XX5TOLLI.000 (chart)" in checked.facts["names"]


def test_one_file_that_is_not_there_does_not_hide_the_others(tmp_path, capsys):

    with pytest.raises(SystemExit) as ended:
        main(["check", str(tmp_path / "none.tif"), str(tmp_path), str(DEMO / "tide_table.csv")])
    assert ended.value.code == 2
    told = capsys.readouterr()
    assert "none.tif: file\n  ! no such file. Check the name and the folder.\n" in told.out
    assert f"{tmp_path}: folder\n  for results  yes" in told.out
    assert "table of tide heights" in told.out and told.err == ""


def test_a_folder_says_whether_results_can_go_there(tmp_path, monkeypatch):
    import layers.jobs.check._area_files as module

    (tmp_path / ".writing-abc").mkdir()
    monkeypatch.setattr(module.os, "access", lambda *_: False)
    monkeypatch.setattr(module.shutil, "disk_usage", lambda _: SimpleNamespace(free=3_000_000))
    checked = check_file(str(tmp_path), default_area())
    assert not checked.usable
    assert [what for what, _ in checked.wrong] == [
        "nothing can be written here",
        "only 3 MB are free on its disk",
        "a command was killed while it wrote here: .writing-abc",
    ]


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("a.kml", "<kml></kml>", "this is KML, which is not read. Export the tracks and marks as"),
        ("a.csv", "2031-06-14 10:00,flounder,30\n", "head its columns, like time, species, length"),
        (
            "a.csv",
            "time,height_m,kind\n2031-06-14 03:00,1.2,high\n",
            "so few heights do not show the water between",
        ),
        ("a.csv", "PK\x03\x04", "or a spreadsheet's workbook, not a grid of depths. Unpack it, or"),
        ("a.json", "{", "not JSON"),
        ("a.jpg", "\xff\xd8", "no photo (JPEG or HEIC). Give the photo as the camera made it"),
    ],
)
def test_a_fault_is_reported_with_what_to_do(tmp_path, name, text, said):
    path = tmp_path / name
    path.write_text(text, encoding="latin-1")
    checked = check_file(str(path), default_area())
    assert said in " ".join(f"{what.rstrip('.')}. {do}" for what, do in checked.wrong)
    assert not checked.usable


def test_what_other_commands_refuse_is_not_called_usable(tmp_path):
    """``scout`` takes neither a strip nor depths beyond any sea."""
    for name, depth in (("strip.tif", np.ones((2, 50))), ("deep.tif", np.full((9, 9), 12e3))):
        with rasterio.open(
            tmp_path / name, "w", driver="GTiff", height=depth.shape[0], width=depth.shape[1],
            count=1, dtype="float32", crs="EPSG:32625", transform=from_origin(466e3, 5118e3, 4, 4),
        ) as file:  # fmt: skip
            file.write(depth.astype("float32"), 1)
        assert not check_file(str(tmp_path / name), default_area()).usable


def test_results_are_not_taken_for_a_logbook(tmp_path):
    import geopandas as gpd
    from shapely.geometry import LineString

    table = gpd.GeoDataFrame(
        {"line": ["N1"]}, geometry=[LineString([(0, 0), (1, 1)])], crs="EPSG:4326"
    )
    table.to_file(tmp_path / "trip.gpkg", layer="lines", driver="GPKG")
    checked = check_file(str(tmp_path / "trip.gpkg"), default_area())
    assert checked.usable and checked.kind == "results of seabed"


def table(folder: Path, text: str, name: str = "table.csv") -> str:
    (folder / name).write_text(text, encoding="utf-8")
    return str(folder / name)


TIDE = "time,height_m\n2031-06-14 03:12,1.9\n2031-06-14 09:30,0.1\n2031-06-14 15:50,1.8\n"


@pytest.mark.parametrize(
    ("name", "text", "kind"),
    [
        ("wind.csv", "time,speed_kn,from\n2031-06-14 06:00,8,SW\n", "table of wind"),
        ("t.txt", "14 June 2031\n3:12 AM high 6.2 ft\n9:30 AM low 1 ft\n", "table of tide heights"),
        ("a.csv", "Date,Time,Tide,Height (ft)\n2031-06-14,3:12,High,6\n2031-06-14,9:30,Low,1\n",
         "table of tide heights"),
        ("marks.gpx", '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="46" '
         'lon="3"><name>keeper 16 in</name></wpt><wpt lat="46" lon="3"><name>rock</name></wpt>'
         '<wpt lat="46" lon="3"><name>BACK T TH</name></wpt></gpx>',
         "GPX"),
    ],
)  # fmt: skip
def test_files_as_people_have_them_are_known(tmp_path, name, text, kind):
    checked = check_file(table(tmp_path, text, name), default_area())
    assert checked.kind == kind and checked.usable, checked.wrong
    if kind == "GPX":
        assert checked.facts["waypoints"] == (
            "3, of which {seabed trip} counts 1 as fish: keeper 16 in"
        )


@pytest.mark.parametrize(
    ("name", "text", "why"),
    [
        ("a.csv", "Datum;Uhrzeit;Fischart;Köder;Wetter\n14.06.2031;08:30;Butt;Wurm;Regen\n",
         "its headings: Datum, Uhrzeit, Fischart, Köder"),
        ("a.csv", TIDE, "its headings: time, height_m"),
        ("t.txt", "14 June 2031\n3:12 AM high 6.2 ft\n9:30 AM low 1 ft\n",
         "lines with times and heights"),
        ("a.toml", "", None),
        ("a.csv", "time,species\nnonsense,dab\n", "its headings: time, species"),
        ("a.csv", "2031-06-14 10:00,flounder,30\n", None),
    ],
)  # fmt: skip
def test_what_a_kind_is_known_by_is_said(tmp_path, name, text, why):
    assert check_file(table(tmp_path, text, name), default_area()).facts.get("known by") == why


def test_an_address_in_an_area_file_is_not_asked(tmp_path, monkeypatch):
    """The file may be a stranger's; the host would learn of it."""
    monkeypatch.setattr("seabed.loaders.describe", lambda *_, **__: pytest.fail("it was asked"))
    monkeypatch.setattr("seabed.loaders.open_grid", lambda *_, **__: pytest.fail("it was asked"))
    address = "http://127.0.0.1:9/a.tif"
    checked = check_file(
        table(tmp_path, f'[grid]\nfiles = ["{address}"]\n', "area.toml"), default_area()
    )
    assert checked.usable
    assert checked.wrong == [
        (
            f"{{grid.files}}: {address}: on the network, and was not fetched",
            f"Check it by name: {{seabed check}} {address}",
        )
    ]


def test_sentences_are_not_called_a_grid(tmp_path):
    words = "We left before dawn, and drifted over the bar.\nTwo boats were there.\n"
    checked = check_file(table(tmp_path, words, "diary.txt"), default_area())
    assert checked.kind == "text" and not checked.usable
    assert "not a table or a log" in checked.wrong[0][0] and "head its" in checked.wrong[0][1]


def test_a_folder_is_gone_through(tmp_path):
    table(tmp_path, TIDE, "a.csv")
    table(tmp_path, "time,species\n2031-06-14 08:30,dab\n", "b.csv")
    table(tmp_path, "x", ".hidden")
    result = run(CheckRequest(files=(str(tmp_path),)))
    assert [one.kind for one in result.checked] == [
        "folder", "table of tide heights", "catch log",
    ]  # fmt: skip


def grid_file(file, bands, *, cell=25.0, crs="EPSG:32631"):
    rows, columns = bands[0].shape
    with rasterio.open(
        file, "w", driver="GTiff", height=rows, width=columns, count=len(bands), dtype="float32",
        crs=crs, transform=from_origin(5e5, 6e6, cell, cell), nodata=-9999.0,
    ) as out:  # fmt: skip
        for number, band in enumerate(bands, 1):
            out.write(band.astype("float32"), number)
            out.set_band_description(number, ("elevation", "uncertainty")[number - 1])
    return file


def test_what_scout_will_meet_is_said(tmp_path):
    """Coarse cells, an uncertainty that is none, and cells whose size nothing tells."""
    depth = -20 - np.random.default_rng(0).random((40, 50))
    void, sure = np.full((40, 50), -9999.0), np.full((40, 50), 0.3)
    coarse = check_file(str(grid_file(tmp_path / "coarse.tif", [depth, void])), default_area())
    faults = dict(coarse.wrong)
    assert "cells of 25 m show no edge narrower than 50 m" in faults
    assert "its uncertainty is void in every cell" in faults
    assert coarse.facts["uncertainty"] == ""
    assert coarse.usable
    fine = check_file(
        str(grid_file(tmp_path / "fine.tif", [depth, sure], cell=4.0)), default_area()
    )
    assert fine.facts["uncertainty"] == "in the file"
    assert not any("narrower" in what or "void in" in what for what, _ in fine.wrong)
    lost = check_file(
        str(grid_file(tmp_path / "lost.tif", [depth], cell=2.0067, crs=None)), default_area()
    )
    assert lost.facts["cell size"].startswith("2.0067 x 2.0067")
    assert "nan" not in lost.facts["cell size"]
