"""How much of the edges in the band a day's plan without a logbook passes.

``python -m benchmarks.planning.covered`` prints it for ten days and three grounds: the demo's, and
two simulated ones; with the name of a ground, and of days of June, for these alone.  An edge is
passed where some pass comes within 40 m of it.
"""

import sys

import numpy as np
import shapely
from affine import Affine

from benchmarks.planning.drift_truth import DEMO
from layers.area import load_area
from layers.jobs.parts.area_water import currents_of, heights_of
from layers.jobs.plan._known_ground import ground_of
from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.water import FixedWind, leeway_of
from seabed.geodesy import to_degrees
from seabed.grid import make_grid
from seabed.grid.places import sample
from seabed.structure import edges as find_edges

NEAR_M = 40.0
BAND_M = load_area(DEMO / "area.toml").depths.band_m
DAYS = [f"2031-06-{day:02}" for day in range(9, 19)]
HELD_MPS = (0.4 * 1852 / 3600, 0.9 * 1852 / 3600)


def wandering():
    """A bank whose edge wanders, 4 km long; its steepest part is at 6.5 m."""
    y, x = np.mgrid[0:800, 0:600] * 5.0
    edge = 1500.0 + 250.0 * np.sin(y / 500.0)
    return 3.5 + 6.0 / (1.0 + np.exp((edge - x) / 15.0))


def patches():
    """Low banks without an order."""
    random = np.random.default_rng(7)
    y, x = np.mgrid[0:700, 0:700] * 5.0
    depth = np.full(x.shape, 9.5)
    for _ in range(14):
        east, north = random.uniform(300.0, 3200.0, 2)
        long, wide, angle = random.uniform(250, 600), random.uniform(80, 200), random.uniform(0, 3)
        along = (x - east) * np.cos(angle) + (y - north) * np.sin(angle)
        across = (y - north) * np.cos(angle) - (x - east) * np.sin(angle)
        depth -= 4.0 * np.exp(-((along / long) ** 4) - (across / wide) ** 4)
    return np.maximum(depth, 4.0)


def edges_passed(edges, passes, grid, crs, band_m):
    """Metres of edges in the band, and of those within reach of a pass."""
    lines = shapely.segmentize(edges.to_crs(crs).geometry.to_numpy(), 5.0)
    ends = [np.stack([part.coords[:-1], part.coords[1:]], 1) for part in shapely.get_parts(lines)]
    pieces = np.concatenate(ends)
    middle = pieces.mean(axis=1)
    depth = sample(grid, *to_degrees(crs).transform(*middle.T))
    within = (depth >= band_m[0]) & (depth <= band_m[1])
    metres = np.hypot(*(pieces[:, 1] - pieces[:, 0]).T)
    near = shapely.union_all(passes.to_crs(crs).geometry.buffer(NEAR_M).to_numpy())
    passed = within & shapely.contains(near, shapely.points(middle))
    return metres[within].sum(), metres[passed].sum()


def grounds(names=("demo", "wandering", "patches")):
    """Name, grid, edges, worth and band of each ground, and what closes water on it."""
    if "demo" in names:
        area = load_area(DEMO / "area.toml")
        ground = ground_of(area)
        yield (
            "demo", ground.grid, ground.structure.edges, ground.structure_score,
            area.depths.band_m, ground.hazards,
        )  # fmt: skip
    for make in (wandering, patches):
        if make.__name__ not in names:
            continue
        grid = make_grid(
            make().astype(np.float32), transform=Affine(5, 0, 470_000, 0, -5, 5_118_000),
            crs="EPSG:32625",
        )  # fmt: skip
        found = find_edges(grid, band=BAND_M)
        yield make.__name__, grid, found, structure_worth(grid, BAND_M, [found]), BAND_M, None


def main(*words):
    names = [word for word in words if not word.isdigit()]
    days = [f"2031-06-{int(word):02}" for word in words if word.isdigit()] or DAYS
    area = load_area(DEMO / "area.toml")
    print("| ground | day | drifts | minutes | edges in the band km | passed km |")
    print("|---|---|---|---|---|---|")
    for name, grid, edges, worth, band_m, hazards in grounds(*[names] if names else []):
        safe = SafeWater.of(grid, heights_of(area), hazards)
        for day in days:
            start = np.datetime64(f"{day}T09:00", "ns")
            water = DayWater(
                currents_of(area), leeway_of("skiff, V-hull"),
                FixedWind(4.0, 36.0 * (int(day[-2:]) - 9)), held_mps=HELD_MPS,
            )  # fmt: skip
            limits = DriftLimits(set_up_s=90.0, lines_up_s=30.0)
            passes = plan_day(
                Setting(safe, water, band_m, limits), worth, start, start + np.timedelta64(5, "h"),
                cover=True,
            ).passes  # fmt: skip
            whole, passed = edges_passed(edges, passes, grid, "EPSG:32625", band_m)
            print(
                f"| {name} | {day} | {len(passes)} | {passes['drift_s'].median() / 60:.0f} | "
                f"{whole / 1000:.1f} | {passed / 1000:.1f} |", flush=True,
            )  # fmt: skip


if __name__ == "__main__":
    main(*sys.argv[1:])
