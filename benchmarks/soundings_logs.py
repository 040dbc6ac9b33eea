"""A log of five million soundings, from its text to the crossovers and the file of all points.

Run: ``python -m benchmarks soundings_logs`` reads a tenth of it against a loop over pynmea2;
``python -m benchmarks.soundings_logs`` does the whole job on all of it (gridding included), in a
fresh process, and says the seconds of each part and the peak of memory.
"""

from __future__ import annotations

import functools
import operator
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from benchmarks.rows import Row, seconds

MANY = 5_000_000
SOME = 500_000
SAMPLE = 20_000
AT_ONCE = 100_000


def write_log(path: Path, count: int) -> Path:
    """Write a position and a depth each second: lines of 750 m to and fro, and lines across."""
    random = np.random.default_rng(0)
    with path.open("w", encoding="ascii", newline="") as stream:
        for start in range(0, count, AT_ONCE):
            i = np.arange(start, min(count, start + AT_ONCE))
            stream.write("".join(_lines(i, random)))
    return path


def _lines(i, random):
    leg, along = i // 300, (i % 300) * 2.5
    along = np.where(leg % 2 == 0, along, 750.0 - along)
    turned = (leg // 40) % 2 == 1
    side = (leg * 37 % 300) * 2.5
    block = leg // 400
    east = np.where(turned, side, along) + (block % 20) * 800.0
    north = np.where(turned, along, side) + (block // 20) * 800.0
    depth = 9 + 2 * np.sin(east / 60.0) + np.cos(north / 45.0)
    depth = np.where(random.random(len(i)) < 0.02, depth * 2.2, depth)
    depth = depth + random.normal(0, 0.15, len(i))
    lat, lon = 46 * 60 + 10 + north / 1852.0, 33 * 60 + 25 - east / 1283.0
    for k, s in enumerate((i % 86_400).tolist()):
        day = 1 + int(i[k]) // 86_400
        date = f"{(day - 1) % 28 + 1:02d}{(day - 1) // 28 % 12 + 1:02d}31"
        yield _summed(
            f"GPRMC,{s // 3600:02d}{s // 60 % 60:02d}{s % 60:02d}.00,A,"
            f"{int(lat[k] // 60):02d}{lat[k] % 60:08.5f},N,"
            f"{int(lon[k] // 60):03d}{lon[k] % 60:08.5f},W,4.9,090.0,{date},,,A"
        )
        yield _summed(f"SDDBT,,f,{depth[k]:.2f},M,,F")


def _summed(body: str) -> str:
    return f"${body}*{functools.reduce(operator.xor, body.encode()):02X}\r\n"


def run() -> list[Row]:
    import pynmea2

    from seabed.soundings import read_soundings

    with tempfile.TemporaryDirectory() as folder:
        path = write_log(Path(folder) / "some.nmea", SOME)
        ours = seconds(lambda: read_soundings(path), times=3)
        with path.open(encoding="ascii") as stream:
            lines = [next(stream) for _ in range(2 * SAMPLE)]
        theirs = seconds(lambda: [pynmea2.parse(line) for line in lines], times=2)
    scaled = theirs * SOME / SAMPLE
    return [
        Row.of(f"NMEA 0183, {SOME:,} soundings", f"pynmea2, {SAMPLE:,} scaled up", ours, scaled)
    ]


_JOB = """
import sys, time
def peak():
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmHWM")) / 1024
import numpy as np
from layers.exports.soundings_file import write_soundings
from seabed.soundings import *
log, folder = sys.argv[1:]
def said(what):
    global wall, cpu
    now, used = time.perf_counter(), time.process_time()
    spent = f"{now - wall:6.1f} s, {used - cpu:6.1f} s of processor"
    print(f"{what:<14} {spent}, peak {peak():5.0f} MB", flush=True)
    wall, cpu = time.perf_counter(), time.process_time()
wall, cpu = time.perf_counter(), time.process_time()
table = read_soundings(log).soundings; said("read")
table, _ = flagged(table); said("clean")
tide = lambda times: np.sin(times.to_numpy("datetime64[s]").astype(float) / 7000)
table = reduced(table, tide); said("reduce")
lag = estimate_lag(table); said("lag")
table = without_lag(table, 1.0); said("move")
crossed = crossovers(table); said(f"cross {len(crossed)}")
tide_of_crossovers(crossed); said("tide")
own = grid_soundings(table); said(f"grid {own.depth.size}")
write_soundings(folder + "/soundings.gpkg", table); said("write")
"""


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else MANY
    with tempfile.TemporaryDirectory() as scratch:
        log = write_log(Path(scratch) / "all.nmea", count)
        print(f"{count:,} soundings, {log.stat().st_size / 1e6:.0f} MB", flush=True)
        started = time.perf_counter()
        subprocess.run([sys.executable, "-c", _JOB, str(log), scratch], check=True)
        print(f"in all {time.perf_counter() - started:.0f} s")
