"""A copy to show to others, that gives no spot away.

Positions are middles of squares.  Squares of twice the size are made of four whole ones, so that
copies of several sizes tell no more than the finest; a line, with all its drifts and fish, is in
one square for good, so that a drift over an edge tells nothing; and where the squares lie is a
secret of the logbook, the same for every copy.
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
from layers.scoring import name_lines
from seabed.errors import LogbookError
from seabed.geodesy import METRES_A_DEGREE

LEAST_M: Final = 125.0
"""Side of the finest squares."""

MOST_TIMES: Final = 12
"""How often they are doubled at most: 512 km."""

GROUND_DEGREES: Final = 0.3
"""Lines no further than this from where a ground is anchored belong to it."""

CORRIDOR_M: Final = 40.0
_DRIFTS: Final = ("drift_id", "trip", "duration_s", "sog_mps", "rods", "rod_hours")
_FISH: Final = ("trip", "species", "length_m", "kept", "drift_id")
_ROUNDED: Final = {"duration_s": 300.0, "sog_mps": 0.1, "rod_hours": 0.25}
"""Steps to which what would give the length of a drift is rounded."""


@dataclass(frozen=True, slots=True)
class _HiddenGround:
    """Where the squares of a stretch of water lie.

    longitude, latitude: its anchor, to a tenth of a degree.
    east, north: the secret: metres that the squares are moved.
    """

    longitude: float
    latitude: float
    east: float
    north: float

    def square(self, longitude: float, latitude: float) -> tuple[int, int]:
        """Column and row of the finest square that a place is in."""
        east = (longitude - self.longitude) * math.cos(math.radians(self.latitude))
        north = latitude - self.latitude
        return (
            math.floor((east * METRES_A_DEGREE + self.east) / LEAST_M),
            math.floor((north * METRES_A_DEGREE + self.north) / LEAST_M),
        )

    def middle(self, square: tuple[int, int], times: int) -> tuple[float, float]:
        """Longitude and latitude of the middle of the square, doubled so often, around a finest."""
        size = LEAST_M * 2**times
        east, north = (((number >> times) + 0.5) * size for number in square)
        wide = METRES_A_DEGREE * math.cos(math.radians(self.latitude))
        return (
            self.longitude + (east - self.east) / wide,
            self.latitude + (north - self.north) / METRES_A_DEGREE,
        )


@dataclass(slots=True)
class _Squares:
    """Which square each line is in; kept in the logbook, so that copies agree."""

    grounds: list[_HiddenGround] = field(default_factory=list)
    lines: dict[str, tuple[int, int, int]] = field(default_factory=dict)

    @classmethod
    def read(cls, text: str | None) -> _Squares:
        """Read what the logbook keeps."""
        try:
            note = json.loads(text or "{}", parse_constant=_no_number)
            grounds = [
                _HiddenGround(**{name: float(value) for name, value in ground.items()})
                for ground in note.get("grounds", [])
            ]
            lines = {
                str(name): (range(len(grounds))[ground], int(column), int(row))
                for name, (ground, column, row) in note.get("lines", {}).items()
            }
        except (ValueError, TypeError, AttributeError, LookupError, RecursionError) as error:
            raise LogbookError("it is not as it was written", where=SQUARES, do=UNUSABLE) from error
        return cls(grounds, lines)

    def text(self) -> str:
        """Write it for the logbook."""
        grounds = [asdict(ground) for ground in self.grounds]
        return json.dumps({"grounds": grounds, "lines": self.lines})

    def take_in(self, lines: gpd.GeoDataFrame) -> None:
        """Give each new line its square, by its middle; forget lines that are gone."""
        known = {name: square for name, square in self.lines.items() if name in set(lines["line"])}
        for name, line in zip(lines["line"], lines.geometry, strict=True):
            if name not in known:
                middle = shapely.line_interpolate_point(line, 0.5, normalized=True)
                number = self._ground_at(middle.x, middle.y)
                known[name] = (number, *self.grounds[number].square(middle.x, middle.y))
        self.lines = known

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


def _no_number(text: str) -> float:
    raise ValueError(text)


def square_m(coarse_m: float) -> float:
    """Give the side of the squares that are at least so coarse: 125 m, doubled as often as needed.

    Raises
    ------
    LogbookError
        If that is less than 100 m, or more than 512 km.

    Examples
    --------
    >>> square_m(125.0), square_m(300.0)
    (125.0, 500.0)
    """
    if not coarse_m >= 100.0:
        raise LogbookError(f"{coarse_m:g} m would give the spots away", do="Give 100 m or more.")
    if coarse_m > LEAST_M * 2**MOST_TIMES:
        raise LogbookError(f"{coarse_m:g} m is coarser than any water", do="Give less.")
    return LEAST_M * float(1 << _times(coarse_m))


def _times(coarse_m: float) -> int:
    return max(0, math.ceil(math.log2(coarse_m / LEAST_M) - 1e-9))


def shared_layers(
    logbook: Logbook, coarse_m: float, *, naming: Naming | None = None
) -> dict[str, gpd.GeoDataFrame]:
    """Give drifts and fish for others to see.

    Parameters
    ----------
    logbook : Logbook
        Where the squares lie is kept in it.
    coarse_m : float
        Positions are moved to the middles of squares of this size, in metres, or of the next
        larger of `square_m`.
    naming : Naming, optional
        Gathers drifts to lines; else `layers.scoring.name_lines` in a corridor of 40 m.

    Returns
    -------
    dict of GeoDataFrame, EPSG:4326
        ``drifts`` and ``catches``: points at the middles of the squares, the same for all drifts of
        a line and the fish on them.  Fish that are tied to no drift have no position.  Durations,
        speeds and rod-hours are rounded.  Left out is all that could tell more: the lines and
        tracks, courses, depths, the hour, names of files and notes.

    Raises
    ------
    LogbookError
        If `coarse_m` is less than 100 m, or the logbook can't be read or written.

    Examples
    --------
    >>> from layers import Logbook, clean, cut, drifts, entries_of, example_trip, tie
    >>> fixes, catches = example_trip()
    >>> fixes, _ = clean(fixes)
    >>> pieces = cut(fixes)
    >>> own = drifts(pieces, fixes)
    >>> book = Logbook("share.gpkg")
    >>> _ = book.add(entries_of(pieces, own, tie(catches, own, fixes), files=["trip.gpx"]))
    >>> sorted(shared_layers(book, 2000.0))
    ['catches', 'drifts']
    """
    square_m(coarse_m)
    naming = naming or Naming(CORRIDOR_M, name_lines)
    logbook.name_lines(naming)
    drifts, fish, lines = logbook.drifts(), logbook.catches(), logbook.lines()

    def take_in(text: str | None) -> str:
        squares = _Squares.read(text)
        squares.take_in(lines)
        return squares.text()

    squares = _Squares.read(logbook.note(SQUARES, take_in))
    named, _ = naming.name(drifts, lines, corridor_m=naming.corridor_m)
    points = {}
    for name, (ground, column, row) in squares.lines.items():
        middle = squares.grounds[ground].middle((column, row), _times(coarse_m))
        points[name] = Point(*(round(number, 5) for number in middle))
    line_of = dict(zip(drifts["drift_id"], named["line"], strict=True))
    return {
        "drifts": _shown(drifts, list(named["line"]), points, _DRIFTS),
        "catches": _shown(fish, [line_of.get(name) for name in fish["drift_id"]], points, _FISH),
    }


def _shown(
    table: pd.DataFrame, lines: list[Any], points: dict[str, Point], columns: tuple[str, ...]
) -> gpd.GeoDataFrame:
    """Give some columns of a table, at the points of the lines."""
    kept = pd.DataFrame(table[[name for name in columns if name in table]])
    for name, step in _ROUNDED.items():
        if name in kept:
            kept[name] = np.maximum(np.round(kept[name] / step), 1) * step
    where = gpd.GeoSeries([points.get(line) for line in lines], index=kept.index, crs="EPSG:4326")
    return gpd.GeoDataFrame(kept, geometry=where)
