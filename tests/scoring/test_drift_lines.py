"""Gathering drifts into lines: toy drifts on a plane, distances by another library."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from shapely.geometry import LineString

from benchmarks.worlds.lines import season as season_of_lines
from layers.scoring import gather_lines
from layers.scoring.along import line_axes
from layers.scoring.clusters import medoids
from layers.scoring.likeness import apart_between_m, apart_m, thin_lines
from layers.scoring.naming import _known_courses, name_lines

CRS = "EPSG:32625"
X0, Y0 = 470_000.0, 5_116_000.0


def drifts(*lines, crs=CRS):
    """Drifts from lists of metres east and north; course by their ends."""
    rows = []
    for number, points in enumerate(lines):
        xy = np.array(points, float)
        east, north = xy[-1] - xy[0]
        rows.append(
            {
                "drift_id": f"2031-06-14 #{number + 1}",
                "start": pd.Timestamp("2031-06-14T08:00Z") + pd.Timedelta(hours=number),
                "course_deg": np.degrees(np.arctan2(east, north)) % 360,
                "geometry": LineString(xy + np.array([X0, Y0])),
            }
        )
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=crs).to_crs("EPSG:4326")


def names(*lines, **options):
    return gather_lines(drifts(*lines), **options)["line"].tolist()


SOUTH = [(0, 300), (0, 0)]


@pytest.mark.parametrize(
    ("other", "same"),
    [
        ([(20, 300), (20, 0)], True),  # beside
        ([(35, 300), (35, 0)], True),
        ([(50, 300), (50, 0)], False),  # outside the corridor
        ([(0, 0), (0, 300)], False),  # back the same way
        ([(10, 300), (10, 120)], True),  # the first part of it
        ([(10, 200), (10, 0)], True),  # started late
        ([(0, 450), (0, 150)], True),  # half of it shared
        ([(0, 500), (0, 200)], False),  # a third shared
        ([(0, -10), (0, -300)], False),  # goes on where it ended
        ([(0, 300), (300, 0)], False),  # leaves it
    ],
)
def test_what_is_one_line(other, same):
    found = names(SOUTH, other)
    assert (found[0] == found[1]) is same


def test_a_chain_of_neighbours_does_not_grow_into_one_wide_line():
    found = names(*([(x, 300), (x, 0)] for x in (0, 30, 60, 90)), corridor_m=40)
    assert len(set(found)) == 2


@pytest.mark.parametrize(("width", "lines"), [(4, 2), (48, 1)])
def test_two_scatters_that_stand_clear_are_two_lines(width, lines):
    """Six drifts each, whose middles are 50 m apart: as wide as they are clear, they are one."""
    own = np.linspace(-width / 2, width / 2, 6)
    found = names(*([(x, 300), (x, 0)] for x in (*own, *(own + 50))))
    assert len(set(found)) == lines


def test_names_are_short_unique_ascii_and_in_order_of_time():
    found = names(SOUTH, [(500, 0), (800, 0)], [(1000, 300), (1000, 0)], [(5, 300), (5, 0)])
    assert found == ["S1", "E1", "S2", "S1"]
    assert gather_lines(drifts(SOUTH).iloc[:0])["line"].tolist() == []


def test_a_name_of_the_skippers_own_takes_no_number():
    known = gather_lines(drifts(SOUTH))[["line", "course_deg", "geometry"]].assign(line="Home")
    assert gather_lines(drifts([(500, 300), (500, 0)]), known=known)["line"].tolist() == ["S1"]


def test_a_drift_without_a_course_goes_from_its_first_to_its_last_point():
    flat = np.array([LineString([(0, 0), (0, 100), (300, 100)])] * 2)
    found = _known_courses(np.array([np.nan, 12.0]), flat)
    assert found == pytest.approx([np.degrees(np.arctan2(300, 100)), 12.0])


def test_the_axis_of_a_line_is_its_longest_drift():
    table = drifts(SOUTH, [(5, 500), (5, 0)], [(3, 200), (3, 0)]).assign(line="S1")
    (axis,) = line_axes(table, CRS).values()
    assert axis.length == pytest.approx(500, rel=1e-3)


def test_distances_to_some_are_those_among_all():
    random = np.random.default_rng(7)
    every = np.array([
        LineString(np.c_[np.linspace(0, 9, 12), random.normal(0, 2, 12)] * 30) for _ in range(7)
    ])  # fmt: skip
    whole = apart_between_m(every)
    assert apart_between_m(every[:5], every[5:]) == pytest.approx(whole[:5, 5:])


def test_names_last_over_seasons():
    first = gather_lines(drifts(SOUTH, [(500, 300), (500, 0)]))
    known = first[["line", "course_deg", "geometry"]]
    later = drifts([(900, 300), (900, 0)], [(510, 290), (510, 10)], [(5, 0), (5, 300)])
    found = gather_lines(later, known=known)["line"].tolist()
    # a new one, S2 again, and the way back over S1, which is another line
    assert found == ["S3", "S2", "N1"]
    assert gather_lines(later)["line"].tolist() == ["S1", "S2", "N1"]


def strewn(random, trips):
    """Trips of six drifts over a flat of 200 m, most within a corridor of several others."""
    out = []
    for trip in range(trips):
        lines = []
        for _ in range(6):
            east, begin, end = (
                random.uniform(0, 200),
                random.uniform(150, 300),
                random.uniform(0, 90),
            )
            lean = random.uniform(-60, 60)
            lines.append([(east, begin), (east + lean, end)][:: random.choice([-1, 1])])
        table = drifts(*lines)
        out.append(table.assign(start=table["start"] + pd.Timedelta(days=7 * trip)))
    return out


@pytest.mark.parametrize("seed", range(4))
def test_ground_keeps_its_name_whatever_is_logged_later(seed):
    """Trips logged one by one in any order: what a drift was called first, it is called ever."""
    random = np.random.default_rng(seed)
    trips = strewn(random, 6)
    random.shuffle(trips)
    known = gpd.GeoDataFrame({"line": [], "course_deg": []}, geometry=[], crs="EPSG:4326")
    first = []
    for trip in trips:
        named, after = name_lines(trip, known, corridor_m=40)
        assert after["line"].tolist()[: len(known)] == known["line"].tolist()
        assert after["line"].is_unique
        assert set(named["line"]) <= set(after["line"])
        first.append(named["line"].tolist())
        known = after
    for trip, names in zip(trips, first, strict=True):
        assert gather_lines(trip, known=known, corridor_m=40)["line"].tolist() == names
    season = pd.concat(trips, ignore_index=True)
    again, lines = name_lines(season, known, corridor_m=40)
    assert again["line"].tolist() == [name for names in first for name in names]
    assert len(lines) == len(known)
    # and with another corridor no ground changes its name: what is on a line is that line's
    for corridor_m in (15, 80):
        _, other = name_lines(season, known, corridor_m=corridor_m)
        assert other["line"].tolist()[: len(known)] == known["line"].tolist()
    as_drifts = known.assign(start=pd.Timestamp("2031-06-14T08:00Z"))
    own = gather_lines(as_drifts, known=known, corridor_m=15)
    assert own["line"].tolist() == known["line"].tolist()


def test_a_drift_belongs_to_the_line_that_was_named_first():
    known = gather_lines(drifts(SOUTH, [(60, 300), (60, 0)]))[["line", "course_deg", "geometry"]]
    between = drifts([(35, 300), (35, 0)], [(55, 300), (55, 0)])
    assert gather_lines(between, known=known)["line"].tolist() == ["S1", "S2"]
    assert gather_lines(between, known=known[::-1])["line"].tolist() == ["S2", "S2"]


def test_a_drift_keeps_the_first_new_line_that_it_is_near():
    """39 m from the first and 37 m from the third, whose cluster it is in."""
    new = drifts(SOUTH, [(39, 300), (39, 0)], [(76, 300), (76, 0)])
    named, _ = name_lines(new, new.iloc[:0].assign(line=[]), corridor_m=40)
    assert named["line"].tolist() == ["S1", "S1", "S2"]


def test_a_drift_that_comes_back_on_itself_is_named_once():
    loop = drifts([(0, 300), (0, 0), (30, 150), (0, 300)])
    named, known = name_lines(loop, loop.iloc[:0].assign(line=[]), corridor_m=40)
    assert name_lines(loop, known, corridor_m=40)[0]["line"].tolist() == named["line"].tolist()


def test_the_middlemost_drift_stands_for_the_line():
    found = gather_lines(drifts(*([(x, 300), (x, 0)] for x in (0, 14, 30))))
    assert medoids(found) == {"S1": 1}


@pytest.mark.parametrize("seed", range(20))
def test_distance_of_whole_drifts_is_the_mean_of_shapelys_distances(seed):
    """Against another library, point by point; ends abreast, so that nothing is cut."""
    random = np.random.default_rng(seed)
    north = np.linspace(0, 300, 31)
    wander = np.cumsum(random.normal(0, 2, (2, 31)), axis=1)
    wander[:, 0] = wander[:, -1] = 0.0
    # straight first and last legs across the course keep the nearest points at the ends
    first = LineString(np.c_[wander[0], north])
    second = LineString(np.c_[wander[1] + 25, north])
    theirs = [
        shapely.distance(shapely.points(shapely.get_coordinates(shapely.segmentize(a, 1.0))), b)
        for a, b in ((first, second), (second, first))
    ]
    # points 10 m apart, where theirs are a metre apart
    assert apart_m(first, second) == pytest.approx(np.mean([t.mean() for t in theirs]), abs=2.0)


def test_courses_that_differ_are_apart_where_they_cross():
    way = np.radians(30.0)
    for half in (50.0, 150.0):
        first = LineString([(0, -half), (0, half)])
        end = half * np.sin(way), half * np.cos(way)
        second = LineString([(-end[0], -end[1]), end])
        assert apart_m(first, second) > 40.0


@pytest.mark.parametrize(
    ("world", "most"), [("one line, 4 deg", 2), ("six lines, 8 m, 4 deg", 8), ("opposite tides", 3)]
)
def test_scattered_drifts_of_one_line_are_one(world, most):
    drifts = season_of_lines(500, world)
    named = gather_lines(drifts)
    assert named["line_true"].nunique() <= named["line"].nunique() <= most
    assert (named.groupby("line")["line_true"].nunique() == 1).all()


@pytest.mark.parametrize("seed", range(4))
def test_lines_anew_do_not_depend_on_the_order_of_trips(seed):
    """Logged in two orders, a season's clusters are the same; names are those that most had."""
    random = np.random.default_rng(seed)
    trips = strewn(random, 6)
    season = pd.concat(trips, ignore_index=True)
    season = season.assign(drift_id=[f"d{i}" for i in range(len(season))])
    groups = []
    for order in (range(6), random.permutation(6)):
        known = gpd.GeoDataFrame({"line": [], "course_deg": []}, geometry=[], crs="EPSG:4326")
        for trip in order:
            _, known = name_lines(trips[trip], known, corridor_m=40)
        anew = gather_lines(season, known=known, regroup=True)
        groups.append({frozenset(own) for _, own in anew.groupby("line")["drift_id"]})
        before = gather_lines(season, known=known)["line"]
        kept = anew["line"][anew["line"].isin(known["line"])]
        assert len(kept) > 0.6 * len(season)
        for name, own in anew.loc[kept.index].groupby("line"):
            assert (before[own.index] == name).any()  # no name goes to ground it never had
    assert groups[0] == groups[1]
    plain = gather_lines(season)
    assert groups[0] == {frozenset(own) for _, own in plain.groupby("line")["drift_id"]}


def test_distance_of_parallels_is_exact():
    assert apart_m(LineString([(0, 0), (0, 300)]), LineString([(25, 0), (25, 300)])) == 25.0
    assert apart_m(LineString([(0, 0), (0, 300)]), LineString([(25, 50), (25, 250)])) == 25.0
    assert apart_m(LineString([(0, 0), (0, 300)]), LineString([(0, 250), (0, 600)])) == np.inf


def test_moving_and_turning_everything_changes_nothing():
    first, second = LineString([(0, 0), (5, 150), (0, 300)]), LineString([(20, 20), (18, 280)])
    moved = [shapely.affinity.rotate(line, 77, origin=(0, 0)) for line in (first, second)]
    assert apart_m(*moved) == pytest.approx(apart_m(first, second), abs=1e-6)
    assert apart_m(second, first) == pytest.approx(apart_m(first, second), abs=1e-6)


def test_lines_thinned_once_stay_as_they_are():
    random = np.random.default_rng(2)
    rows = [np.c_[np.linspace(0, 9, 300), np.linspace(0, 400, 300)] for _ in range(20)]
    wandering = drifts(*(row + random.normal(0, 1.0, row.shape) for row in rows))
    once = thin_lines(wandering)
    assert shapely.equals_exact(once.geometry, thin_lines(once).geometry, 0.0).all()
    whole, thin = wandering.to_crs(CRS).geometry, once.to_crs(CRS).geometry
    assert (shapely.get_num_coordinates(thin) < 250).all()
    assert shapely.hausdorff_distance(whole.to_numpy(), thin.to_numpy()).max() < 1.05
