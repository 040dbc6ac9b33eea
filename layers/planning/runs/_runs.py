"""Runs from the launch, back up, between lines and home, over water that is safe at that hour."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from shapely.geometry import LineString

from layers.planning.drift.safe_water import SafeWater
from layers.planning.runs._lattice import LatticePath
from layers.planning.runs._ways import Ways
from layers.water.times import spans
from seabed.array_types import Floats, Ints, Pair, Times
from seabed.geodesy import distance_m
from seabed.grid.places import CellFinder, sample

LONGEST_STEP_S: Final = 30.0
SHORTEST_STEP_S: Final = 0.5
SLOWER: Final = 1.05
"""How much longer a run may take so that its corners fall on even steps of time."""

TIDE_EVERY_S: Final = 60.0
LOOKS_A_CELL: Final = 4
REST_LOOKS: Final = 200
OWN_WAY: Final = ": find your own way"
NO_WAY: Final = f"has no known way of enough water, clear of hazards, at that hour{OWN_WAY}"
CROSSES: Final = (
    "crosses a charted fairway, cable or other ground closed to a drift: look out, and do not stop"
)
ROUNDING_M: Final = 1e-3


Place = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A run from one place to another, its vertices even in time (UTC), at most 30 s apart.

    With a caution, what is not known to be safe from a verb on, they end where water known to be
    safe does, and are the straight way only if there is none; distance and seconds go straight on
    to the end. least_water_m: NaN where the run crosses water that is not known.
    """

    longitude: Floats
    latitude: Floats
    times: Times
    distance_m: float
    seconds: float
    least_water_m: float
    caution: str


@dataclass(frozen=True, slots=True)
class Runs:
    """Ways over safe water, hour by hour, at a speed over the ground.  Made by `Runs.of`.

    ways, crossing: clear of all that a drift keeps clear of; crossing what a boat under way may.
    """

    safe: SafeWater
    running_mps: float
    ways: Ways
    crossing: Ways
    finder: CellFinder

    @classmethod
    def of(cls, safe: SafeWater, *, running_mps: float) -> Runs:
        """Make ready to look for ways, at a speed over the ground."""
        ways = Ways.of(safe)
        crossing = ways if safe.crossed is safe.passed_over else Ways.of(safe, crossing=True)
        return cls(safe, running_mps, ways, crossing, CellFinder.of(safe.grid))

    def between(
        self, here: Place, there: Place, leave: np.datetime64, *, around: LineString | None = None
    ) -> Run:
        """Find the shortest way from one place to another over water that is safe meanwhile.

        Under the least tide of its time.  A way that is not known to be safe throughout has a
        caution.

        around: a line being fished; the run keeps 50 m off it, but within 50 m of its ends and of
            the run's, if there is room.
        """
        leave, ends = leave.astype("datetime64[ns]"), np.array([here, there], float).T
        start, end = self._cells(ends).T
        line = None if around is None else self._cells(np.array(around.coords).T)
        lasts_s = float(_metres(ends)[0]) * SLOWER / self.running_mps
        while True:
            wanted = self.safe.least_water_m - self._least_height(leave, lasts_s)
            run = self._run(ends, leave, *self._way(start, end, wanted, line))
            if run.seconds <= lasts_s or not np.isfinite(wanted):
                return run
            lasts_s = run.seconds * SLOWER

    def _cells(self, degrees: Floats) -> Floats:
        row, column = self.finder.row_column(*degrees)
        if self.finder.edge is not None:  # off the grid it may be the turn before
            cells_round = 360.0 / self.finder.affine.a
            column -= cells_round * np.round((column - self.safe.grid.shape[1] / 2) / cells_round)
        return np.array([row, column])

    def _least_height(self, leave: np.datetime64, lasts_s: float) -> float:
        moments = _later(leave, np.linspace(0.0, lasts_s, 2 + int(lasts_s / TIDE_EVERY_S)))
        return float(np.min(self.safe.height(moments)))

    def _way(
        self, start: Floats, end: Floats, wanted: float, line: Floats | None
    ) -> tuple[LatticePath | None, str]:
        """Find a way and say why it is not known to be safe.

        What is closed to a drift is crossed only if that leads farther.
        """
        way, crosses = self.ways.between(start, end, wanted, line), ""
        if way is not None and way.arrived:
            return way, ""
        if self.crossing is not self.ways:
            over = self.crossing.between(start, end, wanted, line)
            if over is not None and (way is None or over.metres < way.metres):
                way, crosses = over, CROSSES
        short = "" if way is not None and way.arrived else self._caution(start, end, wanted, way)
        return way, "; ".join(part for part in (short, crosses) if part)

    def _caution(self, start: Floats, end: Floats, wanted: float, way: LatticePath | None) -> str:
        """Say why a way does not lead from the one place to the other."""
        if not np.isfinite(wanted):
            return f"goes on when the height of the tide is not known{OWN_WAY}"
        closed = [
            f"{verb} {self._why_closed(place, wanted)}"
            for verb, place in (("starts", start), ("ends", end))
            if not self.crossing.is_open(place, wanted)
        ]
        if closed:
            return " and ".join(closed) + OWN_WAY
        rest = np.linspace(end if way is None else way.points[:, -1], end, REST_LOOKS).T
        if np.isnan(sample(self.safe.grid, *self._degrees(rest))).any():
            return f"crosses land, or unknown water{OWN_WAY}"
        return NO_WAY

    def _why_closed(self, place: Floats, wanted: float) -> str:
        rows, columns = self.safe.grid.shape
        if not (0 <= place[0] < rows and 0 <= place[1] < columns):
            return "off the grid, in unknown water"
        row, column = np.floor(place).astype(int)
        charted = sample(self.safe.grid, *self._degrees(place[:, None]))[0]
        if charted < wanted:
            return "in water too shallow at that hour"
        if self.safe.crossed[row, column] < wanted:
            return "too near a charted hazard"
        if np.isnan(charted) or np.isinf(self.safe.shoalest[row, column]):
            return "in or beside land, or unknown water"
        return "beside water too shallow at that hour"

    def _degrees(self, cells: Floats) -> Floats:
        """Longitude and latitude of rows and columns."""
        affine, onto_grid = self.finder.affine, self.finder.turn
        x, y = affine.c + affine.a * cells[1], affine.f + affine.e * cells[0]
        if onto_grid is not None:
            x, y = onto_grid.transform(x, y, direction="INVERSE")
        return np.array([x, y], float)

    def _run(
        self, ends: Floats, leave: np.datetime64, way: LatticePath | None, caution: str
    ) -> Run:
        """Go a way at the running speed, and straight on where it ends."""
        to_degrees: Callable[[Floats], Floats] = np.asarray
        if way is None:
            whole = np.column_stack([ends[:, :1], ends, ends[:, 1:]])
        else:
            cells = self._cells(ends)
            whole, to_degrees = (
                np.column_stack([cells[:, 0], way.points, cells[:, 1]]),
                self._degrees,
            )
        metres = _metres(to_degrees(whole))
        steps, step_s = _even_steps(metres[1:-1] / self.running_mps)
        vertices = _parted(whole[:, 1:-1], steps)
        seconds = metres[0] / self.running_mps + step_s * np.arange(vertices.shape[1])
        lasts_s = float(seconds[-1] + metres[-1] / self.running_mps)
        dense, at_s = _densely(
            np.column_stack([whole[:, 0], vertices, whole[:, -1]]),
            np.array([0.0, *seconds, lasts_s]),
        )
        water = sample(self.safe.grid, *to_degrees(dense)) + self.safe.height(_later(leave, at_s))
        if not (caution or np.min(water) >= self.safe.least_water_m - ROUNDING_M):
            caution = NO_WAY  # whatever the search says
        longitude, latitude = to_degrees(vertices)
        longitude = longitude + 360.0 * np.round((ends[0, 0] - longitude) / 360.0)
        return Run(
            longitude, latitude, _later(leave, seconds), float(metres.sum()), lasts_s,
            float(np.min(water)), caution,
        )  # fmt: skip


def _later(leave: np.datetime64, seconds: Floats) -> Times:
    return np.asarray(leave + spans(seconds))


def _metres(places: Floats) -> Floats:
    """Lengths of the legs between places, shape (2, n)."""
    return np.asarray(distance_m(*places[:, :-1], *places[:, 1:]))


def _even_steps(legs_s: Floats) -> tuple[Ints, float]:
    """Part legs into even steps of time, so that a step ends at each corner.

    The boat is a little slower on a leg than it could be; a step is as long as that allows.
    """
    whole_s = float(legs_s.sum())
    parts = max(1, int(np.ceil(whole_s / LONGEST_STEP_S)))
    while True:
        step_s = max(whole_s / parts, 1e-3)
        steps = np.ceil(legs_s / step_s - 1e-6).astype(np.int64)
        steps[0] += not steps.any()
        if steps.sum() <= SLOWER * parts or step_s <= SHORTEST_STEP_S:
            return steps, step_s
        parts += 1


def _parted(corners: Floats, steps: Ints) -> Floats:
    """Divide each leg into even steps; a leg of none is left out."""
    at = np.concatenate([[0], np.cumsum(steps)])
    return np.array([np.interp(np.arange(at[-1] + 1), at, part) for part in corners])


def _densely(places: Floats, seconds: Floats) -> Pair:
    """Lay places along others where a bilinear depth can be least, with their seconds.

    They are a quarter of a cell apart, and where the way crosses a line of cells' middles.
    """
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(places, axis=1)))])
    looks = np.union1d(along, np.linspace(0.0, along[-1], 2 + int(LOOKS_A_CELL * along[-1])))
    dense = np.array([np.interp(looks, along, part) for part in places])
    crossed = [_crossings(looks, part) for part in dense]
    looks = np.unique(np.concatenate([looks, *crossed]))
    return np.array([np.interp(looks, along, part) for part in places]), np.interp(
        looks, along, seconds
    )


def _crossings(looks: Floats, part: Floats) -> Floats:
    """Say where rows, or columns, cross the middle of one, once between looks at most."""
    one, other = part[:-1] - 0.5, part[1:] - 0.5
    across = np.floor(one) != np.floor(other)
    one, other = one[across], other[across]
    share = (np.floor(np.maximum(one, other)) - one) / (other - one)
    return np.asarray(looks[:-1][across] + share * np.diff(looks)[across])
