"""Plans in many worlds, each pass followed by an integrator of another make.

``python -m benchmarks.planning.passes_truth`` prints the figures of docs/how_well.md: random banks,
tides, streams that turn in the hours planned, winds, held and free.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from affine import Affine
from scipy.ndimage import gaussian_filter

from benchmarks.planning.followed import Heights, Streams, World, follow_leg
from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.planning.day.timetable import legs_of, timetable
from layers.water import CurrentTable, FixedWind, HighLowTable, Leeway, OpenHours
from seabed.errors import SeabedError
from seabed.grid import make_grid

EPOCH = np.datetime64("2031-06-14T00:00", "ns")
LEEWAY = Leeway(0.0287, 0.0398, 0.0333, 0.0032, -0.0293, 0.0253)  # skiff, V-hull
LEAST_M = 1.5


def at(hour: float) -> np.datetime64:
    return EPOCH + np.timedelta64(round(hour * 3600), "s")


def blown(wind_mps: float, from_deg: float) -> tuple[float, float]:
    """Leeway straight downwind, from the published slope and offset."""
    toward = np.radians(from_deg + 180.0)
    speed = 0.0287 * wind_mps + (0.0398 if wind_mps else 0.0)
    return speed * np.sin(toward), speed * np.cos(toward)


def grid_of(depth: Any) -> Any:
    return make_grid(
        np.asarray(depth, np.float32), transform=Affine(10.0, 0, 500_000.0, 0, -10.0, 5_116_000.0),
        crs="EPSG:32625",
    )  # fmt: skip


def table_of(streams: Streams) -> CurrentTable:
    times = np.array([at(hour) for hour in streams.hours])
    along = np.array(streams.along)
    return CurrentTable(
        times, along, along == 0, streams.flood_toward_deg, (streams.flood_toward_deg + 180) % 360
    )


def tide_of(heights: Heights) -> HighLowTable:
    high = np.array(heights.metres) > np.mean(heights.metres)
    return HighLowTable(
        np.array([at(hour) for hour in heights.hours]), np.array(heights.metres), high
    )


def planned(world, currents, hours, band_m, *, wind=None, shortest_s=240.0):
    water = DayWater(currents, LEEWAY, wind, held_mps=world.held_mps, motor_limit_mps=2.0)
    safe = SafeWater.of(world.grid, tide_of(world.heights), least_water_m=LEAST_M)
    limits = DriftLimits(shortest_s=shortest_s, longest_s=900.0)
    setting = Setting(safe, water, band_m, limits)
    worth = structure_worth(world.grid, band_m, [])
    plan = plan_day(setting, worth, *hours, spacing_m=80.0, home=(-32.995, 46.185))
    return plan, legs_of(timetable(plan, setting, OpenHours.whole(*hours)))


WORLDS = 25


def worlds(seed: int, *, held: tuple[float, float] | None) -> tuple[World, Streams, FixedWind]:
    """Draw a bottom, a falling or rising tide, streams that turn once or twice, and a wind."""
    random = np.random.default_rng(seed)
    rough = gaussian_filter(random.standard_normal((140, 160)), random.uniform(4, 12))
    depth = 2.5 + 1.5 * rough / rough.std()
    first = random.uniform(3.0, 8.0)
    heights = Heights(
        tuple(first + np.array([-6.2, 0.0, 6.2, 12.4])),
        tuple(np.array([0.0, 1.0, 0.0, 1.0]) * random.uniform(0.5, 3.0) - random.uniform(0, 0.5)),
    )
    slack, most = random.uniform(1.0, 6.0), random.uniform(0.3, 1.1)
    streams = Streams(
        EPOCH, tuple(slack + 3.1 * np.arange(5)), (0.0, most, 0.0, -0.9 * most, 0.0),
        float(random.uniform(0, 360)),
    )  # fmt: skip
    wind, from_deg = float(random.uniform(2.0, 7.0)), float(random.uniform(0, 360))
    world = World(EPOCH, streams, heights, blown(wind, from_deg), held, grid_of(depth))
    return world, streams, FixedWind(wind, from_deg)


def main() -> None:
    followed, plans, late, turned = [], 0, 0, 0
    for seed in range(WORLDS):
        for held in (None, (0.25, 0.5)):
            world, streams, wind = worlds(seed, held=held)
            begin = max(streams.hours[0], 4.0) + 0.2
            hours = at(begin), at(min(begin + 5.0, streams.hours[-1]))
            try:
                _, legs = planned(world, table_of(streams), hours, (1.2, 2.6), wind=wind)
            except SeabedError:
                continue
            drifts = legs[legs["what"] == "drift"]
            plans += bool(len(drifts))
            followed += [follow_leg(world, leg) for leg in drifts.itertuples()]
            late += int((drifts["start"] > drifts["latest_start"]).sum())
            turned += sum(_turned(world, leg) for leg in drifts.itertuples())
    apart = np.array([one.apart_m for one in followed])
    least = np.array([one.least_m for one in followed])
    off = np.array([one.least_m - one.named_m for one in followed])
    print(
        f"{plans} plans, {len(followed)} passes: off the drawn track {apart.max():.3f} m at most; "
        f"least water {least.min():.2f} m (asked for: {LEAST_M} m), "
        f"{off.min():+.3f} to {off.max():+.3f} m of what is named; "
        f"{late} begin after the latest start, {turned} while or after the water turns"
    )


def _turned(world: World, leg: Any) -> bool:
    """Whether the water over a pass's mark turns back before the latest start or its end."""
    until = max(leg.end, leg.latest_start)
    moments = pd.date_range(leg.start, until, freq="1min").tz_localize(None).to_numpy()
    east, north = world.current(world.hour(moments), *leg.geometry.coords[0])
    return bool((east * east[0] + north * north[0] < 0).any())


if __name__ == "__main__":
    main()
