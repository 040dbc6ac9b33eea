"""A log of soundings, from its text to the merged grid and the file of all points.

``python -m benchmarks soundings_logs`` reads a log of 500,000 soundings against a loop over
pynmea2, then does all that the command ``seabed soundings`` does with it, in a fresh process, and
prints what each part took.  ``python -m benchmarks.sounder.soundings_logs 5000000`` does so with
that many soundings, which are what the limits of 60 s and 2 GB are about.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from pyproj import Transformer

from benchmarks.rows import Row, seconds
from seabed.grid.places import sample
from seabed.loaders import open_grid

DEMO = Path(__file__).parents[2] / "demo_area"
WEST, SOUTH = 466_050.0, 5_113_650.0  # in the demo's grid, EPSG:32625
FIRST = np.datetime64("2031-06-01T06:00:00", "ms")
SOME = 500_000
SAMPLE = 20_000
AT_ONCE = 100_000
LAG = 2  # soundings, of half a second


def write_log(path: Path, count: int) -> Path:
    """Write a position and a depth each half second, for a month where there are five million.

    Blocks of 800 m of the demo area, each sailed in lines of 750 m to and fro and in lines across
    them, at 5 m a second; 2 in 100 depths are spikes; the sounder is a second late.
    """
    random = np.random.default_rng(0)
    bottom = open_grid(DEMO / "sound.tif").load()
    degrees = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
    with path.open("w", encoding="ascii", newline="") as stream:
        for start in range(0, count, AT_ONCE):
            i = np.arange(start, min(count, start + AT_ONCE))
            lon, lat = degrees.transform(*_places(i))
            heard = degrees.transform(*_places(np.maximum(i - LAG, 0)))
            stream.write("".join(_lines(i, lon, lat, _depths(sample(bottom, *heard), random))))
    return path


def _places(i):
    leg, along = i // 300, (i % 300) * 2.5
    along = np.where(leg % 2 == 0, along, 750.0 - along)
    turned = (leg // 40) % 2 == 1
    side = (leg * 37 % 300) * 2.5
    block = leg // 400
    east = np.where(turned, side, along) + (block % 7) * 800.0
    north = np.where(turned, along, side) + (block // 7 % 6) * 800.0
    return WEST + east, SOUTH + north


def _depths(true, random):
    """What the sounder says: 0 over land, and sometimes anything."""
    depth = np.nan_to_num(true) * np.where(random.random(len(true)) < 0.02, 2.2, 1.0)
    return np.where(true > 0.5, depth + 1.3 + random.normal(0, 0.1, len(true)), 0.0)


def _lines(i, lon, lat, depth):
    lat, lon = 60 * lat, -60 * lon
    stamps = (FIRST + i * 500).astype("datetime64[ms]")
    days = stamps.astype("datetime64[D]")
    dates = {str(day): f"{str(day)[8:10]}{str(day)[5:7]}{str(day)[2:4]}" for day in np.unique(days)}
    for k, stamp in enumerate(stamps.astype(str)):
        clock = f"{stamp[11:13]}{stamp[14:16]}{stamp[17:22]}"
        yield _summed(
            f"GPRMC,{clock},A,{int(lat[k] // 60):02d}{lat[k] % 60:08.5f},N,"
            f"{int(lon[k] // 60):03d}{lon[k] % 60:08.5f},W,9.7,090.0,{dates[stamp[:10]]},,,A"
        )
        yield _summed(f"SDDBT,,f,{depth[k]:.2f},M,,F")


def _summed(body: str) -> str:
    folded = int.from_bytes(body.encode(), "big")
    for bits in (512, 256, 128, 64, 32, 16, 8):
        folded = (folded >> bits) ^ (folded & ((1 << bits) - 1))
    return f"${body}*{folded:02X}\r\n"


def run() -> list[Row]:
    import pynmea2

    from seabed.soundings import read_soundings

    with tempfile.TemporaryDirectory() as folder:
        path = write_log(Path(folder) / "some.nmea", SOME)
        ours = seconds(lambda: read_soundings(path), times=3)
        with path.open(encoding="ascii") as stream:
            lines = [next(stream) for _ in range(2 * SAMPLE)]
        theirs = seconds(lambda: [pynmea2.parse(line) for line in lines], times=2)
        whole_job(path, Path(folder))
    scaled = theirs * SOME / SAMPLE
    return [
        Row.of(f"NMEA 0183, {SOME:,} soundings", f"pynmea2, {SAMPLE:,} scaled up", ours, scaled)
    ]


_JOB = """
import os, sys, time
from pathlib import Path
from layers.area import load_area
from layers.jobs.parts import area_water, structure
from layers.jobs.progress import steps_of
from layers.jobs.soundings import _sounding as sounding
from layers.jobs.soundings._sounding import SurveyOptions
from layers.present.soundings_file import soundings_beside
from seabed.soundings import Mounting
log, grid, area, folder = sys.argv[1:]
def peak():
    try:
        status = open("/proc/self/status").read().split()
        return int(status[status.index("VmHWM:") + 1]) / 1024
    except OSError:
        return float("nan")
doing, wall, cpu = "starting", time.perf_counter(), time.process_time()
begun, used = wall, cpu
def step(what):
    global doing, wall, cpu
    now, busy = time.perf_counter(), time.process_time()
    print(f"  {doing:<32} {now - wall:6.1f} s {busy - cpu:6.1f} s of processor, "
          f"peak {peak():5.0f} MB", file=sys.stderr, flush=True)
    doing, wall, cpu = what, time.perf_counter(), time.process_time()
chosen = load_area(area)
next_step = steps_of(lambda words, _: step(words), sounding.SOUNDING_STEPS)
tide = area_water.heights_of(chosen)
options = SurveyOptions(mounting=Mounting(), lag_s=None, cell_m=None, reach_m=None,
                        tide_sigma_m=0.2, next_m=3704.0, salvage=False, day=None)
surface = structure.open_area_surface(chosen, [grid])
with soundings_beside(Path(folder) / "soundings.fgb") as begin:
    found = sounding.sound([Path(log)], surface, chosen, options, heights=tide, step=next_step,
                           settled=begin)
    sounding.write_survey(Path(folder), found, chosen, next_step)
    step("waiting for the points to be written")
step("")
doing, wall, cpu = "in all", begun, used
step("")
print(f"  load {os.getloadavg()[0]:.1f}; lag {found.lag.lag_s:.2f} s; "
      f"{found.statistics.count:,} crossovers; {found.own.depth.size:,} cells", file=sys.stderr)
"""


def whole_job(log: Path, folder: Path) -> float:
    """All that the command does, part by part; gives seconds."""
    started = time.perf_counter()
    out = folder / "out"
    out.mkdir(exist_ok=True)
    names = (str(log), str(DEMO / "sound.tif"), str(DEMO / "area.toml"), str(out))
    subprocess.run([sys.executable, "-c", _JOB, *names], check=True)
    return time.perf_counter() - started


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else SOME
    with tempfile.TemporaryDirectory() as scratch:
        log = write_log(Path(scratch) / "all.nmea", count)
        print(f"{count:,} soundings, {log.stat().st_size / 1e6:.0f} MB", flush=True)
        print(f"in all {whole_job(log, Path(scratch)):.0f} s")
