"""IHO S-104 (water level) and S-111 (surface current) files.

The readers take the first ``WaterLevel`` or ``SurfaceCurrent`` instance, as time series at fixed
stations (data coding format 1 or 8) or on a regular grid (2), as the product specifications lay
them out in HDF5 (S-104 and S-111, editions 1.x and 2.0).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layers.water.currents.currents import vector
from layers.water.times import as_utc, hours_between, moment
from seabed.array_types import Floats, Pair, Times
from seabed.errors import WaterError
from seabed.files import plain_file
from seabed.geodesy import local_metres
from seabed.guarded import ask, damaged, reading
from seabed.loaders.hdf5 import Hdf5, Part, open_hdf5
from seabed.units import SPEED

FIXED_STATIONS: Final = (1, 8)
REGULAR_GRID: Final = 2
FILL: Final = -9999.0
ON_POINT: Final = 1e-6  # share of a cell: rounding of the axes


@dataclass(frozen=True, slots=True)
class Field:
    """Values on a grid, or at stations, at moments.

    times, shape (t,): UTC, rising.
    longitude, latitude: rising axes (columns,) and (rows,) of a grid; both (n,) for stations.
    values: NaN where there are none.
    """

    times: Times
    longitude: Floats
    latitude: Floats
    values: tuple[Floats, ...]

    def at(self, times: Any, longitude: Any, latitude: Any) -> list[Floats]:
        """Values at moments and places (by default its middle); NaN outside either.

        Straight lines in time; on a grid bilinear in place (NaN if one of the four around is), from
        stations the nearest.
        """
        moments = as_utc(times)
        flat = moments.ravel()
        known = hours_between(self.times[0], self.times)
        hours = hours_between(self.times[0], flat)
        after = np.clip(np.searchsorted(known, hours), 1, max(len(known) - 1, 1))
        before = after - 1
        if len(known) == 1:
            before = after = np.zeros_like(after)
        step = known[after] - known[before]
        share = np.where(step > 0, (hours - known[before]) / np.where(step > 0, step, 1.0), 0.0)
        outside = ~((hours >= known[0]) & (hours <= known[-1]))
        place = self._place(flat.shape, longitude, latitude)
        at_places = []
        for value in self.values:
            start, end = (self._in_place(value, row, *place) for row in (before, after))
            mixed = np.where(share == 0, start, start + share * (end - start))
            mixed[outside] = np.nan
            at_places.append(mixed.reshape(moments.shape))
        return at_places

    def _place(self, shape: tuple[int, ...], longitude: Any, latitude: Any) -> Pair:
        if longitude is None or latitude is None:
            longitude, latitude = np.mean(self.longitude), np.mean(self.latitude)
        east, north = (
            np.broadcast_to(np.asarray(x, float).ravel(), shape) for x in (longitude, latitude)
        )
        return east, north

    def _in_place(
        self, value: Floats, row: NDArray[np.intp], longitude: Floats, latitude: Floats
    ) -> Floats:
        if value.ndim == 2:
            here = longitude[:, None], latitude[:, None]
            away = np.hypot(*local_metres(self.longitude, self.latitude, centre=here))
            return np.asarray(value[row, np.argmin(away, axis=1)], float)
        x, column = _between(self.longitude, longitude)
        y, line = _between(self.latitude, latitude)
        right, up = (
            np.minimum(column + 1, value.shape[2] - 1),
            np.minimum(line + 1, value.shape[1] - 1),
        )
        low = _mix(value[row, line, column], value[row, line, right], x)
        high = _mix(value[row, up, column], value[row, up, right], x)
        return _mix(low, high, y)


@dataclass(frozen=True, slots=True)
class FieldHeights:
    """Heights from S-104."""

    field: Field
    longitude: float | None = None
    latitude: float | None = None

    def height_m(self, times: Any) -> Floats:
        """Metres above the file's datum at this place; NaN outside the file's times."""
        return self.field.at(times, self.longitude, self.latitude)[0]


@dataclass(frozen=True, slots=True)
class FieldCurrents:
    """Currents from S-111, in time and space."""

    field: Field

    def velocity(self, times: Any, longitude: Any = None, latitude: Any = None) -> Pair:
        """East and north, m/s; NaN outside the file's times and grid."""
        east, north = self.field.at(times, longitude, latitude)
        return east, north


def read_s104(
    path: str | Path, *, longitude: float | None = None, latitude: float | None = None
) -> FieldHeights:
    """Read water levels of an S-104 file at a place (by default its middle)."""
    times, axes, (height,) = _read(path, "WaterLevel", ("waterLevelHeight",))
    return FieldHeights(Field(times, *axes, (height,)), longitude, latitude)


def read_s111(path: str | Path) -> FieldCurrents:
    """Read surface currents of an S-111 file."""
    names = ("surfaceCurrentSpeed", "surfaceCurrentDirection")
    times, axes, (speed, toward) = _read(path, "SurfaceCurrent", names)
    return FieldCurrents(Field(times, *axes, vector(speed * SPEED["kn"], toward)))


def _read(
    path: str | Path, product: str, names: tuple[str, ...]
) -> tuple[Times, Pair, tuple[Floats, ...]]:
    plain_file(path)
    if not Path(path).exists():
        raise WaterError("no such file", file=path, do="Check the name.")
    with reading(path, WaterError):
        return _product(path, open_hdf5(path, WaterError), product, names)


def _product(
    path: str | Path, file: Hdf5, product: str, names: tuple[str, ...]
) -> tuple[Times, Pair, tuple[Floats, ...]]:
    if product not in file.parts:
        raise WaterError(f"has no {product}", file=path)
    coding = int(file.parts[product].attrs.get("dataCodingFormat", 0))
    instance = file.parts.get(f"{product}/{product}.01")
    if instance is None or coding not in (*FIXED_STATIONS, REGULAR_GRID):
        raise WaterError(
            f"data coding format {coding} is not read",
            file=path,
            do="Regular grids (2) and fixed stations (1, 8) are.",
        )
    inner = [name for name in file.names(instance.name) if name.startswith("Group_")]
    groups = [file.parts[f"{instance.name}/{name}"] for name in inner]
    if not groups:
        raise WaterError("has no values", file=path)
    values = [file.parts[f"{group.name}/values"] for group in groups]
    frame = _grid_frame if coding == REGULAR_GRID else _station_frame
    times, axes = frame(path, instance, groups, values[0])
    by_time = coding == REGULAR_GRID or "timePoint" in groups[0].attrs
    columns = tuple(
        np.stack(column, axis=0 if by_time else 1) for column in _columns(path, values, names)
    )
    shape = (len(times), len(axes[1]), len(axes[0]))[: columns[0].ndim]
    if coding != REGULAR_GRID:
        shape = (len(times), len(axes[0]))
    if any(column.shape != shape for column in columns) or not len(times):
        raise damaged(path, WaterError)
    return times, axes, columns


def _columns(path: str | Path, values: list[Part], names: tuple[str, ...]) -> list[list[Floats]]:
    for name in names:
        for part in values:
            if name not in part.fields:
                raise WaterError(f"has no {name}", file=path, where=part.name)
    cells = sum(math.prod(part.shape or ()) for part in values)
    columns = ask("hdf5.read", path, [part.name for part in values], list(names), cells=cells)
    return [[_known(np.asarray(one, float)) for one in column] for column in columns]


def _known(column: Floats) -> Floats:
    return np.where(column <= FILL, np.nan, column)


def _grid_frame(
    path: str | Path, instance: Part, groups: list[Part], first: Part
) -> tuple[Times, Pair]:
    times = _stamps([group.attrs["timePoint"] for group in groups], path)
    attributes = instance.attrs
    rows, columns = first.shape or ()
    west, south = (float(attributes[f"gridOrigin{axis}"]) for axis in ("Longitude", "Latitude"))
    width, height = (
        float(attributes[f"gridSpacing{axis}"]) for axis in ("Longitudinal", "Latitudinal")
    )
    claimed = (int(attributes[f"numPoints{axis}"]) for axis in ("Latitudinal", "Longitudinal"))
    if tuple(claimed) != (rows, columns) or not (width > 0 and height > 0):
        raise damaged(path, WaterError)
    longitude: Floats = west + width * np.arange(columns, dtype=np.float64)
    latitude: Floats = south + height * np.arange(rows, dtype=np.float64)
    return times, _on_earth(path, longitude, latitude)


def _station_frame(
    path: str | Path, instance: Part, groups: list[Part], first: Part
) -> tuple[Times, Pair]:
    about = groups[0].attrs
    if "timePoint" in about:
        times = _stamps([group.attrs["timePoint"] for group in groups], path)
    else:
        start = moment(_stamps([about["startDateTime"]], path))
        step = np.timedelta64(int(about["timeRecordInterval"]), "s")
        times = np.asarray(start + np.arange((first.shape or (0,))[0]) * step)
    names, fields = [f"{instance.name}/Positioning/geometryValues"], ["longitude", "latitude"]
    (east,), (north,) = ask("hdf5.read", path, names, fields)
    return times, _on_earth(path, np.asarray(east, np.float64), np.asarray(north, np.float64))


def _on_earth(path: str | Path, longitude: Floats, latitude: Floats) -> Pair:
    # NaN is in no range
    if not ((np.abs(longitude) <= 360).all() and (np.abs(latitude) <= 90).all()):
        raise WaterError("has positions that are not on earth", file=path)
    return longitude, latitude


def _stamps(words: list[Any], path: str | Path) -> Times:
    plain = [word.decode() if isinstance(word, bytes) else str(word) for word in words]
    try:
        return as_utc(pd.to_datetime(plain, utc=True))
    except ValueError as error:
        raise WaterError(f"can't read the time {plain[0]!r}", file=path) from error


def _between(axis: Floats, at: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """Share of the way into the cell, NaN outside, and the cell's lower index."""
    low = np.clip(np.searchsorted(axis, at, side="right") - 1, 0, max(len(axis) - 2, 0))
    if len(axis) == 1:
        return np.where(np.isclose(at, axis[0]), 0.0, np.nan), low
    share = (at - axis[low]) / (axis[low + 1] - axis[low])
    for end in (0.0, 1.0):
        share = np.where(np.abs(share - end) < ON_POINT, end, share)
    return np.where((share >= 0) & (share <= 1), share, np.nan), low


def _mix(low: Floats, high: Floats, share: Floats) -> Floats:
    """Straight line between two values; at either end the other may be NaN."""
    mixed = np.where(share == 0, low, np.where(share == 1, high, low + share * (high - low)))
    return np.asarray(np.where(np.isnan(share), np.nan, mixed), float)
