"""Corrections by hand, and the picture that shows why one is needed."""

import xml.etree.ElementTree as ET

import numpy as np
import pandas as pd
import pytest
from simulated import Boat, Sea

from layers.present.pictures.speed import speed_picture
from layers.tracks import clean, cut, drifts_of
from layers.tracks.corrections import correct, corrections_beside, read_corrections
from seabed.errors import TrackError


@pytest.fixture(scope="module")
def track():
    boat = Boat(np.random.default_rng(1), Sea(noise_m=2.0))
    boat.run(300, 20, 0)  # 08:00 to 08:05
    boat.drift(1200, 0.8, 180)  # to 08:25
    boat.run(300, 20, 0)  # to 08:30
    fixes = clean(boat.trip().fixes)[0]
    return fixes, cut(fixes)


def corrected(track, folder, text, **options):
    path = folder / "boat.corrections.txt"
    path.write_text(text, encoding="utf-8")
    fixes, pieces = track
    return (*correct(pieces, fixes, read_corrections(path, **options)), fixes)


def told(pieces: pd.DataFrame) -> list[tuple[str, str, str]]:
    return [(p.kind, f"{p.start:%H:%M}", f"{p.end:%H:%M}") for p in pieces.itertuples()]


def test_nothing_to_correct(track, tmp_path):
    pieces, unused, _ = corrected(track, tmp_path, "# nothing\n\n")
    pd.testing.assert_frame_equal(pieces, track[1])
    assert unused == []


def test_what_a_stretch_really_was(track, tmp_path):
    pieces, unused, _ = corrected(track, tmp_path, "2031-06-14 08:10-08:15 Hold # at anchor\n")
    assert told(pieces)[1:4] == [
        ("drift", told(track[1])[1][1], "08:10"),
        ("hold", "08:10", "08:15"),
        ("drift", "08:15", told(track[1])[1][2]),
    ]
    assert pieces["piece_id"].tolist() == list(range(5))
    assert pieces["duration_s"].sum() == track[1]["duration_s"].sum()
    assert unused == []


def test_hours_under_motor_change_no_piece(track, tmp_path):
    pieces, unused, _ = corrected(track, tmp_path, "2031-06-14 08:10-08:15 motor\n")
    pd.testing.assert_frame_equal(pieces, track[1])
    assert unused == []


def test_a_run_between_two_drifts_was_a_drift(track, tmp_path):
    split = "2031-06-14 08:10-08:11 run\n"
    assert len(corrected(track, tmp_path, split)[0]) == 5
    mended = corrected(track, tmp_path, split + "08:10-08:11 drift\n")[0]
    assert told(mended) == told(track[1])


def test_cut_and_lines_up(track, tmp_path):
    pieces, unused, fixes = corrected(
        track, tmp_path, "2031-06-14 08:15 cut\n08:16:30 to 08:19 lines up\n08:18-08:20 lines  up"
    )
    assert unused == []
    assert pieces["kind"].tolist() == ["run", "drift", "drift", "run"]
    assert pieces["lines_up_s"].tolist() == [0, 0, 210, 0]
    drifts = drifts_of(pieces, fixes, rods=2)
    np.testing.assert_allclose(
        drifts["rod_hours"], 2 * (drifts["duration_s"] - [0, 210]) / 3600, rtol=1e-12
    )
    assert drifts["drift_id"].tolist() == ["2031-06-14 #1", "2031-06-14 #2"]


def test_a_span_is_one_drift_whatever_was_cut_in_it_before(track, tmp_path):
    cuts = "2031-06-14 08:10 cut\n08:15 cut\n"
    joined = corrected(track, tmp_path, cuts + "08:08-08:12 drift\n")[0]
    assert [one[1] for one in told(joined)[1:]] == [
        told(track[1])[1][1],
        "08:15",
        told(joined)[2][2],
    ]
    again = corrected(track, tmp_path, cuts + "08:08-08:20 drift\n08:11 cut")[0]
    assert told(again)[2][1:] == ("08:11", told(track[1])[1][2])


def test_nights_with_two_dates_and_parts_of_seconds(tmp_path):
    path = tmp_path / "a.corrections.txt"
    path.write_text("2031-06-14 17:00:00.5Z-2031-06-15 08:00Z hold\n", encoding="utf-8")
    (night,) = read_corrections(path, timezone="Europe/Lisbon")
    assert night.end - night.start == pd.Timedelta("14:59:59.5")


def test_local_times_and_zulu(track, tmp_path):
    for text in ("2031-06-14 06:10-06:15 hold", "2031-06-14 08:10Z-08:15Z hold"):
        pieces, _, _ = corrected(track, tmp_path, text, timezone="Etc/GMT+2")
        assert ("hold", "08:10", "08:15") in told(pieces)


def test_spans_over_midnight(tmp_path):
    path = tmp_path / "a.corrections.txt"
    path.write_text("2031-06-14 23:50 – 0:10 hold\n2031-06-15 00:05 cut\n", encoding="utf-8")
    hold, cut_ = read_corrections(path)
    assert (hold.start, hold.end) == (
        pd.Timestamp("2031-06-14T23:50Z"), pd.Timestamp("2031-06-15T00:10Z"),
    )  # fmt: skip
    assert cut_.start == cut_.end == pd.Timestamp("2031-06-15T00:05Z")


def test_a_span_that_ends_before_it_begins_is_no_night(tmp_path):
    path = tmp_path / "a.corrections.txt"
    path.write_text("2031-06-14 8:10-8:05 lines up\n", encoding="utf-8")
    with pytest.raises(TrackError, match=r"line 1: it ends before it begins: .*8:10-8:05"):
        read_corrections(path)


def test_corrections_that_touch_nothing_are_reported(track, tmp_path):
    _, unused, _ = corrected(
        track, tmp_path, "2031-06-14 11:00 cut\n\n2031-06-15 08:10-08:15 hold\n"
    )
    assert [line.split(": ")[0].rsplit(", ")[-1] for line in unused] == ["line 1", "line 3"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "2031-06-14 08:10-08:15 anchor",
            "'anchor' is not one of: run, drift, hold, gap, lines up, motor, fish, no fish, cut",
        ),
        ("08:10-08:15 drift", "the first line needs a date"),
        ("2031-06-14 08:10 drift", "'drift' needs two times"),
        ("2031-06-14 08:10-08:15 cut", "a cut has one time"),
        ("2031-06-14 08:10-08:15 fish: ling", "a fish has one time"),
        ("2031-06-14 08:10 fish", "only a fish takes words, its species first"),
        ("2031-06-14 08:10-08:15 drift: slow", "only a fish takes words"),
        ("2031-06-14 08:10-2031-06-13 08:15 drift", "it ends before it begins"),
        ("2031-06-14 25:10-08:15 drift", "there is no such time"),
        ("2031-13-14 08:10-08:15 drift", "there is no such time"),
        ("yesterday it was a drift", "can't read 'yesterday it was a drift'"),
    ],
)
def test_lines_that_cant_be_read(tmp_path, text, message):
    path = tmp_path / "boat.corrections.txt"
    path.write_text("# first\n" + text, encoding="utf-8")
    with pytest.raises(TrackError, match=r"boat\.corrections\.txt, line 2: " + message):
        read_corrections(path)


@pytest.mark.parametrize("clock", ["2031-03-30 01:30", "2031-10-26 01:30"])
def test_times_that_the_zones_clocks_skip_or_show_twice(tmp_path, clock):
    """Lisbon puts its clocks on at 01:00 on 30 March 2031 and back at 02:00 on 26 October."""
    path = tmp_path / "boat.corrections.txt"
    path.write_text(f"{clock} cut", encoding="utf-8")
    with pytest.raises(TrackError, match="line 1: there is no such time"):
        read_corrections(path, timezone="Europe/Lisbon")


def test_they_are_found_beside_the_track(tmp_path):
    beside = tmp_path / "boat.corrections.txt"
    beside.write_text("", encoding="utf-8")
    tracks = [tmp_path / "boat.gpx", tmp_path / "boat.log", tmp_path / "other.gpx"]
    assert corrections_beside(tracks) == [beside]
    with pytest.raises(TrackError, match="can't read the corrections"):
        read_corrections(tmp_path / "none.txt")


def test_the_picture_shows_every_piece_at_its_time(track):
    fixes, pieces = track
    svg = speed_picture(pieces, fixes.assign(file="<&>.gpx"), timezone="Etc/GMT+2")
    root = ET.fromstring(svg)
    name = "{http://www.w3.org/2000/svg}"
    boxes = [box for box in root.iter(f"{name}rect") if box.find(f"{name}title") is not None]
    assert [box.find(f"{name}title").text.split(",")[0] for box in boxes] == pieces["kind"].tolist()
    widths = np.array([float(box.get("width")) for box in boxes])
    np.testing.assert_allclose(
        widths / widths.sum(), pieces["duration_s"] / pieces["duration_s"].sum(), atol=1e-3
    )
    texts = [text.text for text in root.iter(f"{name}text")]
    assert "2031-06-14  <&>.gpx" in texts
    assert "06:10" in texts
    assert "#1" in texts
    assert "http" not in svg.replace("http://www.w3.org/2000/svg", "")


def test_the_pictures_line_stops_at_gaps():
    boat = Boat(np.random.default_rng(1), Sea(noise_m=2.0))
    boat.drift(600, 0.8, 180)
    boat.lose(600, 0.8, 180)
    boat.drift(600, 0.8, 180)
    fixes = clean(boat.trip().fixes)[0]
    pieces = cut(fixes)
    root = ET.fromstring(speed_picture(pieces, fixes))
    assert len(list(root.iter("{http://www.w3.org/2000/svg}polyline"))) == 2
