"""Where to look first: structure ranked, with charts, doubt and profiles beside it."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd
import xarray as xr

from layers.area import Area
from layers.jobs.parts.bottom import Structure
from layers.jobs.progress import Step
from layers.present.report import Cut, Prospect, Report
from seabed.grid import cell_size, degree_bounds
from seabed.loaders import read_chart_contours, read_hazards
from seabed.structure import (
    StoredDoubt,
    across_edges,
    across_features,
    chart_agreement,
    chart_offset,
    chart_words,
    rank_structure,
    reasons,
    with_ranks,
    with_uncertainty,
)
from seabed.units import format_quantity

__all__ = [
    "PROSPECT_STEPS",
    "Charted",
    "Prospects",
    "Ranked",
    "prospects_of",
    "ranked",
    "read_charts",
    "report_of",
]

PROSPECT_STEPS = 4

MOST_IN_REPORT: Final = 25
PARTS: Final = (
    ("size", "size_part"), ("drop", "drop_part"), ("steepness", "steep_part"),
    ("company", "company_part"), ("in the band", "fit"), ("sure", "sure"), ("clear", "clear"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Charted:
    """What official charts say of the grid's ground.

    hazards, contours: as `seabed.loaders.read_hazards` and `read_chart_contours` give them.
    said: how the contours agree with the grid's, and what of the charts was not understood.
    """

    hazards: gpd.GeoDataFrame
    contours: gpd.GeoDataFrame
    said: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Prospects:
    """What a look round found beside contours, band, edges, humps and holes.

    ranking: as `seabed.structure.rank_structure` gives it, with ``why`` in the area's units.
    profiles: of every ranked feature, by ``name``.
    edges, features, axes, waves: edges, humps and holes with their ranks; banks and channels; sand
        waves.
    """

    ranking: gpd.GeoDataFrame
    profiles: pd.DataFrame
    edges: gpd.GeoDataFrame
    features: gpd.GeoDataFrame
    axes: gpd.GeoDataFrame
    waves: gpd.GeoDataFrame
    charted: Charted | None

    @property
    def layers(self) -> dict[str, gpd.GeoDataFrame]:
        """Tables for a GeoPackage by name."""
        tables = {
            "edges": self.edges,
            "features": self.features,
            "banks_and_channels": self.axes,
            "sand_waves": self.waves,
            "ranking": self.ranking,
        }
        if self.charted is not None:
            tables["hazards"] = self.charted.hazards
            tables["chart_contours"] = self.charted.contours
        return tables


def read_charts(
    grid: xr.DataArray, files: Sequence[Path], *, depth_unit: str, compared: bool = True
) -> Charted | None:
    """Read what charts say of a grid's ground; None if none is named.

    Their contours are held against the grid only if `compared`.

    Raises GridError if one is missing or no chart cell.
    """
    if not files:
        return None
    box = degree_bounds(grid)
    hazards = read_hazards(files, box=box)
    lines = read_chart_contours(files, box=box)
    said: list[str] = []
    if compared:
        agreement, offset = chart_agreement(grid, lines), chart_offset(grid, lines)
        said += chart_words(agreement, offset, depth_unit=depth_unit)
    said += _unknown(hazards)
    return Charted(hazards, lines, tuple(said))


def prospects_of(
    structure: Structure,
    area: Area,
    *,
    uncertainty: xr.DataArray | None = None,
    step: Step = lambda doing: None,
) -> Prospects:
    """Look round: banks, channels, sand waves, charts, doubt; rank it all and cut profiles."""
    grid, unit = structure.grid, area.units.depth
    step("reading charts")
    charted = read_charts(grid, area.charts.files, depth_unit=unit)
    found = ranked(
        structure,
        area,
        uncertainty=uncertainty,
        hazards=None if charted is None else charted.hazards,
        step=step,
    )
    step("cutting profiles")
    profiles = _profiles(grid, found.edges, found.features, found.ranking)
    return Prospects(
        found.ranking, profiles, found.edges, found.features, found.axes, found.waves, charted
    )


@dataclass(frozen=True, slots=True)
class Ranked:
    """Structure in the order to look at it, as `Prospects` has it."""

    ranking: gpd.GeoDataFrame
    edges: gpd.GeoDataFrame
    features: gpd.GeoDataFrame
    axes: gpd.GeoDataFrame
    waves: gpd.GeoDataFrame


def ranked(
    structure: Structure,
    area: Area,
    *,
    uncertainty: xr.DataArray | StoredDoubt | None = None,
    hazards: gpd.GeoDataFrame | None = None,
    step: Step = lambda doing: None,
) -> Ranked:
    """Rank edges, humps and holes among banks, channels and sand waves.

    Every command that names structure takes its names, ``R1`` and so on, from here.
    """
    step("finding banks, channels and sand waves")
    axes, waves = structure.bottom.axes, structure.bottom.waves
    edges, features = structure.edges, structure.features
    if uncertainty is not None:
        edges = with_uncertainty(edges, uncertainty)
        features = with_uncertainty(features, uncertainty)
        axes = with_uncertainty(axes, uncertainty)
    step("ranking")
    ranking = rank_structure(
        edges, features, band=area.depths.band_m, others=[axes], waves=waves, hazards=hazards
    )
    ranking["why"] = reasons(ranking, depth_unit=area.units.depth)
    return Ranked(ranking, with_ranks(edges, ranking), with_ranks(features, ranking), axes, waves)


def report_of(
    found: Prospects, grid: xr.DataArray, area: Area, notes: Sequence[str] = ()
) -> Report:
    """Put the best of the ranking into a report, with notes on what was not looked at."""
    best = found.ranking.head(MOST_IN_REPORT)
    places = best.geometry.to_crs("EPSG:4326") if len(best) else best.geometry
    cuts = dict(list(found.profiles.groupby("name")))
    prospects = [
        Prospect(
            name=row["name"],
            kind=row["kind"],
            why=row["why"],
            score=row["score"],
            parts=list(_parts(row, charted=found.charted is not None)),
            position=(place.x, place.y),
            cut=_cut(cuts[row["name"]], row["kind"]),
        )
        for row, place in zip(best.to_dict("records"), places, strict=True)
    ]
    return Report(
        title=f"Where to look first: {area.name}" if area.name else "Where to look first",
        about=[*_about(found, grid, area), *notes],
        charts=() if found.charted is None else found.charted.said,
        prospects=prospects,
        band_m=area.depths.band_m,
        depth_unit=area.units.depth,
    )


def _parts(row: dict[Hashable, Any], *, charted: bool) -> Iterator[tuple[str, float]]:
    """Give what the score is made of, but for what counts as 1 because nobody knows."""
    for word, column in PARTS:
        unknown = (column == "sure" and math.isnan(row["uncertainty_m"])) or (
            column == "clear" and not charted
        )
        if not unknown:
            yield word, row[column]


def _about(found: Prospects, grid: xr.DataArray, area: Area) -> list[str]:
    unit = area.units.depth
    shallow, deep = (format_quantity(depth, unit) for depth in area.depths.band_m)
    shown = min(len(found.ranking), MOST_IN_REPORT)
    datum = grid.attrs.get("vertical_datum") or "unknown"
    said = [
        f"Your band: {shallow} to {deep}. The best {shown} of {len(found.ranking)} edges, humps "
        "and holes are here; the others are in ranking.csv.",
        f"Depths are below {datum}, from cells of "
        f"{format_quantity(cell_size(grid).typical, 'm' if unit == 'm' else 'ft')}; "
        "the tide comes on top.",
    ]
    said += [f"Guessed: {guess}" for guess in grid.attrs.get("guesses", [])]
    if found.charted is None:
        said.append(
            "Warning: no chart was given, so wrecks, rocks, cables and closed areas are not known "
            "here. Give an official chart cell, and hold each place against the official chart."
        )
    return said


def _cut(profile: pd.DataFrame, kind: str) -> Cut:
    ends = (
        ("shallow side", "deep side") if kind == "edge" else ("one side", "across its short axis")
    )
    offset, depth, mean, spread = (
        profile[name].tolist() for name in ("offset_m", "depth_m", "mean_m", "spread_m")
    )
    return Cut(offset, depth, mean, spread, ends)


def _unknown(hazards: gpd.GeoDataFrame) -> list[str]:
    """Name the object classes that are no hazard, or that the reader does not know."""
    others = hazards.attrs.get("other_classes") or {}
    if not others:
        return []
    listed = ", ".join(f"{name} ({count})" for name, count in sorted(others.items()))
    return [f"Also in the chart, and not taken for hazards or not known: {listed}."]


def _profiles(
    grid: xr.DataArray,
    edges: gpd.GeoDataFrame,
    features: gpd.GeoDataFrame,
    ranking: gpd.GeoDataFrame,
) -> pd.DataFrame:
    """Profiles of everything ranked, by the names of the ranking."""
    tables: list[Any] = [across_edges(grid, edges).assign(kind="edge")]
    tables.append(across_features(grid, features))
    filled = [table for table in tables if len(table)]
    if not filled:
        return tables[0].assign(name="")
    table = pd.concat(filled, ignore_index=True)
    named = ranking[["kind", "feature_id", "name", "rank"]].merge(table, on=["kind", "feature_id"])
    ordered = named.sort_values(["rank", "offset_m"], ignore_index=True)
    return ordered[["name", "kind", "offset_m", "depth_m", "mean_m", "spread_m"]]
