"""Marks out of files that hold no ranked lines, and of no lines."""

from __future__ import annotations

import geopandas as gpd
import pytest
from shapely import LineString

from layers.jobs.parts.earlier import choose, read_results
from layers.logbook import Logbook
from seabed.errors import SeabedError


def test_a_logbook_is_refused(tmp_path):
    path = tmp_path / "log.gpkg"
    Logbook(path).add([])
    with pytest.raises(SeabedError, match=r"is a logbook, whose lines are not ranked"):
        read_results([path])


LINES = gpd.GeoDataFrame({"line": ["A", "B"], "rank": [2, 1]}, geometry=[None, None])
EDGES = gpd.GeoDataFrame({"rank": [1, 3, 0], "drop_m": [5.0, 2.0, 1.0]}, geometry=[None] * 3)
HUMPS = gpd.GeoDataFrame({"rank": [2], "height_m": [1.0]}, geometry=[None])


@pytest.mark.parametrize("best", [0, -1])
def test_no_lines_are_refused(best):
    for tables in ({"lines": LINES}, {}):
        with pytest.raises(SeabedError, match=rf"best: {best} lines are too few\. Give 1 or more"):
            choose(tables, best=best)


def test_the_best_lines_come_first_and_the_bottom_beside_them_stays():
    kept = choose({"lines": LINES, "edges": EDGES}, best=1)
    assert kept["lines"]["line"].tolist() == ["B"]
    assert len(kept["edges"]) == len(EDGES)
    assert choose({"lines": LINES}) == {"lines": LINES}


def test_the_best_places_are_edges_and_humps_by_one_rank():
    kept = choose({"edges": EDGES, "features": HUMPS}, best=2)
    assert kept["edges"]["drop_m"].tolist() == [5.0]
    assert kept["features"]["height_m"].tolist() == [1.0]
    assert list(choose({"edges": EDGES, "features": HUMPS}, names=["R3"])) == ["edges"]


def test_a_place_that_is_not_there_is_refused():
    with pytest.raises(SeabedError, match=r"no line named 'R0'"):
        choose({"edges": EDGES}, names=["R0"])
    with pytest.raises(SeabedError, match=r"no lines and no ranked places"):
        choose({"edges": EDGES.drop(columns="rank")}, best=2)


def test_the_lines_of_a_plan_are_chosen_by_their_names_in_order_of_time(tmp_path):
    ways = [LineString([(-33.4, 46.2), (-33.4, 46.2 + 0.001 * step)]) for step in (1, 2, 3)]
    plan = gpd.GeoDataFrame({"plan_id": ["P1", "P2", "P3"]}, geometry=ways, crs="EPSG:4326")
    path = tmp_path / "plan.gpkg"
    plan.to_file(path, layer="plan")
    kept = choose(read_results([path]), names=["P3", "P2"])
    assert kept["lines"]["line"].tolist() == ["P2", "P3"]
    assert choose(read_results([path]), best=1)["lines"]["line"].tolist() == ["P1"]
