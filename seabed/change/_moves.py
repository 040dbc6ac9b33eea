"""How far edges, humps, holes and sand waves moved between two surveys on the same cells.

Each is matched by itself: the older ground about it is shifted until it fits the newer, by least
squares (Lucas & Kanade 1981), along the fall line of an edge and across the crests of waves, for a
shift along them does not show.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
import xarray as xr
from scipy.ndimage import map_coordinates

from seabed.array_types import Depths, Floats, Ints, Mask, Pair
from seabed.change._alignment import fitted
from seabed.change._common import blurred
from seabed.geodesy import bearing_and_distance, to_degrees
from seabed.grid import cell_size, crs_of, transform_of
from seabed.schema import Table
from seabed.terrain.north import convergence_at

MOVES: Final = Table.of(
    "moves",
    "seabed.changes_since",
    """
    move_id [int "Number"] 0, 1, ...
    kind [text "Kind"] ``"edge"`` for a stretch of one, ``"hump"``, ``"hole"`` or ``"sand waves"``
    feature_id [int] its number in the table of edges, of humps and holes, or of sand waves
    moved_m ["Moved" distance .2] from the older survey to the newer; of sand waves there may be
        whole wavelengths more
    error_m ["Give or take" distance .2] standard error of it, that of the surveys' shift included
    toward_deg ["Toward"] direction it moved in, degrees true
    geometry [LineString] from where it was to where it is
    """,
)
SMOOTH_CELLS: Final = 1.5
STRETCH_M: Final = 100.0
ROUNDS: Final = 6
SURE: Final = 4.0
_LEAST_CELLS: Final = 0.5
_MOST_POINTS: Final = 3000
_MOST_FEATURES: Final = 2000
_PARTS: Final = 12
_STRAIGHT: Final = 0.5
_BETTER: Final = 0.9
"""Share of the misfit without a shift that may be left with it."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Ground about a feature.

    row, column, block, shape (n,): of its points, in cells; part of the feature that each is in.
    ways, shape (n, k, 2): rows and columns of a metre in each direction that it may have moved in,
        at each point.
    starts, shape (m, k): shifts to try first, metres.
    """

    row: Floats
    column: Floats
    ways: Floats
    starts: Floats
    block: Ints


def moves_between(
    frame: xr.DataArray,
    surveys: tuple[Depths, Depths],
    changed: Mask,
    features: tuple[gpd.GeoDataFrame, gpd.GeoDataFrame, gpd.GeoDataFrame],
    error_m: float,
) -> gpd.GeoDataFrame:
    """Find what moved of the features of the newer survey.

    surveys: newer and older, matched, on the frame's cells.
    changed: cells beyond noise: features away from them did not move.
    features: edges; humps and holes; sand waves; of the newer survey, in the frame's CRS.
    error_m: of the shift between the surveys.
    """
    finder = _Finder(frame, surveys, changed)
    rows = [
        (kind, number, *moved)
        for kind, number, place in finder.places(*features)
        if (moved := finder.moved(place, error_m)) is not None
    ]
    middle = np.array([finder.xy(*row[2]) for row in rows]).reshape(-1, 2)
    before = np.array([finder.xy(*(row[2] - row[3])) for row in rows]).reshape(-1, 2)
    degrees = to_degrees(crs_of(frame))
    ends = [degrees.transform(*one.T) for one in (before, middle)]
    toward, away = bearing_and_distance(*ends[0], *ends[1]) if rows else ([], [])
    table = MOVES.frame(
        {
            "move_id": np.arange(len(rows)),
            "kind": np.array([row[0] for row in rows], object),
            "feature_id": np.array([row[1] for row in rows], np.int64),
            "moved_m": np.asarray(away, float),
            "error_m": np.array([row[4] for row in rows], float),
            "toward_deg": np.asarray(toward, float),
            "geometry": shapely.linestrings(np.stack([before, middle], axis=1)),
        },
        crs=crs_of(frame),
    )
    table = table.sort_values("moved_m", ascending=False, kind="stable", ignore_index=True)
    return table.assign(move_id=np.arange(len(table)))


class _Finder:
    """Two surveys, smoothed a little, in which features are shifted until they fit."""

    def __init__(self, frame: xr.DataArray, surveys: tuple[Depths, Depths], changed: Mask) -> None:
        self.frame, self.changed = frame, changed
        self.size, self.affine = cell_size(frame), transform_of(frame)
        self.cell_m = self.size.typical
        self.newer, self.older = (blurred(one, SMOOTH_CELLS) for one in surveys)
        self.slopes: list[Depths] = list(np.gradient(self.older))

    def xy(self, row: float, column: float) -> tuple[float, float]:
        x, y = self.affine @ (column + 0.5, row + 0.5)
        return float(x), float(y)

    def cells(self, x: Any, y: Any) -> Pair:
        column, row = ~self.affine @ (np.asarray(x, float), np.asarray(y, float))
        return np.asarray(row - 0.5), np.asarray(column - 0.5)

    def places(
        self, edges: gpd.GeoDataFrame, features: gpd.GeoDataFrame, waves: gpd.GeoDataFrame
    ) -> Iterator[tuple[str, int, _Place]]:
        for row in edges.head(_MOST_FEATURES).itertuples():
            for place in self._stretches(row.geometry, row.width_m):
                yield "edge", row.edge_id, place
        for row in features.head(_MOST_FEATURES).itertuples():
            yield row.kind, row.feature_id, self._about(row.geometry, row.short_axis_m)
        for row in waves.head(_MOST_FEATURES).itertuples():
            yield "sand waves", row.window_id, self._crests(row)

    def _stretches(self, line: Any, width_m: float) -> Iterator[_Place]:
        """Points across an edge, up to 100 m of it at a time."""
        unit = shapely.length(line) or 1.0
        vertices = self.cells(*shapely.get_coordinates(line).T)
        scale = self._scales(vertices[0])
        steps = np.hypot(np.diff(vertices[0]) * scale[0], np.diff(vertices[1]) * scale[1])
        length = float(steps.sum())
        count = max(1, round(length / STRETCH_M))
        step = self.cell_m / max(length, 1e-9) * unit
        along = np.arange(0.5 * step, unit, step)
        row, column, next_row, next_column, on_row, on_column = (
            one
            for at in (along, along + step, along - step)
            for one in self.cells(*_points_on(line, np.clip(at, 0, unit)).T)
        )
        reach = max(width_m, 4 * self.cell_m)
        offsets = np.linspace(-reach, reach, 2 * int(np.ceil(reach / self.cell_m)) + 1)
        down, right = (next_row - on_row) * scale[0], (next_column - on_column) * scale[1]
        norm = np.maximum(np.hypot(down, right), 1e-9)
        ways = np.stack([-right / norm / scale[0], down / norm / scale[1]], axis=1)
        starts = np.arange(-2 * reach, 2.01 * reach, self.cell_m)[:, None]
        for part in np.array_split(np.arange(len(row)), count):
            if len(part) < 2:
                continue
            r = row[part, None] + offsets * ways[part, :1]
            c = column[part, None] + offsets * ways[part, 1:]
            block = np.repeat(np.arange(len(part)) * _PARTS // len(part), len(offsets))
            yield _thin(r.ravel(), c.ravel(), np.repeat(ways[part], len(offsets), axis=0)[:, None],
                        starts, block)  # fmt: skip

    def _about(self, footprint: Any, short_m: float) -> _Place:
        """Cells of a hump or hole and half as far around it."""
        row, column = self._box(footprint, 0.25)
        scale = self._scales(row)
        ways = np.broadcast_to(np.diag([1 / scale[0], 1 / scale[1]]), (len(row), 2, 2))
        step = max(self.cell_m, short_m / 8)
        reach = np.arange(-max(short_m, 2 * step), max(short_m, 2 * step) + step / 2, step)
        starts = np.stack(np.meshgrid(reach, reach), axis=-1).reshape(-1, 2)
        middle = row.mean(), column.mean()
        angle = np.arctan2(row - middle[0], column - middle[1])
        return _thin(row, column, ways, starts, ((angle / np.pi + 1) * _PARTS / 2).astype(int))

    def _crests(self, wave: Any) -> _Place:
        """Cells of a window of sand waves."""
        row, column = self._box(wave.geometry, 0.0)
        scale = self._scales(row)
        turn = convergence_at(
            self.frame, *(np.array([one]) for one in wave.geometry.centroid.coords[0])
        )
        across = np.radians(wave.crest_bearing_deg + 90 - turn[0])
        way = np.array([-np.cos(across) / scale[0], np.sin(across) / scale[1]])
        ways = np.broadcast_to(way, (len(row), 1, 2))
        half = wave.wavelength_m / 2
        starts = np.linspace(-half, half, 41)[:, None]
        quarter = [
            one // max((one.max() + 1) / 3.5, 1) for one in (row - row.min(), column - column.min())
        ]
        return _thin(row, column, ways, starts, (quarter[0] * 4 + quarter[1]).astype(int))

    def _box(self, shape: Any, more: float) -> Pair:
        west, south, east, north = shape.bounds
        (top, bottom), (left, right) = self.cells([west, east], [north, south])
        down, across = more * (bottom - top) + 1, more * (right - left) + 1
        rows, columns = self.newer.shape
        r = np.arange(max(0, int(top - down)), min(rows, int(bottom + down) + 1))
        c = np.arange(max(0, int(left - across)), min(columns, int(right + across) + 1))
        step = max(1, int(np.sqrt(len(r) * len(c) / _MOST_POINTS)))
        row, column = np.meshgrid(r[::step], c[::step], indexing="ij")
        return row.ravel().astype(float), column.ravel().astype(float)

    def _scales(self, row: Floats) -> tuple[float, float]:
        at = int(np.clip(np.mean(row), 0, len(self.size.easting) - 1)) if len(row) else 0
        return float(self.size.northing[at]), float(self.size.easting[at])

    def moved(self, place: _Place, error_m: float) -> tuple[Floats, Floats, float] | None:
        """Give a feature's middle and its shift, in cells, and the error; None if it stayed."""
        rows, columns = self.newer.shape
        inside = (place.row >= 0) & (place.row <= rows - 1)
        inside &= (place.column >= 0) & (place.column <= columns - 1)
        at = place.row[inside].round().astype(int), place.column[inside].round().astype(int)
        if not inside.any() or not self.changed[at].any():
            return None
        shift = self._fit(place)
        if shift is None:
            return None
        values, error = shift
        way = values @ place.ways.mean(axis=0)
        if np.hypot(*way) < _STRAIGHT * np.hypot(*(values @ place.ways[len(place.ways) // 2])):
            return None  # an edge that goes round: the hump or hole it belongs to shows more
        return (
            np.array([place.row.mean(), place.column.mean()]),
            way,
            float(np.hypot(error, error_m)),
        )

    def _fit(self, place: _Place) -> tuple[Floats, float] | None:
        here = _between(self.newer, place.row, place.column)
        misfits = [self._misfit(place, here, start) for start in place.starts]
        if not np.isfinite(misfits).any():
            return None
        at = place.starts[int(np.nanargmin(misfits))].copy()
        error = np.inf
        for _ in range(ROUNDS):
            row, column = self._back(place, at)
            there = _between(self.older, row, column)
            slope = np.stack([_between(one, row, column) for one in self.slopes], axis=1)
            terms = np.einsum("nkj,nj->nk", place.ways, slope)
            good = np.isfinite(here) & np.isfinite(there) & np.isfinite(terms).all(axis=1)
            terms = np.column_stack([terms, np.ones(len(terms))])[good]
            fit = fitted(terms, (here - there)[good], place.block[good])
            if fit is None:
                return None
            step = -fit.values[:-1]
            at = at + step
            error = float(np.sqrt(np.linalg.eigvalsh(fit.covariance[:-1, :-1])[-1]))
            if np.abs(step).max() < 0.02 * self.cell_m:
                break
        length = float(np.hypot(*at) if len(at) > 1 else abs(at[0]))
        still = self._misfit(place, here, np.zeros(len(at)))
        better = self._misfit(place, here, at) <= _BETTER * still
        near = length <= 1.5 * np.abs(place.starts).max()
        if length <= max(SURE * error, _LEAST_CELLS * self.cell_m) or not better or not near:
            return None
        return at, error

    def _misfit(self, place: _Place, here: Floats, at: Floats) -> float:
        """Mean misfit of the older ground so shifted; NaN where half of it is not known."""
        off = here - _between(self.older, *self._back(place, at))
        off = off[np.isfinite(off)]
        if len(off) < max(len(here) / 2, 1):
            return np.nan
        return float(np.abs(off - np.median(off)).mean())

    def _back(self, place: _Place, at: Floats) -> Pair:
        shift = np.einsum("k,nkj->nj", at, place.ways)
        return place.row - shift[:, 0], place.column - shift[:, 1]


def _points_on(line: Any, along: Floats) -> Floats:
    return np.asarray(shapely.get_coordinates(shapely.line_interpolate_point(line, along)), float)


def _thin(row: Floats, column: Floats, ways: Floats, starts: Floats, block: Ints) -> _Place:
    step = max(1, len(row) // _MOST_POINTS)
    return _Place(row[::step], column[::step], ways[::step], starts, block[::step])


def _between(values: Depths, row: Floats, column: Floats) -> Floats:
    return np.asarray(
        map_coordinates(values, [row, column], order=1, mode="constant", cval=np.nan), float
    )
