"""Scores of a trip, a season or a plan: computed from a logbook, written, and put on a map."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd
import xarray as xr

from layers.area import Area
from layers.cautions import CAUTIONS_SHORT
from layers.jobs.parts.area_water import currents_of, heights_of
from layers.jobs.parts.results import area_map, write_area_marks
from layers.jobs.parts.structure import Structure
from layers.jobs.parts.words import say_length
from layers.logbook import Logbook, Naming
from layers.maps import MapContent
from layers.present import Tables, write_geopackage, write_table_csv
from layers.scoring import LINES, Ground, Scores, score_season
from layers.scoring.ground import response_over
from layers.scoring.likeness import thin_lines
from layers.scoring.naming import KNOWN, name_lines
from layers.scoring.samples import sample_drifts
from layers.scoring.within.tackle import tackle_sentences
from seabed.files import remove_result
from seabed.loaders.writing import write_bands
from seabed.schema import Table

MOST_STRETCHES: Final = 6
"""Hot stretches that are described."""

BANDS: Final = ("rate", "rate_low", "rate_high")
"""Of expected fish in a GeoTIFF."""


def naming_of(area: Area) -> Naming:
    """How a logbook names the lines of an area."""
    return Naming(area.lines.corridor_m, name_lines)


def known_lines(path: Path | None, naming: Naming) -> gpd.GeoDataFrame | None:
    """Name the ground of a logbook and give its lines; no rows if it is new, None without one."""
    if path is None:
        return None
    book = Logbook(path)
    if book.is_new:
        return KNOWN.empty()
    book.name_lines(naming)
    return book.lines()


@dataclass(frozen=True, slots=True)
class LoggedDrifts:
    """Drifts with their lines, whole as a logbook keeps them, read in parts."""

    book: Logbook
    named: gpd.GeoDataFrame  # with the columns that are written

    def __iter__(self) -> Iterator[gpd.GeoDataFrame]:
        named = self.named.drop(columns="geometry")
        for part in self.book.drift_parts():
            own = named[named["drift_id"].isin(part["drift_id"])]
            whole = part.set_index("drift_id").geometry.reindex(own["drift_id"])
            yield gpd.GeoDataFrame(own, geometry=whole.array, crs="EPSG:4326")

    def __len__(self) -> int:
        return len(self.named)


def read_drifts(book: Logbook, catches: gpd.GeoDataFrame) -> tuple[gpd.GeoDataFrame, pd.DataFrame]:
    """Read the drifts of a logbook, lines thinned, and samples of the whole ones, part by part."""
    read = [
        (thin_lines(part), sample_drifts(part, catches.iloc[:0])) for part in book.drift_parts()
    ]
    thinned, samples = zip(*read, strict=True)
    drifts = gpd.GeoDataFrame(pd.concat(thinned, ignore_index=True), crs="EPSG:4326")
    return drifts, pd.concat(samples, ignore_index=True)


def score_book(
    drifts: gpd.GeoDataFrame,
    catches: gpd.GeoDataFrame,
    known: gpd.GeoDataFrame,
    area: Area,
    structure: Structure | None,
    *,
    samples: pd.DataFrame,
) -> Scores:
    """Score a logbook as `read_drifts` gives it: it has no fixes, so depths are charted ones."""
    grid = edges = features = None
    if structure is not None:
        grid, edges, features = structure.grid, structure.edges, structure.features
    return score_season(
        drifts, catches, known=known, regroup=True, samples=samples,
        ground=Ground(grid, edges, features, heights_of(area), currents_of(area)),
        corridor_m=area.lines.corridor_m, timezone=area.timezone, say=say_length(area),
    )  # fmt: skip


def ranked_files(out: Path, layers: str) -> dict[str, Path]:
    """Files that `write_ranked` makes in a folder, the map and `layers` among them, by name."""
    return {
        "map": out / "map.html",
        "marks": out / "marks.gpx",
        "ranking": out / "lines.csv",
        "layers": out / layers,
        "stretches": out / "stretches.csv",
        "by_species": out / "by_species.csv",
        "by_what": out / "by_what.csv",
        "by_tackle": out / "by_tackle.csv",
        "expected_fish": out / "expected_fish.tif",
    }


def write_ranked(
    files: dict[str, Path],
    scores: Scores,
    area: Area,
    layers: Mapping[str, Tables],
    expected: xr.Dataset | None,
) -> None:
    """Write ranking, layers and marks, and the scores as `write_scores`."""
    write_table_csv(files["ranking"], scores.lines)
    write_geopackage(files["layers"], {"lines": scores.lines, **layers})
    write_area_marks(files["marks"], area, area.name or "Drift lines", scores.lines)
    write_scores(files, scores, expected)


def write_scores(files: dict[str, Path], scores: Scores, expected: xr.Dataset | None) -> None:
    """Write the tables of the scores, and expected fish over a grid, or remove an earlier one."""
    write_table_csv(files["stretches"], scores.stretches)
    write_table_csv(files["by_species"], _by_species(scores))
    write_table_csv(files["by_what"], scores.factors)
    write_table_csv(files["by_tackle"], scores.tackle)
    if not write_expected(files["expected_fish"], expected):
        del files["expected_fish"]


def ranked_map(
    scores: Scores, area: Area, title: str, structure: Structure | None, **layers: Any
) -> MapContent:
    """Put ranked lines and their stretches on a map, with other layers and the bottom."""
    bottom = {} if structure is None else structure.on_map
    return area_map(area, title, lines=scores.lines, stretches=scores.stretches, **layers, **bottom)


def expected_over(
    scores: Scores, structure: Structure | None, *, height_m: float = 0.0
) -> xr.Dataset | None:
    """Lay the response over the bottom, at a height of the tide; None without what it needs."""
    if scores.response is None or not scores.response.elsewhere or structure is None:
        return None
    if "edge_m" in scores.response.factors and not len(structure.edges):
        return None
    return response_over(scores.response, structure.grid, edges=structure.edges, height_m=height_m)


def write_expected(path: Path, expected: xr.Dataset | None) -> bool:
    """Write expected fish as a GeoTIFF, or remove an earlier one; say whether there is one now."""
    if expected is None:
        remove_result(path)  # it would be of another season
        return False
    write_bands(
        path,
        {name: expected[name] for name in BANDS},
        tags={"about": "expected fish a rod-hour", "caution": CAUTIONS_SHORT},
    )
    return True


def sentences_of(scores: Scores) -> list[str]:
    """Say what stretches, passes, bottom, tide, wind and tackle show beside the lines."""
    depletion = scores.lines.attrs.get("depletion")
    return [
        *_of_stretches(scores.stretches),
        *([] if depletion is None else [depletion.sentence()]),
        *([] if scores.response is None else scores.response.sentences()),
        *tackle_sentences(scores.tackle),
    ]


def _of_stretches(stretches: gpd.GeoDataFrame) -> list[str]:
    """Say which stretches luck does not explain; where there is none, what the best lines show."""
    hot = stretches[stretches["hot"].astype(bool)]
    if not len(hot):
        best = [f"{row.line}: {row.why}" for row in stretches.head(3).itertuples()]
        return ["No line shows a hot stretch.", *best]
    sentences = [
        f"Hot stretch of {row.line}: {row.why}" for row in hot.head(MOST_STRETCHES).itertuples()
    ]
    left = len(hot) - MOST_STRETCHES
    return (
        [*sentences, f"And {left} more; stretches.csv lists them all."] if left > 0 else sentences
    )


def _by_species(scores: Scores) -> gpd.GeoDataFrame:
    """Rankings of each species, one under the other, species first."""
    columns = Table.of("species", "", "species [text] as the log names it") + LINES
    tables = [table.assign(species=name) for name, table in scores.by_species.items()]
    return columns.frame(pd.concat(tables, ignore_index=True)) if tables else columns.empty()
