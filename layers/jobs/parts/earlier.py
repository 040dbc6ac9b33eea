"""What earlier jobs found, read back from their GeoPackages."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import geopandas as gpd

from seabed.errors import SeabedError
from seabed.files import plain_file
from seabed.guarded import ReadingError
from seabed.loaders.vector_layers import layers_in, read_layer
from seabed.schema import joined_tables

WANTED: Final = ("lines", "edges", "features", "plan")
_SQLITE: Final = b"SQLite format 3\x00"
"""What a GeoPackage begins with (sqlite.org/fileformat2, 1.3.1)."""


def read_results(paths: Sequence[Path]) -> dict[str, gpd.GeoDataFrame]:
    """Read the lines, edges and features of GeoPackages that other commands wrote."""
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
    if "plan" in layers:
        layers.setdefault("lines", []).extend(map(_planned, layers.pop("plan")))
    return {
        name: joined_tables([table.to_crs(tables[0].crs) for table in tables])
        for name, tables in layers.items()
    }


def _planned(plan: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Give the lines of a plan as lines, ranked in order of time."""
    return plan.rename(columns={"plan_id": "line"}).assign(rank=range(1, len(plan) + 1))


def _read(path: Path, layer: str) -> gpd.GeoDataFrame:
    cure = "Make it again, or name another."
    try:
        table = read_layer(path, layer)
    except ReadingError as error:
        raise SeabedError(f"its {layer} can't be read ({error})", file=path, do=cure) from error
    if table.crs is None:
        what = f"its {layer} have no coordinate reference system"
        raise SeabedError(what, file=path, do=cure)
    return table


def choose(
    tables: dict[str, gpd.GeoDataFrame], *, names: Sequence[str] = (), best: int | None = None
) -> dict[str, gpd.GeoDataFrame]:
    """Keep the lines, or the places of a bottom (``R1``), that are named, or the best by rank.

    Without either everything stays; edges and humps beside lines always do.  SeabedError for a name
    that is missing, results without ranks, or a `best` below 1.
    """
    if best is not None and best < 1:
        raise SeabedError(
            f"{best} lines are too few", key="best", do="Give 1 or more, or leave it out."
        )
    if not names and best is None:
        return tables
    ranked = {name: _named(table) for name, table in tables.items() if "rank" in table}
    others = dict[str, gpd.GeoDataFrame]()
    if "lines" in ranked:  # of those alone some are left out
        others = {name: table for name, table in tables.items() if name != "lines"}
        ranked = {"lines": ranked["lines"]}
    ordered = sorted(
        (rank, name)
        for table in ranked.values()
        for rank, name in zip(table["rank"], table.index, strict=True) if rank > 0
    )  # fmt: skip
    known = [name for _, name in ordered]
    if not known:
        raise SeabedError(
            "the results hold no lines and no ranked places",
            do="Name the GeoPackage that {seabed trip} or {seabed scout} wrote.",
        )
    for name in names:
        if name not in known:
            close = difflib.get_close_matches(name, known, n=1)
            raise SeabedError(
                f"no line named {name!r}",
                key="line",
                do=f"Did you mean {close[0]}?" if close else f"There are {', '.join(known)}.",
            )
    wanted = [name for name in known if not names or name in names][:best]
    kept = {name: table[table.index.isin(wanted)] for name, table in ranked.items()}
    return others | {name: table.sort_values("rank") for name, table in kept.items() if len(table)}


def _named(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Name rows as the map does: lines by their names, places by their ranks."""
    places = "R" + table["rank"].fillna(0).astype(int).astype(str)
    return table.set_axis([*(table["line"].astype(str) if "line" in table else places)])


def layers_of(path: Path) -> list[str]:
    """Name the layers of a GeoPackage; SeabedError for any other file."""
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
