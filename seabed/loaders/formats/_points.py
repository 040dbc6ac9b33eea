"""Tables of x, y, depth (XYZ, CSV) whose points are on a regular grid."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError

from seabed.array_types import Floats
from seabed.errors import GridError
from seabed.grid.attributes import horizontal, sign_by_name
from seabed.grid.axes import ROUNDING
from seabed.loaders.formats._raster import unreadable
from seabed.loaders.layer import Cells, Layer
from seabed.tables.spreadsheets import ENDINGS, split_sheet
from seabed.tables.text_layout import layout_of, layout_of_numbers, numbers, read_columns
from seabed.tables.text_table import read_text_table

_X: Final = re.compile(r"x|e|lon|long|longitude|lng|easting|east|x_?coord\w*", re.IGNORECASE)
_Y: Final = re.compile(r"y|n|lat|latitude|northing|north|y_?coord\w*", re.IGNORECASE)
_Z: Final = re.compile(
    r"z|depths?|elev(ation)?|altitude|height|sounding|bathy\w*|value|band_?1", re.IGNORECASE
)
_UNIT: Final = re.compile(
    r"^(.*?)[\s_]*[\[(_ ]\s*(m|met(?:re|er)s?|ft|feet|foot|fm|fathoms?|deg\w*)[\])]?$",
    re.IGNORECASE,
)
MOST_CELLS: Final = 400_000_000
FEWEST_FILLED: Final = 0.02
"""A grid with fewer of its cells filled than this is scattered soundings, not a grid."""


def open_points(source: str, *, variable: str | None = None) -> Layer:
    """Read a table of points on a regular grid, in text or a spreadsheet, as a layer.

    Columns are found by their names (longitude/x/easting, latitude/y/northing, depth/z/elevation);
    a table without names is taken as x, y, z.  The CRS is that of a ``.prj`` beside it, else WGS 84
    where the columns are named as longitude and latitude.
    """
    (x_name, y_name, z_name), (x, y, z), guesses = _read(source, variable)
    placed = np.isfinite(x) & np.isfinite(y)
    if not placed.any():
        raise GridError("the table has no rows with a position", file=source)
    x, y, z = x[placed], y[placed], z[placed]
    x_first, x_step, columns, column = _even(x, "x", source)
    y_first, y_step, rows, row = _even(y, "y", source)
    if rows * columns > MOST_CELLS or x.size < FEWEST_FILLED * rows * columns:
        raise _scattered(source)
    array = np.full((rows, columns), np.nan, np.float32)
    array[rows - 1 - row, column] = z
    crs, crs_guess = _crs(source, x_name, y_name)
    likely, likely_from = sign_by_name(_bare(z_name)[0])
    return Layer(
        source=source,
        format="table of points",
        variable=z_name,
        shape=array.shape,
        transform=Affine(
            x_step, 0, x_first - x_step / 2, 0, -y_step, y_first + y_step * (rows - 0.5)
        ),
        crs=crs,
        read=partial(_part, array=array),
        likely_sign=likely,
        likely_from=likely_from,
        unit=_bare(z_name)[1],
        declared_void=False,
        guesses=(*guesses, *crs_guess),
    )


def _part(cells: Cells, *, array: NDArray[np.float32]) -> NDArray[np.float32]:
    return array[cells.slices].copy()


def _read(
    source: str, variable: str | None
) -> tuple[tuple[str, str, str], list[Floats], list[str]]:
    """Names of x, y and depth, their values, and what was guessed."""
    if split_sheet(source)[0].suffix.lower() in ENDINGS:
        table = read_text_table(source, _meanings, error=GridError)
        names, at, guesses = _columns(table.headings, source, variable)
        return names, [numbers([row[one] for row in table.rows]) for one in at], guesses
    layout = layout_of_numbers(Path(source), _meanings, GridError)
    if layout is None:
        raise _no_table(source)
    names, at, guesses = _columns(layout.headings, source, variable)
    columns = dict(zip(sorted(at), read_columns(layout, sorted(at), GridError), strict=True))
    return names, [columns[one] for one in at], guesses


def _meanings(headings: Sequence[str]) -> list[str | None]:
    """Which of x, y and z each heading means."""
    axes = (("x", _X), ("y", _Y), ("z", _Z))
    return [
        next((axis for axis, pattern in axes if pattern.fullmatch(_bare(name)[0])), None)
        for name in headings
    ]


def _columns(
    names: list[str], source: str, variable: str | None
) -> tuple[tuple[str, str, str], list[int], list[str]]:
    if not names:
        if variable is not None:
            raise GridError(f"no column {variable!r}: the table names none", file=source)
        guess = "The table doesn't name its columns; x, y, depth was assumed."
        return ("x", "y", "z"), [0, 1, 2], [guess]
    meanings = _meanings(names)
    at = {axis: meanings.index(axis) for axis in ("x", "y", "z") if axis in meanings}
    if variable is not None:
        if variable not in names:
            raise GridError(
                f"no column {variable!r}", file=source, do=f"Its columns: {', '.join(names)}."
            )
        at["z"] = names.index(variable)
    if len(at) < 3:
        raise GridError(
            f"columns for x, y and depth were not found among {', '.join(names)}",
            file=source,
            do="Name them longitude, latitude, depth (or easting, northing, elevation).",
        )
    x, y, z = at["x"], at["y"], at["z"]
    return (names[x], names[y], names[z]), [x, y, z], []


def _bare(name: str) -> tuple[str, str | None]:
    """Column name without its unit, and the unit: ``depth_ft`` gives depth, ft."""
    match = _UNIT.match(name.strip())
    if match is None or not match.group(1):
        return name.strip(), None
    unit = match.group(2)
    return match.group(1).strip(" _(["), None if unit.lower().startswith("deg") else unit


def _even(values: Floats, axis: str, source: str) -> tuple[float, float, int, NDArray[np.intp]]:
    """First centre, step, count, and the place of each value on the even axis."""
    distinct = np.unique(values)
    span = float(distinct[-1] - distinct[0])
    if distinct.size < 2:
        raise GridError(
            f"all points have the same {axis}; a grid needs two or more columns and rows",
            file=source,
        )
    steps = np.diff(distinct)
    real = steps[steps > 1e-9 * max(abs(distinct[0]), abs(distinct[-1]), 1e-6)]
    rough = float(np.min(real))
    tight = real[real < 1.5 * rough]
    step = float(np.mean(tight))
    count = round(span / step) + 1
    if count > 1:
        step = span / (count - 1)
    if count > MOST_CELLS:
        raise _scattered(source)
    place = (values - distinct[0]) / step
    index = np.rint(place)
    if np.abs(place - index).max() > ROUNDING:
        raise _scattered(source)
    return float(distinct[0]), step, count, index.astype(np.intp)


def _crs(source: str, x_name: str, y_name: str) -> tuple[CRS | None, list[str]]:
    beside = Path(source).with_suffix(".prj")
    if beside.exists():
        try:
            return horizontal(CRS.from_user_input(beside.read_text(encoding="utf-8"))), []
        except (CRSError, OSError, UnicodeDecodeError) as error:
            raise GridError(f"its .prj file can't be read ({error})", file=beside) from error
    if x_name.lower().startswith(("lon", "lng")) and y_name.lower().startswith("lat"):
        return CRS.from_epsg(4326), [
            "Longitudes and latitudes without a geodetic datum: WGS 84 was assumed."
        ]
    return None, []


def _scattered(source: str) -> GridError:
    return GridError(
        "the points don't lie on a regular grid",
        file=source,
        do="Grid scattered soundings first, with {seabed soundings}.",
    )


def _no_table(source: str) -> GridError:
    if any(_meanings(layout_of(Path(source), _meanings, GridError).headings)):
        do = "Export it again, with its data."
        return GridError("the table has no rows", file=source, do=do)
    return unreadable(source)
