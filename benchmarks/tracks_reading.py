"""Reading 500,000 GPX points (48 MB): ours against a plain loop over the standard library's expat.

Run: ``python -m benchmarks tracks_reading``; ``python -m benchmarks.tracks_reading`` adds the peak
of memory.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from xml.parsers import expat

import numpy as np

from benchmarks.rows import Row, seconds

POINTS = 500_000


def write_gpx(path: Path, points: int = POINTS) -> Path:
    """Write a random walk at one point a second."""
    rng = np.random.default_rng(1)
    latitude = -30 + np.cumsum(rng.normal(0, 1e-6, points))
    longitude = -25 + np.cumsum(rng.normal(0, 1e-6, points))
    times = np.datetime64("2031-06-14T09:00:00") + np.arange(points).astype("timedelta64[s]")
    with path.open("w", encoding="utf-8") as stream:
        stream.write(
            '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="benchmark" '
            'xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>\n'
        )
        for y, x, time in zip(latitude, longitude, times, strict=True):
            stream.write(
                f'<trkpt lat="{y:.7f}" lon="{x:.7f}"><ele>0.0</ele><time>{time}Z</time></trkpt>\n'
            )
        stream.write("</trkseg></trk></gpx>\n")
    return path


def plain_expat(path: Path) -> list[list[object]]:
    """Read points into lists, times as text, without any check."""
    rows: list[list[object]] = []
    point: list[object] = []
    words: list[str] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal point
        if name == "trkpt":
            point = [float(attributes["lat"]), float(attributes["lon"]), None]
        words.clear()

    def end(name: str) -> None:
        if name == "time" and point:
            point[2] = "".join(words)
        elif name == "trkpt":
            rows.append(point)

    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.CharacterDataHandler = words.append
    with path.open("rb") as stream:
        parser.ParseFile(stream)
    return rows


def run() -> list[Row]:
    from layers.tracks import read_fixes

    with tempfile.TemporaryDirectory() as folder:
        path = write_gpx(Path(folder) / "track.gpx")
        return [
            Row.of(
                f"GPX, {POINTS:,} points, {path.stat().st_size / 1e6:.0f} MB, into a table",
                "stdlib expat loop, into lists",
                seconds(lambda: read_fixes(path), times=3),
                seconds(lambda: plain_expat(path), times=3),
            )
        ]


_PEAK = """
import sys
from {module} import {name}
def peak():
    with open("/proc/self/status") as status:  # of this process alone; ru_maxrss has the parent's
        return next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
base = peak()
read = {name}({path})
print(base / 1024, peak() / 1024)
"""


def peak_mb(module: str, name: str, path: Path) -> tuple[float, float]:
    """Peak of a fresh process after the imports and after reading, MB (Linux)."""
    code = _PEAK.format(module=module, name=name, path=repr(str(path)))
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    base, peak = (float(word) for word in done.stdout.split())
    return base, peak


if __name__ == "__main__":
    for row in run():
        print(f"{row.work}: {row.ours_s:.2f} s; {row.reference}: {row.reference_s:.2f} s")
    with tempfile.TemporaryDirectory() as scratch:
        track = write_gpx(Path(scratch) / "track.gpx")
        base, peak = peak_mb("layers.tracks", "read_fixes", track)
        print(f"peak {peak:.0f} MB, {base:.0f} MB of it before reading (libraries)")
        base, peak = peak_mb("seabed.logs.gpx", "read_gpx_fixes", track)
        print(f"peak of the reader alone {peak:.0f} MB, {base:.0f} MB of it libraries")
