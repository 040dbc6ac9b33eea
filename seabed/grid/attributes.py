"""What an array says of itself: its axes, sign, unit, voids, CRS and vertical datum."""

from __future__ import annotations

import re
from typing import Any, Final, Literal

import numpy as np
import xarray as xr
from pyproj import CRS
from pyproj.exceptions import CRSError

from seabed.errors import UnitError
from seabed.units import LENGTH, parse_length

Sign = Literal["elevation", "depth"]

USUAL_VOIDS: Final = (-9999.0, -99999.0, -32768.0, -32767.0, 9999.0, 99999.0, 32767.0, 1e6)
"""Numbers that mean "no depth" in files that don't say so (common practice, no source)."""
US_SURVEY_FOOT: Final = 1200.0 / 3937.0
_ELEVATION: Final = re.compile(r"elev|altitude|height|topo|relief|\bdem\b", re.IGNORECASE)
_DEPTH: Final = re.compile(r"depth|sounding|tiefe|profondeur|\bsea_floor_depth", re.IGNORECASE)
_NO_DATUM: Final = {"", "unknown", "//", "unnamed", "none", "n/a"}
_SURVEY_FOOT: Final = re.compile(r"us[ _]?(survey)?[ _-]?(foot|feet|ft)|ftus", re.IGNORECASE)
LONGITUDE: Final = re.compile(r"(.*_)?(lon|long|longitude|nav_lon)(\d*|_\w+)?", re.IGNORECASE)
_LATITUDE: Final = re.compile(r"(.*_)?(lat|latitude|nav_lat)(\d*|_\w+)?", re.IGNORECASE)
_X: Final = re.compile(r"x|xc|easting|eastings|x_?\d+|.*_x|projection_x.*", re.IGNORECASE)
_Y: Final = re.compile(r"y|yc|northing|northings|y_?\d+|.*_y|projection_y.*", re.IGNORECASE)
_EAST_UNITS: Final = re.compile(r"degrees?[_ ]?e(ast)?", re.IGNORECASE)
_NORTH_UNITS: Final = re.compile(r"degrees?[_ ]?n(orth)?", re.IGNORECASE)


def attribute_text(attributes: dict[str, Any], *keys: str) -> str:
    """First of `keys` (any case) that holds text, or ``""``."""
    lower = {str(key).lower(): value for key, value in attributes.items()}
    for key in keys:
        value = lower.get(key)
        if isinstance(value, bytes):
            value = value.decode("utf-8", "replace")
        if isinstance(value, str) and value.strip():
            return value.strip()
    return ""


def axes_of(data: xr.Dataset, values: xr.DataArray) -> tuple[str, str] | None:
    """Names of the (y, x) dimensions a variable is on, or None."""
    if values.dtype.kind not in "fiu":
        return None
    long = [str(dim) for dim in values.dims if values.sizes[dim] > 1]
    spare = [str(dim) for dim in values.dims if values.sizes[dim] <= 1]
    y = next((dim for dim in [*long, *spare] if is_axis(data, dim, "y")), None)
    x = next((dim for dim in [*long, *spare] if is_axis(data, dim, "x") and dim != y), None)
    if y is None or x is None or set(long) - {y, x}:
        return None
    return y, x


def is_axis(data: xr.Dataset, dim: str, axis: str) -> bool:
    """Say whether a dimension is the "x" or "y" axis, by its attributes or its name."""
    attributes = data[dim].attrs if dim in data.variables else {}
    if attribute_text(attributes, "axis").lower() == axis:
        return True
    standard = attribute_text(attributes, "standard_name").lower()
    units = attribute_text(attributes, "units")
    if axis == "x":
        known, by_units, by_name = (
            ("longitude", "projection_x_coordinate"),
            _EAST_UNITS,
            (LONGITUDE, _X),
        )
    else:
        known, by_units, by_name = (
            ("latitude", "projection_y_coordinate"),
            _NORTH_UNITS,
            (_LATITUDE, _Y),
        )
    if standard in known or by_units.fullmatch(units):
        return True
    return any(pattern.fullmatch(dim) for pattern in by_name)


def sign_by_name(*names: str | None) -> tuple[Sign | None, str]:
    """Sign that the names of a variable suggest, and the name that did.

    >>> sign_by_name("z", "Elevation relative to sea level")
    ('elevation', 'Elevation relative to sea level')
    """
    for name in names:
        if name and _DEPTH.search(name):
            return "depth", name
        if name and _ELEVATION.search(name):
            return "elevation", name
    return None, ""


def sign_of(name: str, values: xr.DataArray) -> tuple[Sign | None, str, Sign | None, str]:
    """Give the sign that is stated and where, and the one that names suggest and which."""
    positive = attribute_text(values.attrs, "positive").lower()
    if positive in ("up", "down"):
        return ("elevation" if positive == "up" else "depth"), f"positive: {positive}", None, ""
    standard = attribute_text(values.attrs, "standard_name")
    named, source = sign_by_name(standard)
    if named and standard.lower() != "depth":
        return named, f"standard_name: {source}", None, ""
    likely, source = sign_by_name(standard, name, attribute_text(values.attrs, "long_name"))
    return None, "", likely, source


def unit_of(words: str) -> tuple[str, float] | None:
    """Name of a unit of length and the metres in it; None where it isn't known."""
    if _SURVEY_FOOT.fullmatch(words.strip()):
        return "US survey foot", US_SURVEY_FOOT
    try:
        factor = parse_length(f"1 {words}")
    except UnitError:
        return None
    return next(name for name, size in LENGTH.items() if size == factor), factor


def void_of(values: xr.DataArray) -> float | None:
    """Give the number that means no depth, where the array names one."""
    for key in ("_FillValue", "missing_value", "nodata", "nodatavals"):
        value = values.attrs.get(key)
        if value is not None:
            return float(np.ravel(value)[0])
    return None


def crs_of_variable(
    data: xr.Dataset, values: xr.DataArray, axes: tuple[str, str]
) -> tuple[CRS | None, list[str]]:
    """Give the CRS that a variable names, None for none, and what was assumed."""
    mapping = values.attrs.get("grid_mapping") or values.encoding.get("grid_mapping", "")
    names = (str(mapping).split(":")[0].strip(), "crs", "spatial_ref")
    holders = [data[name].attrs for name in names if name in data.variables]
    holders += [one.attrs for one in data.variables.values() if "crs_wkt" in one.attrs]
    for holder in holders:
        for text in (attribute_text(holder, "crs_wkt", "spatial_ref", "proj4"), dict(holder)):
            try:
                return (
                    CRS.from_user_input(text) if isinstance(text, str) else CRS.from_cf(text)
                ), []
            except (CRSError, KeyError, ValueError, TypeError):
                continue
    about = {**data.attrs, **values.attrs}
    words = attribute_text(about, "crs", "epsg", "spatial_ref", "projection") or about.get("crs")
    named = crs_in(words)
    if named is not None:
        return named, []
    attributes = data[axes[1]].attrs
    degrees = attribute_text(attributes, "standard_name") == "longitude" or _EAST_UNITS.fullmatch(
        attribute_text(attributes, "units")
    )
    if degrees or LONGITUDE.fullmatch(axes[1]):
        return CRS.from_epsg(4326), [
            "Longitudes and latitudes without a geodetic datum: WGS 84 was assumed."
        ]
    return None, []


def crs_in(words: Any) -> CRS | None:
    """CRS that words of a file define; None where they are empty or define none."""
    try:
        return CRS.from_user_input(words) if words else None
    except CRSError:
        return None


def horizontal(crs: CRS | None) -> CRS | None:
    """Horizontal part of a compound, three-dimensional or bound CRS."""
    if crs is None:
        return None
    if crs.is_bound:
        return horizontal(crs.source_crs)
    if crs.is_compound:
        return horizontal(crs.sub_crs_list[0])
    return CRS.from_user_input(crs.to_2d())


def vertical_name(crs: CRS | None) -> tuple[str, Sign | None, str | None]:
    """Name of a compound CRS's vertical part, the sign its axis suggests, and its unit."""
    if crs is None or not crs.is_compound or len(crs.sub_crs_list) < 2:
        return "", None, None
    vertical = crs.sub_crs_list[1]
    axes = vertical.axis_info
    name = re.sub(r"\s+(depth|height)$", "", vertical.name.strip(), flags=re.IGNORECASE)
    name = "" if name.lower() in _NO_DATUM else name
    if not axes:
        return name, None, None
    return name, "depth" if axes[0].direction == "down" else "elevation", axes[0].unit_name
