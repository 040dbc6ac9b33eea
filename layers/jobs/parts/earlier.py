"""What earlier jobs found, read back from their GeoPackages."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import geopandas as gpd

from layers.jobs.parts.tables import together
from seabed.errors import SeabedError
from seabed.files import plain_file
from seabed.guarded import ReadingError
from seabed.loaders.vector_layers import layers_in, read_layer

__all__ = ["choose_lines", "layers_of", "read_results"]

WANTED: Final = ("lines", "edges", "features")
_SQLITE: Final = b"SQLite format 3\x00"
"""What a GeoPackage begins with (sqlite.org/fileformat2, 1.3.1)."""


def read_results(paths: Sequence[Path]) -> dict[str, gpd.GeoDataFrame]:
    """Read the lines, edges and features of GeoPackages that other commands wrote.

    Raises SeabedError if a file is no GeoPackage, holds none of them, or is a logbook.
    """
    layers: dict[str, list[gpd.GeoDataFrame]] = {}
    for path in paths:
        names = layers_of(path)
        if "logbook_info" in names:
            raise SeabedError(
                "is a logbook, whose lines are not ranked",
                file=path,
                do="Rank them with {rank}, and name the GeoPackage that it writes.",
            )
        if not set(names) & set(WANTED):
            raise SeabedError(
                f"holds none of {', '.join(WANTED)}",
                file=path,
                do="Name a GeoPackage that {seabed scout} or {seabed trip} wrote.",
            )
        for name in WANTED:
            if name in names:
                layers.setdefault(name, []).append(_read(path, name))
    return {
        name: together([table.to_crs(tables[0].crs) for table in tables])
        for name, tables in layers.items()
    }


def _read(path: Path, layer: str) -> gpd.GeoDataFrame:
    try:
        return read_layer(path, layer)
    except ReadingError as error:
        raise SeabedError(
            f"its {layer} can't be read ({error})", file=path, do="Make it again, or name another."
        ) from error


def choose_lines(
    lines: gpd.GeoDataFrame | None, *, names: Sequence[str], best: int | None
) -> gpd.GeoDataFrame | None:
    """Keep the lines that are named, or the best by rank.

    Raises SeabedError if a name is not there, lines are asked for and there are none, or `best` is
    below 1.
    """
    if best is not None and best < 1:
        raise SeabedError(
            f"{best} lines are none", key="best", do="Give 1 or more, or leave it out."
        )
    if lines is None:
        if names or best is not None:
            raise SeabedError(
                "the results hold no lines", do="Name the GeoPackage that {seabed trip} wrote."
            )
        return None
    known = [str(name) for name in lines["line"]]
    for name in names:
        if name not in known:
            close = difflib.get_close_matches(name, known, n=1)
            raise SeabedError(
                f"no line named {name!r}",
                key="line",
                do=f"Did you mean {close[0]}?" if close else f"There are {', '.join(known)}.",
            )
    kept = lines[lines["line"].isin(names)] if names else lines
    ordered = kept.sort_values("rank")
    return ordered if best is None else ordered.head(best)


def layers_of(path: Path) -> list[str]:
    """Name the layers of a GeoPackage.

    Raises SeabedError if it is none.
    """
    plain_file(path)
    if path.is_dir():
        raise SeabedError(
            "this is a folder", file=path, do=f"Name the GeoPackage in it: {path / 'trip.gpkg'}."
        )
    if not path.is_file():
        raise SeabedError("no such file", file=path, do="Check the name.")
    other = SeabedError(
        "not a GeoPackage", file=path, do="Name one that {seabed scout} or {seabed trip} wrote."
    )
    try:
        with path.open("rb") as stream:
            if stream.read(len(_SQLITE)) != _SQLITE:
                raise other
        return list(layers_in(path))
    except (OSError, ReadingError) as error:
        raise other from error
