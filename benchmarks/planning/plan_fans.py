"""Shares that plans state, against boats followed by other tools, over a family of worlds.

``python -m benchmarks.planning.plan_fans`` prints the table of docs/how_well.md: for each world how
far the share of time in the band, the chance to stay, and the share of boats stopped lie from what
`fan_truth` finds with boats of its own; the worst of all lines and passes.

Each world is made of plain figures here; the planner gets them as its own tables, `fan_truth` as
functions of metres and seconds.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import Transformer
from scipy.interpolate import RegularGridInterpolator

from benchmarks.planning.fan_truth import SKIFF_V_HULL, Shares, Sheet, World, plane_at, shares_of
from layers.planning import DayWater, DriftLimits, SafeWater, Setting, plan_day, structure_worth
from layers.water import CRAFT, CurrentTable, FixedWind, HighLowTable, WindTable
from seabed.grid import make_grid

Floats = NDArray[np.float64]

KNOT = 1852.0 / 3600.0
START = np.datetime64("2031-06-14T08:00", "ns")
HOUR = np.timedelta64(1, "h")
CELL = 10.0
WEST, NORTH = 500_000.0, 5_116_000.0
HELD = (0.4 * KNOT, 0.9 * KNOT)
"""The default speeds of ``seabed plan``."""


@dataclass(frozen=True)
class Case:
    """A world as its figures, east and north from a corner of its grid in metres.

    Attributes
    ----------
    name : str
    depth : ndarray
        Of the grid's cells, the northern row first.
    band : (float, float)
    events : sequence of (hour, m/s)
        Slacks, floods (above 0) and ebbs from `START`, toward `flood_toward` or its opposite.
    shear : float
        Share by which the current is stronger at the grid's north end, and weaker at the south.
    turn_deg_hour : float
        By which the current's direction turns an hour.
    wind : (knots, from) or sequence of (hour, knots, from)
    tides : sequence of (hour, metres), a high and a low in turn
    hours : (float, float)
        Planned from `START`.
    otherwise : dict
        What the truth does that the planner does not assume, as `World` takes it.
    """

    name: str
    depth: Floats
    band: tuple[float, float] = (6.0, 9.0)
    events: tuple[tuple[float, float], ...] = ((-3.0, 0.0), (0.0, 0.5), (3.0, 0.0), (6.0, -0.5))
    flood_toward: float = 40.0
    shear: float = 0.0
    turn_deg_hour: float = 0.0
    wind: tuple[Any, ...] = (8.0, 230.0)
    tides: tuple[tuple[float, float], ...] = ()
    held: tuple[float, float] | None = HELD
    correct_every_s: float = 300.0
    motor_limit_mps: float = 2 * KNOT
    own_spread: tuple[float, float, float] | None = None
    hours: tuple[float, float] = (-1.5, 0.5)
    west: float = WEST
    north: float = NORTH
    cell: float = CELL
    crs: str = "EPSG:32625"
    limits: DriftLimits = field(default_factory=DriftLimits)
    otherwise: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class MovingCurrents:
    """Currents of a case that differ from place to place, or know their own doubt."""

    case: Case
    to_metres: Transformer

    @property
    def everywhere(self) -> bool:
        """Whether they are the same everywhere."""
        return self.case.shear == 0.0

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Any:
        """East and north, m/s."""
        seconds = (np.asarray(times, "datetime64[ns]") - START) / np.timedelta64(1, "s")
        north = 0.0
        if self.case.shear:
            north = self.to_metres.transform(longitude, latitude)[1] - self.case.north
        return current_of(self.case, seconds, north)


@dataclass(frozen=True)
class DoubtfulCurrents(MovingCurrents):
    """Currents that know their own doubt, as those that were learned do."""

    def spread(self, times: Any) -> Floats:
        """Covariance, shape (n, 2, 2)."""
        root = root_of(self.case)
        return np.broadcast_to(root @ root.T, (np.size(times), 2, 2))


def current_of(case: Case, seconds: Any, north: Any) -> Any:
    """East and north at seconds from `START`, `north` metres from the grid's north edge."""
    hours = np.asarray(seconds, float) / 3600.0
    along = np.full(hours.shape, np.nan)
    for (begin, before), (end, after) in zip(case.events[:-1], case.events[1:], strict=True):
        share = np.pi / 2 * (hours - begin) / (end - begin)
        piece = after * np.sin(share) if before == 0 else before * np.cos(share)
        along = np.where((hours >= begin) & (hours <= end), piece, along)
    height = case.depth.shape[0] * case.cell
    along = along * (1 + case.shear * (1 + 2 * np.asarray(north) / height))
    toward = np.radians(case.flood_toward + case.turn_deg_hour * hours)
    return along * np.sin(toward), along * np.cos(toward)


def root_of(case: Case) -> Floats:
    """Square root of the covariance of a current that knows its own doubt."""
    assert case.own_spread is not None
    east, north, both = case.own_spread
    return np.array([[east, 0.0], [both * north, north * np.sqrt(1 - both**2)]])


def wind_of(case: Case) -> list[tuple[float, float, float]]:
    """Hours, m/s and from."""
    rows = case.wind if isinstance(case.wind[0], tuple) else [(0.0, *case.wind)]
    return [(hour, knots * KNOT, from_deg) for hour, knots, from_deg in rows]


def setting_of(case: Case) -> Setting:
    """Give the planner's view of a case."""
    to_metres = Transformer.from_crs("EPSG:4326", case.crs, always_xy=True)
    if case.own_spread is not None:
        currents: Any = DoubtfulCurrents(case, to_metres)
    elif case.shear or case.turn_deg_hour:
        currents = MovingCurrents(case, to_metres)
    else:
        hours, along = np.array(case.events).T
        times = START + (hours * 3.6e12).astype("timedelta64[ns]")
        opposite = (case.flood_toward + 180.0) % 360.0
        currents = CurrentTable(times, along, along == 0, case.flood_toward, opposite)
    winds = wind_of(case)
    wind: Any = FixedWind(*winds[0][1:])
    if len(winds) > 1:
        hours, speeds, from_deg = np.array(winds).T
        wind = WindTable(START + (hours * 3.6e12).astype("timedelta64[ns]"), speeds, from_deg)
    heights = None
    if case.tides:
        hours, levels = np.array(case.tides).T
        high = np.arange(len(levels)) % 2 == int(levels[0] < levels[1])
        heights = HighLowTable(START + (hours * 3.6e12).astype("timedelta64[ns]"), levels, high)
    grid = make_grid(
        np.asarray(case.depth, np.float32), crs=case.crs,
        transform=Affine(case.cell, 0, case.west, 0, -case.cell, case.north),
    )  # fmt: skip
    water = DayWater(
        currents, CRAFT["skiff, V-hull"], wind, held_mps=case.held,
        motor_limit_mps=case.motor_limit_mps, correct_every_s=case.correct_every_s,
    )  # fmt: skip
    return Setting(SafeWater.of(grid, heights), water, case.band, case.limits)


def world_of(case: Case, plane: Transformer) -> World:
    """Give the truth's view of a case, on a plane."""
    rows, columns = case.depth.shape
    middles = RegularGridInterpolator(
        (np.arange(rows) + 0.5, np.arange(columns) + 0.5), np.asarray(case.depth, float),
        bounds_error=False,
    )  # fmt: skip
    to_grid = Transformer.from_pipeline(
        Transformer.from_crs(plane.target_crs, case.crs, always_xy=True).definition
    )

    def depth(x: Floats, y: Floats) -> Floats:
        east, north = to_grid.transform(x, y)
        place = (
            (case.north - np.asarray(north)) / case.cell,
            (np.asarray(east) - case.west) / case.cell,
        )
        return np.asarray(middles(np.stack(place, axis=-1)))

    def current(seconds: float, x: Floats, y: Floats) -> Any:
        north = to_grid.transform(x, y)[1] - case.north if case.shear else 0.0 * x
        return current_of(case, seconds + 0.0 * x, north)

    def tide(seconds: Floats) -> Floats:
        if not case.tides:
            return np.zeros(np.shape(seconds))
        hours, levels = np.array(case.tides).T
        after = np.clip(np.searchsorted(hours * 3600, seconds), 1, len(hours) - 1)
        share = (seconds / 3600 - hours[after - 1]) / (hours[after] - hours[after - 1])
        return (
            levels[after - 1]
            + (levels[after] - levels[after - 1]) * (1 - np.cos(np.pi * share)) / 2
        )

    winds = wind_of(case)

    def wind(seconds: float) -> tuple[float, float]:
        if len(winds) == 1:
            return winds[0][1:]
        hours, speeds, from_deg = np.array(winds).T
        blows = np.interp(seconds / 3600, hours, speeds * np.exp(1j * np.radians(from_deg)))
        return float(np.abs(blows)), float(np.degrees(np.angle(blows)))

    root = None if case.own_spread is None else root_of(case)
    return World(
        current,
        wind,
        depth,
        tide,
        SKIFF_V_HULL,
        None if root is None else lambda seconds: root,
        **case.otherwise,
    )


@dataclass(frozen=True)
class Row:
    """A pass: what the plan states, and what other tools find."""

    name: str
    pass_number: int
    stated: tuple[float, float, float]
    reached: tuple[float, float, float]


def passes_of(case: Case, *, boats: int = 4000, most: int = 8) -> Iterator[Row]:
    """Follow the passes of a case's plan."""
    setting = setting_of(case)
    worth = structure_worth(setting.safe.grid, case.band, [])
    begin, end = (START + np.timedelta64(round(hour * 3600), "s") for hour in case.hours)
    plan = plan_day(setting, worth, begin, end, spacing_m=80.0)
    rows = list(plan.passes.itertuples())
    for number in np.unique(np.linspace(0, len(rows) - 1, most).astype(int)) if rows else []:
        row = rows[number]
        found = followed(case, row, boats=boats, seed=int(number))
        yield Row(
            str(row.plan_id), int(row.pass_number),
            (row.fan_in_band, row.fan_stays, row.fan_stopped / row.fan_boats),
            (found.in_band, found.stays, found.stopped),
        )  # fmt: skip


def followed(case: Case, row: Any, *, boats: int = 4000, seed: int = 1) -> Shares:
    """Follow boats through a pass of a plan, from its row alone."""
    longitude, latitude = np.array(row.geometry.coords).T[:2]
    plane = plane_at(longitude[0], latitude[0])
    x, y = plane.transform(longitude, latitude)
    begin_s = float((np.datetime64(row.start.tz_localize(None)) - START) / np.timedelta64(1, "s"))
    pushes = [
        np.nan_to_num(size * np.array([np.sin(np.radians(way)), np.cos(np.radians(way))]))
        for size, way in ((row.push_mps, row.push_deg), (row.push_end_mps, row.push_end_deg))
    ]
    sheet = Sheet(
        begin_s, row.drift_s, np.linspace(0.0, row.drift_s, len(x)), x, y, *pushes,
        correct_every_s=case.correct_every_s, motor_limit_mps=case.motor_limit_mps,
        free=case.held is None,
    )  # fmt: skip
    return shares_of(sheet, world_of(case, plane), case.band, boats=boats, seed=seed)


def ridges(along_deg: float = 40.0, *, apart_m: float = 130.0) -> Floats:
    """Give rounded ridges of 3 m on a bottom of 9 m, running one way, some lower than others."""
    y, x = -np.mgrid[0:260, 0:260] * CELL * np.array([1.0, -1.0])[:, None, None]
    way = np.radians(along_deg)
    across = x * np.cos(way) - y * np.sin(way)
    along = x * np.sin(way) + y * np.cos(way)
    waves = np.cos(2 * np.pi * across / apart_m) * (0.7 + 0.3 * np.sin(2 * np.pi * along / 1100.0))
    depth: Floats = 9.0 - 3.0 * waves
    return depth


def by_a_shoal() -> Floats:
    """Give a bank in the band, a hundred metres and more from a shoal that dries at low water."""
    y, x = np.mgrid[0:260, 0:260] * CELL
    depth = np.full(x.shape, 14.0)
    off = (x * np.cos(np.radians(40.0)) + y * np.sin(np.radians(40.0))) - 1900.0
    depth = np.where(off > -350.0, 7.5, depth)
    depth: Floats = np.where(off > 0.0, np.maximum(0.3, 7.5 - off / 15.0), depth)
    return depth


CASES = (
    Case("wind S 22 kn", ridges(), wind=(22.0, 180.0)),
    Case("calm", ridges(), wind=(0.0, 0.0)),
    Case("wind that veers and freshens", ridges(), wind=((-3.0, 6.0, 200.0), (2.0, 18.0, 290.0))),
    Case("current that turns 40 degrees an hour", ridges(), turn_deg_hour=40.0),
    Case("current twice as strong in the north", ridges(), shear=0.33),
    Case("current of 2.3 kn, motor near its limit", ridges(),
         events=((-3.0, 0.0), (0.0, 1.2), (3.0, 0.0))),
    Case("the hour before slack", ridges(), hours=(1.6, 2.9)),
    Case("bank by a drying shoal, falling tide", by_a_shoal(),
         tides=((-4.0, 2.0), (2.5, -0.5)), wind=(12.0, 320.0)),
    Case("current that knows its own doubt", ridges(), own_spread=(0.05, 0.08, 0.4)),
    Case("drifting free, wind SW 6 kn", ridges(), held=None, wind=(6.0, 225.0)),
    Case("trim never corrected", ridges(), correct_every_s=np.inf, wind=(12.0, 150.0)),
    Case("trim corrected every 15 min", ridges(), correct_every_s=900.0, wind=(12.0, 150.0)),
    Case("trim corrected every 2 min", ridges(), correct_every_s=120.0, wind=(12.0, 150.0)),
)  # fmt: skip


OTHERWISE = (
    Case("errors that change in 10 min", ridges(), otherwise={"wander_s": 600.0}),
    Case("errors that change in 2 min", ridges(), otherwise={"wander_s": 120.0}),
    Case("plotter wrong by 5 m", ridges(), otherwise={"plotter_m": 5.0}),
    Case("errors half as great again", ridges(), otherwise={"times": 1.5}),
    Case("errors twice as great", ridges(), otherwise={"times": 2.0}),
)
"""What the planner does not assume: here shares need not be met."""


def survey(path: str) -> Case:
    """Give the survey F00788 of NOAA's Office of Coast Survey (CC0) under a wind of S 22 kn."""
    import rasterio

    with rasterio.open(path) as source:
        heights = source.read(1, masked=True).filled(np.nan).astype(float)
        edge, crs = source.transform, source.crs.to_string()
    return Case(
        "survey F00788, wind S 22 kn", -heights, band=(40.0, 50.0), wind=(22.0, 180.0),
        flood_toward=130.0, west=edge.c, north=edge.f, cell=edge.a, crs=crs,
        limits=DriftLimits(shortest_s=240.0),
    )  # fmt: skip


def main(words: list[str]) -> int:
    """Print a row for each world: signed, where the planner assumes what is so, and where not."""
    rows = [_tried(case) for case in [*CASES, *(survey(word) for word in words)]]
    print(_line("all of these", np.concatenate(rows)))
    for case in OTHERWISE:
        _tried(case)
    return 0


def _tried(case: Case) -> Floats:
    """Print the row of a case; give what was stated and what was reached, shape (n, 2, 3)."""
    shares = np.array([(row.stated, row.reached) for row in passes_of(case)])
    print(_line(case.name, shares), flush=True)
    return shares


def _line(name: str, shares: Floats) -> str:
    stays, off = shares[:, 0, 1], 100 * (shares[:, 0] - shares[:, 1])
    worst = off[np.abs(off).argmax(axis=0), range(3)]
    words = " | ".join(f"{value:+.1f}" for value in worst)
    return f"| {name} | {len(shares)} | {stays.min():.0%} to {stays.max():.0%} | {words} |"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
