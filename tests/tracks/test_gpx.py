"""The GPX reader: what it finds, what it refuses."""

import math
import tracemalloc
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from layers.tracks import FIXES, clean, read_fixes
from layers.tracks.reading import WAYPOINTS, read_waypoints
from seabed.errors import TrackError
from seabed.logs.fixes import to_utc

HEAD_10 = '<?xml version="1.0"?>\n<gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0">\n'
HEAD_11 = '<?xml version="1.0"?>\n<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">\n'
POINT = '<trkpt lat="-31.5" lon="-24.5"><time>2031-06-14T08:00:00Z</time></trkpt>\n'


def written(folder: Path, text: str | bytes, name: str = "boat.gpx") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def track(*points: str) -> str:
    return HEAD_11 + "<trk><trkseg>\n" + "".join(points) + "</trkseg></trk></gpx>"


def test_positions_times_tracks_and_segments(tmp_path):
    path = written(
        tmp_path,
        HEAD_11
        + '<trk><trkseg><trkpt lat="-31.5" lon="-24.25"><ele>3</ele>'
        + "<time>2031-06-14T08:00:00Z</time></trkpt></trkseg>"
        + '<trkseg><trkpt lon="-24" lat="-31"><time>2031-06-14T10:00:00.25+02:00</time></trkpt>'
        + "</trkseg></trk><trk><trkseg/><trkseg>"
        + '<trkpt lat="1e1" lon="+2.5"/></trkseg></trk></gpx>',
    )
    fixes = read_fixes(path)
    assert tuple(fixes.columns) == FIXES.names
    assert fixes["time"].dtype == "datetime64[ns, UTC]"
    assert fixes["latitude"].tolist() == [-31.5, -31.0, 10.0]
    assert fixes["longitude"].tolist() == [-24.25, -24.0, 2.5]
    assert fixes["time"].iloc[0] == pd.Timestamp("2031-06-14T08:00:00Z")
    assert fixes["time"].iloc[1] == pd.Timestamp("2031-06-14T08:00:00.25Z")
    assert pd.isna(fixes["time"].iloc[2])
    assert fixes["track"].tolist() == [0, 0, 1]
    assert fixes["segment"].tolist() == [0, 1, 1]
    assert set(fixes["file"]) == {str(path)}


@pytest.mark.parametrize("head", [HEAD_10, HEAD_11])
def test_both_versions_and_prefixed_names(tmp_path, head):
    body = f"<trk><trkseg>{POINT}</trkseg></trk></gpx>"
    assert len(read_fixes(written(tmp_path, head + body))) == 1
    prefixed = (
        '<g:gpx xmlns:g="http://www.topografix.com/GPX/1/1"><g:trk><g:trkseg>'
        '<g:trkpt lat="1" lon="2"><g:time>2031-06-14T08:00:00Z</g:time></g:trkpt>'
        "</g:trkseg></g:trk></g:gpx>"
    )
    assert read_fixes(written(tmp_path, prefixed))["time"].notna().all()


@pytest.mark.parametrize(
    ("extension", "depth", "temperature"),
    [
        ("<x:depth>7.5</x:depth>", 7.5, math.nan),
        ("<x:waterDepth> 7.5\n</x:waterDepth><x:SeaTemp>12.5</x:SeaTemp>", 7.5, 12.5),
        ("<x:Ext><x:depth_ft>25</x:depth_ft><x:temp>9</x:temp></x:Ext>", 25 * 0.3048, 9.0),
        ('<x:depth unit="fm">2</x:depth>', 2 * 1.8288, math.nan),
        ('<x:water_temperature units="°F">50</x:water_temperature>', math.nan, 10.0),
        ("<x:atemp>30</x:atemp><x:depthdatum>4</x:depthdatum>", math.nan, math.nan),
        ("<x:depth>--</x:depth>", math.nan, math.nan),
        ("<x:time>1999-01-01T00:00:00Z</x:time>", math.nan, math.nan),
    ],
)
@pytest.mark.parametrize("wrapped", [True, False])  # GPX 1.0 has no <extensions>
def test_depth_and_temperature_of_any_extension(tmp_path, extension, depth, temperature, wrapped):
    if wrapped:
        extension = f"<extensions>{extension}</extensions>"
    elif "x:time" in extension:
        pytest.skip("without a wrapper it can't be told from the point's own time")
    path = written(
        tmp_path,
        '<gpx xmlns:x="urn:x"><trk><trkseg><trkpt lat="1" lon="2">'
        f"<time>2031-06-14T08:00:00Z</time>{extension}</trkpt></trkseg></trk></gpx>",
    )
    fix = read_fixes(path).iloc[0]
    assert fix["time"] == pd.Timestamp("2031-06-14T08:00:00Z")
    np.testing.assert_allclose(
        [fix["depth_m"], fix["temperature_c"]], [depth, temperature], rtol=1e-12
    )


def test_time_after_the_extensions(tmp_path):
    point = POINT.replace("<time>", "<extensions><a/></extensions><time>")
    assert read_fixes(written(tmp_path, track(point)))["time"].notna().all()


@pytest.mark.parametrize(
    ("body", "tracks", "segments"),
    [
        (POINT + POINT, [0, 0], [0, 0]),
        (f"<trk>{POINT}</trk>", [0], [0]),
        (f"<trk>{POINT}<trkseg>{POINT}</trkseg></trk>", [0, 0], [0, 0]),
    ],
)
def test_points_outside_any_segment(tmp_path, body, tracks, segments):
    """Not valid, but not a reason to lose a morning."""
    fixes = read_fixes(written(tmp_path, HEAD_11 + body + "</gpx>"))
    assert fixes["track"].tolist() == tracks
    assert fixes["segment"].tolist() == segments


def test_several_files_keep_their_order(tmp_path):
    one = written(tmp_path, track(POINT), "b.gpx")
    two = written(tmp_path, track(POINT, POINT), "a.gpx")
    fixes = read_fixes([one, two])
    assert fixes["file"].tolist() == [str(one), str(two), str(two)]
    assert fixes.index.tolist() == [0, 1, 2]


def test_text_split_over_reads_is_whole(tmp_path):
    """Times that straddle the chunks the file is read in."""
    times = pd.date_range("2031-06-14T08:00:00Z", periods=9000, freq="s")
    path = written(
        tmp_path,
        track(
            *(f'<trkpt lat="1" lon="2"><time>{t:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>' for t in times)
        ),
    )
    assert path.stat().st_size > 2 << 18
    assert (read_fixes(path)["time"].to_numpy() == times.to_numpy()).all()


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "iso-8859-1", "windows-1252"])
def test_encodings(tmp_path, encoding):
    name = encoding.removesuffix("-sig")
    text = (
        f'<?xml version="1.0" encoding="{name}"?><gpx><wpt lat="1" lon="2"><name>Öre</name></wpt>'
    )
    path = written(tmp_path, (text + f"<trk><trkseg>{POINT}</trkseg></trk></gpx>").encode(encoding))
    assert read_waypoints(path)["name"].tolist() == ["Öre"]
    assert len(read_fixes(path)) == 1


@pytest.mark.parametrize(
    ("unit", "metres"),
    [
        ("fathoms", 1.8288), ("Fathom", 1.8288), ("ftm", 1.8288), ("feet", 0.3048), ("FT", 0.3048),
        ("ft.", 0.3048), ("foot", 0.3048), ("meters", 1.0), ("Metre", 1.0), (" m ", 1.0), ("", 1.0),
        ("cm", 0.01),
    ],
)  # fmt: skip
def test_depths_in_any_unit_that_is_known(tmp_path, unit, metres):
    """Exact by definition: NIST SP 811, appendix B."""
    depth = f'<extensions><depth unit="{unit}">2</depth></extensions>'
    fixes = read_fixes(written(tmp_path, track(POINT.replace("</trkpt>", f"{depth}</trkpt>"))))
    assert fixes["depth_m"].tolist() == [pytest.approx(2 * metres)]
    assert not fixes.attrs["notes"]


def test_depths_in_an_unknown_unit_are_left_out_and_reported(tmp_path):
    def point(unit):
        depth = f'<extensions><depth unit="{unit}">2</depth></extensions>'
        return POINT.replace("</trkpt>", f"{depth}</trkpt>")

    path = written(tmp_path, track(point("cubits"), point("m"), point("cubits"), point("knots")))
    fixes = read_fixes(path)
    assert fixes["depth_m"].isna().tolist() == [True, False, True, True]
    assert fixes.attrs["notes"] == [
        f"{path}: 2 depths in 'cubits', a unit that is not known, were left out",
        f"{path}: 1 depths in 'knots', a unit that is not known, were left out",
    ]


@pytest.mark.parametrize("zone", ["UTC", "Etc/GMT+2", "Europe/Lisbon"])
@pytest.mark.parametrize("year", ["0000", "0031", "1600", "2263", "3031", "9999"])
@pytest.mark.parametrize("with_nanoseconds", [False, True])
def test_years_beyond_nanoseconds_do_not_wrap_into_others(zone, year, with_nanoseconds):
    """A 64-bit count of nanoseconds since 1970 ends in 1677 and 2262 (numpy's documentation)."""
    good = "2031-06-14T08:00:00.123456789Z" if with_nanoseconds else "2031-06-14T08:00:00Z"
    times, unreadable = to_utc([f"{year}-06-14T08:00:00", good], timezone=zone)
    assert times[1].astype("datetime64[s]") == np.datetime64("2031-06-14T08:00:00")
    assert unreadable == (year == "0000") * np.isnat(times[0])
    if not np.isnat(times[0]):
        assert str(times[0])[:10] == ("1678-01-01" if year < "1900" else "2262-01-01")


def test_the_last_local_nanoseconds_do_not_overflow():
    last = "2262-04-11T23:47:16.854775807"
    assert str(to_utc([last], timezone="Etc/GMT+2")[0][0])[:10] == "2262-01-01"


def test_fixes_of_impossible_years_are_counted_and_set_aside(tmp_path):
    moves = [
        f'<trkpt lat="-31.5" lon="-24.{500 + i}"><time>2031-06-14T08:{i:02d}:00Z</time></trkpt>'
        for i in range(10)
    ]
    wrong = [
        move.replace("2031-", year) for move, year in zip(moves, ("0031-", "3031-"), strict=False)
    ]
    fixes, report = clean(read_fixes(written(tmp_path, track(*moves, *wrong))))
    assert (len(fixes), report.bogus_date) == (10, 2)


def test_nan_positions_are_read(tmp_path):
    fixes = read_fixes(written(tmp_path, track('<trkpt lat="NaN" lon="nan"/>', POINT)))
    assert fixes["latitude"].isna().tolist() == [True, False]


def test_times_without_zone_are_utc_and_years_out_of_range_survive(tmp_path):
    fixes = read_fixes(
        written(
            tmp_path,
            track(
                '<trkpt lat="1" lon="2"><time>2031-06-14T08:00:00</time></trkpt>',
                '<trkpt lat="1" lon="2"><time>0001-01-01T00:00:00Z</time></trkpt>',
                '<trkpt lat="1" lon="2"><time> 1901-12-13T20:45:52.2073437Z </time></trkpt>',
            ),
        )
    )
    assert fixes["time"].iloc[0] == pd.Timestamp("2031-06-14T08:00:00Z")
    assert fixes["time"].dt.year.tolist() == [2031, 1678, 1901]


BOMB = (
    '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "ha">'
    + "".join(
        f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True)
    )
    + "]><gpx><trk><name>&i;</name></trk></gpx>"
)


@pytest.mark.parametrize(
    "text",
    [
        BOMB,
        '<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/passwd">]><gpx><name>&a;</name></gpx>',
        '<!DOCTYPE gpx [<!ENTITY % a SYSTEM "http://127.0.0.1:9/x"> %a;]><gpx/>',
        '<!DOCTYPE gpx [<!NOTATION n SYSTEM "n"><!ENTITY a SYSTEM "x" NDATA n>]><gpx/>',
        '<!DOCTYPE gpx [<!ENTITY quiet "once">]><gpx/>',
    ],
)
@pytest.mark.parametrize("read", [read_fixes, read_waypoints])
def test_entities_are_refused_before_they_grow(tmp_path, text, read):
    path = written(tmp_path, text)
    tracemalloc.start()
    with pytest.raises(TrackError, match=r"boat\.gpx, line \d+: it declares entities"):
        read(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 5_000_000


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (track(*[POINT] * 9)[:-150], r"line 11: the file breaks off in the middle"),
        (track(POINT)[:20], r"line 1: this is not GPX"),
        (b"", r"the file is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0", r"this is not GPX \(it is not XML\)"),
        ("time,lat,lon\n", r"this is not GPX"),
        ("<kml><trkpt/></kml>", r"not GPX: its first element is <kml>"),
        (track(POINT).replace("</trkseg>", ""), r"line 5: the XML is damaged \(mismatched tag\)"),
        (HEAD_11 + "</gpx>", r"there are no track points in it\. Export"),
        (HEAD_11 + '<wpt lat="1" lon="2"/></gpx>', r"no track points in it, only 1 waypoint\."),
        (HEAD_11 + '<rte><rtept lat="1" lon="2"/></rte></gpx>', r"only 1 route point\."),
        (track('<trkpt lat="1"/>'), r"line 4: a track point has no lat and lon.*lat=\"1\""),
        (track('<trkpt lat="1,5" lon="2"/>'), r"line 4: a track point has no lat and lon"),
        (
            track(POINT, POINT, POINT.replace("T08:00:00Z", " at noon")),
            r"line 6: can't read the time '2031-06-14 at noon'",
        ),
        ('<?xml version="1.0" encoding="klingon"?><gpx/>', r"boat\.gpx"),
    ],
)
def test_bad_files_each_with_one_clear_error(tmp_path, content, message):
    with pytest.raises(TrackError, match=message) as caught:
        read_fixes(written(tmp_path, content))
    assert "boat.gpx" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_missing_file_and_a_folder(tmp_path):
    with pytest.raises(TrackError, match=r"none\.gpx: can't read it: no such file"):
        read_fixes(tmp_path / "none.gpx")
    with pytest.raises(TrackError, match="can't read it"):
        read_fixes(tmp_path)


def test_salvage_keeps_what_comes_before_the_damage(tmp_path):
    path = written(tmp_path, track(*[POINT] * 9)[:-150])
    fixes = read_fixes(path, salvage=True)
    assert 6 <= len(fixes) < 9
    (note,) = fixes.attrs["notes"]
    assert f"{len(fixes)} points before it were kept" in note
    assert "line 11: the file breaks off in the middle; 7 points" in note


def test_salvage_keeps_points_whose_time_cant_be_read(tmp_path):
    path = written(tmp_path, track(POINT, POINT.replace("T08:00:00Z", " at noon")))
    fixes = read_fixes(path, salvage=True)
    assert fixes["time"].isna().tolist() == [False, True]
    assert fixes.attrs["notes"] == [f"{path}: 1 times that can't be read were left out"]


def test_waypoints(tmp_path):
    path = written(
        tmp_path,
        HEAD_11
        + '<wpt lat="-31.5" lon="-24.5"><ele>1</ele><time>2031-06-14T09:30:00Z</time>'
        + "<name>keeper &amp; short</name><cmt>c</cmt><desc>17 in</desc>"
        + '<link href="x"><text>no</text><type>no</type></link><sym>Fish</sym><type>catch</type>'
        + "<extensions><name>no</name></extensions></wpt>"
        + '<wpt lat="1" lon="2"/></gpx>',
    )
    points = read_waypoints([path])
    assert tuple(points.columns) == WAYPOINTS.names
    first = points.iloc[0]
    assert first["name"] == "keeper & short"
    assert (first["cmt"], first["desc"], first["sym"], first["type"]) == (
        "c", "17 in", "Fish", "catch",
    )  # fmt: skip
    assert first["time"] == pd.Timestamp("2031-06-14T09:30:00Z")
    assert points["name"].iloc[1] == ""
    assert pd.isna(points["time"].iloc[1])
    assert len(read_waypoints(written(tmp_path, track(POINT)))) == 0


@pytest.mark.parametrize(
    ("point", "message"),
    [
        ('<wpt lat="1"/>', r"line 3: a waypoint has no lat and lon"),
        (
            '<wpt lat="1" lon="2"><name>a</name><time>noon</time></wpt>',
            r"the waypoint 'a' has a time that can't be read: 'noon'",
        ),
    ],
)
def test_bad_waypoints(tmp_path, point, message):
    with pytest.raises(TrackError, match=message):
        read_waypoints(written(tmp_path, HEAD_11 + point + "</gpx>"))


@pytest.mark.parametrize("year", ["0031", "1899", "2201", "9999"])
def test_a_waypoint_of_another_age_is_reported(tmp_path, year):
    """Not moved to the nearest year that can be held: it would be a fish of that year."""
    path = tmp_path / "marks.gpx"
    path.write_text(
        '<gpx version="1.1"><wpt lat="46.2" lon="-33.4"><time>2031-06-14T08:00:00Z</time></wpt>'
        f'<wpt lat="46.2" lon="-33.4"><time>{year}-06-14T08:00:00Z</time><name>keeper 21</name>'
        "</wpt></gpx>"
    )
    with pytest.raises(TrackError, match=rf"'keeper 21' has a time that can't be right: '{year}"):
        read_waypoints(path)
