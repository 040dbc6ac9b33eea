"""A hundred thousand free drifts of half an hour: ours against a general Lagrangian library.

``python -m benchmarks.planning.drift_planning`` tells how far their end points lie apart after two
hours.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import xarray as xr
from affine import Affine
from pyproj import Geod

from benchmarks.rows import Row, seconds
from layers.planning import SafeWater
from layers.planning.drift._drift import even_steps, tracks_at
from layers.water import CRAFT, FixedWind, HighLowTable
from layers.water.motion import boat_velocity
from seabed.grid import make_grid

__all__ = ["run"]

START = np.datetime64("2031-06-14T08:00", "ns")
WEST, SOUTH = -33.45, 46.15
SIDE = 0.1
BOATS = 100_000
FEW = 2_000  # the library takes minutes for all
PERIOD_S = 12.4206 * 3600.0  # M2
GEOD = Geod(ellps="WGS84")


class ShearedTide:
    """A reversing tide with shear and a turning part, linear in place, known each five minutes."""

    def __init__(self) -> None:
        self.times_s = np.arange(0.0, 3 * 3600.0 + 1, 300.0)

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Any:
        """East and north, m/s, between samples in time as between those of a file."""
        after = (times - START) / np.timedelta64(1, "s")
        return self.at(self.strength(after), longitude, latitude)

    def strength(self, after: Any) -> Any:
        """Share of the greatest stream."""
        return np.interp(after, self.times_s, np.cos(2 * np.pi * (self.times_s + 4e3) / PERIOD_S))

    def at(self, share: Any, longitude: Any, latitude: Any) -> Any:
        """Velocity at a share of the greatest stream."""
        x, y = (longitude - WEST) / SIDE, (latitude - SOUTH) / SIDE
        return share * (0.2 + 0.4 * y), share * (0.5 - 0.4 * x)


def run() -> list[Row]:
    """Time free drifts, and those that look out for land, shoals and the tide's height."""
    random = np.random.default_rng(1)
    longitude = WEST + SIDE * random.uniform(0.3, 0.7, BOATS)
    latitude = SOUTH + SIDE * random.uniform(0.3, 0.7, BOATS)
    currents = ShearedTide()
    windy = boat_velocity(currents, FixedWind(4.0, 230.0), CRAFT["skiff, V-hull"])
    safe = water()

    steps = even_steps(1800.0, 30.0)

    def free(velocity: Any = currents.velocity, **more: Any) -> Any:
        return tracks_at(longitude, latitude, START, velocity, steps, **more)

    ours = seconds(free, times=1)
    few = longitude[:FEW], latitude[:FEW]
    ours_few = seconds(lambda: tracks_at(*few, START, currents.velocity, steps), times=1)
    theirs_few = seconds(lambda: lagrangian(*few, currents, 1800.0), times=1)
    looking = seconds(lambda: free(windy, look=safe.look), times=1)
    return [
        Row.of("2,000 free drifts of 30 min", "parcels, RK4, same steps", ours_few, theirs_few),
        Row.of("100,000 with wind, depth and shoals", "100,000, looking at none", looking, ours),
    ]


def water() -> SafeWater:
    """Give a bottom of humps over the whole field, under a tide."""
    cells = 1500
    y, x = np.mgrid[0:cells, 0:cells] * (4 * np.pi / cells)
    grid = make_grid(
        (8 + 5 * np.sin(x) * np.cos(y)).astype(np.float32),
        transform=Affine(SIDE / cells, 0, WEST, 0, -SIDE / cells, SOUTH + SIDE), crs="EPSG:4326",
    )  # fmt: skip
    times = START + np.array([0, 6], "timedelta64[h]")
    return SafeWater.of(grid, HighLowTable(times, np.array([0.0, 2.0]), np.array([False, True])))


def lagrangian(
    longitude: Any, latitude: Any, currents: ShearedTide, duration_s: float, step_s: int = 30
) -> tuple[Any, Any]:
    """Drift with the library; in degrees a second, so that both go over the same ellipsoid."""
    import parcels
    from parcels.convert import copernicusmarine_to_sgrid
    from parcels.kernels import AdvectionRK4

    lon, lat = np.linspace(WEST, WEST + SIDE, 41), np.linspace(SOUTH, SOUTH + SIDE, 41)
    x, y = np.meshgrid(lon, lat)
    per_metre = degrees_per_metre(lat)
    fields = np.array(
        [
            np.array(currents.at(share, x, y)) * per_metre[:, :, None]
            for share in currents.strength(currents.times_s)
        ]
    )
    coords = {
        "time": START + (currents.times_s * 1e9).astype("timedelta64[ns]"),
        "depth": [0.0], "lat": lat - SOUTH, "lon": lon - WEST,
    }  # fmt: skip
    names = ("time", "depth", "lat", "lon")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        data = copernicusmarine_to_sgrid(
            fields={
                name: xr.DataArray(fields[:, part][:, None], coords=coords, dims=names, name=name)
                for part, name in enumerate(("U", "V"))
            }
        )
        particles = parcels.ParticleSet(
            parcels.FieldSet.from_sgrid_conventions(data, mesh="flat"),
            x=longitude - WEST, y=latitude - SOUTH, z=np.zeros_like(longitude),
            t=np.full(len(longitude), START),
        )  # fmt: skip
        particles.execute(
            AdvectionRK4, dt=np.timedelta64(step_s, "s"),
            runtime=np.timedelta64(int(duration_s), "s"), verbose_progress=False,
        )  # fmt: skip
    # it keeps places in single precision: from the corner, not from Greenwich
    return WEST + np.asarray(particles.x, float), SOUTH + np.asarray(particles.y, float)


def degrees_per_metre(latitude: Any) -> Any:
    """Degrees of longitude and of latitude in a metre, from short geodesics, shape (2, n)."""
    zero = np.zeros_like(latitude)
    east, _, _ = GEOD.fwd(zero, latitude, zero + 90.0, zero + 1.0)
    _, north, _ = GEOD.fwd(zero, latitude - 0.5 / 111_195, zero, zero + 1.0)
    return np.array([east, np.asarray(north) - (latitude - 0.5 / 111_195)])


def apart_m(count: int = 400, duration_s: float = 7200.0) -> Any:
    """Metres between our end points and the library's."""
    random = np.random.default_rng(2)
    longitude = WEST + SIDE * random.uniform(0.3, 0.7, count)
    latitude = SOUTH + SIDE * random.uniform(0.3, 0.7, count)
    currents = ShearedTide()
    steps = even_steps(duration_s, 30.0)
    tracks = tracks_at(longitude, latitude, START, currents.velocity, steps)
    x, y = lagrangian(longitude, latitude, currents, duration_s)
    return GEOD.inv(tracks.longitude[:, -1], tracks.latitude[:, -1], x, y)[2]


if __name__ == "__main__":
    away = apart_m()
    print(f"after two hours: {away.max():.3f} m apart at most, {np.median(away):.3f} m as a rule")
