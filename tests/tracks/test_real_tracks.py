"""Real recordings, carried by the source archive of a GPX library (Apache-2.0).

None is of a boat: they show that what devices write goes through, and that nothing is lost.  Truth
for the reader is the standard library's tree parser.
"""

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from layers.tracks import clean, cut, read_fixes
from layers.tracks.reading import read_waypoints
from seabed.errors import TrackError

ARCHIVE = ("gpxpy", "1.6.2")

RECORDINGS = {
    "korita-zbevnica.gpx": (871, 4, 2),
    "cerknicko-jezero.gpx": (296, 8, 7),
    "around-visnjan-with-car.gpx": (104, 1, 0),
}


@pytest.mark.parametrize("name", [*RECORDINGS, "Mojstrovka.gpx", "gpx1.1_with_all_fields.gpx"])
def test_reader_against_a_tree(registry_file, name):
    path = registry_file(*ARCHIVE, f"test_files/{name}")
    root = ET.parse(path).getroot()
    points = list(root.iterfind(".//{*}trkpt"))
    fixes = read_fixes(path)
    assert len(fixes) == len(points)
    assert fixes["latitude"].tolist() == [float(p.get("lat")) for p in points]
    assert fixes["longitude"].tolist() == [float(p.get("lon")) for p in points]
    for said, point in zip(fixes["time"], points, strict=True):
        text = point.findtext("{*}time")
        if text is None:
            assert np.isnat(said.to_datetime64())
        else:
            assert said.isoformat()[:19] == text[:19]
    of_track = [
        i for i, trk in enumerate(root.iterfind("{*}trk")) for _ in trk.iterfind(".//{*}trkpt")
    ]
    assert fixes["track"].tolist() == of_track
    assert len(read_waypoints(path)) == len(list(root.iterfind("{*}wpt")))


@pytest.mark.parametrize("name", RECORDINGS)
def test_recordings_go_all_the_way(registry_file, name):
    path = registry_file(*ARCHIVE, f"test_files/{name}")
    points, tracks, waypoints = RECORDINGS[name]
    fixes = read_fixes(path)
    assert len(fixes) == points
    assert fixes["track"].max() == tracks - 1  # counted with those that have no points
    assert len(read_waypoints(path)) == waypoints
    cleaned, report = clean(fixes)
    assert report.read == points
    assert report.kept == len(cleaned)
    pieces = cut(cleaned)
    for outing, own in pieces.groupby("outing"):
        span = own["end"].iloc[-1] - own["start"].iloc[0]
        assert own["duration_s"].sum() == pytest.approx(span.total_seconds()), outing


def test_a_car_runs(registry_file):
    pieces = cut(
        clean(read_fixes(registry_file(*ARCHIVE, "test_files/around-visnjan-with-car.gpx")))[0]
    )
    fast = pieces[pieces["sog_mps"] > 3]
    assert set(fast["kind"]) == {"run"}


def test_a_recording_dated_1901(registry_file):
    path = registry_file(*ARCHIVE, "test_files/Mojstrovka.gpx")
    with pytest.raises(TrackError, match=r"Mojstrovka\.gpx: no point has both .* plausible date"):
        clean(read_fixes(path))
