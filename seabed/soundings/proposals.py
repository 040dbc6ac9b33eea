"""Where to sound next: straight lines that cut the uncertainty of the ground of interest most."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from numpy.typing import NDArray
from pyproj import Geod, Transformer
from scipy.ndimage import convolve1d, map_coordinates

from seabed.errors import GridError
from seabed.grid import check_grid
from seabed.soundings.lattice import Lattice, lattice_of
from seabed.soundings.roughness import matern

__all__ = ["PROPOSAL_COLUMNS", "lines_to_sound"]

PROPOSAL_COLUMNS: Final = ("line", "kind", "why", "length_m", "bearing_deg", "gain", "geometry")

SIDE: Final = 240
"""Cells along the longer side of the ground, on which lines are tried."""

BEARINGS: Final = 12
CROSS_SHARE: Final = 0.1
"""Of the length, for lines across the others as a check on them (common practice, no source)."""

CORRELATION_M: Final = 50.0
REACH: Final = 2.0
"""Correlation lengths within which a line tells anything."""

LEAST_SPACINGS: Final = 2.0
WORTH: Final = 0.3
"""A line is cut where it gains less than this share of what the best gains a metre."""

FEWEST_CROSSED: Final = 2
EARTH: Final = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True)
class _Ground:
    """Coarse cells: variance that counts, where a boat may go, and what a line does."""

    lattice: Lattice
    variance: NDArray[np.float64]
    open_water: NDArray[np.bool_]
    width_m: float
    height_m: float
    correlation_m: float
    spacing_m: float
    noise: float

    @property
    def cell_m(self) -> float:
        """Side of a square as large as a cell."""
        return float(np.sqrt(self.width_m * self.height_m))

    @property
    def middle(self) -> tuple[float, float]:
        """Metres east and south of the corner."""
        rows, columns = self.variance.shape
        return columns * self.width_m / 2, rows * self.height_m / 2

    def left(
        self, away_m: NDArray[np.float64], variance: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Share of a variance that is left so far from a line."""
        with np.errstate(invalid="ignore", divide="ignore"):
            trust = np.where(variance > 0, variance / (variance + self.noise), 0.0)
        share: NDArray[np.float64] = 1.0 - matern(away_m / self.correlation_m) ** 2 * trust
        return share


@dataclass(frozen=True, slots=True)
class _Line:
    """Ends of a line, metres east and south of the ground's corner, and its marginal gain."""

    start: tuple[float, float]
    end: tuple[float, float]
    across: float
    gain: float
    kind: str

    @property
    def length(self) -> float:
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))


def lines_to_sound(
    depth: xr.DataArray,
    uncertainty: xr.DataArray,
    *,
    length_m: float,
    band: tuple[float, float] | None = None,
    shallowest_m: float = 1.0,
    spacing_m: float | None = None,
    correlation_m: float = CORRELATION_M,
    sounding_sigma_m: float = 0.2,
) -> gpd.GeoDataFrame:
    """Propose straight lines to sound, that together cut the variance over a band of depth most.

    Parallel lines of one bearing, and a tenth of the length in lines across them.  A line cuts the
    variance v of a cell at distance r to v (1 - c(r)² v / (v + s²)), c being the Matérn
    correlation and s the deviation of a sounding.  What lines cut together is submodular, so that
    choosing the line that gains most a metre (with the way to it), again and again, comes near the
    best choice (Nemhauser, Wolsey & Fisher 1978; within a length: Khuller, Moss & Naor 1999).
    Twelve bearings are tried.

    Parameters
    ----------
    depth : depth grid
    uncertainty : DataArray on the same cells
        One standard deviation, metres.  Where it is NaN but the depth is known, the greatest that
        is known counts.
    length_m : float
        All lines together are no longer.
    band : (shallow, deep), optional
        Depths that count, metres; all without it.
    shallowest_m : float
        No line crosses less depth than this, nor land or void.
    spacing_m : float, optional
        Least distance between parallel lines that run side by side.  Half the correlation length
        without it.
    correlation_m : float
        Length over which errors of the grid are alike.
    sounding_sigma_m : float
        One standard deviation of a new sounding along a line.

    Returns
    -------
    GeoDataFrame, EPSG:4326
        `PROPOSAL_COLUMNS`, in the order to drive them: ``line`` ("S1", …), ``kind`` ("main" or
        "cross"), ``why`` in words, ``length_m``, ``bearing_deg`` true, ``gain`` (share of the
        band's variance it cuts, given the lines chosen before it), two points each.  No rows where
        no line is worth while.

    Raises
    ------
    GridError
        If the two are not on the same cells, or nothing lies in the band.
    """
    check_grid(depth)
    if uncertainty.shape != depth.shape:
        raise GridError("the uncertainty is not on the cells of the depths")
    spacing = correlation_m / 2 if spacing_m is None else spacing_m
    ground = _ground(
        depth, uncertainty, band, shallowest_m, (correlation_m, spacing, sounding_sigma_m)
    )
    tried = [
        _parallel(ground, ground.variance, angle, (1 - CROSS_SHARE) * length_m)
        for angle in np.arange(BEARINGS) * np.pi / BEARINGS
    ]
    gains = [sum(line.gain for line in lines) for lines in tried]
    best = int(np.argmax(gains))
    main = sorted(tried[best], key=lambda line: line.across)
    cross = _crossing(ground, main, best * np.pi / BEARINGS, CROSS_SHARE * length_m)
    return _table(ground, [*main, *cross])


def _ground(
    depth: xr.DataArray,
    uncertainty: xr.DataArray,
    band: tuple[float, float] | None,
    shallowest_m: float,
    lengths: tuple[float, float, float],
) -> _Ground:
    shallow, deep = band or (-np.inf, np.inf)
    values = depth.values
    with np.errstate(invalid="ignore"):
        counts = np.isfinite(values) & (values >= shallow) & (values <= deep)
        safe = values >= shallowest_m
    if not counts.any():
        raise GridError(
            f"nothing of the grid lies between {shallow:g} and {deep:g} m",
            file=depth.attrs.get("source") or None,
            do="Choose another band.",
        )
    sigma = uncertainty.values.astype(np.float64)
    known = sigma[counts & np.isfinite(sigma)]
    sigma = np.where(np.isfinite(sigma), sigma, known.max() if known.size else 1.0)
    lattice = lattice_of(depth)
    steps = _steps(lattice)
    width, height = steps[1] * lattice.width_m, steps[0] * lattice.height_m
    return _Ground(
        lattice,
        _coarse(np.where(counts, sigma**2, 0.0), steps).mean(axis=(1, 3)),
        _coarse(safe.astype(np.float64), steps).min(axis=(1, 3)) > 0,
        width,
        height,
        max(lengths[0], width, height),
        max(lengths[1], width, height),
        lengths[2] ** 2,
    )


def _steps(lattice: Lattice) -> tuple[int, int]:
    """Rows and columns of a block, so that blocks are about square and not too many."""
    rows, columns = lattice.shape
    side = max(rows * lattice.height_m, columns * lattice.width_m) / SIDE
    side = max(side, lattice.width_m, lattice.height_m)
    return max(1, round(side / lattice.height_m)), max(1, round(side / lattice.width_m))


def _coarse(values: NDArray[np.float64], steps: tuple[int, int]) -> NDArray[np.float64]:
    """Blocks of so many rows and columns, the last ones padded with 0."""
    down, across = steps
    rows, columns = (-(-side // step) for side, step in zip(values.shape, steps, strict=True))
    padded = np.zeros((rows * down, columns * across))
    padded[: values.shape[0], : values.shape[1]] = values
    return padded.reshape(rows, down, columns, across)


def _parallel(
    ground: _Ground, variance: NDArray[np.float64], angle: float, length_m: float
) -> list[_Line]:
    """Choose lines of one direction, the one that gains most a metre first."""
    turned = _Turned.of(ground, variance, angle)
    lines: list[_Line] = []
    rest = length_m
    best_rate = 0.0
    while True:
        piece = turned.best(rest, WORTH * best_rate)
        if piece is None:
            return lines
        across, first, last, gain = piece
        line = turned.line(across, first, last, gain, "main")
        best_rate = max(best_rate, gain / line.length)
        rest -= line.length
        lines.append(line)
        turned.take(across, first, last)


def _crossing(ground: _Ground, main: list[_Line], angle: float, length_m: float) -> list[_Line]:
    """Lines at right angles that cross two main lines or more, most crossings first."""
    if len(main) < FEWEST_CROSSED:
        return []
    left = ground.variance
    for line in main:
        left = left * ground.left(_away(ground, line), left)
    across = _parallel(ground, left, angle + np.pi / 2, length_m)
    ways = [shapely.LineString([line.start, line.end]) for line in main]
    crossed = [
        sum(shapely.LineString([line.start, line.end]).intersects(way) for way in ways)
        for line in across
    ]
    return [
        _Line(line.start, line.end, line.across, line.gain, "cross")
        for line, times in zip(across, crossed, strict=True)
        if times >= FEWEST_CROSSED
    ]


class _Turned:
    """The ground turned so that lines run down the columns; changed as lines are taken."""

    def __init__(
        self,
        ground: _Ground,
        variance: NDArray[np.float64],
        water: NDArray[np.bool_],
        frame: tuple[float, NDArray[np.float64], NDArray[np.float64]],
    ) -> None:
        self.ground, self.variance, self.water = ground, variance, water
        self.angle, self.along, self.across = frame
        self.taken: list[float] = []

    @classmethod
    def of(cls, ground: _Ground, variance: NDArray[np.float64], angle: float) -> _Turned:
        cell = ground.cell_m
        half = np.ceil(np.hypot(*ground.middle) / cell) * cell
        axis = np.arange(-half, half + cell / 2, cell)
        along, across = np.meshgrid(axis, axis, indexing="ij")
        east, south = _placed(along, across, angle, ground.middle)
        at = [south / ground.height_m - 0.5, east / ground.width_m - 0.5]
        water = map_coordinates(ground.open_water.astype(np.float64), at, order=1, mode="constant")
        return cls(
            ground,
            map_coordinates(variance, at, order=1, mode="constant"),
            water > 0.99,
            (angle, axis, axis),
        )

    def gains(self) -> NDArray[np.float64]:
        """Variance cut a step of a line, by place along and across."""
        ground = self.ground
        reach = int(REACH * ground.correlation_m / ground.cell_m)
        alike = matern(np.abs(np.arange(-reach, reach + 1)) * ground.cell_m / ground.correlation_m)
        cut = np.nan_to_num(self.variance**2 / (self.variance + ground.noise))
        total: NDArray[np.float64] = convolve1d(cut, alike**2, axis=1, mode="constant")
        return total

    def best(self, length_m: float, least: float) -> tuple[int, int, int, float] | None:
        """Column, first and last row, and gain of the piece that gains most a metre.

        None where none is long enough, or the best gains less than `least` a metre.
        """
        cell = self.ground.cell_m
        gain = np.where(self.water, self.gains(), -np.inf)
        price = WORTH * float(gain.max(initial=0.0))
        if price <= 0:
            return None
        most = int(length_m / cell)
        first, last, net = _best_pieces(gain - price, most)
        steps = last - first
        long = steps * cell >= LEAST_SPACINGS * self.ground.spacing_m
        if not long.any():
            return None
        rate = np.where(long, net / (steps * cell + self.transit()), -np.inf)
        column = int(np.argmax(rate))
        top, bottom = int(first[column]), int(last[column])
        total = float(gain[top : bottom + 1, column].sum())
        if rate[column] <= 0 or total / ((bottom - top) * cell) < least:
            return None
        return column, top, bottom, total

    def transit(self) -> NDArray[np.float64]:
        """Way from the nearest line taken to each column, metres; the spacing before the first."""
        if not self.taken:
            return np.full(len(self.across), self.ground.spacing_m)
        away = np.abs(self.across[:, None] - np.array(self.taken)).min(axis=1)
        transit: NDArray[np.float64] = np.maximum(away, self.ground.spacing_m)
        return transit

    def take(self, column: int, first: int, last: int) -> None:
        """Cut the variance beside a line, and keep others away from it."""
        ground = self.ground
        rows = slice(first, last + 1)
        away = np.abs(self.across - self.across[column])
        self.variance[rows] *= ground.left(away[None, :], self.variance[rows])
        near = away < ground.spacing_m - 1e-6
        self.water[rows, near] = False
        self.taken.append(float(self.across[column]))

    def line(self, column: int, first: int, last: int, gain: float, kind: str) -> _Line:
        east, south = _placed(
            self.along[[first, last]],
            self.across[[column, column]],
            self.angle,
            self.ground.middle,
        )
        share = gain / float(self.ground.variance.sum())
        ends = list(zip(east.tolist(), south.tolist(), strict=True))
        return _Line(ends[0], ends[1], float(self.across[column]), share, kind)


def _placed(
    along: NDArray[np.float64],
    across: NDArray[np.float64],
    angle: float,
    middle: tuple[float, float],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Metres east and south; `angle` is the bearing of the lines."""
    sine, cosine = np.sin(angle), np.cos(angle)
    return middle[0] + along * sine + across * cosine, middle[1] - along * cosine + across * sine


def _best_pieces(
    worth: NDArray[np.float64], most: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """First and last row, and sum, of each column's run with the greatest sum (Kadane's way).

    A run longer than `most` steps begins anew.
    """
    rows, columns = worth.shape
    running, begun = np.full(columns, -np.inf), np.zeros(columns, np.int64)
    best, first, last = np.full(columns, -np.inf), begun.copy(), begun.copy()
    for row in range(rows):
        anew = ~(running > 0) | (row - begun > most)
        begun = np.where(anew, row, begun)
        running = np.where(anew, worth[row], running + worth[row])
        better = running > best
        best = np.where(better, running, best)
        first, last = np.where(better, begun, first), np.where(better, row, last)
    return first, last, best


def _away(ground: _Ground, line: _Line) -> NDArray[np.float64]:
    """Distance of every coarse cell from a line, metres."""
    rows, columns = ground.variance.shape
    south, east = np.meshgrid(
        (np.arange(rows) + 0.5) * ground.height_m,
        (np.arange(columns) + 0.5) * ground.width_m,
        indexing="ij",
    )
    way = np.array(line.end) - line.start
    along = ((east - line.start[0]) * way[0] + (south - line.start[1]) * way[1]) / (way @ way)
    along = np.clip(along, 0.0, 1.0)
    away: NDArray[np.float64] = np.hypot(
        east - line.start[0] - along * way[0], south - line.start[1] - along * way[1]
    )
    return away


def _table(ground: _Ground, lines: list[_Line]) -> gpd.GeoDataFrame:
    """Lines in the order to drive them, every other one the other way round."""
    lattice = ground.lattice
    to_degrees = Transformer.from_crs(lattice.crs, "EPSG:4326", always_xy=True)
    rows = []
    for number, line in enumerate(lines, 1):
        ends = [line.start, line.end] if number % 2 else [line.end, line.start]
        places = [to_degrees.transform(*_coordinates(lattice, *end)) for end in ends]
        bearing, _, length = EARTH.inv(*places[0], *places[1])
        shape = shapely.LineString(places)
        rows.append((f"S{number}", line.kind, _why(line), length, bearing % 360, line.gain, shape))
    columns = zip(*rows, strict=True) if rows else ((),) * len(PROPOSAL_COLUMNS)
    table = {name: list(held) for name, held in zip(PROPOSAL_COLUMNS, columns, strict=True)}
    return gpd.GeoDataFrame(table, geometry="geometry", crs="EPSG:4326")


def _coordinates(lattice: Lattice, east: float, south: float) -> tuple[float, float]:
    affine = lattice.transform
    return (
        affine.c + affine.a * east / lattice.width_m,
        affine.f + affine.e * south / lattice.height_m,
    )


def _why(line: _Line) -> str:
    if line.kind == "cross":
        return f"Across the others, to check them; cuts the band's variance by {line.gain:.1%}."
    return f"Cuts the band's variance by {line.gain:.1%}."
