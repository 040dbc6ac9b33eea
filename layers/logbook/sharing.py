"""A copy to show to others, that gives no spot away.

Positions are middles of squares.  Squares of twice the size are made of four whole ones, so that
copies of several sizes tell no more than the finest; a drift is in the square of its line, so that
one over an edge tells nothing, and stays in it for good, however lines are gathered later; and
where the squares are is a secret of the logbook, the same for every copy.
"""

from __future__ import annotations

import json
import math
import secrets
from dataclasses import asdict, dataclass, field
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry import Point

from layers.logbook._forgetting import SQUARES
from layers.logbook._naming import Naming
from layers.logbook._store import Logbook
from layers.logbook.schema import UNUSABLE
from layers.scoring.naming import name_lines
from seabed.errors import LogbookError
from seabed.geodesy import METRES_A_DEGREE

LEAST_M: Final = 125.0
"""Side of the finest squares."""

MOST_TIMES: Final = 12
"""How often they are doubled at most: 512 km."""

GROUND_DEGREES: Final = 0.3
"""Lines no further than this from where a ground is anchored belong to it."""

MOST: Final = 1e8
"""No column, row or distance is larger: the world is 320,000 of the finest squares around."""

LATITUDES: Final = 5.0
"""The width of squares in degrees is the same over so many degrees of latitude: from a width that
followed the ground one could tell how far north it is."""

NEAR: Final = 4
"""A drift that is more finest squares away from its own is another: its trip was cut again."""

CORRIDOR_M: Final = 40.0
_DRIFTS: Final = ("drift_id", "trip", "duration_s", "sog_mps", "rods", "rod_hours")
_FISH: Final = ("trip", "species", "length_m", "kept", "drift_id")
_ROUNDED: Final = {"duration_s": 300.0, "sog_mps": 0.1, "rod_hours": 0.25}
"""Steps to which what would give the length of a drift is rounded."""


@dataclass(frozen=True, slots=True)
class _HiddenGround:
    """Where the squares of a stretch of water lie.

    longitude, latitude: its anchor, to a tenth of a degree.
    east, north: the secret: metres by which the squares are moved.
    """

    longitude: float
    latitude: float
    east: float
    north: float

    def square(self, longitude: float, latitude: float) -> tuple[int, int]:
        """Column and row of the finest square that a place is in."""
        wide, high = self._metres_a_degree()
        return (
            math.floor(((longitude - self.longitude) * wide + self.east) / LEAST_M),
            math.floor(((latitude - self.latitude) * high + self.north) / LEAST_M),
        )

    def _metres_a_degree(self) -> tuple[float, float]:
        """Give what a degree of each axis is taken for: too little, so that squares are no less."""
        most = min(abs(self.latitude) + GROUND_DEGREES, 90.0 - LATITUDES)
        poleward = math.ceil(most / LATITUDES) * LATITUDES
        return METRES_A_DEGREE * math.cos(math.radians(poleward)), METRES_A_DEGREE

    def middle(self, square: tuple[int, int], times: int) -> tuple[float, float]:
        """Longitude and latitude of the middle of the square, doubled so often, around a finest."""
        size = LEAST_M * 2**times
        east, north = (((number >> times) + 0.5) * size for number in square)
        wide, high = self._metres_a_degree()
        return (
            self.longitude + (east - self.east) / wide,
            self.latitude + (north - self.north) / high,
        )

    def holds(self, square: tuple[int, int], drift: Any) -> bool:
        """Say whether a drift is where a square may have been given to it, as its line's."""
        (west, south), (east, north) = (
            self.middle((square[0] + step, square[1] + step), 0) for step in (-NEAR, NEAR)
        )
        return bool(shapely.intersects(drift, shapely.box(west, south, east, north)))


@dataclass(slots=True)
class _Squares:
    """Which square each drift is in; kept in the logbook, so that copies agree."""

    grounds: list[_HiddenGround] = field(default_factory=list)
    drifts: dict[str, tuple[int, int, int]] = field(default_factory=dict)

    @classmethod
    def read(cls, text: str | None) -> _Squares:
        """Read what the logbook keeps."""
        try:
            note = json.loads(text or "{}")
            grounds = [
                _HiddenGround(**{name: _usual(value) for name, value in ground.items()})
                for ground in note.get("grounds", [])
            ]
            drifts = {
                str(name): (range(len(grounds))[ground], int(_usual(column)), int(_usual(row)))
                for name, (ground, column, row) in note.get("drifts", {}).items()
            }
        except (ValueError, TypeError, AttributeError, LookupError, RecursionError) as error:
            raise LogbookError("it is not as it was written", where=SQUARES, do=UNUSABLE) from error
        return cls(grounds, drifts)

    def text(self) -> str:
        """Write it for the logbook."""
        grounds = [asdict(ground) for ground in self.grounds]
        return json.dumps({"grounds": grounds, "drifts": self.drifts})

    def take_in(self, drifts: gpd.GeoDataFrame, lines: gpd.GeoDataFrame) -> None:
        """Give each new drift the square of its line; forget drifts that are gone or elsewhere."""
        known = {
            name: square
            for name, shape in zip(drifts["drift_id"], drifts.geometry, strict=True)
            if (square := self.drifts.get(name))
            and self.grounds[square[0]].holds(square[1:], shape)
        }
        shapes = dict(zip(lines["line"], lines.geometry, strict=True))
        of_line: dict[str, tuple[int, int, int]] = {}
        names = list(zip(drifts["drift_id"], drifts["line"], strict=True))
        for name, line in names:
            if name in known:
                of_line.setdefault(line, known[name])
        for name, line in names:
            if line not in of_line:
                middle = shapely.line_interpolate_point(shapes[line], 0.5, normalized=True)
                number = self._ground_at(middle.x, middle.y)
                of_line[line] = (number, *self.grounds[number].square(middle.x, middle.y))
            known.setdefault(name, of_line[line])
        self.drifts = known

    def _ground_at(self, longitude: float, latitude: float) -> int:
        """Give the number of the first ground near a place, making one if there is none."""
        for number, ground in enumerate(self.grounds):
            away = abs(longitude - ground.longitude), abs(latitude - ground.latitude)
            if max(away) <= GROUND_DEGREES:
                return number
        size = LEAST_M * 2**MOST_TIMES
        chance = secrets.SystemRandom()
        self.grounds.append(
            _HiddenGround(
                round(longitude, 1), round(latitude, 1), chance.uniform(0, size),
                chance.uniform(0, size),
            )
        )  # fmt: skip
        return len(self.grounds) - 1


def _usual(value: float) -> float:
    """Give a number, if it is one that squares can have."""
    if not abs(value) < MOST:
        raise ValueError(value)
    return float(value)


def square_m(coarse_m: float) -> float:
    """Give the side of squares at least so coarse: 125 m, doubled as needed.

    Raises LogbookError for less than 100 m, or more than 512 km.
    """
    if not coarse_m >= 100.0:
        raise LogbookError(
            f"{coarse_m:g} m would give the spots away", do="Give 100 m or more as {coarse}."
        )
    if coarse_m > LEAST_M * 2**MOST_TIMES:
        raise LogbookError(f"{coarse_m:g} m is coarser than any water", do="Give less as {coarse}.")
    return LEAST_M * float(1 << _times(coarse_m))


def _times(coarse_m: float) -> int:
    return max(0, math.ceil(math.log2(coarse_m / LEAST_M) - 1e-9))


def shared_layers(
    logbook: Logbook, coarse_m: float, *, naming: Naming | None = None
) -> dict[str, gpd.GeoDataFrame]:
    """Give ``drifts`` and ``catches`` for others to see, EPSG:4326, in squares of `square_m`.

    Points are at the middles of the squares, the same for drifts of a line that are first shared
    together.  Fish without a drift have no position.  Durations, speeds and rod-hours are rounded.
    Left out is all that could tell more: the lines and tracks, courses, depths, the hour, names of
    files and notes.  The logbook keeps where the squares lie.

    naming: gathers drifts to lines; else `name_lines` in a corridor of 40 m.
    """
    square_m(coarse_m)
    naming = naming or Naming(CORRIDOR_M, name_lines)
    logbook.name_lines(naming)
    drifts, fish = logbook.drifts(), logbook.catches()
    named, lines = naming.name(drifts, logbook.lines(), corridor_m=naming.corridor_m)

    def take_in(text: str | None) -> str:
        squares = _Squares.read(text)
        squares.take_in(named, lines)
        return squares.text()

    squares = _Squares.read(logbook.note(SQUARES, take_in))
    points = {}
    for name, (ground, column, row) in squares.drifts.items():
        middle = squares.grounds[ground].middle((column, row), _times(coarse_m))
        points[name] = Point(*(round(number, 5) for number in middle))
    return {
        "drifts": _shown(drifts, points, _DRIFTS),
        "catches": _shown(fish, points, _FISH),
    }


def _shown(
    table: pd.DataFrame, points: dict[str, Point], columns: tuple[str, ...]
) -> gpd.GeoDataFrame:
    """Give some columns of a table, at the points of the drifts."""
    kept = pd.DataFrame(table[[name for name in columns if name in table]])
    for name, step in _ROUNDED.items():
        if name in kept:
            kept[name] = np.maximum(np.round(kept[name] / step), 1) * step
    where = gpd.GeoSeries(
        list(map(points.get, table["drift_id"])), index=kept.index, crs="EPSG:4326"
    )
    return gpd.GeoDataFrame(kept, geometry=where)
