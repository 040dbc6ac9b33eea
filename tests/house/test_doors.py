"""Public functions refuse tables that lack what they need, naming table and column."""

from __future__ import annotations

import inspect
from importlib import import_module
from pkgutil import resolve_name

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from affine import Affine
from shapely.geometry import LineString, Point

from layers.catches import check_rules, tie
from layers.logbook import entries_of
from layers.present import write_marks
from layers.scoring import gather_lines, rank_lines, score_season
from layers.scoring.factors import by_factor, with_factors
from layers.scoring.naming import name_lines
from layers.scoring.patches import hot_patch
from layers.scoring.samples import sample_drifts
from layers.scoring.stretches import hot_stretches
from layers.tracks import clean, cut, depth_under, drifts_of, with_conditions
from layers.tracks.conditions import with_fish
from seabed.errors import TableError
from seabed.grid import make_grid
from seabed.schema import Table
from seabed.soundings import flagged, grid_soundings, reduced
from seabed.soundings.checks.crossovers import crossovers
from seabed.soundings.checks.lag import estimate_lag
from seabed.soundings.checks.tide_check import fit_to_chart, tide_of_crossovers
from seabed.soundings.checks.tracks import without_lag
from seabed.structure import across_edges, rank_structure, reasons
from seabed.structure.agreement import chart_agreement
from seabed.structure.profiles import across_features
from seabed.structure.ranking import with_ranks
from seabed.structure.uncertainty import with_uncertainty

ROOMS = (
    "seabed.loaders", "seabed.soundings", "seabed.soundings.checks.crossovers", "seabed.structure",
    "layers.water", "layers.tracks", "layers.catches", "layers.scoring", "layers.logbook.schema",
)  # fmt: skip


def tables() -> dict[str, Table]:
    """Every description, by the name of its constant."""
    found: dict[str, Table] = {}
    for room in ROOMS:
        module = import_module(room)
        parts = [module, *(one for _, one in inspect.getmembers(module, inspect.ismodule))]
        for part in parts:
            own = inspect.getmembers(part, lambda value: isinstance(value, Table))
            found |= dict(own)
    return found


EVERY = tables()


def test_every_column_says_what_it_holds():
    assert {"EDGES", "FEATURES", "DRIFTS", "CATCHES", "LINES", "SOUNDINGS"} <= set(EVERY)
    for table in EVERY.values():
        assert len(set(table.names)) == len(table.names), table.name
        assert table.empty().columns.tolist() == list(table.names)
        for column in table:
            assert column.doc or column.kind == "geometry", f"{table.name}: {column.name}"
        if table.made_by:
            resolve_name(table.made_by)  # an error names it


def few(name: str, **changed: object) -> gpd.GeoDataFrame:
    """A table of two rows that is right, but for what is changed."""
    values = {
        "number": lambda: [1.0, 2.0],
        "truth": lambda: [True, False],
        "text": lambda: ["a", "b"],
        "time": lambda: pd.date_range("2031-06-14", periods=2, tz="UTC"),
        "geometry": lambda: [LineString([(0, 0), (1, 1)])] * 2,
    }
    table = EVERY[name]
    made = table.frame({column.name: values[column.kind]() for column in table})
    return made.assign(**changed)


def without(name: str, column: str) -> gpd.GeoDataFrame:
    return few(name).drop(columns=column)


FIXES, PIECES, DRIFTS, CATCHES = few("FIXES"), few("PIECES"), few("DRIFTS"), few("CATCHES")
LINED = DRIFTS.assign(line="N1")
TIED = CATCHES.assign(drift_id="")
GRID = make_grid(np.ones((9, 9)), transform=Affine(5, 0, 0, 0, -5, 0), crs="EPSG:32631")

MISSING = {
    "gather_lines course_deg": lambda: gather_lines(without("DRIFTS", "course_deg")),
    "name_lines start": lambda: name_lines(without("DRIFTS", "start"), few("KNOWN"), corridor_m=40),
    "name_lines line": lambda: name_lines(DRIFTS, without("KNOWN", "line"), corridor_m=40),
    "rank_lines line": lambda: rank_lines(DRIFTS, TIED),
    "rank_lines kept": lambda: rank_lines(LINED, TIED.drop(columns="kept")),
    "rank_lines drift_id": lambda: rank_lines(LINED, CATCHES),
    "score_season rod_hours": lambda: score_season(without("DRIFTS", "rod_hours"), TIED),
    "score_season species": lambda: score_season(DRIFTS, TIED.drop(columns="species")),
    "entries_of outing": lambda: entries_of(without("PIECES", "outing"), DRIFTS, TIED),
    "entries_of trip": lambda: entries_of(PIECES, without("DRIFTS", "trip"), TIED),
    "entries_of file": lambda: entries_of(PIECES, DRIFTS, TIED.drop(columns="file")),
    "hot_stretches line": lambda: hot_stretches(few("LINES"), DRIFTS, few("SAMPLES")),
    "hot_patch fish": lambda: hot_patch(without("SAMPLES", "fish")),
    "sample_drifts rod_hours": lambda: sample_drifts(without("DRIFTS", "rod_hours"), TIED),
    "with_factors time": lambda: with_factors(without("SAMPLES", "time")),
    "by_factor kept": lambda: by_factor(without("SAMPLES", "kept"), "depth_m"),
    "by_factor slope_deg": lambda: by_factor(few("SAMPLES"), "slope_deg"),
    "tie time": lambda: tie(without("CATCHES", "time"), DRIFTS, FIXES),
    "tie end": lambda: tie(CATCHES, without("DRIFTS", "end"), FIXES),
    "tie longitude": lambda: tie(CATCHES, DRIFTS, without("FIXES", "longitude")),
    "check_rules length_m": lambda: check_rules(without("CATCHES", "length_m"), {}),
    "clean segment": lambda: clean(without("FIXES", "segment")),
    "cut latitude": lambda: cut(without("FIXES", "latitude")),
    "depth_under longitude": lambda: depth_under(without("FIXES", "longitude"), GRID),
    "drifts_of first_fix": lambda: drifts_of(without("PIECES", "first_fix"), FIXES),
    "drifts_of depth_m": lambda: drifts_of(PIECES, without("FIXES", "depth_m")),
    "with_conditions start": lambda: with_conditions(without("DRIFTS", "start")),
    "with_fish rod_hours": lambda: with_fish(without("DRIFTS", "rod_hours"), TIED),
    "with_fish drift_id": lambda: with_fish(DRIFTS, CATCHES),
    "write_marks line": lambda: write_marks("marks.gpx", without("LINES", "line")),
    "write_marks faces_deg": lambda: write_marks("marks.gpx", edges=without("EDGES", "faces_deg")),
    "write_marks peak_x": lambda: write_marks("m.gpx", features=without("FEATURES", "peak_x")),
    "rank_structure band_length_m": lambda: rank_structure(
        without("EDGES", "band_length_m"), few("FEATURES"), band=(5, 8)
    ),
    "rank_structure peak_y": lambda: rank_structure(
        few("EDGES"), without("FEATURES", "peak_y"), band=(5, 8)
    ),
    "reasons fit": lambda: reasons(without("RANKING", "fit")),
    "with_ranks score": lambda: with_ranks(few("EDGES"), without("RANKING", "score")),
    "with_uncertainty drop_m": lambda: with_uncertainty(without("EDGES", "drop_m"), GRID),
    "across_edges width_m": lambda: across_edges(GRID, without("EDGES", "width_m")),
    "across_features bearing_deg": lambda: across_features(
        GRID, without("FEATURES", "bearing_deg")
    ),
    "chart_agreement depth_m": lambda: chart_agreement(GRID, without("CHART_DEPTHS", "depth_m")),
    "grid_soundings sigma_m": lambda: grid_soundings(without("SOUNDINGS", "sigma_m")),
    "flagged measured_m": lambda: flagged(without("SOUNDINGS", "measured_m")),
    "reduced to_surface_m": lambda: reduced(without("SOUNDINGS", "to_surface_m"), 0.0),
    "estimate_lag line": lambda: estimate_lag(without("SOUNDINGS", "line")),
    "crossovers longitude": lambda: crossovers(without("SOUNDINGS", "longitude")),
    "fit_to_chart height_m": lambda: fit_to_chart(without("SOUNDINGS", "height_m"), np.zeros(2)),
    "tide_of_crossovers time_2": lambda: tide_of_crossovers(without("CROSSOVERS", "time_2")),
    "without_lag latitude": lambda: without_lag(without("SOUNDINGS", "latitude"), 1.0),
}


@pytest.mark.parametrize("case", MISSING)
def test_a_missing_column_is_named(case):
    column = case.split()[1]
    with pytest.raises(TableError, match=f"the table .* has no column {column}"):
        MISSING[case]()


WRONG = {
    "times without a zone": (lambda: tie(few("CATCHES", time=pd.Timestamp("2031-06-14")), DRIFTS,
                                         FIXES), "catches .* column time, which needs times"),
    "words for numbers": (lambda: gather_lines(few("DRIFTS", course_deg="north")),
                          r"drifts .* \('north', ...\) in column course_deg, which needs numbers"),
    "no geometry": (lambda: rank_lines(pd.DataFrame(LINED).drop(columns="geometry"), TIED),
                    "drifts has no geometry: a GeoDataFrame is needed"),
    "no CRS": (lambda: gather_lines(DRIFTS.set_crs(None, allow_override=True)),
               "drifts has a geometry without a CRS"),
    "no table": (lambda: cut([1, 2, 3]), "fixes must be a table, not list"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_a_fault_is_reported(case):
    call, fault = WRONG[case]
    with pytest.raises(TableError, match=fault):
        call()


def test_points_and_lines_both_count_as_geometry():
    EVERY["CATCHES"].check(few("CATCHES", geometry=gpd.GeoSeries([Point(0, 0)] * 2, crs=4326)))
