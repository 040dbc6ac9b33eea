"""Runs that are broken off, runs on two workers, and what a run takes of memory."""

from __future__ import annotations

import gc
import os
import pickle
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rasterio
from affine import Affine
from coast_bottoms import UTM, coast
from pyproj import CRS
from thoroughness import THOROUGH

from seabed.errors import GridError, SeabedError
from seabed.loaders import open_stored
from seabed.structure import Search, find_bottom
from seabed.structure.blocks import running
from seabed.structure.blocks.store import Store, fingerprint
from seabed.structure.blocks.whole import Chunk, Whole

WANTED = Search(contours_m=(15.0, 20.0), band_m=(14.0, 19.0))
CHUNK = 100

ALONE = """
import sys
from pathlib import Path
from seabed.structure import Search, find_bottom
from seabed.loaders import open_stored
wanted = Search(contours_m=(15.0, 20.0), band_m=(14.0, 19.0))
find_bottom(open_stored(sys.argv[1]), wanted, folder=Path(sys.argv[2]), source=sys.argv[1],
            chunk=100, jobs=int(sys.argv[3]))
"""


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("grid") / "coast.tif"
    depth = coast(200, 270).values
    with rasterio.open(
        path, "w", driver="GTiff", dtype="float32", count=1, width=270, height=200, tiled=True,
        blockxsize=128, blockysize=128, crs="EPSG:32631", transform=UTM, nodata=np.nan,
    ) as target:  # fmt: skip
        target.write(depth, 1)
        target.update_tags(1, positive="down")
    return path


@pytest.fixture(scope="module")
def straight(file, tmp_path_factory):
    """Run straight through."""
    folder = tmp_path_factory.mktemp("straight")
    return scouted(file, folder)


def scouted(file, folder, **options):
    options = {"jobs": 1, **options}
    return find_bottom(
        open_stored(file), WANTED, folder=folder, source=str(file), chunk=CHUNK, **options
    )


def assert_same(one, other):
    for name in ("band", "edges", "features", "axes"):
        a, b = getattr(one, name), getattr(other, name)
        pd.testing.assert_frame_equal(
            pd.DataFrame(a.drop(columns="geometry")), pd.DataFrame(b.drop(columns="geometry"))
        )
        assert len(a) > 0
        assert (a.geometry.to_wkb() == b.geometry.to_wkb()).all()
    for a, b in zip(one.contours(), other.contours(), strict=True):
        assert (a.geometry.to_wkb() == b.geometry.to_wkb()).all()
    np.testing.assert_array_equal(one.overview.values, other.overview.values)


@pytest.mark.skipif(not THOROUGH, reason="a kill: in the thorough set")
def test_a_killed_run_goes_on_from_its_finished_chunks(file, straight, tmp_path, monkeypatch):
    folder = tmp_path / "unfinished"
    process = subprocess.Popen([sys.executable, "-c", ALONE, str(file), str(folder), "1"])
    wait = time.monotonic() + 600
    while len(list(folder.glob("chunk-*.npz"))) < 2:
        assert process.poll() is None, "ended before it could be killed"
        assert time.monotonic() < wait
        time.sleep(0.02)
    process.kill()
    process.wait()
    there = {path: path.stat().st_mtime_ns for path in folder.glob("chunk-*.npz")}
    assert 2 <= len(there) < 6
    done = []
    worked = running.worked
    monkeypatch.setattr(running, "worked", lambda *given: done.append(given[2]) or worked(*given))
    found = scouted(file, folder)
    assert len(done) == 6 - len(there)
    assert {path: path.stat().st_mtime_ns for path in there} == there
    assert_same(found, straight)


def test_results_of_another_grid_or_other_options_are_not_taken(file, tmp_path):
    whole = Whole(open_stored(file), CHUNK)
    plan = whole, WANTED.kinds(whole)
    store = Store(tmp_path, fingerprint(str(file), *plan))
    chunk = whole.chunks[0]
    store.put(chunk, {"band/x": np.arange(3)})
    (tmp_path / "of the user.txt").write_text("mine")
    assert Store(tmp_path, fingerprint(str(file), *plan)).has(chunk)
    other = Search(contours_m=(15.0,)).kinds(whole)
    assert not Store(tmp_path, fingerprint(str(file), whole, other)).has(chunk)
    store = Store(tmp_path, fingerprint(str(file), *plan))
    store.put(chunk, {"band/x": np.arange(3)})
    before = file.stat()
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns + 1_000_000_000))
    try:
        assert not Store(tmp_path, fingerprint(str(file), *plan)).has(chunk)
    finally:
        os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))
    Store(tmp_path, fingerprint(str(file), *plan)).remove()
    assert [path.name for path in tmp_path.iterdir()] == ["of the user.txt"]


def test_a_run_goes_on_from_finished_chunks_and_works_out_damaged_ones_again(
    file, straight, tmp_path, monkeypatch
):
    first = scouted(file, tmp_path)
    chunks = sorted(tmp_path.glob("chunk-*.npz"))
    chunks[4].write_bytes(chunks[4].read_bytes()[:500])
    chunks[0].unlink()
    there = {path: path.stat().st_mtime_ns for path in chunks[1:4] + chunks[5:]}
    done = []
    worked = running.worked
    monkeypatch.setattr(running, "worked", lambda *given: done.append(given[2]) or worked(*given))
    assert_same(scouted(file, tmp_path), straight)
    assert len(done) == 2
    assert {path: path.stat().st_mtime_ns for path in there} == there
    first.store.remove()
    assert not tmp_path.exists()


def test_a_chunk_larger_than_the_grid_holds_all_contours(file, straight, tmp_path):
    whole = find_bottom(open_stored(file), WANTED, folder=tmp_path, chunk=1000, jobs=1)

    def lengths(bottom):
        lines = pd.concat([table.assign(m=table.length) for table in bottom.contours()])
        return lines.groupby("depth_m")["m"].sum()

    assert sorted(lengths(whole).index) == [15.0, 20.0]
    pd.testing.assert_series_equal(lengths(whole), lengths(straight), rtol=1e-6)


def test_two_workers_give_the_same_though_one_is_killed(file, straight, tmp_path):
    """In the thorough set they are processes, which can be killed; else threads of this one."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        dashboard_address=None,
        silence_logs=50,
        processes=THOROUGH,
    ) as cluster:
        killed = []

        def done(finished, whole):
            if THOROUGH and finished == 2 and not killed:
                worker = next(iter(cluster.workers.values()))
                killed.append(worker.pid)
                os.kill(worker.pid, getattr(signal, "SIGKILL", signal.SIGTERM))

        found = scouted(file, tmp_path, scheduler=cluster.scheduler_address, done=done)
        assert len(killed) == THOROUGH
    assert_same(found, straight)


def test_no_scheduler_is_said_so(file, tmp_path, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr(running, "CONNECT_S", 1)
    caught = []
    monkeypatch.setattr(sys, "unraisablehook", caught.append)
    for address in ("tcp://127.0.0.1:9", "nowhere.invalid", "no-such-way://nowhere"):
        with pytest.raises(SeabedError, match=f"no scheduler answers at '{address}'"):
            scouted(file, tmp_path / "kept", scheduler=address)
    assert not (tmp_path / "kept").exists()
    gc.collect()  # what was tried does not complain when it is forgotten
    assert not caught


@dataclass(frozen=True)
class Endless:
    """A made bottom of any size that takes no memory."""

    side: int

    shape = property(lambda self: (self.side, self.side))
    crs = CRS.from_epsg(32631)
    transform = Affine(4, 0, 4e5, 0, -4, 6e6)

    def depths(self, row, column, rows, columns):
        y, x = np.mgrid[row : row + rows, column : column + columns].astype(np.float32)
        return 15 + 5 * np.sin(x / 31) * np.cos(y / 43) + 3 * np.sin((x + y) / 171)


@pytest.mark.skipif(sys.platform == "win32", reason="the system does not tell the peak")
@pytest.mark.skipif(not THOROUGH, reason="a size: in the thorough set")
def test_memory_does_not_grow_with_the_grid():
    """Nine times the cells; the whole as float32 alone would be 16 MB more, worked on 160 MB."""
    code = f"""
import resource, sys, tempfile
sys.path[:0] = {[str(folder) for folder in Path(__file__).parents[:2]]!r}
from test_runs_in_chunks import Endless, WANTED
from seabed.structure import find_bottom
from pathlib import Path
for side in (400, 700, 2100):
    with tempfile.TemporaryDirectory() as folder:
        find_bottom(Endless(side), WANTED, folder=Path(folder), chunk=350, jobs=1)
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
    ran = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    _, small, large = (
        int(word) / (1024 if sys.platform == "linux" else 1024**2) for word in ran.stdout.split()
    )
    assert large - small < 60, f"{large - small:.0f} MB more for nine times the cells"


def test_what_can_not_be_right_is_said(file, tmp_path):
    with pytest.raises(GridError, match="chunks of 4 cells are too small"):
        find_bottom(open_stored(file), WANTED, folder=tmp_path, chunk=4)
    with pytest.raises(GridError, match="no width"):
        find_bottom(open_stored(file), Search(band_m=(8.0, 5.0)), folder=tmp_path)
    with pytest.raises(GridError, match="is too small"):
        find_bottom(open_stored(file), Search(edge_scale_m=-2.0), folder=tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_result_that_would_run_code_is_taken_as_missing(tmp_path):
    """A pickle can name any function; it must not be opened."""

    class Trap:
        def __reduce__(self):
            return os.mkdir, (str(tmp_path / "sprung"),)

    store = Store(tmp_path / "chunks", "mark")
    store.path(Chunk(0, 0, 0, 9, 9)).write_bytes(pickle.dumps(Trap()))
    assert not store.has(Chunk(0, 0, 0, 9, 9))
    assert not (tmp_path / "sprung").exists()
