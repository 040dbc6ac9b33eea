"""Layers for any GIS: GeoPackage and GeoJSON."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, Protocol, TypeAlias

import geopandas as gpd
import pandas as pd
import pyogrio

from layers.cautions import CAUTIONS
from seabed.errors import OutputError
from seabed.files import MAKER, library_failed, replacing
from seabed.schema import for_files

ABOUT: Final = f"{CAUTIONS} Made by {MAKER}."
"""What a layer says of itself."""

_SYNC: Final = "OGR_SQLITE_SYNCHRONOUS"
"""The library's setting of whether a database waits for the disk at each step."""


class Several(Protocol):
    """A table that comes in several parts, one after the other; its length is that of all."""

    def __iter__(self) -> Iterator[gpd.GeoDataFrame]: ...
    def __len__(self) -> int: ...


Tables: TypeAlias = gpd.GeoDataFrame | Several
"""A table, whole or in parts."""


def write_geopackage(path: str | Path, layers: Mapping[str, Tables]) -> None:
    """Write layers into one GeoPackage, whole or not at all.

    Parameters
    ----------
    path : str or Path
        An older file of that name is replaced.
    layers : dict of name to GeoDataFrame
        Each in its own CRS; empty ones are written empty.  A layer too large for memory may come
        in parts, as an iterable of tables with the same columns.  Each layer is described by the
        cautions and who made it.

    Raises
    ------
    OutputError
        If it can't be written, or there is no layer.

    Examples
    --------
    >>> from layers import cut, example_trip
    >>> write_geopackage("pieces.gpkg", {"pieces": cut(example_trip()[0])})
    """
    if not layers:
        raise OutputError("there is no layer to write", file=path)
    with replacing(path) as partial, _synced_once(partial):
        for name, tables in layers.items():
            options: dict[str, Any] = {"DESCRIPTION": ABOUT, "SPATIAL_INDEX": "YES"}
            for table in _parts(tables):
                _write(
                    table,
                    partial,
                    layer=name,
                    driver="GPKG",
                    append=partial.exists(),
                    layer_options=options,
                )
                options = {}  # an existing layer takes none


def write_geojson(path: str | Path, table: gpd.GeoDataFrame) -> None:
    """Write a layer as GeoJSON (RFC 7946: degrees, WGS 84), with the cautions as description.

    Raises
    ------
    OutputError
        If it can't be written.

    Examples
    --------
    >>> from seabed import example_grid, humps
    >>> write_geojson("humps.geojson", humps(example_grid()))
    """
    placed = table if table.crs is None else table.to_crs("EPSG:4326")
    with replacing(path) as partial:
        _write(
            placed,
            partial,
            layer=Path(path).stem,
            driver="GeoJSON",
            layer_options={"RFC7946": "YES", "DESCRIPTION": ABOUT},
        )


@contextmanager
def _synced_once(path: Path) -> Iterator[None]:
    """Wait for the disk once, when a database is whole, and not at each of its steps."""
    before = pyogrio.get_gdal_config_option(_SYNC)
    pyogrio.set_gdal_config_options({_SYNC: "OFF"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({_SYNC: before})
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _parts(tables: Tables) -> Iterator[gpd.GeoDataFrame]:
    """Give the parts of a table that hold something; an empty one if none does."""
    if isinstance(tables, gpd.GeoDataFrame):
        yield tables
        return
    empty, some = None, False
    for table in tables:
        if len(table):
            some = True
            yield table
        else:
            empty = table
    if not some and empty is not None:
        yield empty


def _write(table: gpd.GeoDataFrame, path: Path, **options: Any) -> None:
    try:
        pyogrio.write_dataframe(_plain(table), path, geometry_type=_geometry_type(table), **options)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
        raise library_failed(error, path) from error


def _plain(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Turn what the format has no type for into text."""
    table = for_files(table)
    for name in table.columns.drop(table.geometry.name):
        kind = table[name].dtype
        if isinstance(kind, pd.CategoricalDtype):
            table[name] = table[name].astype(str)
        elif pd.api.types.is_object_dtype(kind):
            table[name] = table[name].map(lambda value: None if value is None else str(value))
    return table


def _geometry_type(table: gpd.GeoDataFrame) -> str:
    kinds = set(table.geometry.geom_type.dropna())
    for single in ("Point", "LineString", "Polygon"):
        if kinds and kinds <= {single}:
            return single
        if kinds and kinds <= {single, f"Multi{single}"}:
            return f"Multi{single}"
    return "Unknown"
