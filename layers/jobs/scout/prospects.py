"""Where to look first: structure ranked, with charts, doubt and profiles beside it."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import geopandas as gpd
import pandas as pd
import xarray as xr
from shapely.geometry import LineString

from layers.area import Area
from layers.jobs.parts.structure import Structure
from layers.jobs.progress import Step
from layers.jobs.scout._profiles import PROFILES, profiles_of_all, profiles_of_best
from layers.present.pictures.cut import Cut
from layers.present.report import Prospect, Report
from layers.present.sheet.ground_plan import GroundPlan, ground_plan
from layers.present.sheet.pictures import MAP_SIZE
from seabed.geodesy import ahead
from seabed.grid import cell_size, degree_bounds
from seabed.loaders import StoredGrid, read_hazards
from seabed.loaders.charts import read_chart_contours
from seabed.structure import rank_structure, reasons
from seabed.structure.agreement import chart_agreement, chart_offset
from seabed.structure.ranking import with_ranks
from seabed.structure.reasons import chart_words
from seabed.structure.uncertainty import StoredDoubt, with_uncertainty
from seabed.units import format_quantity

PROSPECT_STEPS = 4

MOST_IN_REPORT: Final = 25
PARTS: Final = {
    "size_part": "length in your band",
    "drop_part": "drop",
    "steep_part": "steepness",
    "company_part": "structure close by",
}
"""What adds to a score; from two thirds up it speaks for a place, to one third against it."""
FACTORS: Final = {
    "fit": "depth off your band",
    "sure": "doubt of the depths",
    "clear": "dangers near",
}
"""What can only lessen it; under 0.9 it speaks against a place, 1 where nothing is known."""


@dataclass(frozen=True, slots=True)
class Charted:
    """What official charts say of the grid's ground.

    remarks: how their contours agree with the grid's, and what of the charts is unknown.
    """

    hazards: gpd.GeoDataFrame
    contours: gpd.GeoDataFrame
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Prospects:
    """Structure in the order to look at it, with waves, profiles and charts.

    ranking: as `seabed.structure.rank_structure` gives it, with ``why`` in the area's units.
    edges, features, axes, waves: ranked edges, humps and holes; banks and channels; sand waves.
    profiles: of the ranked features, by ``name``, where they were asked for.
    charted: None where no chart was read.
    """

    ranking: gpd.GeoDataFrame
    edges: gpd.GeoDataFrame
    features: gpd.GeoDataFrame
    axes: gpd.GeoDataFrame
    waves: gpd.GeoDataFrame
    profiles: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=PROFILES))
    charted: Charted | None = None

    @property
    def hazards(self) -> gpd.GeoDataFrame | None:
        """Hazards of the charts; None where no chart was read."""
        return None if self.charted is None else self.charted.hazards

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


def read_charts(grid: xr.DataArray, area: Area, *, compared: bool = True) -> Charted | None:
    """Read what charts say of a grid's ground, and compare contours; None if no chart is named."""
    files = area.charts.files
    if not files:
        return None
    box = degree_bounds(grid)
    hazards = read_hazards(files, box=box)
    lines = read_chart_contours(files, box=box)
    remarks: list[str] = []
    if compared:
        agreement, offset = chart_agreement(grid, lines), chart_offset(grid, lines)
        remarks += chart_words(agreement, offset, depth_unit=area.units.depth)
    remarks += _unknown(hazards)
    return Charted(hazards, lines, tuple(remarks))


def prospects_of(
    structure: Structure,
    area: Area,
    *,
    uncertainty: xr.DataArray | StoredDoubt | None = None,
    stored: StoredGrid | None = None,
    step: Step = lambda doing: None,
) -> Prospects:
    """Look round: banks, channels, sand waves, charts, doubt; rank it all and cut profiles.

    Of a `stored` grid only the best have profiles, and the charts' contours are not compared.
    """
    step("reading charts")
    charted = read_charts(structure.grid, area, compared=stored is None)
    hazards = None if charted is None else charted.hazards
    prospects = ranked(structure, area, uncertainty=uncertainty, hazards=hazards, step=step)
    step("cutting profiles")
    if stored is None:
        tables = prospects.edges, prospects.features
        profiles = profiles_of_all(structure.grid, *tables, prospects.ranking)
    else:
        profiles = profiles_of_best(structure, stored, prospects.ranking)
    return replace(prospects, profiles=profiles, charted=charted)


def ranked(
    structure: Structure,
    area: Area,
    *,
    uncertainty: xr.DataArray | StoredDoubt | None = None,
    hazards: gpd.GeoDataFrame | None = None,
    step: Step = lambda doing: None,
) -> Prospects:
    """Rank edges, humps and holes; every command takes its names of them (``R1``) from here."""
    step("finding banks, channels and sand waves")
    axes, waves = structure.bottom.axes, structure.bottom.waves
    edges, features = structure.edges, structure.features
    if uncertainty is not None:
        edges, features, axes = (
            with_uncertainty(table, uncertainty) for table in (edges, features, axes)
        )
    step("ranking")
    ranking = rank_structure(
        edges, features, band=area.depths.band_m, others=[axes], waves=waves, hazards=hazards
    )
    ranking["why"] = reasons(ranking, depth_unit=area.units.depth)
    edges, features = (with_ranks(table, ranking) for table in (edges, features))
    return Prospects(ranking, edges, features, axes, waves)


def report_of(
    prospects: Prospects, grid: xr.DataArray, area: Area, notes: Sequence[str] = ()
) -> Report:
    """Put the best of the ranking into a report, with notes on what was not looked at."""
    best = prospects.ranking.head(MOST_IN_REPORT)
    places = best.geometry.to_crs("EPSG:4326") if len(best) else best.geometry
    cuts = dict(list(prospects.profiles.groupby("name")))
    maps = _PlaceMaps(
        grid,
        prospects.edges,
        prospects.features,
        hazards=None if prospects.charted is None else prospects.charted.hazards,
        unit=area.units.depth,
        most=MOST_IN_REPORT,
    )
    entries = [
        Prospect(
            name=row["name"],
            kind=row["kind"],
            why=row["why"],
            score=row["score"],
            merits=[word for name, word in PARTS.items() if row[name] >= 2 / 3],
            faults=_faults(row),
            position=(place.x, place.y),
            cut=_cut(cuts[row["name"]], row["kind"]),
            ground=maps.of(row, (place.x, place.y), float(cuts[row["name"]]["offset_m"].max())),
        )
        for row, place in zip(best.to_dict("records"), places, strict=True)
    ]
    return Report(
        title=f"Where to look first: {area.name}" if area.name else "Where to look first",
        about=[*_about(prospects, grid, area), *notes],
        charts=() if prospects.charted is None else prospects.charted.remarks,
        prospects=entries,
        band_m=area.depths.band_m,
        depth_unit=area.units.depth,
    )


def _faults(row: Mapping[Hashable, Any]) -> list[str]:
    lacking = [word for name, word in PARTS.items() if row[name] <= 1 / 3]
    return lacking + [word for name, word in FACTORS.items() if row[name] < 0.9]


def _band_words(area: Area) -> str:
    if area.depths.band_m is None:
        return "No depth band is set: form alone decides the ranking."
    shallow, deep = (format_quantity(depth, area.units.depth) for depth in area.depths.band_m)
    return f"Your band: {shallow} to {deep}."


def _about(prospects: Prospects, grid: xr.DataArray, area: Area) -> list[str]:
    unit = area.units.depth
    shown = min(len(prospects.ranking), MOST_IN_REPORT)
    datum = grid.attrs.get("vertical_datum") or "unknown"
    lines = [
        f"{_band_words(area)} The best {shown} of {len(prospects.ranking)} edges, humps and holes "
        "are here; the others are in ranking.csv.",
        f"Depths are below {datum}, from cells of "
        f"{format_quantity(cell_size(grid).typical, 'm' if unit == 'm' else 'ft')}; "
        "the tide comes on top.",
        "Each small map has north up; its arrow shows where the profile beside it runs.",
    ]
    lines += [f"Guessed: {guess}" for guess in grid.attrs.get("guesses", [])]
    if prospects.charted is None:
        lines.append(
            "Warning: no chart was given, so wrecks, rocks, cables and closed areas are not known "
            "here. Give an official chart cell, and hold each place against the official chart."
        )
    return lines


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
    return [f"Also on the chart, not hazards or of unknown class: {listed}."]


class _PlaceMaps:
    """Maps of places on one grid, each with the cut of the report and named structure around it."""

    def __init__(
        self,
        grid: xr.DataArray,
        edges: gpd.GeoDataFrame,
        features: gpd.GeoDataFrame,
        *,
        hazards: gpd.GeoDataFrame | None,
        unit: str,
        most: int,
    ) -> None:
        self.grid, self.hazards, self.unit = grid, hazards, unit
        self.outlines: dict[str, LineString] = {}
        self.across: dict[str, float] = {}
        for table, bearing, turn in ((edges, "faces_deg", 0), (features, "bearing_deg", 90)):
            best = table[table["rank"] <= most]
            shapes = best.geometry.to_crs("EPSG:4326") if len(best) else best.geometry
            for row, shape in zip(best.to_dict("records"), shapes, strict=True):
                name = f"R{row['rank']:.0f}"
                self.outlines[name] = shape if turn == 0 else LineString(shape.exterior.coords)
                self.across[name] = row[bearing] + turn

    def of(
        self, row: Mapping[Hashable, Any], position: tuple[float, float], reach_m: float
    ) -> GroundPlan:
        """Give the map of a row of the ranking, whose cut reaches so far either way."""
        name = row["name"]
        ends = [ahead(*position, self.across[name] + turn, reach_m) for turn in (180, 0)]
        return ground_plan(
            self.grid,
            LineString(ends),
            shape=MAP_SIZE,
            unit=self.unit,
            others=self.outlines.items(),
            hazards=self.hazards,
        )
