"""Does the toolkit find what was put into the demo area?  Truth: demo_area/truth.json."""

import json
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod, Transformer
from shapely.geometry import Point

from layers.area import load_area
from layers.jobs.parts.structure import find_structure
from layers.jobs.requests import TripRequest
from layers.jobs.trip._outings import work_out
from seabed.loaders import open_grid
from seabed.structure import edges, holes, humps

AREA = Path(__file__).parents[2] / "demo_area"
GEOD = Geod(ellps="WGS84")
TO_GRID = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True)


@pytest.fixture(scope="module")
def truth():
    return json.loads((AREA / "truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def area():
    return load_area(AREA / "area.toml")


@pytest.fixture(scope="module")
def grid():
    return open_grid(AREA / "sound.tif")


@pytest.fixture(scope="module")
def trips(area, grid):
    tracks = tuple(sorted(AREA.glob("trip_*.gpx")))
    request = TripRequest(tracks=tracks, catches=(AREA / "catches.csv",))
    return work_out(request, area, find_structure(grid, area))


def line_of(truth, start):
    """The true line that starts nearest to a place, and how far off that is."""
    away = {
        name: GEOD.inv(*start, *line["start_lon_lat"])[2] for name, line in truth["lines"].items()
    }
    name = min(away, key=away.get)
    return name, away[name]


def named(trips, truth):
    """Our lines by the name of the true line they are."""
    found = {}
    for row in trips.lines.itertuples():
        name, metres = line_of(truth, row.geometry.coords[0])
        assert metres < 60, f"{row.line} starts {metres:.0f} m from any true line"
        assert name not in found, f"two lines found where {name} is one"
        found[name] = row
    return found


def test_drifts_are_gathered_into_the_true_lines(trips, truth):
    found = named(trips, truth)
    assert set(found) == set(truth["lines"])
    for name, row in found.items():
        assert row.rod_hours == pytest.approx(truth["lines"][name]["rod_hours"], rel=0.05)


def test_fish_are_counted_on_the_line_they_came_from(trips, truth):
    found = named(trips, truth)
    counted = {name: row.fish for name, row in found.items()}
    assert counted == {name: line["fish"] for name, line in truth["lines"].items()}


def test_the_best_line_is_first_or_its_interval_holds_the_best(trips, truth):
    best = max(truth["lines"], key=lambda name: truth["lines"][name]["fish_per_rod_hour"])
    row = named(trips, truth)[best]
    rate = truth["lines"][best]["fish_per_rod_hour"]
    assert row.rank == 1 or row.rate_all_low <= rate <= row.rate_all_high


def test_two_lucky_fish_do_not_win(trips, truth):
    # G had two fish in 0.2 rod-hours, the most for an hour by far, over ground worth little
    row = named(trips, truth)["G"]
    plain = trips.lines["fish"] / trips.lines["rod_hours"]
    assert plain.idxmax() == trips.lines.index[trips.lines["line"] == row.line][0]
    assert row.rank > 1


def test_only_the_fish_caught_on_a_run_are_untied(trips):
    assert list(trips.untied["note"]) == ["trolled on the way home"] * 2
    assert trips.untied["why"].str.len().min() > 20


def test_humps_and_hole_are_where_they_were_put(grid, truth):
    high, low = humps(grid, min_height_m=1.0), holes(grid, min_height_m=1.0)
    places = [(hump["lon_lat"], high) for hump in truth["humps"]]
    places.append((truth["hole"]["lon_lat"], low))
    for lon_lat, table in places:
        x, y = TO_GRID.transform(*lon_lat)
        away = np.hypot(table["peak_x"] - x, table["peak_y"] - y)
        # the roughness laid over a flat top of 50 to 90 m moves its highest cell by some cells
        assert away.min() < 40, lon_lat


def test_the_scarp_is_found_along_its_length(grid, truth, area):
    found = edges(
        grid,
        scale_m=area.structure.edge_scale_m,
        band=area.depths.band_m,
        min_length_m=area.structure.edge_min_length_m,
        min_drop_m=area.structure.edge_min_drop_m,
    )
    lines = found.geometry.union_all()
    away = [lines.distance(Point(*TO_GRID.transform(*place))) for place in truth["scarp"]]
    # a cell is 4 m; the roughness and the slope into the channel pull the steepest line a little
    assert np.mean(np.array(away) < 12) > 0.95
    x, y = TO_GRID.transform(*truth["scarp"][20])
    at = found.geometry.distance(Point(x, y)).idxmin()
    # the scarp's own drop, and up to 2.2 m that the side of the channel falls within 60 m of it
    assert truth["scarp_drop_m"] * 0.9 < found.loc[at, "drop_m"] < truth["scarp_drop_m"] + 2.2
    assert found.loc[at, "in_band"]
