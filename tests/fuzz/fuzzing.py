"""Every reader over files changed by chance: one error of ours or an answer, soon, and small.

Run by its path, it tries as many files as you ask for and keeps those that fail:
``python tests/fuzz/fuzzing.py --count 50000 --keep DIR [READER ...]``.
"""

from __future__ import annotations

import argparse
import contextlib
import faulthandler
import json
import os
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2] / "demo_area")]

import corpus
import numpy as np
from mutating import mutated

from layers.area import default_area, load_area
from layers.catches import read_catches
from layers.catches.photos import read_photos
from layers.jobs.check import check_file
from layers.jobs.parts.earlier import read_results
from layers.logbook import Logbook, merge
from layers.logbook.sharing import shared_layers
from layers.tracks import clean, cut, read_fixes
from layers.tracks.corrections import read_corrections
from layers.water import LearnedCurrent, read_currents, read_heights
from layers.water.stations.importers import import_station
from layers.water.wind.wind_words import read_wind
from seabed.errors import SeabedError
from seabed.loaders import describe, open_grid
from seabed.loaders.charts import describe_chart
from seabed.soundings import read_soundings

LONGEST_S = 10.0
LARGEST_BYTES = 1_000_000_000
PEAK = Path("/proc/self/clear_refs")
"""Writing 5 here makes Linux measure the peak of memory anew."""
FASTEST_MPS = 100.0
TIDE = read_heights(Path(__file__).parents[1] / "of_0_1" / "tide_table.csv", timezone="Etc/GMT+2")
TIMES = np.datetime64("2031-06-01T00:00", "ns") + np.arange(48) * np.timedelta64(1, "h")
MIDMONTH = TIMES + np.timedelta64(13, "D")


class Hang(BaseException):
    """A reader that has taken too long on the processor."""


def _grid(path: Path) -> None:
    with contextlib.suppress(SeabedError):
        report = describe(path)
        assert np.isfinite(report.valid_share)
        if report.usable:
            assert report.cell_easting_m > 0 and report.cell_northing_m > 0
    open_grid(path, crs="EPSG:4326" if path.suffix in {".grd", ".xyz"} else None)


def _track(path: Path) -> None:
    cut(clean(read_fixes([path]))[0])


def _logbook(path: Path) -> None:
    book = Logbook(path)
    book.trips(), book.drifts(), book.pieces(), book.catches(), book.lines()
    for trip in book.trips()["trip"]:
        book.entry(trip).digest()


def _merged(path: Path) -> None:
    """Merge it into a new logbook, which is then read as one's own."""
    own = path.with_name("own.gpkg")
    merge(Logbook(own), Logbook(path))
    if own.exists():
        _logbook(own)


def _shared(path: Path) -> None:
    """Share a logbook; take a copy that was shared for a logbook, and for results."""
    if path.stem != "shared":
        for layer in shared_layers(Logbook(path), 2000.0).values():
            assert np.isfinite(layer.geometry.dropna().get_coordinates()).all(axis=None)
        return
    check_file(str(path), default_area())
    with contextlib.suppress(SeabedError):
        read_results([path])
    with contextlib.suppress(SeabedError):
        _merged(path)


def _learned(path: Path) -> None:
    current = read_currents(path, heights=TIDE)
    east, north = current.velocity(MIDMONTH)
    assert np.nanmax(np.hypot(east, north), initial=0.0) < FASTEST_MPS
    if isinstance(current, LearnedCurrent):
        current.by_hour(), current.spread(MIDMONTH)


def _heights(path: Path) -> None:
    heights = read_heights(path).height_m(TIMES)
    assert not np.isinf(heights).any()


def _field(path: Path) -> None:
    if path.name.startswith("SurfaceCurrent"):
        read_currents(path).velocity(TIMES, -33.41, 46.19)
    else:
        _heights(path)


READERS: dict[str, Callable[[Path], object]] = {
    "rasters": _grid,
    "hdf5 grids": _grid,
    "virtual mosaics": _grid,
    "grids of points": _grid,
    "charts": describe_chart,
    "packages": lambda path: read_results([path]),
    "logbooks": _logbook,
    "merged logbooks": _merged,
    "shared copies": _shared,
    "tracks": _track,
    "sounder logs": read_soundings,
    "catches": read_catches,
    "photos": lambda path: read_photos([path]),
    "areas": load_area,
    "stations": import_station,
    "tide tables": _heights,
    "current tables": lambda path: read_currents(path, flood_toward=352.0),
    "learned currents": _learned,
    "wind tables": read_wind,
    "water fields": _field,
    "corrections": read_corrections,
}


@dataclass
class Tally:
    """What a reader did with its files."""

    tried: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    largest_bytes: int = 0
    failures: list[str] = field(default_factory=list)


def fuzz(
    name: str, files: list[Path], folder: Path, seeds: range, keep: Path | None = None
) -> Tally:
    """Read changed copies of files, one a seed, by their own reader and as ``check`` does."""
    tally, area = Tally(), default_area()
    for seed in seeds:
        if seed % 50 == 0:  # each arming costs a thread
            faulthandler.dump_traceback_later(600, exit=True)
        whole = files[seed % len(files)]
        target = folder / whole.name
        for beside in whole.parent.glob(f"{whole.stem}.*"):
            if beside.suffix in {".hdr", ".prj"}:
                shutil.copy(beside, folder)
        if whole.suffix == ".vrt":
            shutil.copy(whole.with_name("plain.tif"), folder)
        mutated(whole, target, seed)
        if seed % 40 == 39:  # under the name of another kind
            others = sorted({path.suffix for path in whole.parent.iterdir()})
            target = target.rename(target.with_suffix(others[seed // 40 % len(others)]))
        reader = (lambda path: check_file(str(path), area)) if seed % 4 == 3 else READERS[name]
        problem = _watched(reader, target, tally)
        if problem:
            tally.failures.append(f"{name}, seed {seed}, {whole.name}: {problem}")
            if keep is not None:
                keep.mkdir(parents=True, exist_ok=True)
                shutil.copy(target, keep / f"{seed}-{target.name}")
                (keep / f"{seed}-{target.name}.txt").write_text(problem, encoding="utf-8")
        for left in folder.iterdir():
            shutil.rmtree(left) if left.is_dir() else left.unlink()
    faulthandler.cancel_dump_traceback_later()
    return tally


def _watched(reader: Callable[[Path], object], path: Path, tally: Tally) -> str:
    tally.tried += 1
    start, before = time.process_time(), _held()
    problem = ""
    try:
        with _alarm(), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            reader(path)
    except SeabedError as error:
        tally.refused += 1
        if len(str(error)) > 2000 or "\n" in str(error).strip():
            problem = f"a message of {len(str(error))} characters: {str(error)[:100]!r}"
    except (Exception, Hang):  # noqa: BLE001  (that is what is looked for)
        problem = "".join(traceback.format_exc(limit=-6))
    tally.slowest_s = max(tally.slowest_s, time.process_time() - start)
    taken = _most() - before
    tally.largest_bytes = max(tally.largest_bytes, taken)
    if taken > LARGEST_BYTES:
        problem = problem or f"it took {taken:,} bytes"
    return problem


def _held() -> int:
    """Memory that this process has, bytes; `_most` counts from here where the system can."""
    if not PEAK.exists():
        return _most()
    PEAK.write_text("5")
    return _of_status("VmRSS")


def _most() -> int:
    """Most memory that this process has had, bytes."""
    if not PEAK.exists():
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return _of_status("VmHWM")


def _of_status(name: str) -> int:
    found = re.search(rf"^{name}:\s*(\d+) kB", Path("/proc/self/status").read_text(), re.MULTILINE)
    return int(found[1]) * 1024


@contextlib.contextmanager
def _alarm() -> Iterator[None]:
    def ring(number: int, frame: FrameType | None) -> None:
        raise Hang

    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def main() -> int:
    """Print a line a reader."""
    words = argparse.ArgumentParser()
    words.add_argument("readers", nargs="*")
    words.add_argument("--count", type=int, default=1000)
    words.add_argument("--first", type=int, default=0)
    words.add_argument("--keep", type=Path, default=Path("fuzz_failures"))
    asked = words.parse_args()
    failed = 0
    memory = "/dev/shm"  # no disk to wait for; TMPDIR chooses another
    if "TMPDIR" not in os.environ and os.path.isdir(memory):  # noqa: PTH112
        tempfile.tempdir = memory
    with tempfile.TemporaryDirectory() as place:
        files = corpus.make(Path(place) / "corpus")
        folder = Path(place) / "changed"
        folder.mkdir()
        for name in asked.readers or READERS:
            start = time.perf_counter()
            seeds = range(asked.first, asked.first + asked.count)
            tally = fuzz(name, files[name], folder, seeds, asked.keep / name.replace(" ", "_"))
            failed += len(tally.failures)
            row = {
                "reader": name, "tried": tally.tried, "refused": tally.refused,
                "failed": len(tally.failures),
                "slowest_s": round(tally.slowest_s, 2), "most_MB": tally.largest_bytes // 1_000_000,
                "wall_s": round(time.perf_counter() - start, 1),
            }  # fmt: skip
            print(json.dumps(row), flush=True)  # noqa: T201  (a program of its own)
    return 1 if failed else 0


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    sys.exit(main())
