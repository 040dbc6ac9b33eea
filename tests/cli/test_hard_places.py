"""Every command: where nothing may be written, on a full disk, killed, two at once.

All of it in a folder with blanks and letters of many scripts, in the plain locale, without a home.
"""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import pyogrio
import pytest
import rasterio
from coarse_demo import coarse_demo
from hard_places import OLD
from thoroughness import THOROUGH

from layers.cautions import CAUTIONS
from layers.cli.app import COMMANDS
from seabed.files import LIST

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="permissions, limits and signals of Linux"
)

ROOT = Path(__file__).parents[2]
BOX = "-33.392,46.190,-33.380,46.197"
OUT = "OUT ö"
AREA = ["--area", "area.toml"]
DAY = ["--date", "2031-06-14"]
LOG = ["--log", "log.gpkg"]
TRIPS = "plain trip ö/trip.gpkg"
TRIP = ["trip", "trip_2a.gpx", *AREA, "--catches", "catches.csv"]
WRITING = {
    "demo": ["demo", "--out", OUT],
    "area": ["area", "--replace", "--out", f"{OUT}/area.toml"],
    "scout": ["scout", *AREA, "--out", OUT],
    "tide": ["tide", *AREA, *DAY, "--out", OUT],
    "learn": ["tide", *AREA, "--learn", "trip_2a.gpx", "--out", OUT],
    "plan": ["plan", *AREA, *DAY, "--from", "9:00", "--to", "9:15", "--out", OUT],
    "again": ["plan", *AREA, *DAY, *LOG, "--again", "2031-06-14 #1", "--out", OUT],
    "trip": [*TRIP, "--out", OUT],
    "log": [*TRIP, "--log", f"{OUT}/log.gpkg", "--out", OUT],
    "rank": ["season", *AREA, "--rank", *LOG, "--out", OUT],
    "export": ["season", "--export", "csv", *LOG, "--out", OUT],
    "share": ["season", "--share", f"{OUT}/shared.gpkg", *LOG],
    "soundings": ["soundings", "boat.csv", *AREA, "--out", OUT],
    "marks": ["marks", TRIPS, "--out", f"{OUT}/marks.gpx"],
    "picture": ["picture", *AREA, "--zoom", "12-13" if THOROUGH else "12", "--kind", "mbtiles",
                "--kind", "kmz", "--structure", TRIPS, "--out", OUT],
}  # fmt: skip
READING = {
    "check": ["check", "area.toml", "boat.csv", "log.gpkg", "catches.csv", TRIPS],
    "listed": ["season", *LOG],
    "told": ["tide", *AREA, *DAY],
}
BIG = {"demo"}  # of which the rest holds one part each
# second forms of a command, and what is worked out in such a folder by other tests
ALIKE = {"learn", "again", "log", "told", "rank", "scout", "picture", "check"}
if THOROUGH:
    ALIKE = set()
# the others read what the trip leaves
PLAIN = ["trip"] + [n for n in (*READING, *WRITING) if n not in {"trip"} | BIG | ALIKE]
# Since all is written through one helper, each place is held for some of each kind of writer; all
# pairs are tried where SEABED_THOROUGH is set.
FORBIDDEN = {"demo", "area", "tide", "export", "share", "marks"}
FULL = {"export", "share"}
ALMOST = {"tide", "export", "soundings"}
OVER_OLDER = {"almost", "kill"}
KILLED = {"area", "export", "marks"}
TWICE = {"export", "marks"}  # two that log: tests/logbook
if THOROUGH:
    FORBIDDEN = FULL = set(WRITING)
    ALMOST |= {"scout", "trip"}
    KILLED = {name for name in WRITING if name not in {*BIG, "share", "log"}}
    # `share` refuses a file that is there; how the logbook is killed is in tests/logbook
    TWICE = set(WRITING) - {*BIG, "share"}
JOBS = [
    *(("", name) for name in PLAIN),
    *(
        (hard, name)
        for hard, names in (
            ("permissions", FORBIDDEN), ("size", FULL), ("almost", ALMOST),
            ("kill", KILLED), ("twice", TWICE),
        )
        for name in WRITING
        if name in names
    ),
]  # fmt: skip


def folder_of(hard: str, name: str) -> str:
    return f"{hard or 'plain'} {name} ö"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """The demo's files, an area that is a corner of it, a sounder's log."""
    folder = tmp_path_factory.mktemp("hard") / "Ås fjord 日本 (kopi)"
    folder.mkdir()
    for file in coarse_demo(4).iterdir():
        if file.is_file() and file.suffix not in {".py", ".md"}:
            shutil.copy(file, folder)
    area = (folder / "area.toml").read_text(encoding="utf-8")
    (folder / "area.toml").write_text(
        area.replace("[grid]\n", f'[grid]\nbox = "{BOX}"\n'), encoding="utf-8"
    )
    rows = [
        f"2031-06-14T10:{i // 30:02d}:{i % 30 * 2:02d}Z,{46.191 + 2e-5 * i:.6f},-33.386,{8 + i % 7}"
        for i in range(240)
    ]
    log = "\n".join(["time,lat,lon,depth_m", *rows, ""])
    (folder / "boat.csv").write_text(log, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def ends(place):
    """What each command does in each hard place."""
    jobs = [
        {
            "words": [word.replace(OUT, folder_of(hard, name)) for word in
                      ({**WRITING, **READING}[name])] + ["--replace"] * (hard in OVER_OLDER)
            + LOG * ((hard, name) == ("", "trip")),
            "hard": hard,
            "out": folder_of(hard, name),
            "like": folder_of("", name),
        }
        for hard, name in JOBS
    ]  # fmt: skip
    (place / "jobs.json").write_text(json.dumps(jobs), encoding="utf-8")
    kept = {"PATH", "LD_LIBRARY_PATH", "NUMBA_CACHE_DIR", "OPENBLAS_NUM_THREADS", "PYTHONPATH"}
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("hard_places.py")), "jobs.json"],
        cwd=place, capture_output=True, text=True, encoding="utf-8", timeout=900, check=False,
        env={"LC_ALL": "C", **{name: os.environ[name] for name in kept if name in os.environ}},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return dict(zip(JOBS, json.loads(done.stdout), strict=True))


def test_no_command_is_left_out():
    told = {words[0] for words in (*WRITING.values(), *READING.values())}
    assert told == set(COMMANDS)


def files_in(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and ".writing-" not in str(path) and not path.name.startswith(LIST)
    }


@pytest.mark.parametrize("name", PLAIN)
def test_a_folder_of_many_scripts_in_the_plain_locale_without_a_home(place, ends, name):
    codes, said = ends["", name]
    assert codes == [0], said
    assert "Traceback" not in said
    assert bool(files_in(place / folder_of("", name))) == (name in WRITING)


@pytest.mark.parametrize(
    ("hard", "name"), [job for job in JOBS if job[0] in {"permissions", "size"}]
)
def test_where_nothing_can_be_written_it_is_said_in_one_message(place, ends, hard, name):
    codes, said = ends[hard, name]
    assert codes == [2], said
    # the TIFF library may say of itself, past all handlers, that it could not seek
    lines = [line for line in said.splitlines() if line and not line.startswith("_tiff")]
    assert len(lines) == 1, said
    assert lines[0].startswith("seabed: ")
    words = ("can't write", "can't be written")
    if hard == "permissions":  # refused before any work, or as the file is written
        words = ("nothing can be written here",)
    assert any(word in said for word in words), said
    folder = place / folder_of(hard, name)
    assert not list(folder.rglob(".writing-*"))
    if hard == "permissions":
        assert files_in(folder) == {}


@pytest.mark.parametrize("name", sorted(ALMOST))
def test_where_one_result_finds_no_room_none_is_changed(place, ends, name):
    codes, said = ends["almost", name]
    assert codes == [2], said
    lines = [line for line in said.splitlines() if line and not line.startswith("_tiff")]
    assert len(lines) == 1, said
    assert "can't write: " in said
    assert "nothing was changed" in said
    assert "sql" not in said.lower()
    left = files_in(place / folder_of("almost", name))
    assert left
    assert set(left.values()) == {OLD}
    assert "changed already" not in said


@pytest.mark.parametrize("name", sorted(KILLED))
def test_killed_in_mid_write_every_file_is_the_old_or_the_new(place, ends, name):
    codes, _ = ends["kill", name]
    assert codes == [-9]
    left, new = files_in(place / folder_of("kill", name)), files_in(place / folder_of("", name))
    assert set(left) == set(new)
    older = {file for file, content in left.items() if content == OLD}
    assert older  # it was killed before the last
    for file in set(left) - older:
        check_whole(place / folder_of("kill", name) / file)


def check_whole(path: Path) -> None:
    """Read a file to its end; a part of one is an error."""
    content = path.read_bytes()
    match path.suffix:
        case ".txt":
            assert content.decode("utf-8") == CAUTIONS + "\n"
        case ".html":
            assert content.rstrip().endswith(b"</html>")
        case ".pdf":
            assert content.rstrip().endswith(b"%%EOF")
        case ".csv":
            assert len(set(map(len, csv.reader(io.StringIO(content.decode("utf-8-sig")))))) == 1
        case ".gpx" | ".svg":
            ElementTree.fromstring(content)
        case ".json" | ".geojson":
            json.loads(content)
        case ".toml":
            tomllib.loads(content.decode())
        case ".ics":
            assert content.endswith(b"END:VCALENDAR\r\n")
        case ".gpkg" | ".fgb":
            assert len(pyogrio.list_layers(path))
        case ".kmz":
            with zipfile.ZipFile(path) as archive:
                assert archive.testzip() is None
        case ".mbtiles":
            with contextlib.closing(sqlite3.connect(path)) as tiles:
                assert tiles.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        case ".tif":
            with rasterio.open(path) as grid:
                grid.read()
        case other:
            raise AssertionError(f"no way to tell whether {other} is whole")


@pytest.mark.parametrize("name", sorted(TWICE))
def test_two_at_once_leave_whole_results(place, ends, name):
    codes, said = ends["twice", name]
    assert codes == [0, 0], said
    both, one = files_in(place / folder_of("twice", name)), files_in(place / folder_of("", name))
    assert set(both) == set(one)
    for file, content in both.items():
        if Path(file).suffix in {".csv", ".gpx"}:  # others hold a time or a number drawn
            assert content == one[file], file
        check_whole(place / folder_of("twice", name) / file)
