"""A library that hangs, crashes, asks for too much or for the network ends in one error."""

import io
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import h5py
import numpy as np
import pytest

from seabed.errors import GridError
from seabed.guarded import ReadingError, _asking, ask, reading
from seabed.loaders import open_grid

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="NOT TESTED: Linux has these limits")


@pytest.fixture
def numbers(tmp_path):
    path = tmp_path / "a.h5"
    with h5py.File(path, "w") as file:
        file["near"] = np.arange(12.0).reshape(3, 4)
        file["far"] = np.arange(12.0).reshape(3, 4) + 100
        file.create_dataset("huge", (60_000, 60_000), "f8", chunks=(500, 500))
    return path


@pytest.fixture
def endless(tmp_path):
    """A file that waits for ever for somebody to write it."""
    if not hasattr(os, "mkfifo"):
        pytest.skip("NOT TESTED: no such files here")
    os.mkfifo(tmp_path / "endless")
    return tmp_path / "endless"


def test_arrays_of_one_read_outlast_the_next_and_can_be_written(numbers):
    ((near,),) = ask("hdf5.read", numbers, ["near"], [])
    ((far,),) = ask("hdf5.read", numbers, ["far"], [])
    near += 1
    np.testing.assert_array_equal(near, np.arange(1.0, 13).reshape(3, 4))
    np.testing.assert_array_equal(far, np.arange(100.0, 112).reshape(3, 4))


def test_without_a_socket_arrays_come_through_a_pipe(numbers, monkeypatch):
    """As on Windows."""
    monkeypatch.setattr(_asking, "HAS_SOCKETS", False)
    process = _asking._Process()
    ((near, far),) = process.ask("hdf5.read", str(numbers), (["near", "far"], []), 0)
    process.end()
    near += 1
    np.testing.assert_array_equal(near, np.arange(1.0, 13).reshape(3, 4))
    np.testing.assert_array_equal(far, np.arange(100.0, 112).reshape(3, 4))


def test_the_process_is_kept_between_reads(numbers):
    ask("hdf5.tree", numbers)
    first = _asking._process._running[0].pid
    with pytest.raises(ReadingError):
        ask("hdf5.read", numbers, ["none"], [])
    ask("hdf5.tree", numbers)
    assert _asking._process._running[0].pid == first


def test_an_answer_that_breaks_off_never_gives_an_array():
    """The process may be killed after it has sent how long an array is, before all of it."""
    with pytest.raises(EOFError):
        _asking._filled(io.BytesIO(b"abc"), 4)


@LINUX
def test_memory_is_limited_by_what_is_asked_for(numbers):
    with (
        pytest.raises(GridError, match=r"a\.h5: reading it needs more memory than"),
        reading(numbers),
    ):
        ask("hdf5.read", numbers, ["huge"], [])
    ((far,),) = ask("hdf5.read", numbers, ["far"], [])  # the same process reads on
    assert far[0, 0] == 100


def test_a_reader_that_waits_is_stopped_and_begun_again(endless, numbers, monkeypatch):
    monkeypatch.setattr(_asking, "WAIT_S", 1.0)
    with pytest.raises(ReadingError, match="takes longer than"):
        ask("sheets.read", endless, None)
    monkeypatch.undo()
    assert ask("hdf5.tree", numbers)[0] == ""


@pytest.mark.parametrize(
    ("name", "words"), [("SIGSEGV", "its reader crashed"), ("SIGXCPU", "takes longer than")]
)
def test_a_crash_is_one_error(endless, numbers, name, words):
    ask("hdf5.tree", numbers)
    process = _asking._process._running[0]
    threading.Timer(0.3, process.send_signal, [getattr(signal, name)]).start()
    with pytest.raises(ReadingError, match=words):
        ask("sheets.read", endless, None)


@LINUX
def test_an_interrupted_read_leaves_no_answer_behind(endless, numbers):
    ask("hdf5.tree", numbers)
    before = signal.signal(signal.SIGALRM, signal.default_int_handler)
    signal.setitimer(signal.ITIMER_REAL, 0.3)
    try:
        with pytest.raises(KeyboardInterrupt):
            ask("sheets.read", endless, None)
    finally:
        signal.signal(signal.SIGALRM, before)
    ((near,),) = ask("hdf5.read", numbers, ["near"], [])
    assert near[2, 3] == 11


def limited_code(code):
    start = "from seabed.guarded import _fences\n"
    return subprocess.run(
        [sys.executable, "-c", start + code], check=False, capture_output=True, timeout=300
    )


@LINUX
def test_a_busy_loop_is_stopped_by_its_time_on_the_processor():
    ended = limited_code("with _fences.limited(0.1, 60.0, 0, 0):\n  while True: pass")
    assert ended.returncode == -signal.SIGXCPU


@LINUX
def test_no_socket_can_be_opened():
    ended = limited_code("_fences.leave_network()\nimport socket\nsocket.socket()")
    assert b"PermissionError" in ended.stderr
    assert limited_code("import socket\nsocket.socket()").returncode == 0


@LINUX
def test_the_process_runs_without_a_network(numbers):
    ask("hdf5.tree", numbers)
    status = Path(f"/proc/{_asking._process._running[0].pid}/status").read_text()
    assert "\nSeccomp:\t2" in status  # 2: a filter (proc(5))


def test_a_grid_of_more_cells_than_its_file_can_hold_is_refused(tmp_path):
    path = tmp_path / "a.nc"
    with h5py.File(path, "w") as file:
        for name in "yx":
            file[name] = np.linspace(40, 41, 30_000)
            file[name].make_scale(name)
        deep = file.create_dataset("depth", (30_000, 30_000), "f4", chunks=(500, 500))
        for axis, name in enumerate("yx"):
            deep.dims[axis].attach_scale(file[name])
    with pytest.raises(GridError, match=r"30,000 x 30,000 cells, more than .* bytes can hold"):
        open_grid(path, crs="EPSG:4326")
