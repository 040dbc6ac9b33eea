"""What somebody who is given shared copies can find out about where the fish are.

The attacker has copies of three sizes, knows how squares are made (but for the secret), and takes
the middle of all places that agree with them.  Truth: where the drifts were.
"""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from book_tables import made_entry
from shapely.affinity import translate
from shapely.geometry import LineString
from thoroughness import THOROUGH

from layers.logbook import Entry, Logbook, Naming
from layers.logbook.sharing import shared_layers, square_m
from layers.scoring.naming import name_lines
from seabed.errors import LogbookError
from seabed.geodesy import distance_m

NAMING = Naming(40.0, name_lines)
SIZES = (1000.0, 1300.0, 2500.0)
LINES = 300
MOVED = 60 if THOROUGH else 20


def over_many_lines(seed: int, *, lines: int = LINES, each: int = 2) -> Entry:
    """A trip that drifts each of many lines, 200 m long and far apart, more than once."""
    rng = np.random.default_rng(seed)
    place = np.column_stack([rng.uniform(-33.6, -33.2, lines), rng.uniform(46.0, 46.4, lines)])
    place = np.repeat(place, each, axis=0)
    first = pd.Timestamp("2031-06-14T04:00:00Z")
    starts = first + pd.to_timedelta(np.arange(len(place)) * 60, unit="s")
    along = np.linspace(-0.0009, 0.0009, 5)
    shapes = [
        LineString(np.column_stack([np.full(5, x + rng.normal(0, 5e-5)), y + along]))
        for x, y in place
    ]
    plain = made_entry("2031-06-14", drifts=1)
    common = {"start": starts, "end": starts + pd.Timedelta(seconds=50)}
    drifts = gpd.GeoDataFrame(
        pd.concat([plain.drifts.drop(columns="geometry")] * len(place), ignore_index=True).assign(
            **common, drift_id=[f"2031-06-14 #{i}" for i in range(len(place))], course_deg=0.0,
            duration_s=rng.uniform(200, 900, len(place)), sog_mps=rng.uniform(0.2, 0.6, len(place)),
        ),
        geometry=shapes, crs="EPSG:4326",
    )  # fmt: skip
    pieces = drifts[
        ["start", "end", "duration_s", "distance_m", "sog_mps", "course_deg", "geometry"]
    ]
    fish = plain.catches.iloc[:0]
    end = common["end"][-1]
    return Entry("2031-06-14", first, end, ("a.gpx",), drifts, pieces.assign(kind="drift"), fish)


@pytest.fixture(scope="module")
def attacked(tmp_path_factory):
    """The true middles of drifts, and what three copies show of each."""
    folder = tmp_path_factory.mktemp("shared")
    book = Logbook(folder / "book.gpkg")
    entry = over_many_lines(5)
    book.add([entry], naming=NAMING)
    copies = [shared_layers(book, size, naming=NAMING)["drifts"] for size in SIZES]
    return book, entry.drifts, copies


def metres(drifts, shown):
    """East and north of what is shown, from the true middle of each drift."""
    middles = drifts.set_crs(None, allow_override=True).geometry.interpolate(0.5, normalized=True)
    north = (shown.geometry.y.to_numpy() - middles.y.to_numpy()) * 111_195
    wide = 111_195 * np.cos(np.radians(middles.y.to_numpy()))
    return (shown.geometry.x.to_numpy() - middles.x.to_numpy()) * wide, north


def guesses(drifts, copies, sides):
    """What is left of each axis for each drift, and how far off the middle of that is, in metres.

    The attacker knows that squares are as wide in degrees as at the next 5 degrees of latitude.
    """
    low, high = np.full((2, len(drifts)), -np.inf), np.full((2, len(drifts)), np.inf)
    for shown, side in zip(copies, sides, strict=True):
        offsets = np.array(metres(drifts, shown))
        north = np.radians(shown.geometry.y.to_numpy())
        half = side / 2 * np.array([np.cos(north) / np.cos(np.radians(50)), np.ones(len(drifts))])
        low, high = np.maximum(low, offsets - half), np.minimum(high, offsets + half)
    return high - low, np.hypot(*((low + high) / 2))


def in_rectangle(east, north, within):
    """Mean distance from the middle of a rectangle, and the share of it within a distance of that;
    by the middles of a million cells.
    """
    cells = (np.arange(1000) + 0.5) / 1000 - 0.5
    away = np.hypot(east * cells[:, None], north * cells)
    return away.mean(), (away < within).mean()


def test_the_best_guess_is_no_better_than_the_finest_square(attacked):
    """As a place anywhere in a square of 1 km that is 1.08 km wide at 46.2 degrees north.

    300 lines give mean and share within 4 standard errors.
    """
    _, drifts, copies = attacked
    sides = [square_m(size) for size in SIZES]
    assert sides == [1000.0, 2000.0, 4000.0]
    left, away = (values[..., ::2] for values in guesses(drifts, copies, sides))
    assert left.min() > 985  # a line is in the square of its middle, its drifts a few metres off
    mean, near = in_rectangle(1077, 1000, 100)
    assert away.mean() == pytest.approx(mean, abs=4 * 150 / np.sqrt(LINES))
    assert (away < 100).mean() < near + 4 * np.sqrt(near / LINES)


def scattered(entry, sigma_m):
    """The same trip with each drift moved aside, so that lines are gathered one way or another."""
    rng = np.random.default_rng(9)
    aside = rng.normal(0, sigma_m / 111_195, (2, len(entry.drifts))) / [[0.69], [1.0]]
    shapes = [
        translate(line, east, north)
        for line, east, north in zip(entry.drifts.geometry, *aside, strict=True)
    ]
    return replace(
        entry,
        drifts=entry.drifts.set_geometry(gpd.GeoSeries(shapes, crs="EPSG:4326")),
        pieces=entry.pieces.set_geometry(gpd.GeoSeries(shapes, crs="EPSG:4326")),
    )


@pytest.mark.parametrize("change", ["corridor", "repair", "restore", "more trips"])
def test_what_comes_between_two_copies_gives_nothing_away(tmp_path, change):
    """A drift that is in two squares is near the edge between them: within 100 m in one of six."""
    book = Logbook(tmp_path / "book.gpkg")
    entry = scattered(over_many_lines(7, lines=MOVED, each=4), 60.0)
    book.add([entry], naming=NAMING)
    if change == "restore":  # of what was before the first copy
        book.add([made_entry("2031-07-05", points=5)], naming=NAMING)
        book.remove("2031-07-05", naming=NAMING)
    before = shared_layers(book, 125.0, naming=NAMING)["drifts"]
    wide = Naming(90.0, name_lines)
    if change == "repair":
        book.repair()
    elif change == "restore":
        book.restore()
    elif change == "more trips":
        more = scattered(over_many_lines(7, lines=MOVED, each=3), 40.0)
        more.drifts["drift_id"] = [f"2031-06-15 #{i}" for i in range(3 * MOVED)]
        late = pd.Timedelta(days=1)
        for table in (more.drifts, more.pieces):
            table[["start", "end"]] += late
        more.drifts["trip"] = "2031-06-15"
        book.add(
            [replace(more, trip="2031-06-15", start=more.start + late, end=more.end + late)],
            naming=wide,
        )
    naming = wide if change in {"corridor", "more trips"} else NAMING
    after = shared_layers(book, 125.0, naming=naming)["drifts"].iloc[: len(before)]
    assert after["drift_id"].tolist() == before["drift_id"].tolist()
    assert (after.geometry.to_wkt() == before.geometry.to_wkt()).all()


def test_a_trip_cut_again_is_not_left_where_another_drift_was(tmp_path):
    book = Logbook(tmp_path / "book.gpkg")
    first = over_many_lines(7, lines=20, each=1)
    book.add([first], naming=NAMING)
    shared_layers(book, 125.0, naming=NAMING)
    turned = first.drifts.set_geometry(
        gpd.GeoSeries(first.drifts.geometry[::-1].to_list(), crs=4326)
    )
    book.add([replace(first, drifts=turned)], replace=True, naming=NAMING)
    east, north = metres(turned, shared_layers(book, 125.0, naming=NAMING)["drifts"])
    assert np.abs([east, north]).max() < 80


def test_coarse_squares_do_not_tell_how_far_north_they_are(tmp_path):
    """Two columns of squares give their width in degrees, and that a latitude, to 5 degrees."""
    widths = []
    for latitude in (46.2, 48.9):
        book = Logbook(tmp_path / f"{latitude}.gpkg")
        entry = over_many_lines(3, lines=40, each=1)
        shapes = [
            translate(line, (-33.4 - line.coords[0][0]) / 2, latitude - line.coords[0][1])
            for line in entry.drifts.geometry
        ]  # 15 km, of one ground
        lines = gpd.GeoSeries(shapes, crs="EPSG:4326")
        book.add(
            [replace(entry, drifts=entry.drifts.set_geometry(lines),
                     pieces=entry.pieces.set_geometry(lines))],
            naming=NAMING,
        )  # fmt: skip
        shown = shared_layers(book, 8000.0, naming=NAMING)["drifts"]
        widths.append(np.diff(np.unique(shown.geometry.x)).min())
    assert widths == pytest.approx([8 / (111.195 * np.cos(np.radians(50)))] * 2, rel=0.002)


def test_all_drifts_of_a_line_are_in_one_square(attacked):
    """A tenth of lines 200 m long lie over an edge of squares of 1 km, on either axis."""
    _, drifts, copies = attacked
    for shown in copies:
        first, second = shown.iloc[::2].geometry.to_numpy(), shown.iloc[1::2].geometry.to_numpy()
        assert (first == second).all()
    assert len(drifts) == 2 * LINES


def test_squares_of_squares(attacked):
    """What a coarser copy shows follows from a finer one, the same for all in its square."""
    _, _, copies = attacked
    fine, coarse = (copy.geometry.to_wkt() for copy in copies[:2])
    assert (
        pd.DataFrame({"fine": fine, "coarse": coarse}).groupby("fine")["coarse"].nunique().max()
        == 1
    )
    assert coarse.nunique() < fine.nunique()


def test_copies_agree_and_another_logbook_s_do_not(attacked, tmp_path):
    book, _, copies = attacked
    again = shared_layers(Logbook(book.path), SIZES[0], naming=NAMING)["drifts"]
    assert (again.geometry.to_wkt() == copies[0].geometry.to_wkt()).all()
    other = Logbook(tmp_path / "other.gpkg")
    other.add([over_many_lines(5)], naming=NAMING)
    theirs = shared_layers(other, SIZES[0], naming=NAMING)["drifts"]
    assert (theirs.geometry.to_wkt() != copies[0].geometry.to_wkt()).all()


def test_a_copy_made_later_shows_the_same_places(tmp_path):
    """More trips, and other grounds, move nothing."""
    book = Logbook(tmp_path / "book.gpkg")
    book.add([made_entry("2031-06-14", points=5)], naming=NAMING)
    before = shared_layers(book, 500.0, naming=NAMING)["drifts"].geometry.to_wkt().tolist()
    far = made_entry("2031-06-21", points=5)
    far = Entry(
        far.trip, far.start, far.end, far.files,
        *(table.set_geometry(table.geometry.translate(0.5, 0.0))
          for table in (far.drifts, far.pieces, far.catches)),
    )  # fmt: skip
    book.add([far, made_entry("2031-07-05", points=5)], naming=NAMING)
    after = shared_layers(book, 500.0, naming=NAMING)["drifts"].geometry.to_wkt().tolist()
    assert after[: len(before)] == before


def test_nothing_gives_the_length_of_a_drift(attacked):
    """Within the steps of time and speed it is uncertain by a half and more."""
    _, drifts, copies = attacked
    shown = copies[0]
    assert set(shown["duration_s"] % 300) == {0.0}
    product = shown["duration_s"] * shown["sog_mps"]
    true = (drifts["duration_s"] * drifts["sog_mps"]).to_numpy()
    assert np.median(np.abs(product / true - 1)) > 0.1
    same = shown.groupby(["duration_s", "sog_mps"]).size()
    assert (same > 5).mean() > 0.5  # many drifts look alike


def test_fish_are_where_their_line_is_and_others_nowhere(tmp_path):
    book = Logbook(tmp_path / "book.gpkg")
    entry = made_entry("2031-06-14", points=5)
    entry.catches.loc[0, "drift_id"] = ""
    book.add([entry], naming=NAMING)
    shown = shared_layers(book, 1000.0, naming=NAMING)
    place = dict(zip(shown["drifts"]["drift_id"], shown["drifts"].geometry, strict=True))
    for name, point in zip(shown["catches"]["drift_id"], shown["catches"].geometry, strict=True):
        assert point == place.get(name)


def test_a_removed_drift_has_no_square_left(tmp_path):
    book = Logbook(tmp_path / "book.gpkg")
    book.add([made_entry(day, points=5) for day in ("2031-06-14", "2031-06-21")], naming=NAMING)
    shared_layers(book, 1000.0, naming=NAMING)
    names = set(book.drifts()["drift_id"])
    book.remove("2031-06-14", naming=NAMING)
    gone = names - set(book.drifts()["drift_id"])
    assert gone
    note = book.note("share_squares", lambda text: text or "")
    assert not any(f'"{name}"' in note for name in gone)


@pytest.mark.parametrize(
    "text",
    ["{", "7", '{"grounds": [{"longitude": 1e999, "latitude": 0, "east": 0, "north": 0}]}',
     '{"drifts": {"N1": [0, 0, 0]}}', '{"grounds": [{"east": NaN}]}'],
)  # fmt: skip
def test_a_note_that_another_program_spoiled_is_refused(tmp_path, text):
    book = Logbook(tmp_path / "book.gpkg")
    book.add([made_entry("2031-06-14", points=5)], naming=NAMING)
    book.note("share_squares", lambda _: text)
    with pytest.raises(LogbookError, match="share_squares: it is not as it was written"):
        shared_layers(book, 1000.0, naming=NAMING)


def test_sizes():
    assert [square_m(size) for size in (100, 125, 126, 1000, 1001, 2000)] == [
        125.0, 125.0, 250.0, 1000.0, 2000.0, 2000.0,
    ]  # fmt: skip
    for size, words in ((99.0, "give the spots away"), (float("nan"), "give"), (1e9, "coarser")):
        with pytest.raises(LogbookError, match=words):
            square_m(size)


def test_distances_are_those_of_the_ellipsoid(attacked):
    """What is shown is within half a diagonal of the place, by PROJ's geodesics, and 1 %."""
    _, drifts, copies = attacked
    middles = drifts.set_crs(None, allow_override=True).geometry.interpolate(0.5, normalized=True)
    away = distance_m(
        middles.x.to_numpy(), middles.y.to_numpy(),
        copies[0].geometry.x.to_numpy(), copies[0].geometry.y.to_numpy(),
    )  # fmt: skip
    assert np.max(away) < np.hypot(1077, 1000) / 2 * 1.02 + 20  # 20 m: another drift of the line
