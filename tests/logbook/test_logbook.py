"""The logbook: idempotent, whole, locked, read by a GIS.

Outside truth: the GeoPackage standard (OGC 12-128r19) as GDAL reads it, SQLite's own integrity
check, shapely's geometry.
"""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from book_tables import made_entry
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from layers.logbook import Entry, Logbook, coarsened, entries_of, merge, shared_layers
from layers.logbook import store as store_module
from layers.logbook.blobs import from_blobs, to_blobs
from seabed.errors import LogbookError


@pytest.fixture
def book(tmp_path) -> Logbook:
    return Logbook(tmp_path / "Ås 日本.gpkg", wait_s=0.2)


def test_the_same_trip_again_changes_nothing(book):
    entries = [made_entry("2031-06-14"), made_entry("2031-06-21")]
    assert book.add(entries).added == ("2031-06-14", "2031-06-21")
    before = book.trips()
    again = book.add(entries)
    assert again.unchanged == ("2031-06-14", "2031-06-21")
    assert not again.added and not again.replaced
    pd.testing.assert_frame_equal(book.trips(), before)
    assert len(book.drifts()) == 6 and len(book.catches()) == 6


def test_a_corrected_trip_takes_the_place_of_the_old_one_whole(book):
    book.add([made_entry("2031-06-14", drifts=5), made_entry("2031-06-21")])
    corrected = made_entry("2031-06-14", drifts=2, seed=7)
    with pytest.raises(LogbookError, match=r"2031-06-14: 3 of 5 fish, 60 min of track"):
        book.add([corrected])
    assert list(book.trips()["drifts"]) == [5, 3]
    assert book.add([corrected], replace=True).replaced == ("2031-06-14",)
    assert len(book.drifts("2031-06-14")) == len(book.catches("2031-06-14")) == 2
    assert len(book.drifts("2031-06-21")) == 3
    assert list(book.trips()["drifts"]) == [2, 3]


def test_an_evening_after_a_morning_is_a_trip_of_its_own(book):
    morning, evening = made_entry("2031-06-14"), made_entry("2031-06-14", hour=17)
    book.add([morning])
    assert book.add([evening]).added == ("2031-06-14 b",)
    assert list(book.drifts()["drift_id"].str.split(" #").str[0].unique()) == [
        "2031-06-14", "2031-06-14 b",
    ]  # fmt: skip
    assert set(book.catches("2031-06-14 b")["drift_id"]) == set(
        book.drifts("2031-06-14 b")["drift_id"]
    )
    assert book.add([evening]).unchanged == ("2031-06-14 b",)
    whole = replace(morning, end=evening.end)
    with pytest.raises(LogbookError, match=r"2031-06-14 and 2031-06-14 b: .*2 trips becoming one"):
        book.add([whole])
    assert book.add([whole], replace=True).replaced == ("2031-06-14",)
    assert list(book.trips()["trip"]) == ["2031-06-14"]


def test_logging_half_of_a_trip_again_is_refused_and_names_what_would_be_lost(book):
    """Without its catch log; without its first file; without one in the middle."""
    whole = made_entry("2031-06-14", drifts=6)
    book.add([whole])
    before = book.path.read_bytes()
    no_fish = replace(whole, catches=whole.catches.iloc[:0])
    second = replace(
        whole,
        start=whole.drifts["start"].iloc[3],
        drifts=whole.drifts.iloc[3:],
        pieces=whole.pieces.iloc[3:],
    )
    middle = [0, 1, 4, 5]
    holed = replace(whole, drifts=whole.drifts.iloc[middle], pieces=whole.pieces.iloc[middle])
    gap = replace(whole, pieces=whole.pieces.assign(kind=["gap"] * 2 + ["drift"] * 4))
    for less, lost in (
        (no_fish, "6 of 6 fish"),
        (second, "60 min of track"),
        (holed, "20 min of track"),
        (gap, "20 min of track"),
    ):
        with pytest.raises(LogbookError, match=f"2031-06-14: {lost}. Log each.*nothing was chang"):
            book.add([made_entry("2031-06-21"), less])
        assert book.path.read_bytes() == before
    more = replace(whole, pieces=whole.pieces.assign(kind="hold"))  # cut anew: nothing is lost
    assert book.add([more]).replaced == ("2031-06-14",)
    assert book.add([no_fish], replace=True).replaced == ("2031-06-14",)
    assert len(book.catches()) == 0


def test_any_number_of_outings_of_one_date_find_a_name(book):
    outings = [made_entry("2031-06-14", drifts=1, points=2) for _ in range(30)]
    moved = []
    for number, outing in enumerate(outings):
        by = pd.Timedelta(minutes=20 * number)
        moved.append(replace(outing, start=outing.start + by, end=outing.end + by))
    names = book.add(moved).added
    assert names[:2] == ("2031-06-14", "2031-06-14 b")
    assert names[25:28] == ("2031-06-14 z", "2031-06-14 aa", "2031-06-14 ab")
    assert len(set(names)) == 30


def test_what_comes_out_is_what_went_in(book):
    entry = made_entry("2031-06-14")
    book.add([entry])
    back = book.entry("2031-06-14")
    assert back.digest() == entry.digest()
    assert back.files == entry.files
    assert list(back.catches["kept"]) == [True, False, pd.NA]
    assert back.drifts["in_band_s"].isna().all()
    assert np.allclose(back.drifts["hours_from_high"], entry.drifts["hours_from_high"], atol=1e-6)
    assert (back.drifts.geometry.to_numpy() == entry.drifts.geometry.to_numpy()).all()
    assert list(back.drifts["start"]) == list(entry.drifts["start"])


def test_any_gis_opens_it(book):
    """As GDAL reads a GeoPackage, against the tables that went in."""
    entry = made_entry("2031-06-14")
    book.add([entry])
    kinds = dict(pyogrio.list_layers(book.path))
    assert kinds["drifts"] == kinds["pieces"] == "LineString"
    assert kinds["catches"] == "Point"
    assert kinds["trips"] is None
    drifts = gpd.read_file(book.path, layer="drifts")
    assert drifts.crs == "EPSG:4326"
    assert np.allclose(drifts.total_bounds, entry.drifts.total_bounds)
    assert np.allclose(drifts["sog_mps"], entry.drifts["sog_mps"], atol=1e-6)
    assert drifts["start"].dt.tz_convert("UTC").tolist() == entry.drifts["start"].tolist()
    assert "Not for navigation" in pyogrio.read_info(book.path, layer="drifts")["layer_metadata"]["DESCRIPTION"]  # fmt: skip  # noqa: E501
    with sqlite3.connect(book.path) as connection:
        assert connection.execute("PRAGMA application_id").fetchone()[0] == 0x47504B47
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


LINES = st.lists(st.tuples(st.floats(-180, 180), st.floats(-90, 90)), min_size=2, max_size=30).map(
    LineString
)


@settings(max_examples=50)
@given(st.lists(st.one_of(st.none(), st.just(Point()), LINES), max_size=8))
def test_geometry_goes_through_the_blob(shapes):
    back = from_blobs(to_blobs(shapes))
    for was, came in zip(shapes, back, strict=True):
        assert (was is None) == (came is None)
        assert was is None or shapely.equals_exact(was, came)


def test_removing_takes_all_of_a_trip_and_its_bytes(book):
    book.add([made_entry("2031-06-14"), made_entry("2031-06-21")])
    note = b"secret note 1"
    assert note in book.path.read_bytes()
    book.remove("2031-06-14")
    assert list(book.trips()["trip"]) == ["2031-06-21"]
    assert set(book.catches()["trip"]) == set(book.pieces()["trip"]) == {"2031-06-21"}
    book.remove("2031-06-21")
    assert note not in book.path.read_bytes()
    with pytest.raises(LogbookError, match=r"no trip named 'x'. It has no trips"):
        book.remove("x")


def test_a_failure_half_way_leaves_the_trips_that_were_there(book, monkeypatch):
    book.add([made_entry("2031-06-14")])
    insert = store_module.insert_entry

    def failing(connection, entry, digest):
        insert(connection, entry, digest)
        if entry.trip == "2031-07-05":
            raise RuntimeError("power cut")

    monkeypatch.setattr(store_module, "insert_entry", failing)
    with pytest.raises(RuntimeError, match="power cut"):
        book.add([made_entry("2031-06-28"), made_entry("2031-07-05")])
    assert list(book.trips()["trip"]) == ["2031-06-14"]


def test_a_second_writer_waits_then_is_told(book):
    book.add([made_entry("2031-06-14")])
    holder = sqlite3.connect(book.path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with pytest.raises(LogbookError, match=r"another program has been writing.*nothing was chan"):
        book.add([made_entry("2031-06-21")])
    assert len(book.trips()) == 1  # readers are not held up
    holder.execute("ROLLBACK")
    holder.close()
    assert book.add([made_entry("2031-06-21")]).added == ("2031-06-21",)


ADD = """
import sys
sys.path.insert(0, {folder!r})
from book_tables import made_entry
from layers.logbook import Logbook
print("ready", flush=True)
sys.stdin.readline()
for day in {days!r}:
    Logbook({path!r}, wait_s=60).add([made_entry(day, drifts=4, points=400)])
    print(day, flush=True)
"""


def adding(path: Path, days: list[str]) -> subprocess.Popen[str]:
    """A process of its own that adds trips one by one once it is told to."""
    code = ADD.format(folder=str(Path(__file__).parent), days=days, path=str(path))
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


def test_two_writers_at_once_lose_nothing(book):
    """Both also make the file: neither may overwrite the other's."""
    days = [[f"2031-{month:02d}-{day:02d}" for day in range(1, 16)] for month in (5, 6)]
    writers = [adding(book.path, own) for own in days]
    for writer in writers:
        writer.stdin.write("\n")
        writer.stdin.flush()
    assert [writer.wait(timeout=120) for writer in writers] == [0, 0]
    for writer in writers:
        writer.stdin.close()
        writer.stdout.close()
    assert sorted(book.trips()["trip"]) == sorted(days[0] + days[1])


def check_whole(path: Path) -> list[str]:
    """Hold that a logbook has whole trips only; give their names."""
    if not path.exists() or (not path.stat().st_size and not Path(f"{path}-journal").exists()):
        return []
    book = Logbook(path)
    try:
        trips = book.trips()
    except LogbookError as error:
        assert error.what == "the logbook is empty"
        return []
    for name, kind in (("drifts", book.drifts()), ("catches", book.catches())):
        counts = kind.groupby("trip").size()
        assert counts.reindex(trips["trip"]).eq(4).all(), name
        assert set(kind["trip"]) <= set(trips["trip"])
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    return list(trips["trip"])


def added_in_a_fork(path: Path, entry: Entry, wait_s: float | None) -> bool:
    """Add a trip in a fork, killed after `wait_s` (None: never); True if it said it was done."""
    hear, say = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            Logbook(path, wait_s=1).add([entry])
            os.write(say, b".")
        finally:
            os._exit(0)
    os.close(say)  # so that a child that fails is the end of what is heard, not silence
    if wait_s is not None:
        time.sleep(wait_s)
        os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(hear, "rb") as heard:
        return heard.read() == b"."


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX fork")
def test_killed_at_any_moment_only_whole_trips_are_there(tmp_path):
    """Kill -9 at 200 moments, from before the file is made to after the last trip.

    A child adds one trip to a book of none to three, or to what an earlier kill left, and is killed
    a random while after its birth.  The span of that follows the machine, which others may slow
    down, so that about as many get done as not.  What must be left is known: the trips that were
    there, and the new one whole or not at all; whole if the child had said so.
    """
    rng = random.Random(20310614)
    entries = [made_entry(f"2031-06-{day:02d}", drifts=4, points=50) for day in range(1, 5)]
    names = [entry.trip for entry in entries]
    whole = tmp_path / "whole.gpkg"
    begun = [b""]
    begin = time.perf_counter()
    for entry in entries:
        assert added_in_a_fork(whole, entry, None)
        begun.append(whole.read_bytes())
    assert check_whole(whole) == names
    span_s = 2 * (time.perf_counter() - begin) / len(entries)
    before: dict[Path, list[str]] = {}
    done = []
    for moment in range(200):
        path = tmp_path / f"{moment % 4}.gpkg"  # every other one begins with what a kill left
        number = rng.randrange(len(entries))
        if moment % 8 < 4:
            Path(f"{path}-journal").unlink(missing_ok=True)
            path.write_bytes(begun[number])
            if not number:
                path.unlink()
            before[path] = names[:number]
        said = added_in_a_fork(path, entries[number], rng.uniform(0, span_s))
        left = check_whole(path)
        after = sorted({*before[path], names[number]})  # one that is there is not added again
        assert left == after if said else left in (before[path], after)
        done.append(said)
        span_s *= 1 / 1.1 if said else 1.1
        before[path] = left
    assert 20 < sum(done) < 180


def test_a_newer_a_foreign_and_a_damaged_file_are_refused(book, tmp_path):
    book.add([made_entry("2031-06-14")])
    with sqlite3.connect(book.path) as connection:
        connection.execute("UPDATE logbook_info SET value = '99' WHERE name = 'schema_version'")
    for use in (book.trips, lambda: book.add([made_entry("2031-06-21")])):
        with pytest.raises(LogbookError, match=r"newer seabed-layers \(version 99.*Update seabed"):
            use()
    foreign = tmp_path / "other.gpkg"
    gpd.GeoDataFrame({"a": [1]}, geometry=[Point(0, 0)], crs="EPSG:4326").to_file(foreign)
    content = foreign.read_bytes()
    with pytest.raises(LogbookError, match="is no logbook"):
        Logbook(foreign).add([made_entry("2031-06-14")])
    assert foreign.read_bytes() == content
    damaged = tmp_path / "damaged.gpkg"
    damaged.write_bytes(b"not a database at all" * 100)
    with pytest.raises(LogbookError, match="damaged, or no logbook"):
        Logbook(damaged).trips()
    with pytest.raises(LogbookError, match=r"no such logbook. Add a trip first"):
        Logbook(tmp_path / "none.gpkg").trips()
    with pytest.raises(LogbookError, match="can't be"):
        Logbook(tmp_path).add([made_entry("2031-06-14")])


def test_merging_adds_what_is_missing_and_reports_what_differs(tmp_path):
    ours, theirs = Logbook(tmp_path / "a.gpkg"), Logbook(tmp_path / "b.gpkg")
    ours.add([made_entry("2031-06-14"), made_entry("2031-06-21")])
    theirs.add(
        [made_entry("2031-06-14"), made_entry("2031-06-21", seed=9), made_entry("2031-07-05")]
    )
    content = theirs.path.read_bytes()
    done = merge(ours, theirs)
    assert (done.added, done.same, done.differing) == (
        ("2031-07-05",), ("2031-06-14",), ("2031-06-21",),
    )  # fmt: skip
    assert ours.entry("2031-06-21").digest() == made_entry("2031-06-21").digest()
    assert merge(ours, theirs).added == ()
    assert merge(ours, theirs, prefer_other=True).differing == ("2031-06-21",)
    assert ours.entry("2031-06-21").digest() == made_entry("2031-06-21", seed=9).digest()
    assert theirs.path.read_bytes() == content
    fresh = Logbook(tmp_path / "c.gpkg")
    assert len(merge(fresh, theirs).added) == 3


def test_a_shared_copy_holds_no_original_coordinate(book, tmp_path):
    """Every number of eight bytes and every text in the file, against every original coordinate."""
    from layers.exports import write_geopackage

    entries = [made_entry("2031-06-14", drifts=6), made_entry("2031-06-21", drifts=6)]
    book.add(entries)
    target = tmp_path / "shown.gpkg"
    write_geopackage(target, shared_layers(book, 1000.0))
    content = target.read_bytes()
    original = np.unique(
        np.concatenate([
            shapely.get_coordinates(table.geometry.to_numpy()).ravel()
            for entry in entries
            for table in entry.tables.values()
        ])
    )  # fmt: skip
    for value in original:
        for order in ("<f8", ">f8"):
            assert np.array(value, order).tobytes() not in content
        assert f"{value:.7f}".encode() not in content
    assert b"secret note" not in content and b".gpx" not in content
    layers = pyogrio.list_layers(target)[:, 0]
    assert set(layers) == {"drifts", "catches"}
    drifts = gpd.read_file(target, layer="drifts")
    assert len(drifts) == 12
    assert not {"course_deg", "depth_mean_m", "start", "note"} & set(drifts.columns)
    # no nearer than chance: the middles are on a lattice that the fish have no part in
    assert len(drifts.geometry.unique()) <= 12
    with pytest.raises(LogbookError, match=r"50 m would give the spots away. Give 100 m"):
        shared_layers(book, 50.0)


@given(
    st.floats(-180, 180, allow_subnormal=False),
    st.floats(-85, 85, allow_subnormal=False),
    st.floats(100, 20_000),
)
def test_coarse_positions_say_no_more_than_their_square(longitude, latitude, size_m):
    """All places of a square give one position, within half its diagonal (geodesic, by PROJ)."""
    from pyproj import Geod

    east, north = coarsened(np.array([longitude]), np.array([latitude]), size_m)
    again = coarsened(east, north, size_m)
    assert np.allclose(again[0], east) and np.allclose(again[1], north)
    away = Geod(ellps="WGS84").inv(longitude, latitude, float(east[0]), float(north[0]))[2]
    assert away <= size_m * np.sqrt(0.5) * 1.02 + 0.01  # 1 %: ellipsoid; 1 %: the row's width


def test_entries_part_what_was_worked_out_by_trip():
    """Fish of other days are in no entry; an untied fish of the day is in its trip."""
    day, other = made_entry("2031-06-14"), made_entry("2031-06-21")
    pieces = pd.concat(
        [entry.pieces.assign(outing=i) for i, entry in enumerate((day, other))], ignore_index=True
    )
    pieces["piece_id"] = range(len(pieces))
    drifts = pd.concat([day.drifts, other.drifts], ignore_index=True).assign(
        piece_id=pieces["piece_id"]
    )
    free = day.catches.iloc[[0, 0, 0]].assign(
        drift_id="",
        time=pd.to_datetime(["2031-06-14T20:00Z", "2031-06-30T08:00Z", "2031-06-21T09:30Z"]),
    )
    catches = pd.concat([day.catches, other.catches, free], ignore_index=True)
    first, second = entries_of(
        pieces, drifts, catches, files=["C/x.gpx", "x.gpx"], timezone="Etc/GMT+2"
    )
    assert (first.trip, second.trip) == ("2031-06-14", "2031-06-21")
    assert len(first.catches) == 4 and len(second.catches) == 4
    assert first.files == ("x.gpx",)
    assert first.totals() == {"drifts": 3, "rod_hours": pytest.approx(1.0), "kept": 2, "short": 1,
                              "fish": 4}  # fmt: skip


def test_an_untied_fish_without_a_time_is_in_a_trip(book):
    """With its neighbours in the file; without any, with the track that passes nearest."""
    day, other = made_entry("2031-06-14"), made_entry("2031-06-21")
    pieces = pd.concat(
        [
            day.pieces.assign(outing=0),
            other.pieces.assign(outing=1, geometry=other.pieces.translate(0.5)),
        ],
        ignore_index=True,
    )
    pieces["piece_id"] = range(len(pieces))
    drifts = pd.concat([day.drifts, other.drifts], ignore_index=True).assign(
        piece_id=pieces["piece_id"]
    )
    caught = pd.concat([day.catches, other.catches], ignore_index=True)
    caught["row"] = range(2, len(caught) + 2)
    lone = caught.iloc[[0] * 5].assign(
        drift_id="", time=pd.NaT, species="lantern gurnard",
        file=["catches.csv"] * 3 + ["marks.gpx"] * 2, row=[1, 4, 9, 1, 2],
    )  # fmt: skip
    lone["time"] = pd.to_datetime(lone["time"], utc=True)
    lone.geometry = [Point(), Point(), Point(), Point(-32.9, 46.2), Point(-33.4, 46.2)]
    catches = pd.concat([caught, lone], ignore_index=True)
    catches = catches.assign(longitude=catches.geometry.x, latitude=catches.geometry.y)
    parts = entries_of(pieces, drifts, catches, timezone="Etc/GMT+2")
    assert [sorted(set(part.catches["row"]) & {1, 9}) for part in parts] == [[1], [1, 9]]
    assert [(part.catches["species"] == "lantern gurnard").sum() for part in parts] == [3, 2]
    book.add(parts)
    assert book.add(parts).unchanged == ("2031-06-14", "2031-06-21")
    kept = book.catches()
    assert len(kept) == 11 and kept["time"].isna().sum() == 5
    assert list(book.trips()["fish"]) == [6, 5]
