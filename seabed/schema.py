"""Tables described once: names, types, units, digits, labels and meaning of their columns.

A room describes each table that it makes with `Table.of`, beside the function that makes it.  What
else needs the columns reads them from there: docstrings (`documented`), checks at public functions
(`Table.check`), tables without rows (`Table.empty`), files, and tables that people read
(`Table.for_people`).
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any, Final, TypeVar

import geopandas as gpd
import numpy as np
import pandas as pd

from seabed.errors import TableError
from seabed.table_column import GEOMETRY, Column, holds

__all__ = ["Column", "Table"]

Thing = TypeVar("Thing", bound=Callable[..., Any])

FILE_DIGITS, PLACE_DIGITS = 5, 7
"""Decimals of numbers in files: half of a tenth of an inch is 1.27 mm; of degrees, a centimetre."""
_NEEDED: Final = {
    "number": "numbers",
    "truth": "True and False",
    "text": "text",
    "time": "times with their zone",
}
_ENTRY: Final = re.compile(r"(\w+(?:, \w+)*)(?: \[([^\]]*)\])?(?: (.*))?")
_OPTION: Final = re.compile(r'"([^"]*)"|(\S+)')


@dataclass(frozen=True, slots=True)
class Table:
    """A table's columns, in order; made by `Table.of`.

    Attributes
    ----------
    name : str
        Of what its rows are: "edges", "drifts".
    made_by : str
        The function that makes such a table.
    columns : tuple of Column

    Examples
    --------
    >>> import pandas as pd
    >>> heights = Table.of("heights", "read_heights", '''
    ...     time [time] UTC
    ...     height_m ["Tide" .2] over the datum
    ...     ''')
    >>> heights.names, heights["height_m"].unit
    (('time', 'height_m'), 'm')
    >>> heights.check(pd.DataFrame({"time": [pd.Timestamp("2031-06-14", tz="UTC")]}))
    Traceback (most recent call last):
    seabed.errors.TableError: the table heights has no column height_m; it has time. ...
    """

    name: str
    made_by: str
    columns: tuple[Column, ...]

    @classmethod
    def of(cls, name: str, made_by: str, text: str) -> Table:
        """Read a table's description.

        Parameters
        ----------
        name, made_by : str
        text : str
            A line a column, or several of one meaning, ``name, name [options] meaning``; lines that
            are indented further go on with it.  Options, any of them left out: the type ("float",
            "int", "bool", "maybe", "text", "time", "category", "Point", ...; "float" if none is),
            "empty" if values may be, the quantity ("depth", "distance", "speed", "fish"), the
            digits that people read (".2"), and in quotes the label of a column that cards show.
        """
        entries = re.split(r"\n(?!\s)", textwrap.dedent(text).strip("\n "))
        columns = [
            Column.of(each, options, doc)
            for names, options, doc in map(_parts, entries)
            for each in names
        ]
        return cls(name, made_by, tuple(columns))

    @property
    def names(self) -> tuple[str, ...]:
        """Names of its columns, in order."""
        return tuple(column.name for column in self.columns)

    def __iter__(self) -> Iterator[Column]:
        return iter(self.columns)

    def __getitem__(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)

    def __contains__(self, name: str) -> bool:
        return name in self.names

    def __add__(self, other: Table) -> Table:
        """Put the columns of another table after its own, geometry last."""
        every = [*self.columns, *other.columns]
        return replace(self, columns=tuple(sorted(every, key=lambda one: one.kind == GEOMETRY)))

    def only(self, *names: str) -> Table:
        """Keep some of its columns, in the order given."""
        return replace(self, columns=tuple(self[name] for name in names))

    @property
    def shown(self) -> Table:
        """The columns that cards and maps show."""
        return self.only(*(column.name for column in self if column.shown))

    def __str__(self) -> str:
        """List its columns, as docstrings do."""
        lines = [
            f"- {', '.join(f'``{column.name}``' for column in columns)}: {doc}".removesuffix(": ")
            for doc, columns in groupby(self.columns, lambda column: column.doc)
        ]
        return "\n".join(textwrap.fill(line, 88, subsequent_indent="  ") for line in lines)

    def check(self, table: Any, *names: str) -> None:
        """Refuse a table that lacks a column, or holds something else in one.

        Parameters
        ----------
        table : DataFrame or GeoDataFrame
        *names : str
            Columns that are needed; all if none is named.

        Raises
        ------
        TableError
            Naming table, column, what it holds and what is needed.
        """
        do = f"Take the table from `{self.made_by}`, or put that right."
        if not isinstance(table, pd.DataFrame):
            raise TableError(f"{self.name} must be a table, not {type(table).__name__}", do=do)
        for name in names or self.names:
            fault = self._fault(table, self[name])
            if fault:
                raise TableError(f"the table {self.name} {fault}", do=do)

    def _fault(self, table: pd.DataFrame, column: Column) -> str:
        name = column.name
        if column.kind == GEOMETRY:
            if not isinstance(table, gpd.GeoDataFrame) or table.active_geometry_name is None:
                return "has no geometry: a GeoDataFrame is needed"
            return "has a geometry without a CRS" if table.crs is None and len(table) else ""
        if name not in table:
            return f"has no column {name}; it has {', '.join(map(str, table.columns)) or 'none'}"
        if len(table) and not holds(table[name], column.kind):
            return (
                f"has {_words_of(table[name])} in column {name}, which needs {_NEEDED[column.kind]}"
            )
        return ""

    def empty(self, crs: Any = "EPSG:4326") -> Any:
        """Give the table without rows, its columns of the right types."""
        return self.frame({}, crs=crs)

    def frame(
        self, rows: Mapping[str, Any] | Iterable[Mapping[str, Any]], *, crs: Any = "EPSG:4326"
    ) -> Any:
        """Make the table: its columns in order, of their types, and no others.

        Parameters
        ----------
        rows : DataFrame, mapping of name to values, or iterable of rows
            With every column, if there are rows.
        crs : anything ``pyproj.CRS.from_user_input`` takes
            Of the geometry, where the table has one.

        Returns
        -------
        DataFrame, or GeoDataFrame where a column is a geometry
        """
        whole = isinstance(rows, pd.DataFrame | Mapping)
        # without geopandas, which looks twice at each column that it gives
        given = pd.DataFrame(rows if whole else [*rows])
        if not len(given):
            given = pd.DataFrame(columns=self.names)
        columns: dict[str, pd.Series] = {}
        for column in self:
            values = given[column.name]
            if column.kind == "time":
                values = pd.to_datetime(values, utc=True)
            fixed = column.kind != GEOMETRY and (column.kind != "text" or not len(given))
            if fixed and values.dtype != column.dtype:
                values = values.astype(column.dtype)
            columns[column.name] = values
        table = pd.DataFrame(columns, index=given.index)
        return gpd.GeoDataFrame(table, geometry=GEOMETRY, crs=crs) if GEOMETRY in self else table

    def words(self, row: Any, name: str, units: Mapping[str, str]) -> str:
        """Write a value of a row for people, without its unit."""
        return self[name].words(getattr(row, name), units)

    def in_units(self, table: pd.DataFrame, units: Mapping[str, str]) -> pd.DataFrame:
        """Give those of its columns that a table has in the reader's units, for a file.

        Their numbers have a decimal more than people read elsewhere, for sums and drawings.

        Examples
        --------
        >>> import pandas as pd
        >>> tide = Table.of("tide", "", "height_m [depth .2]")
        >>> tide.in_units(pd.DataFrame({"height_m": [1.0]}), {"depth": "ft"})
           height_ft
        0       3.28
        """
        columns: dict[str, Any] = {}
        for column in self:
            if column.name not in table:
                continue
            name, values = column.name, table[column.name]
            unit = units.get(column.quantity, column.unit)
            if unit != column.unit:
                spelled = {"m/s": "mps"}.get(unit, unit.replace("/", ""))
                name = f"{name.rpartition('_')[0]}_{spelled}"
            if column.kind == "number":
                amount, digits = column.amount(values.to_numpy(), unit)
                values = np.round(amount, digits + 1)
            columns[name] = values
        return pd.DataFrame(columns, index=table.index)

    def for_people(
        self, table: pd.DataFrame, names: Sequence[str], units: Mapping[str, str]
    ) -> tuple[list[str], list[list[str]]]:
        """Write some columns as people read them.

        Parameters
        ----------
        table : DataFrame
        names : sequence of str
        units : mapping
            Unit of each quantity: ``{"depth": "ft", "speed": "mph"}``.

        Returns
        -------
        headings : list of str
            Label and unit.
        rows : list of list of str
        """
        chosen = [self[name] for name in names]
        headings = [f"{one.label} {one.shown_unit(units)}".strip() for one in chosen]
        cells = [[one.words(value, units) for value in table[one.name]] for one in chosen]
        return headings, [list(row) for row in zip(*cells, strict=True)]


def joined_tables(tables: Sequence[gpd.GeoDataFrame]) -> gpd.GeoDataFrame:
    """Put tables of the same columns one below the other, empty ones too."""
    filled = [table for table in tables if len(table)] or tables[:1]
    return gpd.GeoDataFrame(pd.concat(filled, ignore_index=True), crs=tables[0].crs)


def for_files(table: pd.DataFrame) -> pd.DataFrame:
    """Round a table's numbers as every file has them: CSV, JSON, GeoPackage and GeoJSON alike."""
    rounded = table.copy(deep=False)
    for name, kind in table.dtypes.items():
        if kind.kind == "f":
            place = str(name).endswith(("longitude", "latitude"))
            rounded[name] = rounded[name].round(PLACE_DIGITS if place else FILE_DIGITS)
    return rounded


def documented(*tables: Table) -> Callable[[Thing], Thing]:
    """Write the columns of tables into a docstring, each where a line says ``{name}``."""

    def with_columns(thing: Thing) -> Thing:
        if thing.__doc__:
            for table in tables:
                thing.__doc__ = _filled(thing.__doc__, table)
        return thing

    return with_columns


def _filled(doc: str, table: Table) -> str:
    place = re.compile(rf"^( *)\{{{table.name}\}}$", re.MULTILINE)
    return place.sub(lambda line: textwrap.indent(str(table), line[1]), doc)


def _parts(entry: str) -> tuple[list[str], list[tuple[str, str]], str]:
    """Take an entry of `Table.of` apart: names, options (label or word), meaning."""
    match = _ENTRY.fullmatch(" ".join(entry.split()))
    if match is None:
        raise ValueError(f"no description of a column: {entry!r}")
    return match[1].split(", "), _OPTION.findall(match[2] or ""), match[3] or ""


def _words_of(values: pd.Series) -> str:
    """Name a column's type, and its first value."""
    known = values.dropna()
    return f"{values.dtype} ({known.iloc[0]!r}, ...)" if len(known) else str(values.dtype)
