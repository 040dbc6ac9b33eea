"""Own soundings gridded, in time and memory; and against other libraries.

``python -m benchmarks soundings`` grids 500,000; ``python -m benchmarks.sounder.soundings 5000000``
as many as it says.
"""

from __future__ import annotations

import resource
import sys
import time

import numpy as np
import pandas as pd
import verde
from pyproj import Transformer
from scipy.interpolate import griddata

from benchmarks.rows import Row
from seabed.grid import crs_of
from seabed.soundings import OwnGrid, grid_soundings, sounding_table

MANY = 500_000
SOME = 20_000
SECONDS_ALLOWED = 60.0  # for five million


def run(count: int = MANY) -> list[Row]:
    some = survey(SOME)
    grid_soundings(some)  # compiles
    rows = [against(name, some) for name in ("verde spline", "scipy griddata, cubic")]
    many = survey(count)
    start = time.perf_counter()
    own = grid_soundings(many)
    spent = time.perf_counter() - start
    size = f"{count:,} soundings to {own.depth.size:,} cells"
    allowed = SECONDS_ALLOWED * count / 5_000_000
    rows.append(Row.of(f"grid {size}", f"{allowed:.0f} s allowed", spent, allowed))
    return rows


def survey(count: int) -> pd.DataFrame:
    """Lines 5 m apart, a sounding each metre, over a hilly bottom; noise 0.2 m."""
    rng = np.random.default_rng(0)
    along = 5000 if count > 1_000_000 else 200
    line = np.arange(count) // along
    east, north = 5.0 * (line % 1000) + rng.normal(0, 1, count), np.arange(count) % along * 1.0
    degrees = Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
    longitude, latitude = degrees.transform(470_000 + east, 5_116_000 + north)
    seconds = 0.5 * np.arange(count) + 86_400.0 * (line // 100)
    return sounding_table(
        time=np.datetime64("2031-06-10", "ns") + (seconds * 1e9).astype("m8[ns]"),
        longitude=longitude,
        latitude=latitude,
        depth_m=bottom(east, north) + rng.normal(0, 0.2, count),
        sigma_m=np.full(count, 0.2),
        line=line,
    )


def bottom(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    return 10 + 3 * np.sin(east / 60) * np.cos(north / 90)


def against(name: str, table: pd.DataFrame) -> Row:
    """Seconds for the same cells; prints what each errs by."""
    start = time.perf_counter()
    own = grid_soundings(table)
    ours = time.perf_counter() - start
    turn = Transformer.from_crs("EPSG:4326", crs_of(own.depth), always_xy=True)
    places = turn.transform(table["longitude"].to_numpy(), table["latitude"].to_numpy())
    depth = table["depth_m"].to_numpy(float)
    x, y = np.meshgrid(own.depth.x.values, own.depth.y.values)
    start = time.perf_counter()
    if name.startswith("verde"):
        step = float(own.depth.x[1] - own.depth.x[0])
        blocks, middle = verde.BlockReduce(np.median, spacing=step).filter(places, depth)
        found = verde.Spline(damping=1e-4).fit(blocks, middle).predict((x, y))
    else:
        found = griddata(np.column_stack(places), depth, (x, y), method="cubic")
    theirs = time.perf_counter() - start
    tell(name, own, found, (x - 470_000, y - 5_116_000))
    return Row.of(f"grid {len(table):,} soundings, {x.size:,} cells", name, ours, theirs)


def tell(name: str, own: OwnGrid, found: np.ndarray, at: tuple[np.ndarray, np.ndarray]) -> None:
    errors = []
    for values in (own.depth.values, found):
        both = np.isfinite(own.depth.values) & np.isfinite(found)
        errors.append(float(np.sqrt(np.mean((values - bottom(*at))[both] ** 2))))
    print(f"  errs by {errors[0]:.3f} m, {name} by {errors[1]:.3f} m", file=sys.stderr)


def gigabytes() -> float:
    """Most memory this process ever held."""
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1e9 if sys.platform == "darwin" else 1e6)


if __name__ == "__main__":
    for row in run(int(sys.argv[1]) if len(sys.argv) > 1 else MANY):
        print(*row, sep="  ")
    print(f"most memory ever held: {gigabytes():.2f} GB")
