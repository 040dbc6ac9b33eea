"""``seabed season`` and what ``seabed trip`` logs, through the command.  Our own contract.

Outside truth: GDAL reads what is written; the tables that went in.
"""

from __future__ import annotations

import csv
import json
import os
import shutil
import sqlite3
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import shapely
from book_tables import made_entry
from coarse_demo import coarse_demo

from layers.cautions import CAUTIONS_SHORT
from layers.cli.main import main
from layers.logbook import Logbook
from layers.logbook import _book_file as file_module
from layers.logbook import schema as schema_module

DEMO = coarse_demo(4)
DAYS = ("2031-06-14", "2031-06-21")


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """A logbook of two trips of three drifts and fish each."""
    file = tmp_path_factory.mktemp("made") / "log.gpkg"
    Logbook(file).add([made_entry(day) for day in DAYS])
    return file


@pytest.fixture
def folder(tmp_path, monkeypatch, made) -> Path:
    """The current folder, with a copy of that logbook."""
    shutil.copy(made, tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def season(capsys):
    """Run the command; give its exit code, output and errors."""

    def run(*arguments: str, command: str = "season") -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main((command, *arguments))
        told = capsys.readouterr()
        return int(ended.value.code or 0), told.out, told.err

    return run


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def test_list_and_show(folder, season):
    code, out, err = season("--log", "log.gpkg")
    assert (code, err) == (0, "")
    assert "2 trips, 6 drifts, 2.0 rod-hours, 2 kept of 6 fish" in out
    code, out, _ = season("--log", "log.gpkg", "--show", DAYS[1])
    assert code == 0
    assert out.startswith(f"{DAYS[1]}: {DAYS[1]}.gpx, catches.csv\n")
    assert out.count(f"{DAYS[1]} #") == 3
    assert "3 fish, 0 tied to no drift" in out
    answer = json.loads(season("--log", "log.gpkg", "--show", DAYS[0], "--json")[1])
    assert [drift["drift_id"] for drift in answer["drifts"]] == [
        f"{DAYS[0]} #{n}" for n in (1, 2, 3)
    ]
    assert len(answer["catches"]) == 3


def test_a_file_that_is_there_is_not_shared_over(folder, season):
    """Another logbook, say: its trips would be gone."""
    other = Logbook("other.gpkg")
    other.add([made_entry("2031-07-05")])
    before = other.path.read_bytes()
    code, out, err = season("--log", "log.gpkg", "--share", "other.gpkg")
    assert (code, out) == (2, "")
    assert "other.gpkg: exists already, and is not a result of an earlier run" in err
    assert other.path.read_bytes() == before
    code, _, err = season("--log", "log.gpkg", "--share", "other.gpkg", "--replace")
    assert code == 0, err
    code, _, err = season("--log", "log.gpkg", "--share", "other.gpkg")  # ours now
    assert code == 0, err


def test_remove(folder, season):
    code, out, _ = season("--log", "log.gpkg", "--remove", DAYS[0])
    assert code == 0 and out.startswith(f"Removed: {DAYS[0]}")
    assert list(Logbook("log.gpkg").trips()["trip"]) == [DAYS[1]]
    code, out, err = season("--log", "log.gpkg", "--remove", DAYS[0])
    assert code == 2 and out == ""
    assert f"no trip named '{DAYS[0]}'. There are {DAYS[1]}." in err


def test_rank(folder, season):
    code, out, err = season("--log", "log.gpkg", "--rank", "--out", "ranked")
    assert code == 0, err
    assert out.rstrip().endswith(CAUTIONS_SHORT)
    lines = rows_of(folder / "ranked" / "lines.csv")
    assert sum(int(line["drifts"]) for line in lines) == 6
    assert sum(float(line["rod_hours"]) for line in lines) == pytest.approx(
        2.0, abs=5e-4 * len(lines)
    )  # rounded
    assert len(gpd.read_file(folder / "ranked" / "season.gpkg", layer="drifts")) == 6
    assert (folder / "ranked" / "map.html").is_file()
    assert (folder / "ranked" / "marks.gpx").is_file()


def test_the_map_of_a_season_shows_what_the_chart_warns_of(folder, season):
    code, _, err = season("--log", "log.gpkg", "--rank", "--area", str(DEMO / "area.toml"))
    assert code == 0, err
    assert '"kind":"wreck"' in (folder / "season" / "map.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("form", ["csv", "geojson", "geoparquet"])
def test_export(folder, season, form):
    code, out, err = season("--log", "log.gpkg", "--export", form, "--out", "all", "--json")
    assert code == 0, err
    files = {name: Path(path) for name, path in json.loads(out)["files"].items()}
    assert set(files) == {"drifts", "pieces", "catches", "trips"}
    assert [row["trip"] for row in rows_of(files["trips"])] == list(DAYS)
    assert "digest" not in rows_of(files["trips"])[0]
    if form == "csv":
        ids = [row["drift_id"] for row in rows_of(files["drifts"])]
    else:
        read = gpd.read_file if form == "geojson" else gpd.read_parquet
        table = read(files["drifts"])
        ids = list(table["drift_id"])
        put_in = np.concatenate([made_entry(day).drifts.total_bounds for day in DAYS])
        assert table.total_bounds[0] == pytest.approx(put_in[[0, 4]].min(), abs=1e-6)
    assert ids == [f"{day} #{n}" for day in DAYS for n in (1, 2, 3)]


def test_geoparquet_without_its_library_is_one_message(folder, season, monkeypatch):
    monkeypatch.setattr("layers.jobs.season._book.find_spec", lambda _: None)
    code, _, err = season("--log", "log.gpkg", "--export", "geoparquet", "--out", "none")
    assert code == 2
    assert "pip install pyarrow" in err
    assert not (folder / "none").exists()


def test_merge(folder, season):
    other = [made_entry(DAYS[0]), made_entry(DAYS[1], seed=9), made_entry("2031-07-05")]
    Logbook("other.gpkg").add(other)
    before = (folder / "other.gpkg").read_bytes()
    code, out, _ = season("--log", "log.gpkg", "--merge", "other.gpkg")
    assert code == 0
    assert "1 trip added, 1 the same in both" in out
    assert f"1 differ (ours kept; --prefer-other takes the other's): {DAYS[1]}" in out
    assert Logbook("log.gpkg").entry(DAYS[1]).digest() == made_entry(DAYS[1]).digest()
    code, out, _ = season("--log", "log.gpkg", "--merge", "other.gpkg", "--prefer-other")
    assert code == 0 and f"1 differ (the other's taken): {DAYS[1]}" in out
    assert Logbook("log.gpkg").entry(DAYS[1]).digest() == other[1].digest()
    assert (folder / "other.gpkg").read_bytes() == before


def test_merge_may_take_the_other_s_shorter_trip(folder, season):
    Logbook("other.gpkg").add([made_entry(DAYS[0], drifts=1)])
    assert season("--log", "log.gpkg", "--merge", "other.gpkg", "--prefer-other")[0] == 0
    assert list(Logbook("log.gpkg").trips()["drifts"]) == [1, 3]


def test_share(folder, season):
    before = {day: Logbook("log.gpkg").entry(day).digest() for day in DAYS}
    code, out, err = season("--log", "log.gpkg", "--share", "shown.gpkg", "--coarse", "1 km")
    assert code == 0, err
    assert "Positions are middles of squares of 1 km" in out
    shown = gpd.read_file(folder / "shown.gpkg", layer="drifts")
    assert len(shown) == 6 and set(shown.geom_type) == {"Point"}
    exact = np.concatenate(
        [shapely.get_coordinates(made_entry(day).drifts.geometry.to_numpy()) for day in DAYS]
    )
    assert not np.isin(shapely.get_coordinates(shown.geometry.to_numpy()), exact).any()
    assert {day: Logbook("log.gpkg").entry(day).digest() for day in DAYS} == before
    code, out, _ = season("--log", "log.gpkg", "--share", "shown.gpkg", "--coarse", "1100 m")
    assert code == 0 and "Positions are middles of squares of 2 km" in out


def test_update(folder, season, monkeypatch):
    assert season("--log", "log.gpkg", "--update")[1].startswith("The logbook is up to date.")
    newer = schema_module.SCHEMA_VERSION + 1

    def widen(connection: sqlite3.Connection) -> None:
        connection.execute("ALTER TABLE trips ADD COLUMN weather TEXT")

    monkeypatch.setattr(file_module, "SCHEMA_VERSION", newer)
    monkeypatch.setitem(schema_module.MIGRATIONS, newer - 1, widen)
    code, _, err = season("--log", "log.gpkg")
    assert code == 2 and "Bring it up to date with --update" in err
    code, out, _ = season("--log", "log.gpkg", "--update")
    assert code == 0
    (backup,) = (folder / "log.gpkg.backups").iterdir()
    assert out.startswith("Up to date; the old one is kept as log.gpkg.backups")
    assert backup.name in out and backup.name.endswith("Z before update.gpkg")
    assert "2 trips, 6 drifts" in season("--log", "log.gpkg")[1]


def test_restore_and_repair(folder, season):
    code, out, _ = season("--log", "log.gpkg", "--remove", DAYS[0])
    assert code == 0 and "The logbook as it was, with that trip, is kept: log.gpkg.backups" in out
    assert "Remove that file, and older ones beside it, if the trip is to be gone" in out
    code, out, err = season("--log", "log.gpkg", "--restore", "last")
    assert code == 0, err
    assert "before remove.gpkg\n" in out and "before restore.gpkg\n" in out
    assert list(Logbook("log.gpkg").trips()["trip"]) == list(DAYS)
    code, out, err = season("--log", "log.gpkg", "--repair")
    assert code == 0, err
    assert out.startswith("2 trips kept.\nThe damaged file is kept: log.gpkg.backups")
    Path("log.gpkg").write_bytes(b"SQLite format 3\0" + b"\xff" * 5000)
    code, _, err = season("--log", "log.gpkg")
    assert code == 2
    assert "Restore a backup with --restore, save what can be read with --repair, or" in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "no logbook is named. Name it with --log"),
        (("--log", "none.gpkg"), "none.gpkg: no such logbook. Add a trip first"),
        (("--log", "none.gpkg", "--update"), "none.gpkg: no such logbook"),
        (("--log", "log.gpkg", "--show", "x"), "log.gpkg: no trip named 'x'. There are 2031-06-14"),
        (("--log", "log.gpkg", "--remove", "x"), "log.gpkg: no trip named 'x'"),
        (("--log", "log.gpkg", "--show", "x", "--rank"), "--show and --rank at once. Give one"),
        (("--log", "log.gpkg", "--export", "xls"), "--export: 'xls' is not a format. Use csv, "),
        (("--log", "log.gpkg", "--merge", "none.gpkg"), "none.gpkg: no such logbook"),
        (("--log", "log.gpkg", "--merge", "plain.gpkg"), "plain.gpkg: this GeoPackage is not a l"),
        (("--log", "log.gpkg", "--merge", "log.gpkg"), "log.gpkg, --merge: is the logbook its"),
        (("--log", "log.gpkg", "--merge", "hard.gpkg"), "hard.gpkg, --merge: is the logbook its"),
        (("--log", "log.gpkg", "--share", "log.gpkg"), "log.gpkg, --share: is the logbook its"),
        (("--log", "log.gpkg", "--share", "./x/../log.gpkg"), "--share: is the logbook its"),
        (("--log", "log.gpkg", "--share", "hard.gpkg"), "hard.gpkg, --share: is the logbook its"),
        (("--log", "log.gpkg", "--share", "s.gpkg", "--coarse", "50 m"), "50 m would give"),
        (("--log", "log.gpkg", "--share", "s.gpkg", "--coarse", "wide"), "wide"),
        (("--log", "log.gpkg", "--prefer-other"), "--prefer-other: means nothing without --merge"),
        (("--log", "log.gpkg", "--rank", "--coarse", "2 km"), "--coarse: means nothing without"),
        (("--log", "plain.gpkg", "--rank", "--out", "r"), "plain.gpkg: this GeoPackage is not a"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else None,
)  # fmt: skip
def test_refusals_change_nothing(folder, season, arguments, said):
    (folder / "x").mkdir()
    os.link(folder / "log.gpkg", folder / "hard.gpkg")
    gpd.GeoDataFrame({"a": [1]}, geometry=[shapely.Point(0, 0)], crs="EPSG:4326").to_file(
        folder / "plain.gpkg"
    )
    before = contents(folder)
    code, out, err = season(*arguments)
    assert code == 2
    assert said in err and err.startswith("seabed: ")
    assert out == ""
    assert contents(folder) == before


def test_a_trip_is_not_logged_again_without_its_fish(tmp_path, season):
    common = (
        str(DEMO / "trip_2a.gpx"),
        "--timezone",
        "Etc/GMT+2",
        "--log",
        str(tmp_path / "l.gpkg"),
    )
    fish = ("--catches", str(DEMO / "catches.csv"))
    first = season(*common, *fish, "--out", str(tmp_path / "a"), "--json", command="trip")
    assert first[0] == 0, first[2]
    logged = Logbook(tmp_path / "l.gpkg").trips()["fish"].iloc[0]
    assert logged > 0
    before = contents(tmp_path)
    code, out, err = season(*common, "--out", str(tmp_path / "b"), command="trip")
    assert code == 2 and out == ""
    assert f"{DAYS[0]}: {logged} of {logged} fish. Log each" in err and "--replace" in err
    assert contents(tmp_path) == before  # no results either
    again = season(*common, "--out", str(tmp_path / "b"), "--replace", "--json", command="trip")
    assert json.loads(again[1])["logged"]["replaced"] == [DAYS[0]]
    assert list(Logbook(tmp_path / "l.gpkg").trips()["fish"]) == [0]
