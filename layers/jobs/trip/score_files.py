"""Scores as files: hot stretches, species, by what the fish came, expected fish."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pandas as pd
import xarray as xr

from layers.area import Area
from layers.jobs.trip._expecting import write_expected
from layers.logbook import Logbook, Naming
from layers.present import write_table_csv
from layers.scoring import (
    KNOWN,
    LINES,
    Scores,
    name_lines,
)
from seabed.schema import Table

__all__ = ["hot_rows", "known_lines", "naming_of", "score_paths", "write_scores"]


def naming_of(area: Area) -> Naming:
    """How a logbook names the lines of an area."""
    return Naming(area.lines.corridor_m, name_lines)


def known_lines(path: Path | None, naming: Naming) -> gpd.GeoDataFrame | None:
    """Lines that a logbook has named, after naming all that it holds; without rows where it is new.

    None without a logbook.
    """
    if path is None:
        return None
    book = Logbook(path)
    if book.is_new:
        return KNOWN.empty()
    book.name_lines(naming)
    return book.lines()


def score_paths(out: Path) -> dict[str, Path]:
    """Files that `write_scores` makes in a folder, by name."""
    return {
        "stretches": out / "stretches.csv",
        "by_species": out / "by_species.csv",
        "by_what": out / "by_what.csv",
        "expected_fish": out / "expected_fish.tif",
    }


def write_scores(out: Path, scores: Scores, expected: xr.Dataset | None = None) -> dict[str, Path]:
    """Write the tables of the scores, and expected fish over a grid; give the files by name.

    out: the folder.
    expected: None writes none, and takes away what an earlier run wrote.
    """
    files = score_paths(out)
    write_table_csv(files["stretches"], scores.stretches)
    write_table_csv(files["by_species"], _by_species(scores))
    write_table_csv(files["by_what"], scores.factors)
    if not write_expected(files["expected_fish"], expected):
        del files["expected_fish"]
    return files


def hot_rows(scores: Scores) -> gpd.GeoDataFrame:
    """Stretches that luck does not explain."""
    return scores.stretches[scores.stretches["hot"].astype(bool)]


def _by_species(scores: Scores) -> gpd.GeoDataFrame:
    """Rankings of each species, one under the other, species first."""
    columns = Table.of("species", "", "species [text] as the log names it") + LINES
    tables = [table.assign(species=name) for name, table in scores.by_species.items()]
    return columns.frame(pd.concat(tables, ignore_index=True)) if tables else columns.empty()
