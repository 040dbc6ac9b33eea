"""Outputs are whole or absent."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import sys
import time

import pytest

from seabed import files
from seabed.errors import GridError, OutputError, SeabedError
from seabed.files import LIST, library_failed, replacing, write_text


def names(folder):
    return sorted(path.name for path in folder.iterdir() if path.name != LIST)


def test_text_is_written_with_its_folders(tmp_path):
    write_text(tmp_path / "a" / "b.txt", "depth\nüber\n")
    assert (tmp_path / "a" / "b.txt").read_bytes() == "depth\nüber\n".encode()
    assert names(tmp_path / "a") == ["b.txt"]


def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path):
    target = tmp_path / "a.csv"
    target.write_text("old")
    with pytest.raises(ValueError, match="half way"), replacing(target) as partial:
        partial.write_text("new")
        raise ValueError("half way")
    assert target.read_text() == "old"
    assert names(tmp_path) == ["a.csv"]


def test_a_full_disk_is_said(tmp_path):
    with (
        pytest.raises(OutputError, match=r"disk is full.*this file was not changed"),
        replacing(tmp_path / "a"),
    ):
        raise OSError(errno.ENOSPC, "No space left on device")
    assert names(tmp_path) == []


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs /dev/full")
def test_a_disk_that_is_really_full(tmp_path):
    with pytest.raises(OutputError, match="disk is full"), replacing(tmp_path / "a.txt") as partial:
        partial.symlink_to("/dev/full")
        partial.write_text("x" * 10)


def test_a_folder_that_cannot_be(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="can't write"):
        write_text(tmp_path / "file" / "a.txt", "x")


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_folder_without_leave(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="permission denied"):
        write_text(tmp_path / "a.txt", "x")


def test_nothing_written_is_an_output_error(tmp_path):
    with pytest.raises(OutputError), replacing(tmp_path / "a.txt"):
        pass


def test_leftovers_do_not_hide_the_error(tmp_path):
    with pytest.raises(ValueError, match="half way"), replacing(tmp_path / "a.txt") as partial:
        (partial.parent / "more").mkdir()
        (partial.parent / "more" / "tile").write_text("x")
        raise ValueError("half way")
    assert names(tmp_path) == []


def test_leftovers_that_cannot_be_removed_do_not_hide_the_error(tmp_path, monkeypatch):
    def held(*words, **more):
        raise PermissionError(errno.EACCES, "used by another process", "a.txt")

    for name in ("unlink", "rmdir"):  # as Windows does while a file is open
        monkeypatch.setattr(os, name, held)
        monkeypatch.setattr(f"pathlib.Path.{name}", held)
    with pytest.raises(ValueError, match="half way"), replacing(tmp_path / "a.txt") as partial:
        partial.write_text("x")
        raise ValueError("half way")


def test_a_source_that_fails_is_not_called_the_output(tmp_path):
    source = tmp_path / "source.tif"
    with (
        pytest.raises(SeabedError, match="can't be used: no such file") as caught,
        replacing(tmp_path / "out" / "a.txt"),
    ):
        source.read_bytes()
    assert not isinstance(caught.value, OutputError)
    assert caught.value.file == str(source)


def test_a_file_beside_the_target_is_the_output(tmp_path):
    with pytest.raises(OutputError, match="can't write"), replacing(tmp_path / "a.txt") as partial:
        (partial.parent / "none" / "b.txt").write_text("x")


def test_errors_say_what_where_and_what_to_do():
    error = GridError("no depths", file="a.tif", where="band 2", do="Choose band 1.")
    assert str(error) == "a.tif, band 2: no depths. Choose band 1."
    assert isinstance(error, SeabedError)
    assert str(GridError("no depths")) == "no depths"


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX fork and signals")
def test_what_a_killed_program_left_is_swept_up_a_day_later(tmp_path, monkeypatch):
    """A real kill -9 half-way; then a day passes for all but what another program is writing."""
    target = tmp_path / "a.csv"
    target.write_text("old")
    child = os.fork()
    if child == 0:
        with replacing(target) as partial:
            partial.write_text("half")
            os.kill(os.getpid(), signal.SIGKILL)
        os._exit(0)
    os.waitpid(child, 0)
    (left,) = tmp_path.glob(".writing-*")
    busy = tmp_path / ".writing-busy"
    busy.mkdir()
    (busy / "b.csv").write_text("being written")
    monkeypatch.setattr(files, "_swept", set())
    write_text(tmp_path / "b.txt", "x")
    assert left.exists()  # it may be another's, at work
    assert target.read_text() == "old"
    long_ago = time.time() - 25 * 3600
    for path in (left / "a.csv", left, busy):
        os.utime(path, (long_ago, long_ago))
    monkeypatch.setattr(files, "_swept", set())
    write_text(tmp_path / "b.txt", "y")
    assert names(tmp_path) == [".writing-busy", "a.csv", "b.txt"]
    assert target.read_text() == "old" and (busy / "b.csv").read_text() == "being written"


def test_a_folder_whose_name_begins_with_a_blank(tmp_path, monkeypatch):
    """The vector library cuts blanks off the beginning of a path: it gets an absolute one."""
    monkeypatch.chdir(tmp_path)
    with replacing(" out/a.gpkg") as partial:
        assert partial.is_absolute()
        partial.write_text("new")
    assert (tmp_path / " out" / "a.gpkg").read_text() == "new"


@pytest.mark.parametrize(
    ("words", "free", "said"),
    [
        ("database or disk is full", 10**9, "the disk is full"),
        ("disk I/O error", 10**9, "the disk is full"),
        ("failed to commit transaction", 10**4, "the disk is full"),
        ("Geometry type is not supported", 10**9, "geometry type is not supported"),
        (
            "no layer: sqlite3_exec(insert (a) values (1)) failed: no table",
            10**9,
            "no layer: no table",
        ),
    ],
)
def test_a_library_that_finds_no_room_is_a_full_disk(tmp_path, monkeypatch, words, free, said):
    usage = shutil.disk_usage(tmp_path)._replace(free=free)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)
    with (
        pytest.raises(OutputError, match=rf"a\.gpkg: can't write: {said}"),
        replacing(tmp_path / "a.gpkg") as partial,
    ):
        raise library_failed(RuntimeError(words), partial)
