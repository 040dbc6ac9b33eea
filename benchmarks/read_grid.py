"""Reading a tiled deflate GeoTIFF: ours against the plain raster library, in one run.

Run: ``python -m benchmarks.read_grid [--large]``.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin

from benchmarks.rows import Row

SMALL, LARGE = 4096, 10_000
NODATA = -9999.0


def write_grid(path: Path, size: int) -> Path:
    """Write a rippled slope with noise of 5 cm, rounded to 1 cm, a strip of it void."""
    rng = np.random.default_rng(1)
    row = np.arange(size, dtype=np.float32)
    depth = -20 + 5 * np.sin(row / 300)[:, None] + 5 * np.cos(row / 200)[None, :]
    depth += rng.standard_normal((size, size), dtype=np.float32) * np.float32(0.05)
    np.round(depth, 2, out=depth)
    depth[: size // 20] = NODATA
    with rasterio.open(
        path, "w", driver="GTiff", height=size, width=size, count=1, dtype="float32",
        crs="EPSG:32631", transform=from_origin(500_000, 4_200_000, 2, 2), nodata=NODATA,
        tiled=True, blockxsize=512, blockysize=512, compress="deflate", predictor=3,
    ) as data:  # fmt: skip
        data.write(depth, 1)
    return path


def plain(path: Path) -> np.ndarray:
    with rasterio.open(path) as data:
        return data.read(1)


def masked(path: Path) -> np.ndarray:
    """What a user of the plain library does to get depths: void to NaN, positive down."""
    array = plain(path)
    array[array == NODATA] = np.nan
    np.negative(array, out=array)
    return array


def ours(path: Path) -> np.ndarray:
    from seabed.loaders import open_grid

    return open_grid(path).values


def best(function, path: Path, rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        function(path)
        times.append(time.perf_counter() - start)
    return min(times)


def peak_mb(name: str, path: Path) -> float:
    """Peak memory of a fresh process that reads the grid once, MB (Linux)."""
    code = (
        "import re, sys, pathlib; from benchmarks import read_grid as r; "
        f"r.{name}(pathlib.Path(sys.argv[1])); "
        "status = pathlib.Path('/proc/self/status').read_text(); "
        "print(re.search(r'VmHWM:\\s*(\\d+)', status)[1])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True,
        cwd=Path(__file__).parent.parent, env={**os.environ, "PYTHONWARNINGS": "ignore"},
    )  # fmt: skip
    return int(done.stdout) * 1024 / 1e6


def run(*, large: bool = False, rounds: int = 5) -> list[Row]:
    """Each size against the library alone, and with void and sign seen to."""
    rows: list[Row] = []
    with tempfile.TemporaryDirectory() as folder:
        for size in (SMALL, LARGE) if large else (SMALL,):
            path = write_grid(Path(folder) / f"{size}.tif", size)
            ours(path)
            for name, function in (("rasterio", plain), ("rasterio, void and sign", masked)):
                pairs = [(best(function, path, 1), best(ours, path, 1)) for _ in range(rounds)]
                reference, own = (float(np.min(column)) for column in zip(*pairs, strict=True))
                rows.append(Row.of(f"read a tiled deflate GeoTIFF, {size}²", name, own, reference))
            if sys.platform == "linux":
                print(
                    f"{size}²: peak {peak_mb('ours', path):.0f} MB, rasterio "
                    f"{peak_mb('plain', path):.0f}, the array {size * size * 4 / 1e6:.0f}",
                    file=sys.stderr,
                )
    return rows


if __name__ == "__main__":
    for line in run(large="--large" in sys.argv):
        print(line)
