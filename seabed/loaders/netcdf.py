"""NetCDF of any spelling: CF, GEBCO-style elevation, and axes of any name."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError

from seabed.errors import GridError
from seabed.loaders.axes import Axis, even_axis, resampled
from seabed.loaders.layer import Cells, Layer, Reader, Sign, blank, reading, rescale
from seabed.loaders.meaning import attribute_text, horizontal, sign_by_name, vertical_name

__all__ = ["open_netcdf"]

_LONGITUDE: Final = re.compile(r"(.*_)?(lon|long|longitude|nav_lon)(\d*|_\w+)?", re.IGNORECASE)
_LATITUDE: Final = re.compile(r"(.*_)?(lat|latitude|nav_lat)(\d*|_\w+)?", re.IGNORECASE)
_X: Final = re.compile(r"x|xc|easting|eastings|x_?\d+|.*_x|projection_x.*", re.IGNORECASE)
_Y: Final = re.compile(r"y|yc|northing|northings|y_?\d+|.*_y|projection_y.*", re.IGNORECASE)
_EAST_UNITS: Final = re.compile(r"degrees?[_ ]?e(ast)?", re.IGNORECASE)
_NORTH_UNITS: Final = re.compile(r"degrees?[_ ]?n(orth)?", re.IGNORECASE)


def open_netcdf(source: str, *, variable: str | None = None) -> Layer:
    """Read the header and axes of a netCDF file as a layer.

    Parameters
    ----------
    source : str
        Path of a netCDF 3 or netCDF 4 file.
    variable : str, optional
        Variable to take; needed only where several could be meant.

    Raises
    ------
    GridError
        If no variable lies on two axes, several could be meant, an axis is not evenly spaced and
        can't be resampled, or the file is damaged.
    """
    with _opened(source) as data:
        candidates = {
            str(name): axes for name in data.data_vars if (axes := _axes_of(data, data[name]))
        }
        name = _choose(data, candidates, source, variable)
        return _layer(data, source, name, candidates[name], tuple(candidates))


def _layer(
    data: xr.Dataset, source: str, name: str, axes: tuple[str, str], others: tuple[str, ...]
) -> Layer:
    values = data[name]
    y_axis = even_axis(_centres(data, axes[0], source), name=axes[0], file=source)
    x_axis = even_axis(_centres(data, axes[1], source), name=axes[1], file=source)
    crs, crs_guess = _crs(data, values, axes)
    datum, axis_sign, axis_unit = vertical_name(crs)
    sign, firm_from, likely, likely_from = _sign(name, values)
    weak = False
    if likely is None and axis_sign:
        likely, likely_from, weak = axis_sign, f"vertical datum {datum}", True
    attributes = {**data.attrs, **values.attrs}
    companion = next((other for other in others if "uncertain" in other.lower()), None)
    read = partial(_read, source=source, axes=axes, y_axis=y_axis, x_axis=x_axis)
    return Layer(
        source=source,
        format="netCDF",
        variable=name,
        shape=(y_axis.count, x_axis.count),
        transform=Affine(x_axis.step, 0, x_axis.edge, 0, y_axis.step, y_axis.edge),
        crs=horizontal(crs),
        read=_reader(read, name, values),
        firm_sign=sign,
        firm_from=firm_from,
        likely_sign=likely,
        likely_from=likely_from,
        likely_weak=weak,
        unit=attribute_text(values.attrs, "units") or axis_unit or None,
        vertical_datum=datum
        or attribute_text(attributes, "vertical_datum", "vertical_crs", "geoid_name", "datum"),
        declared_void=_void(values) is not None or values.dtype.kind == "f",
        uncertainty=_reader(read, companion, data[companion]) if companion else None,
        guesses=tuple(text for text in (*crs_guess, y_axis.guess, x_axis.guess) if text),
        others=others,
    )


def _reader(read: Callable[..., NDArray[np.float32]], name: str, values: xr.DataArray) -> Reader:
    scale = float(values.attrs.get("scale_factor", 1.0))
    shift = float(values.attrs.get("add_offset", 0.0))
    return partial(read, name=name, void=_void(values), scale=scale, shift=shift)


def _read(
    cells: Cells,
    *,
    source: str,
    name: str,
    axes: tuple[str, str],
    y_axis: Axis,
    x_axis: Axis,
    void: float | None,
    scale: float,
    shift: float,
) -> NDArray[np.float32]:
    rows, columns = cells.slices
    with _opened(source) as data:
        values = _flat(data[name], axes)
        if y_axis.positions is None and x_axis.positions is None:
            part = values.isel({axes[0]: rows, axes[1]: columns}).transpose(*axes)
            array = _load(part, source)
            blank(array, void)
        else:
            array = _load(values.transpose(*axes), source)
            blank(array, void)
            array = resampled(array, y_axis, x_axis)[rows, columns].copy()
    rescale(array, scale, shift)
    return array


def _load(values: xr.DataArray, source: str) -> NDArray[np.float32]:
    with reading(source):
        return np.require(values.values, np.float32, ["C", "W", "O"])


def _flat(values: xr.DataArray, axes: tuple[str, str]) -> xr.DataArray:
    """Drop axes of one step (time, level)."""
    return values.isel({dim: 0 for dim in values.dims if dim not in axes})


def _axes_of(data: xr.Dataset, values: xr.DataArray) -> tuple[str, str] | None:
    """Names of the (y, x) dimensions a variable lies on, or None."""
    if values.dtype.kind not in "fiu":
        return None
    long = [str(dim) for dim in values.dims if values.sizes[dim] > 1]
    spare = [str(dim) for dim in values.dims if values.sizes[dim] <= 1]
    y = next((dim for dim in [*long, *spare] if _is_axis(data, dim, "y")), None)
    x = next((dim for dim in [*long, *spare] if _is_axis(data, dim, "x") and dim != y), None)
    if y is None or x is None or set(long) - {y, x}:
        return None
    return y, x


def _is_axis(data: xr.Dataset, dim: str, axis: str) -> bool:
    attributes = data[dim].attrs if dim in data.variables else {}
    if attribute_text(attributes, "axis").lower() == axis:
        return True
    standard = attribute_text(attributes, "standard_name").lower()
    units = attribute_text(attributes, "units")
    if axis == "x":
        known, by_units, by_name = (
            ("longitude", "projection_x_coordinate"),
            _EAST_UNITS,
            (_LONGITUDE, _X),
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


def _choose(
    data: xr.Dataset,
    candidates: dict[str, tuple[str, str]],
    source: str,
    variable: str | None,
) -> str:
    if variable is not None:
        if variable in candidates:
            return variable
        raise GridError(
            f"no variable {variable!r} on two axes",
            file=source,
            do=f"Its grids: {', '.join(candidates) or 'none'}.",
        )
    if not candidates:
        raise GridError(
            _why_none(data), file=source, do="Make a grid on two even axes of it first."
        )
    plain = [name for name in candidates if "uncertain" not in name.lower()] or list(candidates)
    if len(plain) == 1:
        return plain[0]
    named = [name for name in plain if any(_sign(name, data[name])[i] for i in (0, 2))]
    if len(named) == 1:
        return named[0]
    exact = [name for name in named if name.lower() in ("elevation", "depth", "z")]
    if len(exact) == 1:
        return exact[0]
    raise GridError(
        f"several variables could be the depths: {', '.join(named or plain)}",
        file=source,
        do="Say which with {variable}.",
    )


def _why_none(data: xr.Dataset) -> str:
    shapes = {
        str(name): tuple(str(dim) for dim in values.dims) for name, values in data.variables.items()
    }
    flat = [name for name, dims in shapes.items() if len(dims) >= 2]
    deep = [
        f"{dim} ({data.sizes[dim]} steps)"
        for name in data.data_vars
        for dim in data[name].dims
        if data.sizes[dim] > 1 and not any(_is_axis(data, str(dim), axis) for axis in "xy")
    ]
    if deep and any(len(dims) > 2 for dims in shapes.values()):
        return f"its variables change along {', '.join(dict.fromkeys(deep))} too"
    if any(_LONGITUDE.fullmatch(name) for name in flat):
        return "longitudes and latitudes are two-dimensional: the grid is curved, not regular"
    if not flat:
        return "no variable in it has two dimensions: it is not a grid"
    return f"no axes were recognised for {', '.join(flat[:5])}"


def _sign(name: str, values: xr.DataArray) -> tuple[Sign | None, str, Sign | None, str]:
    positive = attribute_text(values.attrs, "positive").lower()
    if positive in ("up", "down"):
        return ("elevation" if positive == "up" else "depth"), f"positive: {positive}", None, ""
    standard = attribute_text(values.attrs, "standard_name")
    found, source = sign_by_name(standard)
    if found and standard.lower() != "depth":
        return found, f"standard_name: {source}", None, ""
    likely, source = sign_by_name(standard, name, attribute_text(values.attrs, "long_name"))
    return None, "", likely, source


def _void(values: xr.DataArray) -> float | None:
    for key in ("_FillValue", "missing_value"):
        found = values.attrs.get(key)
        if found is not None:
            return float(np.ravel(found)[0])
    return None


def _centres(data: xr.Dataset, axis: str, source: str) -> NDArray[np.float64]:
    if axis not in data.variables:
        raise GridError(
            f"the axis {axis!r} has no coordinates",
            file=source,
            do="Write its coordinate variable.",
        )
    with reading(source):
        return np.asarray(data[axis].values, np.float64)


def _crs(
    data: xr.Dataset, values: xr.DataArray, axes: tuple[str, str]
) -> tuple[CRS | None, list[str]]:
    name = str(values.attrs.get("grid_mapping", "")).split(":")[0].strip()
    names = [name, "crs", "spatial_ref"]
    for holder in (data[key].attrs for key in names if key in data.variables):
        for text in (attribute_text(holder, "crs_wkt", "spatial_ref", "proj4"), dict(holder)):
            try:
                return (
                    CRS.from_user_input(text) if isinstance(text, str) else CRS.from_cf(text)
                ), []
            except (CRSError, KeyError, ValueError, TypeError):
                continue
    text = attribute_text(
        {**data.attrs, **values.attrs}, "crs", "epsg", "spatial_ref", "projection"
    )
    if text:
        try:
            return CRS.from_user_input(text), []
        except CRSError:
            pass
    attributes = data[axes[1]].attrs
    degrees = attribute_text(attributes, "standard_name") == "longitude" or _EAST_UNITS.fullmatch(
        attribute_text(attributes, "units")
    )
    if degrees or _LONGITUDE.fullmatch(axes[1]):
        return CRS.from_epsg(4326), [
            "Longitudes and latitudes without a geodetic datum: WGS 84 was assumed."
        ]
    return None, []


@contextmanager
def _opened(source: str) -> Iterator[xr.Dataset]:
    with Path(source).open("rb") as stream:
        engine = "scipy" if stream.read(3) == b"CDF" else "h5netcdf"
    with reading(source):
        data = xr.open_dataset(source, engine=engine, decode_cf=False, cache=False, chunks=None)
    try:
        yield data
    finally:
        data.close()
