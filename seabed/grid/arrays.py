"""The door of every function that takes a grid: any array, made a depth grid or refused."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from pyproj import CRS

from seabed.errors import GridError
from seabed.grid.attributes import (
    USUAL_VOIDS,
    Sign,
    axes_of,
    crs_of_variable,
    horizontal,
    sign_of,
    unit_of,
    vertical_name,
    void_of,
)
from seabed.grid.axes import Axis, even_axis, resampled
from seabed.grid.contract import UNKNOWN_DATUM, crs_or_none, depth_grid, on_cells

__all__ = ["as_grid"]

_EVEN: Final = 1e-3
"""Steps that differ by no more than this share count as even."""
_SPENT: Final = frozenset(
    {
        "units", "positive", "standard_name", "long_name", "_FillValue", "missing_value", "nodata",
        "nodatavals", "scale_factor", "add_offset", "grid_mapping", "crs", "axis", "source",
        "vertical_datum", "guesses",
    }
)  # fmt: skip
"""Attributes that no longer hold of the depth grid, or are written again."""


def as_grid(array: Any) -> xr.DataArray:
    """Make a depth grid of an array by what it says of itself, or refuse it.

    Every function that takes a grid takes it through here.

    Parameters
    ----------
    array : xarray.DataArray
        On two axes of any name and direction, with coordinates; other axes of one step fall away.
        It must say its CRS (``spatial_ref`` or another grid mapping, ``attrs["crs"]``; axes of
        longitude and latitude count as WGS 84), its sign (``positive``, ``standard_name``, else its
        name) and its unit (``units``; an array named ``depth`` that has none is in metres).

    Returns
    -------
    xarray.DataArray
        A depth grid (see ``seabed.grid``); the array itself, not a copy, where it is one already.
        Lazy if `array` is.  Declared voids are NaN; of elevations so is what is at 0 or higher.
        Nearly even steps are made even; uneven ones are interpolated onto even ones.
        ``attrs["guesses"]`` lists what had to be assumed.

    Raises
    ------
    GridError
        If it is no such array, has no coordinates, more than two axes, no CRS, no known sign or
        unit, or steps that differ more than threefold.

    Examples
    --------
    >>> heights = xr.DataArray(
    ...     [[[-30.0, 12.0], [-20.0, -9999.0]]],
    ...     dims=("band", "lat", "lon"),
    ...     coords={"lat": [50.0, 50.1], "lon": [1.0, 1.1]},
    ...     attrs={"units": "ft", "positive": "up", "_FillValue": -9999.0},
    ... )
    >>> grid = as_grid(heights)
    >>> grid["y"].values.tolist(), grid.values.astype(float).round(2).tolist()
    ([50.1, 50.0], [[6.1, nan], [9.14, nan]])
    """
    return array if isinstance(array, xr.DataArray) and _is_grid(array) else _made(array)


def as_layer(array: Any) -> xr.DataArray:
    """Bring any array onto ``(y, x)``, north up; as `as_grid` but for sign and unit."""
    if isinstance(array, xr.DataArray) and _lies_right(array):
        return array
    laid = _ArrayOnAxes.of(array)
    cells = _on_even_steps(laid.values.data, laid.y, laid.x, laid.source)
    attributes = {**array.attrs, "guesses": laid.guesses}
    return on_cells(cells, y=laid.y_centres, x=laid.x_centres, crs=laid.crs, name=array.name,
                    attributes=attributes)  # fmt: skip


def _is_grid(array: xr.DataArray) -> bool:
    """Whether an array has the layout of a depth grid; its values do not count."""
    about = array.attrs
    return (
        _lies_right(array)
        and array.dtype == np.float32
        and about.get("units", "m" if array.name == "depth" else "") == "m"
        and about.get("positive", "down" if array.name == "depth" else "") == "down"
        and "elevation" not in sign_of(str(array.name), array)[::2]
        and not np.isfinite(np.nan if (void := void_of(array)) is None else void)
        and not {"scale_factor", "add_offset"} & about.keys()
    )


def _lies_right(array: xr.DataArray) -> bool:
    return (
        array.dims == ("y", "x")
        and 0 not in array.shape
        and _is_even(array, "y", falling=True)
        and _is_even(array, "x", falling=False)
        and "crs" not in array.attrs
        and crs_or_none(array) is not None
    )


def _is_even(array: xr.DataArray, axis: str, *, falling: bool) -> bool:
    if axis not in array.coords:
        return False
    centres = array.coords.variables[axis].values
    return (len(centres) < 2 or (centres[0] > centres[1]) == falling) and _steps_are_even(centres)


@dataclass(frozen=True, slots=True)
class _ArrayOnAxes:
    """An array on two axes, y first, and what it says of its place."""

    values: xr.DataArray
    y: Axis
    x: Axis
    crs: CRS
    vertical: tuple[str, Sign | None, str | None]
    """Vertical datum, sign and unit by a compound CRS."""
    assumed: list[str]

    @classmethod
    def of(cls, array: Any) -> _ArrayOnAxes:
        if not isinstance(array, xr.DataArray):
            raise GridError(_not_an_array(array), do="Wrap it with `seabed.grid.make_grid`.")
        source = str(array.attrs.get("source", "")) or None
        data = array.to_dataset(name="values")
        axes = axes_of(data, array)
        if axes is None:
            raise GridError(_why_no_axes(array), file=source)
        missing = [name for name in axes if name not in array.coords]
        if missing:
            what = f"the axis {missing[0]!r} has no coordinates"
            raise GridError(what, file=source, do="Give the array some.")
        crs, assumed = crs_of_variable(data, array, axes)
        flat = horizontal(crs)
        if flat is None:
            raise GridError(
                "the array has no coordinate reference system",
                file=source,
                do='Write one into it, like `array.rio.write_crs("EPSG:32631")`.',
            )
        values = array.isel({dim: 0 for dim in array.dims if dim not in axes}, drop=True)
        values = values.transpose(*axes)
        y, x = (_axis(values, name, source or "") for name in axes)
        return cls(values, y, x, flat, vertical_name(crs), assumed)

    @property
    def source(self) -> str:
        return str(self.values.attrs.get("source", ""))

    @property
    def guesses(self) -> list[str]:
        own = self.values.attrs.get("guesses", [])
        return [note for note in (*own, *self.assumed, self.y.guess, self.x.guess) if note]

    @property
    def y_centres(self) -> NDArray[np.floating[Any]]:
        return _centres(self.values, 0, self.y)

    @property
    def x_centres(self) -> NDArray[np.floating[Any]]:
        return _centres(self.values, 1, self.x)


def _made(array: Any) -> xr.DataArray:
    laid = _ArrayOnAxes.of(array)
    datum, axis_sign, axis_unit = laid.vertical
    firm, _, likely, _ = sign_of(str(array.name or ""), array)
    sign = firm or likely or axis_sign
    if sign is None:
        raise GridError(
            "the array does not say whether it holds depths or elevations",
            file=laid.source or None,
            do='Set attrs["positive"] to "down" or "up".',
        )
    words = str(array.attrs.get("units") or axis_unit or ("m" if array.name == "depth" else ""))
    unit = unit_of(words) if words else None
    if unit is None:
        raise GridError(
            f"the unit {words!r} is not known" if words else "the array does not say its unit",
            file=laid.source or None,
            do='Set attrs["units"] to "m", "ft" or "fm".',
        )
    depth = _depths(laid.values, unit[1] if sign == "depth" else -unit[1])
    about = {key: value for key, value in array.attrs.items() if key not in _SPENT}
    return depth_grid(
        _on_even_steps(depth, laid.y, laid.x, laid.source),
        y=laid.y_centres,
        x=laid.x_centres,
        crs=laid.crs,
        vertical_datum=str(array.attrs.get("vertical_datum") or datum or UNKNOWN_DATUM),
        source=laid.source,
        attributes={**about, "guesses": laid.guesses},
    )


def _depths(values: xr.DataArray, factor: float) -> Any:
    """Metres, positive down, NaN for voids and what an elevation has at 0 and above."""
    void, about = void_of(values), values.attrs
    voids = USUAL_VOIDS if void is None and values.dtype.kind in "iu" else (void,)
    numbers = values.astype(np.float32)
    for number in voids:
        if number is not None:
            numbers = numbers.where(numbers != np.float32(number))
    numbers = numbers.where(np.abs(numbers) != np.inf)
    scale, offset = float(about.get("scale_factor", 1.0)), float(about.get("add_offset", 0.0))
    if scale != 1.0 or offset:
        numbers = numbers * np.float32(scale) + np.float32(offset)
    if factor != 1.0:
        numbers = numbers * np.float32(factor)
    return (numbers.where(numbers > 0) if factor < 0 else numbers).data


def _on_even_steps(depth: Any, y: Axis, x: Axis, source: str) -> Any:
    if y.positions is None and x.positions is None:
        return depth
    if not isinstance(depth, np.ndarray):
        raise GridError(
            "the steps of a lazy array differ", file=source or None, do="Load it first: .load()."
        )
    return resampled(depth, y, x)


def _axis(values: xr.DataArray, name: str, source: str) -> Axis:
    """Even axis of centres; it says so where steps that differ are taken for even ones."""
    own = np.asarray(values[name].values, np.float64)
    axis = even_axis(own, name=name, file=source)
    if axis.positions is not None or _steps_are_even(own):
        return axis
    return replace(axis, guess=f"The steps of axis {name!r} differ; {abs(axis.step):g} was taken.")


def _centres(values: xr.DataArray, axis: int, even: Axis) -> NDArray[np.floating[Any]]:
    """Centres as the array has them where they are even, else those of the even axis."""
    own = np.asarray(values[values.dims[axis]].values, np.float64)
    return own if _steps_are_even(own) else even.first + even.step * np.arange(even.count)


def _steps_are_even(centres: NDArray[np.floating[Any]]) -> bool:
    step = np.diff(centres)
    return not len(step) or bool(np.abs(step - step[0]).max() <= _EVEN * abs(step[0]))


def _not_an_array(thing: Any) -> str:
    if isinstance(thing, xr.Dataset):
        names = ", ".join(map(str, thing.data_vars))
        return f"a depth grid is one array, not a Dataset: take one of {names}"
    what = type(thing).__name__
    return f"a depth grid is an xarray.DataArray with coordinates, not a {what}"


def _why_no_axes(array: xr.DataArray) -> str:
    sizes = ", ".join(f"{name} ({count})" for name, count in array.sizes.items())
    if array.dtype.kind not in "fiu":
        return f"a depth grid holds numbers, not {array.dtype}"
    return f"the axes {sizes} are not the two of a depth grid, such as y and x or lat and lon"
