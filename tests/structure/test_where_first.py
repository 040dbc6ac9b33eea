"""The ranking of structure: its score worked by hand, its distances against plain geometry.

What counts is a rule of thumb of ours, so the truth is the rule as documented, in round numbers.
"""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from affine import Affine
from pyproj import Transformer

from seabed.grid import make_grid
from seabed.structure import edges, holes, humps, rank_structure, reasons
from seabed.structure.ranking import with_ranks
from seabed.structure.reasons import compass
from seabed.structure.uncertainty import with_uncertainty

CRS = 32631
X, Y = 5e5, 6e6
BAND = (5.0, 8.0)
NO_FEATURES = holes(make_grid(np.ones((9, 9)), transform=Affine(4, 0, X, 0, -4, Y), crs=CRS))
NO_EDGES = edges(make_grid(np.ones((9, 9)), transform=Affine(4, 0, X, 0, -4, Y), crs=CRS))
SLOPE = 3.0


def edge_table(*rows):
    """Edges 150 m long running north from (east, 0), all in the band and 2 m high by default."""
    told = [
        {
            "top_depth_m": 5.0, "foot_depth_m": 7.0, "drop_m": 2.0, "slope_mean_deg": SLOPE,
            "length_m": 150.0, "band_length_m": 150.0, "faces_deg": 90.0,
            "middle_x": X + row["east"], "middle_y": Y + 75.0,
            "geometry": shapely.LineString([(X + row["east"], Y), (X + row["east"], Y + 150)]),
        } | row
        for row in rows
    ]  # fmt: skip
    table = gpd.GeoDataFrame(told, geometry="geometry", crs=CRS)
    return table.assign(edge_id=range(len(table)))


def feature_table(*rows):
    told = [
        {
            "kind": "hump", "feature_id": number, "crest_depth_m": 5.0, "saddle_depth_m": 7.0,
            "height_m": 2.0, "long_axis_m": 150.0, "short_axis_m": 80.0,
            "peak_x": X + row["east"], "peak_y": Y + 75.0,
            "geometry": shapely.Point(X + row["east"], Y + 75.0).buffer(40, quad_segs=64),
        } | row
        for number, row in enumerate(rows)
    ]  # fmt: skip
    return gpd.GeoDataFrame(told, geometry="geometry", crs=CRS)


def hazard_table(kind, geometry, *, restriction="", name=""):
    return gpd.GeoDataFrame(
        {"kind": [kind], "name": [name], "restriction": [restriction]},
        geometry=[geometry],
        crs=CRS,
    ).to_crs(4326)


def ranked(edge_rows=(), feature_rows=(), **options):
    return rank_structure(
        edge_table(*edge_rows) if edge_rows else NO_EDGES,
        feature_table(*feature_rows) if feature_rows else NO_FEATURES,
        band=BAND,
        **options,
    )


def test_a_lone_edge_of_half_measures_scores_forty():
    """150 m, 2 m and 3 degrees are each one half: 100 (0.35 + 0.25 + 0.2) / 2."""
    (row,) = ranked([{"east": 0.0}]).itertuples()
    assert row.score == pytest.approx(40.0)
    assert (row.size_part, row.drop_part, row.steep_part, row.company_part) == (0.5, 0.5, 0.5, 0.0)
    assert (row.fit, row.sure, row.clear) == (1.0, 1.0, 1.0)
    assert (row.rank, row.name, row.kind) == (1, "R1", "edge")


def test_company_counts_up_to_150_metres():
    """30 m apart: 0.8 of company, worth 16 points each."""
    near = ranked([{"east": 0.0}, {"east": 30.0}])
    assert near["score"].tolist() == pytest.approx([56.0, 56.0])
    assert near["nearest_m"].tolist() == pytest.approx([30.0, 30.0])
    assert set(near["nearest_kind"]) == {"edge"}
    far = ranked([{"east": 0.0}, {"east": 151.0}])
    assert far["score"].tolist() == pytest.approx([40.0, 40.0])
    assert far["nearest_kind"].tolist() == ["", ""]


def test_structure_that_shares_ground_is_no_company():
    """An edge on the hump's side is part of it; the hump beyond is company, 40 m from the rim."""
    table = ranked([{"east": 20.0}], [{"east": 0.0}, {"east": 120.0}])
    edge = table[table["kind"] == "edge"].iloc[0]
    assert edge.part_of == "hump"
    assert edge.nearest_m == pytest.approx(60.0, abs=0.1)  # 120 - 40 - 20
    assert (table.loc[table["kind"] == "hump", "nearest_m"].to_numpy() - 40.0 < 0.1).all()


def test_a_long_edge_is_judged_where_it_is_to_be_fished():
    """Its end 700 m away passes a hump, which is no company of its middle."""
    long = shapely.LineString([(X, Y - 700), (X, Y + 850)])
    table = ranked([{"east": 0.0, "geometry": long}], [{"east": 60.0, "peak_y": Y + 800,
        "geometry": shapely.Point(X + 60, Y + 800).buffer(40)}])  # fmt: skip
    assert table.loc[table["kind"] == "hump", "nearest_kind"].item() == "edge"
    assert np.isnan(table.loc[table["kind"] == "edge", "nearest_m"].item())


def test_out_of_the_band_a_metre_costs_a_factor_of_e():
    row = {"east": 0.0, "top_depth_m": 9.0, "foot_depth_m": 11.0, "band_length_m": 0.0}
    (out,) = ranked([row]).itertuples()
    # no size, so 22.5 of 40 are left
    assert out.score == pytest.approx(22.5 / np.e)
    assert out.fit == pytest.approx(1 / np.e)


def test_a_hump_is_sized_by_what_of_its_height_lies_in_the_band():
    """From 4 to 8 m with a band from 5: three quarters of 150 m."""
    (row,) = ranked(feature_rows=[{"east": 0.0, "crest_depth_m": 4.0, "saddle_depth_m": 8.0,
                                   "height_m": 4.0}]).itertuples()  # fmt: skip
    assert row.band_length_m == pytest.approx(112.5)
    assert row.slope_deg == pytest.approx(np.degrees(np.arctan(4 / 40)))
    hole = {"east": 0.0, "kind": "hole", "crest_depth_m": 9.0, "saddle_depth_m": 7.0}
    (row,) = ranked(feature_rows=[hole]).itertuples()
    assert (row.shallow_m, row.deep_m, row.band_length_m) == (7.0, 9.0, 75.0)


def test_doubt_as_great_as_the_drop_halves_the_score():
    table = edge_table({"east": 0.0}).assign(uncertainty_m=2.0, doubtful=False)
    (row,) = rank_structure(table, NO_FEATURES, band=BAND).itertuples()
    assert row.sure == 0.5
    assert row.score == pytest.approx(20.0)


@pytest.mark.parametrize(("away", "clear"), [(0.0, 0.5), (50.0, 0.75), (100.0, 1.0), (300.0, 1.0)])
def test_a_danger_near_by_lowers_the_score(away, clear):
    wreck = hazard_table("wreck", shapely.Point(X - away, Y + 75), name="Tin Ann")
    (row,) = ranked([{"east": 0.0}], hazards=wreck).itertuples()
    assert row.clear == pytest.approx(clear, abs=1e-4)  # positions go through degrees
    assert row.hazard_m == pytest.approx(away, abs=0.01)
    assert (row.hazard, row.hazard_name) == ("wreck", "Tin Ann")


def test_what_is_worth_knowing_only_does_not_lower_it_but_a_closed_area_does():
    around = shapely.box(X - 500, Y - 500, X + 500, Y + 500)
    (row,) = ranked([{"east": 0.0}], hazards=hazard_table("fishing ground", around)).itertuples()
    assert (row.score, row.hazard, row.closed) == (pytest.approx(40.0), "", "")
    words = "anchoring restricted, fishing prohibited"
    shut = hazard_table("restricted area", around, restriction=words)
    (row,) = ranked([{"east": 0.0}], hazards=shut).itertuples()
    assert (row.score, row.closed) == (pytest.approx(4.0), words)


def test_sand_waves_are_half_as_good_as_a_neighbour():
    window = shapely.box(X - 100, Y - 100, X + 100, Y + 200)
    waves = gpd.GeoDataFrame(
        {"height_m": [0.4, 1.1], "wavelength_m": [30.0, 64.0]}, geometry=[window] * 2, crs=CRS
    )
    (row,) = ranked([{"east": 0.0}], waves=waves).itertuples()
    assert (row.company_part, row.wave_height_m, row.wavelength_m) == (0.5, 1.1, 64.0)


def test_banks_and_channels_are_company():
    bank = gpd.GeoDataFrame(
        {"kind": ["bank"]}, geometry=[shapely.LineString([(X + 75, Y), (X + 75, Y + 900)])], crs=CRS
    )
    (row,) = ranked([{"east": 0.0}], others=[bank]).itertuples()
    assert (row.nearest_kind, row.nearest_m, row.company_part) == ("bank", 75.0, 0.5)


def test_best_first_and_ties_by_number():
    table = ranked([{"east": 0.0}, {"east": 1000.0, "drop_m": 6.0}, {"east": 2000.0}])
    assert table["feature_id"].tolist() == [1, 0, 2]
    assert table["name"].tolist() == ["R1", "R2", "R3"]
    assert table["rank"].tolist() == [1, 2, 3]


def test_ranks_go_back_to_their_tables():
    edge_rows = edge_table({"east": 0.0}, {"east": 1000.0, "drop_m": 6.0})
    found = feature_table({"east": 3000.0}, {"east": 5000.0, "kind": "hole", "feature_id": 0})
    table = rank_structure(edge_rows, found, band=BAND)
    for part in (with_ranks(edge_rows, table), with_ranks(found, table)):
        for row in part.itertuples():
            own = row.edge_id if "edge_id" in part else row.feature_id
            kind = "edge" if "edge_id" in part else row.kind
            same = table[(table["kind"] == kind) & (table["feature_id"] == own)]
            assert (row.rank, row.score) == (same["rank"].item(), same["score"].item())


def test_in_degrees_as_in_metres():
    flat = rank_structure(edge_table({"east": 0.0}, {"east": 30.0}), NO_FEATURES, band=BAND)
    table = edge_table({"east": 0.0}, {"east": 30.0}).to_crs(4326)
    turn = Transformer.from_crs(CRS, 4326, always_xy=True)
    table["middle_x"], table["middle_y"] = turn.transform(table["middle_x"], table["middle_y"])
    # the middle meridian of a UTM zone has a scale of 0.9996
    round_earth = rank_structure(table, NO_FEATURES, band=BAND)
    assert round_earth["nearest_m"].to_numpy() == pytest.approx(flat["nearest_m"], rel=1e-3)
    assert round_earth.crs.to_epsg() == 4326


def test_nothing_found_is_an_empty_table_with_its_columns():
    table = rank_structure(NO_EDGES, NO_FEATURES, band=BAND)
    assert table.empty
    assert reasons(table) == []
    assert {"rank", "name", "score", "hazard_m", "clear"} <= set(table.columns)
    assert with_ranks(NO_EDGES, table).empty


def test_from_the_grid_to_the_ranking():
    """A scarp in the band beats the same scarp far below it; doubt is carried along."""
    _, columns = np.mgrid[:150, :300]
    depth = 6 + 1.5 * np.tanh((columns - 75) / 3) + 6 + 6 * np.tanh((columns - 225) / 3)
    grid = make_grid(depth, transform=Affine(4, 0, X, 0, -4, Y), crs=CRS)
    spread = make_grid(np.full(depth.shape, 4.0), transform=Affine(4, 0, X, 0, -4, Y), crs=CRS)
    found = with_uncertainty(edges(grid, band=(4, 6)), spread)
    lumps = with_uncertainty(humps(grid), spread)
    table = rank_structure(found, lumps, band=(4, 6))
    assert len(table) == 2
    assert table["geometry"].x.to_numpy() == pytest.approx([X + 302, X + 902], abs=4)
    assert table["doubtful"].tolist() == [True, False]


def row_of(**told):
    row = {
        "kind": "edge", "shallow_m": 17 * 0.3048, "deep_m": 29 * 0.3048, "drop_m": 12 * 0.3048,
        "slope_deg": np.degrees(np.arctan(12 / 60)), "length_m": 600 * 0.3048,
        "band_length_m": 300 * 0.3048, "faces_deg": 88.0, "part_of": "", "nearest_kind": "hump",
        "nearest_m": 80 * 0.3048, "wave_height_m": np.nan, "wavelength_m": np.nan,
        "uncertainty_m": np.nan, "doubtful": False, "hazard": "", "hazard_name": "",
        "hazard_m": np.nan, "closed": "", "fit": 1.0,
    } | told  # fmt: skip
    parts = dict.fromkeys(("size_part", "drop_part", "steep_part", "company_part"), 0.5)
    others = {"rank": 1, "name": "R1", "feature_id": 0, "score": 50.0, "sure": 1.0, "clear": 1.0}
    return pd.DataFrame([{**others, **parts, **row}])


def test_reasons_are_plain_sentences_in_the_readers_units():
    assert reasons(row_of()) == [
        "Falls 12 ft in 60 ft, from 17 ft to 29 ft, facing east. It reaches your band along "
        "300 ft of its 600 ft. A hump 80 ft off."
    ]
    (words,) = reasons(row_of(), depth_unit="m")
    assert words.startswith(
        "Falls 3.7 m in 18 m, from 5.2 m to 8.8 m, facing east. "
        "It reaches your band along 91 m of its 180 m"
    )
    (words,) = reasons(row_of(), depth_unit="fm")
    assert words.startswith("Falls 2.0 fm in 60 ft, from 2.8 fm to 4.8 fm")


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"doubtful": True, "uncertainty_m": 3.9624}, "own uncertainty of 13 ft: it may not be"),
        ({"uncertainty_m": 0.3048}, "The grid's own uncertainty is 1.0 ft."),
        ({"hazard": "wreck", "hazard_name": "Tin Ann", "hazard_m": 30.48},
         "Danger: Wreck (Tin Ann) 100 ft off."),
        ({"hazard": "rock", "hazard_m": 0.0}, "Danger: Rock right there."),
        ({"closed": "fishing prohibited"}, "Charted as closed: fishing prohibited."),
        ({"wave_height_m": 0.3048, "wavelength_m": 60.96}, "waves there, 1.0 ft high and 200 ft"),
        ({"band_length_m": 0.0, "fit": np.exp(-0.6096)}, "Not in your band: 2.0 ft off it."),
        ({"band_length_m": 600 * 0.3048}, "It reaches your band along its whole 600 ft."),
        ({"part_of": "hump"}, "facing east, the side of a hump."),
        ({"kind": "hump"}, "Rises 12 ft, from 29 ft to 17 ft, in 60 ft on its short side. 6.0 ft"),
        ({"kind": "hole"}, "Sinks 12 ft, from 17 ft to 29 ft"),
        ({"nearest_kind": "edge"}, "An edge 80 ft off."),
    ],
)  # fmt: skip
def test_every_reason_has_its_words(told, said):
    assert said in reasons(row_of(**told))[0]


def test_eight_points():
    given = [0, 22, 23, 90, 180, 270, 338, 359]
    assert [compass(float(one)) for one in given] == [
        "north", "north", "north-east", "east", "south", "west", "north", "north"
    ]  # fmt: skip
    assert not compass(float("nan"))
