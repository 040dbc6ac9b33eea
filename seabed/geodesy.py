"""Where places are on the Earth: distances, bearings, local planes, systems of coordinates.

Longitudes and latitudes are degrees on WGS 84, bearings degrees true, distances metres.  Distances
and bearings are geodesic (Karney 2013, through PROJ) unless a function says otherwise.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

import numpy as np
from pyproj import CRS, Geod, Transformer

from seabed.array_types import Floats, Pair
from seabed.units import half_turned

METRES_A_DEGREE: Final = 111_195.0
"""Of a great circle on a sphere of the Earth's mean radius, 6,371,009 m (Moritz 2000, GRS 80)."""


_DEGREES: Final = "EPSG:4326"
_WGS84: Final = Geod(ellps="WGS84")
_AXIS_M: Final = 6_378_137.0  # of WGS 84
_ECCENTRICITY_SQUARED: Final = 6.694_379_990_14e-3  # of WGS 84


def bearing_and_distance(
    longitude: Any, latitude: Any, to_longitude: Any, to_latitude: Any
) -> tuple[Any, Any]:
    """Bearing at the first place (0 to 360) and distance; numbers, or arrays of one shape."""
    alike = _alike(longitude, latitude, to_longitude, to_latitude)
    bearing, _, distance = _WGS84.inv(*alike)
    return bearing % 360.0, distance


def bearing_deg(longitude: Any, latitude: Any, to_longitude: Any, to_latitude: Any) -> Any:
    """Bearing at the first place toward the second, 0 to 360."""
    return bearing_and_distance(longitude, latitude, to_longitude, to_latitude)[0]


def distance_m(longitude: Any, latitude: Any, to_longitude: Any, to_latitude: Any) -> Any:
    """Distance between places."""
    return bearing_and_distance(longitude, latitude, to_longitude, to_latitude)[1]


def ahead(longitude: Any, latitude: Any, bearing: Any, metres: Any) -> tuple[Any, Any]:
    """Longitude and latitude of the place some metres ahead on a bearing."""
    east, north, _ = _WGS84.fwd(*_alike(longitude, latitude, bearing, metres))
    return east, north


def path_m(longitude: Any, latitude: Any) -> float:
    """Length of a path through places."""
    return float(_WGS84.line_length(longitude, latitude))


def _alike(*values: Any) -> list[Any]:
    """Give values one shape, as PROJ wants them: numbers if all are, else arrays of their own."""
    shape = np.broadcast_shapes(*(np.shape(value) for value in values))
    if not shape:
        return [float(value) for value in values]
    return [np.array(np.broadcast_to(value, shape), np.float64) for value in values]


def radii(latitude: Any) -> tuple[Any, Any]:
    """Metres a radian along the parallel and along the meridian."""
    sine = np.sin(np.radians(latitude))
    flattening = 1.0 - _ECCENTRICITY_SQUARED * sine**2
    prime = _AXIS_M / np.sqrt(flattening)
    meridian = prime * (1.0 - _ECCENTRICITY_SQUARED) / flattening
    return prime * np.cos(np.radians(latitude)), meridian


def step_lengths(longitude: Floats, latitude: Floats) -> Floats:
    """Distances between neighbouring positions, shape (n - 1,).

    On the radii of curvature at the middle of each step: within 1 part in a million of the
    geodesic for steps up to some kilometres away from the poles.
    """
    parallel, meridian = radii((latitude[1:] + latitude[:-1]) / 2)
    east = np.radians(half_turned(np.diff(longitude))) * parallel
    return np.asarray(np.hypot(east, np.radians(np.diff(latitude)) * meridian))


def local_metres(
    longitude: Any, latitude: Any, *, centre: tuple[Any, Any] | None = None
) -> tuple[Any, Any]:
    """Metres east and north of a centre (the first position, if not given), one scale for all.

    On the ellipsoid's radii of curvature there: straight and even motion stays so.  Lengths
    along a parallel are off by the share that the cosine of latitude differs from the centre's:
    0.5 % at 20 km from a centre at 60 degrees north.  No positions give empty arrays.  Centres may
    be arrays too, one for each position.
    """
    if centre is None:
        if not len(longitude):
            return np.empty(0), np.empty(0)
        centre = longitude[0], latitude[0]
    parallel, meridian = radii(centre[1])
    east = np.radians(half_turned(longitude - centre[0])) * parallel
    return east, np.radians(latitude - centre[1]) * meridian


def sinusoidal_metres(longitude: Floats, latitude: Floats, *, centre: tuple[float, float]) -> Pair:
    """Metres east and north of a centre, each parallel in its own length (sinusoidal).

    Lengths along parallels and meridians are right anywhere; angles are off by less than half a
    degree within 40 km of the centre at middle latitudes.  NaN stays.
    """
    parallel, _ = radii(latitude)
    _, meridian = radii(centre[1])
    turn = half_turned(np.asarray(longitude, np.float64) - centre[0])
    return np.radians(turn) * parallel, np.radians(latitude - centre[1]) * meridian


def sinusoidal_degrees(east: Floats, north: Floats, *, centre: tuple[float, float]) -> Pair:
    """Longitude and latitude of metres from a centre, as `sinusoidal_metres` gives them."""
    latitude = centre[1] + np.degrees(np.asarray(north, np.float64) / radii(centre[1])[1])
    longitude = half_turned(centre[0] + np.degrees(east / radii(latitude)[0]))
    return longitude, latitude


def ellipsoid_of(crs: CRS) -> Geod:
    """Ellipsoid of a CRS; WGS 84 if it names none."""
    return crs.get_geod() or _WGS84


def unit_m(crs: CRS) -> float:
    """Metres in one unit of a projected CRS; 1 if it names none."""
    return float(crs.axis_info[0].unit_conversion_factor) if crs.axis_info else 1.0


def is_metric(crs: CRS) -> bool:
    """Whether a CRS is projected and counts in metres."""
    return bool(crs.is_projected and crs.axis_info[0].unit_conversion_factor == 1.0)


def cell_metres(crs: CRS, width: float, height: float, y: float | Floats) -> Pair:
    """Width and height over the ground of cells around each `y`, given their steps in a CRS.

    Geographic cells are measured on the CRS's own ellipsoid, along parallel and meridian.

    easting, northing: ndarray of float64, shape of `y`.
    """
    middle = np.asarray(y, np.float64)
    if not crs.is_geographic:
        unit = unit_m(crs)
        return np.full(middle.shape, width * unit), np.full(middle.shape, height * unit)
    ellipsoid, west = ellipsoid_of(crs), np.zeros(middle.shape)
    south, north = np.clip(middle - height / 2, -90, 90), np.clip(middle + height / 2, -90, 90)
    easting = ellipsoid.inv(west, middle, west + width, middle)[2]
    northing = ellipsoid.inv(west, south, west, north)[2]
    return np.asarray(easting, np.float64), np.asarray(northing, np.float64)


@lru_cache(maxsize=64)
def transformer(source: CRS | str, target: CRS | str) -> Transformer:
    """Way from coordinates of one CRS to those of another; x or longitude comes first."""
    return Transformer.from_crs(source, target, always_xy=True)


def to_degrees(crs: CRS | str) -> Transformer:
    """Way from coordinates of a CRS to longitude and latitude."""
    return transformer(crs, _DEGREES)


def from_degrees(crs: CRS | str) -> Transformer:
    """Way from longitude and latitude to coordinates of a CRS."""
    return transformer(_DEGREES, crs)


def utm_zone(longitude: float, latitude: float) -> CRS:
    """UTM zone (WGS 84) of a place."""
    zone = int(((longitude + 180) % 360) // 6) + 1
    return CRS.from_epsg((32600 if latitude >= 0 else 32700) + zone)


def utm_of(table: Any) -> CRS:
    """UTM zone (WGS 84) of the middle of a table's geometry.

    A look at the bounds, where geopandas looks through the whole register of EPSG for a tenth of a
    second.

    Raises ValueError where no geometry has coordinates.
    """
    west, south, east, north = table.total_bounds
    middle = (west + east) / 2, (south + north) / 2
    return utm_zone(*to_degrees(table.crs).transform(*middle))


def plane_around(longitude: float, latitude: float) -> Transformer:
    """Way from longitude and latitude to metres east and north of a place.

    Azimuthal equidistant: true from the place in all directions.  It is a pipeline, since between
    two systems PROJ looks through its register for 4 to 16 ms.
    """
    return Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad "
        f"+step +proj=aeqd +ellps=WGS84 +lon_0={longitude} +lat_0={latitude}"
    )
