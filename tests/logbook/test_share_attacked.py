"""What somebody who is given shared copies can find out about where the fish are.

The attacker has copies of three sizes, knows how squares are made (but for the secret), and takes
the middle of all places that agree with them.  Truth: where the drifts were.
"""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from book_tables import made_entry
from shapely.geometry import LineString

from layers.logbook import Entry, Logbook, Naming, shared_layers, square_m
from layers.scoring import name_lines
from seabed.errors import LogbookError
from seabed.geodesy import distance_m

NAMING = Naming(40.0, name_lines)
SIZES = (1000.0, 1300.0, 2500.0)
LINES = 300


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


def test_the_best_guess_is_no_better_than_the_finest_square(attacked):
    """As a place anywhere in a square of 1 km: 383 m off on the mean, within 100 m in 3.1 %.

    Both follow from a uniform place in the square (its mean distance from the middle is
    0.3826 of a side); 300 lines give them within 4 standard errors.
    """
    _, drifts, copies = attacked
    sides = [square_m(size) for size in SIZES]
    assert sides == [1000.0, 2000.0, 4000.0]
    low, high = np.full((2, len(drifts)), -np.inf), np.full((2, len(drifts)), np.inf)
    for shown, side in zip(copies, sides, strict=True):
        offsets = np.array(metres(drifts, shown))
        low, high = np.maximum(low, offsets - side / 2), np.minimum(high, offsets + side / 2)
    left = (high - low)[:, ::2]  # metres of each axis that agree with all three
    assert left.min() > 985  # the cosine of the latitude changes by 1 % over the ground
    away = np.hypot(*((low + high) / 2)[:, ::2])
    assert away.mean() == pytest.approx(382.6, abs=4 * 142 / np.sqrt(LINES))
    assert (away < 100).mean() < 0.031 + 4 * np.sqrt(0.031 / LINES)


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


def test_a_removed_line_has_no_square_left(tmp_path):
    book = Logbook(tmp_path / "book.gpkg")
    book.add([made_entry(day, points=5) for day in ("2031-06-14", "2031-06-21")], naming=NAMING)
    shared_layers(book, 1000.0, naming=NAMING)
    names = set(book.lines()["line"])
    book.remove("2031-06-14", naming=NAMING)
    gone = names - set(book.lines()["line"])
    assert gone
    note = book.note("share_squares", lambda text: text or "")
    assert not any(f'"{name}"' in note for name in gone)


@pytest.mark.parametrize(
    "text", ["{", "7", '{"lines": {"N1": [0, 0, 0]}}', '{"grounds": [{"east": NaN}]}']
)
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
    assert np.max(away) < 1000 * np.sqrt(0.5) * 1.02 + 20  # 20 m: another drift of the line
