"""NetCDF of any spelling: CF, GEBCO-style elevation, and axes of any name."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import xarray as xr
from affine import Affine
from numpy.typing import NDArray

from seabed.array_types import Floats
from seabed.errors import GridError
from seabed.grid.attributes import (
    LONGITUDE,
    attribute_text,
    axes_of,
    crs_of_variable,
    horizontal,
    is_axis,
    sign_of,
    vertical_name,
    void_of,
)
from seabed.grid.axes import Axis, even_axis, resampled
from seabed.guarded import ask
from seabed.loaders.layer import Cells, Layer, Reader, blank, rescale


def open_netcdf(source: str, *, variable: str | None = None) -> Layer:
    """Read the header and axes of a netCDF 3 or netCDF 4 file as a layer.

    variable: needed only where several could be meant.

    Raises GridError if no variable is on two axes, several could be meant, or an axis is not evenly
    spaced and can't be resampled.
    """
    data = _header(source)
    candidates = {str(name): axes for name in data.data_vars if (axes := axes_of(data, data[name]))}
    name = _choose(data, candidates, source, variable)
    return _layer(data, source, name, candidates[name], tuple(candidates))


def _header(source: str) -> xr.Dataset:
    """Read the file with a repeated zero in place of the values of its grids."""
    attributes, variables = ask("netcdf.header", source)
    return xr.Dataset(
        {
            name: (
                dims,
                np.broadcast_to(np.zeros((), dtype), shape) if values is None else values,
                about,
            )
            for name, (dims, shape, dtype, about, values) in variables.items()
        },
        attrs=attributes,
    )


def _layer(
    data: xr.Dataset, source: str, name: str, axes: tuple[str, str], others: tuple[str, ...]
) -> Layer:
    values = data[name]
    y_axis = even_axis(_centres(data, axes[0], source), name=axes[0], file=source)
    x_axis = even_axis(_centres(data, axes[1], source), name=axes[1], file=source)
    crs, crs_guess = crs_of_variable(data, values, axes)
    datum, axis_sign, axis_unit = vertical_name(crs)
    sign, firm_from, likely, likely_from = sign_of(name, values)
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
        declared_void=void_of(values) is not None or values.dtype.kind == "f",
        uncertainty=_reader(read, companion, data[companion]) if companion else None,
        guesses=tuple(text for text in (*crs_guess, y_axis.guess, x_axis.guess) if text),
        others=others,
    )


def _reader(read: Callable[..., NDArray[np.float32]], name: str, values: xr.DataArray) -> Reader:
    scale = float(values.attrs.get("scale_factor", 1.0))
    shift = float(values.attrs.get("add_offset", 0.0))
    return partial(read, name=name, void=void_of(values), scale=scale, shift=shift)


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
    even = y_axis.positions is None and x_axis.positions is None
    block = (rows, columns) if even else (slice(None), slice(None))
    count = cells.rows * cells.columns if even else y_axis.count * x_axis.count
    array: NDArray[np.float32] = ask(
        "netcdf.read", source, name, dict(zip(axes, block, strict=True)), axes, cells=count
    )
    blank(array, void)
    if not even:
        array = resampled(array, y_axis, x_axis)[rows, columns].copy()
    rescale(array, scale, shift)
    return array


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
    named = [name for name in plain if any(sign_of(name, data[name])[i] for i in (0, 2))]
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
        if data.sizes[dim] > 1 and not any(is_axis(data, str(dim), axis) for axis in "xy")
    ]
    if deep and any(len(dims) > 2 for dims in shapes.values()):
        return f"its variables change along {', '.join(dict.fromkeys(deep))} too"
    if any(LONGITUDE.fullmatch(name) for name in flat):
        return "longitudes and latitudes are two-dimensional: the grid is curved, not regular"
    if not flat:
        return "no variable in it has two dimensions: it is not a grid"
    return f"no axes were recognised for {', '.join(flat[:5])}"


def _centres(data: xr.Dataset, axis: str, source: str) -> Floats:
    if axis not in data.variables:
        raise GridError(
            f"the axis {axis!r} has no coordinates",
            file=source,
            do="Write its coordinate variable.",
        )
    return np.asarray(data[axis].values, np.float64)
