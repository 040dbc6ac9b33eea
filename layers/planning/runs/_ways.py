"""Ways over the safe water of a grid, at one height of the tide."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from rasterio.features import rasterize
from shapely.geometry import LineString, MultiPoint

from layers.planning.drift.safe_water import SafeWater
from layers.planning.runs._lattice import REST_COUNTS, Lattice, LatticePath
from seabed.array_types import Floats, Pair
from seabed.grid import CellSize, cell_size

CLEAR_OF_LINE_M: Final = 50.0
"""How far a run keeps off the line that is fished.  Common practice, no source."""

LEVEL_STEP_M: Final = 0.05
"""Ways are first sought in up to this much less water, so that they serve again."""

LEAST_MARGIN_M: Final = 150.0
LONGEST_ROUND: Final = 4.0
"""How many times longer a run may be that goes round the line that is fished.  Our choice."""

FINE_M: Final = CLEAR_OF_LINE_M / 3

Box = tuple[int, int, int, int]
"""First and last row and column, the last not counted."""


@dataclass(frozen=True, slots=True)
class Ways:
    """Shortest ways over safe water, by rows and columns as `row_column` gives them.

    passed_over: depth over which hazards let a boat pass.
    known: ways found before, by ends, water wanted and line.
    """

    safe: SafeWater
    passed_over: NDArray[np.float32]
    size: CellSize
    known: dict[Any, LatticePath | None] = field(default_factory=dict)

    @classmethod
    def of(cls, safe: SafeWater, *, crossing: bool = False) -> Ways:
        """Make ready to look for ways, perhaps `crossing` what is closed to a drift alone."""
        return cls(safe, safe.crossed if crossing else safe.passed_over, cell_size(safe.grid))

    def between(
        self, start: Floats, end: Floats, wanted: float, line: Floats | None
    ) -> LatticePath | None:
        """Find the shortest way between two places over cells charted deeper than is wanted.

        line, shape (2, n): kept clear of by 50 m, but within 50 m of its ends and of the way's, if
            there is room.
        Returned: it ends, or begins, short of a place in a closed cell, and of one that no way
            leads to.  None if no cell is open.
        """
        if not np.isfinite([*start, *end, wanted]).all():
            return None
        ends_open = self.is_open(start, wanted) and self.is_open(end, wanted)
        way = None
        for level in (float(np.ceil(wanted / LEVEL_STEP_M) * LEVEL_STEP_M), wanted):
            key = (*start, *end, level, None if line is None else line.tobytes())
            if key not in self.known:
                self.known[key] = self._searched(start, end, level, line)
            way = self.known[key]
            if not ends_open or (way is not None and way.arrived):
                break
        return way

    def is_open(self, place: Floats, wanted: float) -> bool:
        """Say whether a place is in a safe cell."""
        rows, columns = self.safe.grid.shape
        if not (0 <= place[0] < rows and 0 <= place[1] < columns):
            return False
        row, column = np.floor(place).astype(int)
        closes = min(self.safe.shoalest[row, column], self.passed_over[row, column])
        return bool(closes >= wanted)

    def _searched(
        self, start: Floats, end: Floats, wanted: float, line: Floats | None
    ) -> LatticePath | None:
        """Find a way from whichever end is open, or from safe water beside one."""
        if self.is_open(start, wanted):
            return self._from_open(start, end, wanted, line)
        if self.is_open(end, wanted):
            return self._from_open(end, start, wanted, line).reversed
        beside = [self._nearest_open(place, wanted) for place in (start, end)]
        if beside[0] is None or beside[1] is None:
            return None
        if self._metres(start, beside[0]) <= self._metres(end, beside[1]):
            return self._from_open(beside[0], end, wanted, line)
        return self._from_open(beside[1], start, wanted, line).reversed

    def _from_open(
        self, start: Floats, end: Floats, wanted: float, line: Floats | None
    ) -> LatticePath:
        free = self._widened(start, end, wanted, None)
        if line is None or not free.arrived:
            return free
        round_it = self._widened(start, end, wanted, line)
        is_worth_it = round_it.metres <= LONGEST_ROUND * (free.metres + 2 * CLEAR_OF_LINE_M)
        return round_it if round_it.arrived and is_worth_it else free

    def _widened(
        self, start: Floats, end: Floats, wanted: float, line: Floats | None
    ) -> LatticePath:
        """Look in a window round both ends, and where a shorter way may leave it in a wider one.

        A shorter way stays within the ellipse of its length about both ends; so does one that ends
        nearer, and never nearer than the grid does.
        """
        middle, (rows, columns) = (start + end) / 2, self.safe.grid.shape
        beyond_m = self._metres(np.clip(end, 0, [rows, columns]), end)
        box = self._box(middle, 0.6 * self._metres(start, end) + LEAST_MARGIN_M)
        while True:
            way = self._window(box, wanted, (start, end), line).way(start, end)
            wider = (0, rows, 0, columns)
            if way.arrived or not self.is_open(end, wanted):
                wider = _joined(
                    box, self._box(middle, (way.metres - (REST_COUNTS - 1) * beyond_m) / 2)
                )
            if wider == box:
                return way
            box = wider

    def _nearest_open(self, place: Floats, wanted: float) -> Floats | None:
        closes = np.minimum(self.safe.shoalest, self.passed_over)
        cells = np.array(np.nonzero(closes >= wanted)) + 0.5
        if not cells.size:
            return None
        away = np.hypot(*((cells - place[:, None]) * self._cell(place)[:, None]))
        return np.asarray(cells[:, np.argmin(away)])

    def _metres(self, start: Floats, end: Floats) -> float:
        down, across = np.abs(end - start) * self._cell(start)
        return float(np.hypot(down, across))

    def _cell(self, place: Floats) -> Floats:
        """Height and width in metres of the cells at a place."""
        row = int(np.clip(place[0], 0, len(self.size.easting) - 1))
        return np.array([self.size.northing[row], self.size.easting[row]])

    def _box(self, middle: Floats, reach_m: float) -> Box:
        reach = reach_m / self._cell(middle)
        low = np.floor(middle - reach).astype(int)
        high = np.ceil(middle + reach).astype(int)
        rows, columns = self.safe.grid.shape
        top, bottom = np.clip([low[0], high[0]], 0, rows)
        left, right = np.clip([low[1], high[1]], 0, columns)
        return int(top), int(bottom), int(left), int(right)

    def _window(self, box: Box, wanted: float, ends: Pair, line: Floats | None) -> _Window:
        top, bottom, left, right = box
        part = np.s_[top:bottom, left:right]
        closes = np.minimum(self.safe.shoalest[part], self.passed_over[part])
        easting, northing = self.size.easting[top:bottom], self.size.northing[top:bottom]
        finer = 1
        if line is not None:
            cell = self._cell(line.mean(axis=1))
            finer = max(1, int(np.ceil(cell.max() / FINE_M)))
            closes = np.repeat(np.repeat(closes, finer, axis=0), finer, axis=1)
            beside = _beside(line, ends, cell)
            onto = Affine(cell[1] / finer, 0, left * cell[1], 0, cell[0] / finer, top * cell[0])
            if not beside.is_empty:
                rasterize([(beside, -np.inf)], out=closes, transform=onto, all_touched=True)
        lattice = Lattice(
            closes, wanted, np.repeat(easting, finer) / finer, np.repeat(northing, finer) / finer
        )
        return _Window(lattice, np.array([top, left], float), finer)


@dataclass(frozen=True, slots=True)
class _Window:
    """A lattice that covers a part of the grid, its cells parted finer."""

    lattice: Lattice
    corner: Floats
    finer: int

    def way(self, start: Floats, end: Floats) -> LatticePath:
        """Find a way, as `Lattice.way`, in the grid's rows and columns."""
        way = self.lattice.way(*((place - self.corner) * self.finer for place in (start, end)))
        return LatticePath(way.points / self.finer + self.corner[:, None], way.metres, way.arrived)


def _beside(line: Floats, ends: Pair, cell: Floats) -> Any:
    """Give the ground beside a line that a run keeps off, in metres right of and below the corner.

    A quarter of a cell more: a way is checked every half cell.
    """
    flat = (line * cell[:, None])[::-1].T
    own = np.array([flat[0], flat[-1], *((place * cell)[::-1] for place in ends)])
    wide = CLEAR_OF_LINE_M * 1.01 + min(FINE_M, float(cell.max())) / 2
    strip = LineString(flat).buffer(wide, cap_style="flat")
    return strip.difference(MultiPoint(own).buffer(CLEAR_OF_LINE_M))


def _joined(one: Box, other: Box) -> Box:
    return (
        min(one[0], other[0]), max(one[1], other[1]), min(one[2], other[2]), max(one[3], other[3]),
    )  # fmt: skip
