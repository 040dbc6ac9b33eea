"""Exit codes, messages, odd consoles and places.  Our own contract; POSIX for signals."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from thoroughness import THOROUGH

RUN = [sys.executable, "-c", "from layers.cli.main import main; main()"]


BOTH = """
import sys
from layers.cli.main import main
for words in (["area", *sys.argv[1:]], ["check", "area.toml"]):
    try:
        main(words)
    except SystemExit as ended:
        if ended.code:
            raise
"""
"""Writes an area file and checks it, in one process."""


def run(*arguments: str | Path, code: str = RUN[-1], cwd: Path | None = None, **environment: str):
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        errors="replace",
        cwd=cwd,
        env={**os.environ, **environment},
        timeout=600,
        check=False,
    )


def test_done_is_0_and_the_version_is_shown(capsys):
    from layers.cli.main import main

    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert not ended.value.code
    assert capsys.readouterr().out.startswith("seabed-layers ")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("nonsense",), "No such command 'nonsense'"),
        (("scout", "--bnad", "18-26 ft"), "No such option"),
        (("trip",), "Missing argument"),
        (("area", "--band", "25 fet"), "seabed: --band: "),
        (("area", "--contours", "10,15 fet"), "seabed: --contours: unknown unit 'fet'"),
        (
            ("area", "--timezone", "Mars/Base"),
            "seabed: --timezone: 'Mars/Base' can't be right. Write a zone's name",
        ),
        (
            ("scout",),
            "seabed: no depth grid is named. Name one with GRID, or [grid] files of the area",
        ),
        (
            ("scout", "x.tif", "--units", "feet"),
            "seabed: --units: 'feet' can't be right. Use m, ft, fm",
        ),
        (
            ("scout", "x.tif", "--sign", "up"),
            "seabed: --sign: 'up' can't be right. Write one of auto",
        ),
        (
            ("scout", "x.tif", "--grid-unit", "yd"),
            "seabed: --grid-unit: 'yd' can't be right. Write one of auto",
        ),
        (
            ("scout", "x.tif", "--offset", "2"),
            "seabed: --offset: '2' can't be right. Write a number and its unit",
        ),
        (
            ("scout", "x.tif", "--box", "1,2,3"),
            "seabed: --box: '1,2,3' can't be right. Write west,so",
        ),
        (("scout", "x.tif", "--box", "5,2,3,4"), "seabed: --box: '5,2,3,4' can't be right"),
        (("scout", "--area", "none.toml"), "seabed: none.toml: no such area file"),
        (("trip", "x.gpx", "--rods", "0"), "seabed: --rods: 0 can't be right"),
        (("marks", "none.gpkg"), "seabed: none.gpkg: no such file"),
        (("marks", "."), "seabed: .: this is a folder"),
    ],
)
def test_an_input_problem_is_one_message_and_2(tmp_path, monkeypatch, capsys, arguments, said):
    from layers.cli.main import main

    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.out == ""
    assert list(tmp_path.iterdir()) == []


def test_stopped_is_130(monkeypatch, capsys):
    import layers.jobs.area
    from layers.cli.main import main

    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(layers.jobs.area, "write_template", stop)
    with pytest.raises(SystemExit) as ended:
        main(["area"])
    assert ended.value.code == 130
    assert "stopped; no file was left half-written" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="POSIX signals")
def test_an_interrupt_from_the_keyboard_is_130_and_leaves_nothing(tmp_path):
    """SIGINT while a file is waited for: a FIFO that nobody writes to, put in its place."""
    os.mkfifo(tmp_path / "slow.gpx")
    script = (
        "import sys, layers.jobs.check._kinds as kinds; from layers.cli.main import main; "
        "kinds.plain_file = lambda path: None; main(sys.argv[1:])"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", script, "check", str(tmp_path / "slow.gpx")],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    writer = _opened_once_read(tmp_path / "slow.gpx", process)
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=600)
    os.close(writer)
    assert process.returncode == 130
    assert errors == "seabed: stopped; no file was left half-written.\n"


def _opened_once_read(fifo, process):
    """Open a FIFO for writing when a process has opened it to read; fail if the process ends."""
    while process.poll() is None:
        try:
            return os.open(fifo, os.O_WRONLY | os.O_NONBLOCK)
        except OSError:  # nobody reads it yet
            time.sleep(0.05)
    raise AssertionError(process.communicate())


@pytest.mark.skipif(os.name == "nt", reason="POSIX pipes")
def test_a_reader_that_goes_away_is_no_error(tmp_path):
    """Our own exit code is asked for: the reader is gone before the first line is written."""
    process = subprocess.Popen(
        [*RUN, "area", "--out", str(tmp_path / "area.toml"), "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    process.stdout.close()
    errors = process.stderr.read()
    assert process.wait(timeout=600) == 0
    assert errors == ""


ODD = (
    {"PYTHONIOENCODING": "ascii"},
    {"PYTHONIOENCODING": "cp437"},
    {"HOME": "/nonexistent", "XDG_CACHE_HOME": "/nonexistent"},
    {"COLUMNS": "20"},
    {"NO_COLOR": "1", "TERM": "dumb"},
    {"LC_ALL": "C"},
)
TOGETHER = (ODD[0] | ODD[2] | ODD[3], ODD[1] | ODD[4] | ODD[5])


@pytest.mark.parametrize("environment", ODD if THOROUGH else TOGETHER, ids=str)
def test_odd_consoles_are_served(tmp_path, environment):
    folder = tmp_path / "Ås fjord 日本"
    try:
        folder.mkdir()
    except UnicodeEncodeError:
        pytest.skip("this file system takes no such names")
    done = run("--name", "Ås", code=BOTH, cwd=folder, **environment)
    assert done.returncode == 0, done.stderr
    assert "area file" in done.stdout
    assert "Traceback" not in done.stderr


def test_compiled_code_finds_room_where_nothing_can_be_written(monkeypatch, tmp_path):
    """As on a shared machine for a user without a home; numba refuses to work without a cache."""
    from layers.cli import app as module

    monkeypatch.setenv("NUMBA_CACHE_DIR", "")
    monkeypatch.delenv("NUMBA_CACHE_DIR")
    module._find_room_for_compiled_code()
    assert "NUMBA_CACHE_DIR" not in os.environ  # there is room here
    monkeypatch.setattr(module.os, "access", lambda *_: False)
    monkeypatch.setattr(module.tempfile, "tempdir", str(tmp_path))
    module._find_room_for_compiled_code()
    folder = Path(os.environ["NUMBA_CACHE_DIR"])
    assert folder.parent == tmp_path
    if os.name != "nt":
        assert folder.stat().st_mode & 0o077 == 0  # what is in it is run: nobody else's


@pytest.mark.skipif(os.name == "nt", reason="names that are no text are POSIX's own")
def test_a_file_whose_name_is_no_text_is_refused(tmp_path):
    done = run("check", os.fsdecode(os.fsencode(tmp_path) + b"/tr\xffck.gpx"))
    assert done.returncode == 2
    assert "tr\ufffdck.gpx: a name that is not text. Rename it." in done.stderr
    assert done.stdout == ""


def test_json_is_plain_ascii_with_the_cautions(tmp_path, capsys):
    from layers.cli.main import main

    with pytest.raises(SystemExit):
        main(["area", "--out", str(tmp_path / "ö.toml"), "--json"])
    told = capsys.readouterr()
    answer = json.loads(told.out)
    assert told.out.isascii()
    assert Path(answer["files"]["area"]) == tmp_path / "ö.toml"
    assert answer["cautions"].startswith("Not for navigation.")
    assert told.err == ""


def test_an_area_file_names_grids_from_its_own_folder(tmp_path, monkeypatch):
    from layers.area import load_area
    from layers.cli.main import main

    monkeypatch.chdir(tmp_path)
    (tmp_path / "grids").mkdir()
    (tmp_path / "home").mkdir()
    with pytest.raises(SystemExit) as ended:
        main(["area", "--out", "home/a.toml", "--grid", "grids/s.tif", "--band", "5-8 m"])
    assert not ended.value.code
    area = load_area(tmp_path / "home" / "a.toml")
    assert area.grid.files[0].resolve() == (tmp_path / "grids" / "s.tif").resolve()
    assert area.depths.band_m == (5.0, 8.0)


@pytest.mark.parametrize("more", [[], ["--json"]])
def test_warnings_of_a_job_go_to_standard_error_and_name_options(monkeypatch, capsys, more):
    from layers.area import default_area
    from layers.cli.main import main
    from layers.jobs import area
    from layers.jobs.result import Result

    files = {"area": Path("a.toml")}
    warnings = ("Mind {band}, {crs} and {update}.",)
    result = Result(area=default_area(), files=files, warnings=warnings)
    monkeypatch.setattr(area, "run", lambda *_: result)
    with pytest.raises(SystemExit) as ended:
        main(["area", *more])
    assert not ended.value.code
    told = capsys.readouterr()
    assert told.err == ("Mind --band, [grid] crs of the area file and seabed season --update.\n")
    assert "Mind" not in told.out


def test_completion_is_offered():
    completed = run(_SEABED_COMPLETE="complete_bash", COMP_WORDS="seabed sc", COMP_CWORD="1")
    assert completed.stdout.split() == ["scout"]


STATION = {
    "format": "seabed-layers station 1", "name": "Kettle Quay", "longitude": -33.41,
    "latitude": 46.19,
    "heights": {
        "unit": "m", "phase": "Greenwich", "datum": "MLLW", "mean_level": 1.4,
        "constituents": [{"name": "M2", "amplitude": 1.0, "phase": 90.0}],
    },
}  # fmt: skip


def test_libraries_that_a_command_leaves_unloaded_are_not_needed_by_a_station(tmp_path):
    """Only a command in its own process leaves any out; most tests run commands in theirs."""
    (tmp_path / "quay.json").write_text(json.dumps(STATION), encoding="utf-8")
    day = ["tide", "--heights", "quay.json", "--date", "2031-06-14", "--timezone", "UTC"]
    done = run(*day, cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    highs = re.findall(r"(\d\d):(\d\d)  high water", done.stdout)
    first, second = (int(hour) * 60 + int(minute) for hour, minute in highs)
    assert second - first == pytest.approx(12.4206 * 60, abs=1)  # the period of M2
