"""Pages of a table filled by hand, held against SQLite's own reading and checking of them."""

import sqlite3
from contextlib import closing

import numpy as np
import pandas as pd
import pyogrio
import pytest

from layers.exports import sqlite_rows
from layers.exports.soundings_file import write_soundings
from layers.exports.sqlite_rows import REAL, TIME, WHOLE, WORD, append_rows
from seabed.soundings.schema import sounding_table

WORDS = [b"", "trübe".encode(), b"w" * 200]
KINDS = [TIME, REAL, WHOLE, WORD]


def made(count):
    random = np.random.default_rng(7)
    times = random.integers(-(10**13), 8 * 10**12, count).astype(float)  # years 1653 to 2223
    values = np.column_stack([
        times, random.normal(0, 1e4, count),
        random.integers(-(2**31), 2**31, count) * random.choice([1, 1, 512], count),
        random.integers(0, len(WORDS), count),
    ])  # fmt: skip
    values[random.random(values.shape) < 0.1] = np.nan
    return values


def filled(path, values, at_once=1000):
    with closing(sqlite3.connect(path)) as base, base:
        base.execute("CREATE TABLE t (fid INTEGER PRIMARY KEY, a TEXT, b FLOAT, c INTEGER, d TEXT)")
    nowhere = np.zeros((at_once, 2))
    parts = ((values[i : i + at_once], nowhere) for i in range(0, len(values), at_once))
    return append_rows(path, "t", KINDS, parts, WORDS)


def as_said(values):
    def one(row):
        time, real, whole, word = row
        stamp = None if np.isnan(time) else str(np.datetime64(int(time), "ms")) + "Z"
        return (
            stamp,
            None if np.isnan(real) else real,
            None if np.isnan(whole) else int(whole),
            None if np.isnan(word) else WORDS[int(word)].decode(),
        )

    return [one(row) for row in values.tolist()]


# 1 row is a leaf alone, 300 one level of inner pages, 40,000 two of them.
@pytest.mark.parametrize("count", [0, 1, 30, 300, 40_000])
def test_sqlite_finds_every_row_and_no_fault_in_the_file(tmp_path, count):
    path, values = tmp_path / "a.sqlite", made(count)
    assert filled(path, values) == count
    with closing(sqlite3.connect(path)) as base:
        assert base.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert base.execute("SELECT a, b, c, d FROM t").fetchall() == as_said(values)
        last = base.execute("SELECT fid, c FROM t WHERE fid = ?", (count,)).fetchone()
        assert last is None if not count else last[0] == count
        base.execute("INSERT INTO t (b) VALUES (1.5)")  # and goes on from there
        assert base.execute("SELECT max(fid) FROM t").fetchone() == (count + 1,)
        assert base.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def test_the_page_that_locks_need_is_passed_over(tmp_path, monkeypatch):
    """The real one lies 1 GiB into the file: with another, SQLite sees a page that is not used."""
    monkeypatch.setattr(sqlite_rows, "_LOCK_OCTET", 100 * 4096)
    path, values = tmp_path / "a.sqlite", made(5_000)
    filled(path, values)
    with closing(sqlite3.connect(path)) as base:
        (said,) = base.execute("PRAGMA integrity_check").fetchall()
        assert said[0].split("\n")[-1] == "Page 101 is never used"
        assert base.execute("SELECT a, b, c, d FROM t").fetchall() == as_said(values)


def test_soundings_come_back_from_the_layer_as_they_were(tmp_path):
    count = 3_000
    random = np.random.default_rng(1)
    soundings = sounding_table(
        time=np.datetime64("2031-06-01T00:00", "ms") + np.arange(count) * 500,
        longitude=np.where(np.arange(count) == 5, np.nan, random.uniform(-33.5, -33.4, count)),
        latitude=np.where(np.arange(count) == 5, np.nan, random.uniform(46.1, 46.2, count)),
        measured_m=random.uniform(1, 20, count),
        flag=pd.Categorical(random.choice(["", "spike"], count)),
        file=pd.Categorical(["näher.nmea"] * count),
        row=np.arange(count) * 2 + 1,
    )
    write_soundings(tmp_path / "s.gpkg", soundings)
    back = pyogrio.read_dataframe(tmp_path / "s.gpkg")
    assert back.crs.to_epsg() == 4326
    assert back.geometry.isna().sum() == 1
    for name, side in (("longitude", back.geometry.x), ("latitude", back.geometry.y)):
        np.testing.assert_array_equal(side, soundings[name])
    for name in back.columns.drop("geometry"):
        assert back[name].isna().equals(soundings[name].isna()), name
        there = back[name].notna()
        assert (back[name][there] == soundings[name].astype(back[name].dtype)[there]).all(), name
    bounds = pyogrio.read_info(tmp_path / "s.gpkg")["total_bounds"]
    np.testing.assert_allclose(bounds, back.total_bounds)
