"""Photos: EXIF against what Pillow wrote, another reader on real photos, and the standard's words.

Fuzzed as every reader is.
"""

from __future__ import annotations

import struct
from datetime import UTC, datetime, timedelta
from fractions import Fraction

import exifread
import numpy as np
import pandas as pd
import pytest
from byte_damage import damaged
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from photo_files import write_photo
from PIL import Image
from thoroughness import examples

from layers.catches.clocks import clock_offsets
from layers.catches.exif import read_exif
from layers.catches.photos import fish_of_photos, photo_files, read_photos, set_clocks
from seabed.errors import CatchError

PHOTOS = "piexif", "1.1.3"
HEIFS = "pi_heif", "1.4.0"


def test_time_place_and_words_are_what_was_written(tmp_path):
    found = read_exif(
        write_photo(
            tmp_path / "a.jpg", offset="-02:00", place=(-33.4309, 46.1981),
            gps_time=("2031:06:14", (12, 5, 28)), description="keeper 21",
            comment=b"UNICODE\0" + "ålbrød".encode("utf-16-le"),
        )
    )  # fmt: skip
    assert found.clock == datetime(2031, 6, 14, 10, 5, 30)
    assert found.offset == timedelta(hours=-2)
    assert found.gps_time == datetime(2031, 6, 14, 12, 5, 28, tzinfo=UTC)
    assert (found.longitude, found.latitude) == pytest.approx((-33.4309, 46.1981), abs=1e-8)
    assert found.camera == "Maker One"
    assert found.words == ("keeper 21", "ålbrød")


@pytest.mark.parametrize(
    ("parts", "degrees"),
    [
        ((Fraction(35), Fraction(40), Fraction(30)), 35.675),  # dd/1, mm/1, ss/1
        ((Fraction(35), Fraction(4050, 100), Fraction(0)), 35.675),  # dd/1, mmmm/100, 0/1
        ((Fraction(357, 10), Fraction(0), Fraction(0)), 35.7),  # not in the standard; seen
    ],
)
def test_both_layouts_of_the_standard(tmp_path, parts, degrees):
    """Exif 2.32 (CIPA DC-008-2019), 4.6.6, GPSLatitude: the two layouts that it gives."""
    tags = Image.Exif()
    gps = tags.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "S", parts, "E", (Fraction(1), Fraction(0), Fraction(0))
    Image.new("L", (8, 8)).save(tmp_path / "a.jpg", exif=tags)
    assert read_exif(tmp_path / "a.jpg").latitude == pytest.approx(-degrees, abs=1e-9)


@pytest.mark.parametrize(
    "clock", ["    :  :     :  :  ", "0000:00:00 00:00:00", "2031:13:40 10:00:00", "today", None]
)
def test_a_clock_that_is_not_set_is_unknown(tmp_path, clock):
    """Blanks where it is not known, as Exif 2.32, 4.6.5 says; zeros are common practice."""
    assert read_exif(write_photo(tmp_path / "a.jpg", clock)).clock is None


def test_a_year_that_no_table_holds_is_unknown(tmp_path):
    day = ("6031:06:14", (12, 5, 28))
    photo = write_photo(tmp_path / "a.jpg", "6031:06:14 12:05:30", gps_time=day)
    assert read_exif(photo).clock is None
    assert read_exif(photo).gps_time is None
    assert len(read_photos([photo])) == 1


def ratio(value) -> float:
    return float(value.num) / float(value.den)


@pytest.mark.parametrize(
    ("package", "member"),
    [
        *((PHOTOS, f"tests/images/{name}.jpg") for name in (
            "02", "L01", "r_canon", "r_casio", "r_olympus", "r_pana", "r_ricoh", "r_sigma", "r_sony"
        )),
        *((HEIFS, f"tests/images/{name}.heic") for name in (
            "heif_other/arrow", "heif_other/pug", "heif_special/aux_YCbCr", "heif_special/xiaomi"
        )),
    ],
)  # fmt: skip
def test_real_photos_read_as_another_reader_does(registry_file, package, member):
    """Cameras and telephones of several makers, against the exifread library."""
    path = registry_file(*package, member)
    with path.open("rb") as file:
        theirs = exifread.process_file(file, details=False)
    ours = read_exif(path)
    assert ours.clock is not None
    assert f"{ours.clock:%Y:%m:%d %H:%M:%S}" == str(theirs["EXIF DateTimeOriginal"])
    assert ours.camera.endswith(" ".join(str(theirs["Image Model"]).split()))
    if "GPS GPSLatitude" in theirs:
        for name, value in (("Latitude", ours.latitude), ("Longitude", ours.longitude)):
            parts = [ratio(part) for part in theirs[f"GPS GPS{name}"].values]
            sign = -1 if str(theirs[f"GPS GPS{name}Ref"]) in "SW" else 1
            degrees = sign * (parts[0] + parts[1] / 60 + parts[2] / 3600)
            assert value == pytest.approx(degrees, abs=1e-9)
    if "GPS GPSTimeStamp" in theirs:
        hour, minute, second = (ratio(part) for part in theirs["GPS GPSTimeStamp"].values)
        assert ours.gps_time is not None
        assert ours.gps_time.timetuple()[3:6] == (hour, minute, second)


@pytest.mark.parametrize("member", ["heif_corrupted/corrupted.heic"])
def test_a_real_damaged_photo_is_reported(registry_file, member):
    with pytest.raises(CatchError, match=r"corrupted.heic: its EXIF is damaged"):
        read_exif(registry_file(*HEIFS, f"tests/images/{member}"))


def test_a_file_that_is_no_photo_is_reported(tmp_path):
    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(30))
    (tmp_path / "empty.jpg").write_bytes(b"")
    Image.new("L", (8, 8)).save(tmp_path / "plain.jpg")
    with pytest.raises(CatchError, match=r"a.png: no photo \(JPEG or HEIC\)"):
        read_exif(tmp_path / "a.png")
    with pytest.raises(CatchError, match=r"empty.jpg: no photo"):
        read_exif(tmp_path / "empty.jpg")
    with pytest.raises(CatchError, match=r"plain.jpg: has no EXIF"):
        read_exif(tmp_path / "plain.jpg")
    with pytest.raises(CatchError, match=r"none.jpg: there is no such photo"):
        read_exif(tmp_path / "none.jpg")


def test_a_picture_that_says_it_is_huge_is_not_decoded(tmp_path):
    """The header of a JPEG may claim 65,535 by 65,535 points in a few hundred bytes."""
    content = bytearray(write_photo(tmp_path / "a.jpg").read_bytes())
    at = content.index(b"\xff\xc0")
    content[at + 5 : at + 9] = struct.pack(">HH", 65_535, 65_535)
    (tmp_path / "bomb.jpg").write_bytes(content)
    with pytest.raises(CatchError, match=r"bomb.jpg: .*too large for a photo"):
        read_exif(tmp_path / "bomb.jpg")
    # what only is large reads as any other
    content[at + 5 : at + 9] = struct.pack(">HH", 10_000, 12_000)
    (tmp_path / "large.jpg").write_bytes(content)
    assert read_exif(tmp_path / "large.jpg").clock == datetime(2031, 6, 14, 10, 5, 30)


@pytest.mark.parametrize("kind", ["jpg", "heic"])
@settings(
    max_examples=examples(150),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_damaged_photos_are_reported_or_read(tmp_path, registry_file, kind, data):
    if kind == "heic":
        whole = registry_file(*HEIFS, "tests/images/heif_special/xiaomi.heic").read_bytes()[:20_000]
    else:
        place = {"place": (-33.43, 46.2), "gps_time": ("2031:06:14", (12, 5, 28))}
        whole = write_photo(tmp_path / "whole.jpg", offset="-02:00", **place).read_bytes()
    path = tmp_path / f"keeper.{kind}"
    path.write_bytes(data.draw(damaged(whole, words=(b"\xff" * 4, bytes(4), b"\0\0\0\1"), over=4)))
    try:
        found = read_exif(path)
    except CatchError as error:
        assert f"keeper.{kind}" in str(error) and "\n" not in str(error)
    else:
        assert np.isnan(found.latitude) or abs(found.latitude) <= 90
        assert np.isnan(found.longitude) == np.isnan(found.latitude)
    table = read_photos([path])  # which says so in a row, and stops at nothing
    assert len(table) == 1


@settings(max_examples=examples(80), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip  # noqa: E501
@given(block=st.binary(max_size=300))
def test_any_block_of_exif(tmp_path, block):
    path = tmp_path / "a.jpg"
    Image.new("L", (8, 8)).save(path, exif=b"Exif\0\0" + block)
    try:
        read_exif(path)
    except CatchError as error:
        assert "a.jpg" in str(error)


@pytest.mark.parametrize(
    ("name", "description", "fish"),
    [
        ("IMG_2031.jpg", None, None),
        ("IMG-20310614-WA0003.jpg", None, None),
        ("keeper 21.jpg", None, ("", 0.5334, True)),
        ("20310614_100530_short_12in flounder (2).jpg", None, ("flounder", 0.3048, False)),
        ("DSC00021.jpg", "caught dab", ("dab", None, None)),
        ("keepers/IMG_0021.jpg", None, ("", None, True)),
        ("shorts/dab 9 in.jpg", None, ("dab", 0.2286, False)),
        ("keepers/short 11 in.jpg", None, ("", 0.2794, False)),
        ("fish market/IMG_0021.jpg", None, None),
        ("boat 21.jpg", "at the ramp", None),
    ],
)
def test_words_say_which_photo_is_a_fish(tmp_path, name, description, fish):
    (row,) = read_photos(
        [write_photo(tmp_path / name, description=description)], default_unit="in"
    ).to_dict("records")
    assert row["fish"] is (fish is not None)
    if fish is not None:
        species, length, kept = fish
        assert row["species"] == species
        assert row["length_m"] == pytest.approx(np.nan if length is None else length, nan_ok=True)
        assert pd.isna(row["kept"]) if kept is None else (row["kept"] is kept)


def test_folders_give_their_photos_and_say_what_else_is_there(tmp_path):
    write_photo(tmp_path / "fish" / "b.JPG")
    write_photo(tmp_path / "fish" / "a.jpeg")
    write_photo(tmp_path / "fish" / "below" / "c.jpg")
    (tmp_path / "fish" / "film.mp4").write_bytes(b"x")
    photos, others = photo_files([tmp_path / "fish", tmp_path / "fish" / "b.JPG"])
    assert [path.name for path in photos] == ["a.jpeg", "b.JPG"]
    assert [path.name for path in others] == ["film.mp4"]
    (tmp_path / "none").mkdir()
    with pytest.raises(CatchError, match=r"none: no photo \(JPEG or HEIC\) is in this folder"):
        photo_files([tmp_path / "none"])


def test_several_photos_of_one_fish_are_one_fish(tmp_path):
    times = ("10:05:00", "10:05:40", "10:06:30", "10:09:00")  # a chain, then another fish
    files = [
        write_photo(tmp_path / f"fish {i}.jpg", f"2031:06:14 {t}") for i, t in enumerate(times)
    ]
    files.append(write_photo(tmp_path / "keeper 15 in.jpg", "2031:06:14 10:09:30"))
    files.append(write_photo(tmp_path / "keeper 16 in.jpg", "2031:06:14 10:09:50"))
    files.append(write_photo(tmp_path / "fish.jpg", "2031:06:14 10:09:55", camera=("Other", "")))
    photos, _ = set_clocks(read_photos(files), fixes_of(), clock_offset_s=0)
    rows, again = fish_of_photos(photos)
    assert again == 3
    assert [row["time"].strftime("%H:%M:%S") for row in rows] == [
        "10:05:00", "10:09:00", "10:09:50", "10:09:55",
    ]  # fmt: skip


BEGIN = pd.Timestamp("2031-06-14T10:00:00Z")


def fixes_of() -> pd.DataFrame:
    """Three hours at a fix a second, up and down two lines and out again, never the same place."""
    seconds = np.arange(3 * 3600)
    east = seconds * 0.1 + 300 * np.sin(seconds / 900)
    north = 800 * np.sin(seconds / 1300) + seconds * 0.05
    return pd.DataFrame(
        {
            "time": BEGIN + pd.to_timedelta(seconds, unit="s"),
            "longitude": -33.4 + east / 111_195 / np.cos(np.radians(46.2)),
            "latitude": 46.2 + north / 111_195,
        }
    )


def camera_photos(offset_s: float, at_s: list[float], *, by: str, error=0.0) -> pd.DataFrame:
    """Photos taken at seconds of the track by a camera whose clock is ahead."""
    fixes = fixes_of()
    rows = fixes.iloc[np.array(at_s, int)]
    moved = np.broadcast_to(error, (len(rows),))
    return pd.DataFrame(
        {
            "camera": "Maker One",
            "clock_utc": rows["time"].to_numpy() + pd.to_timedelta(offset_s, unit="s"),
            "gps_time": rows["time"].to_numpy() if by == "time" else pd.NaT,
            "longitude": rows["longitude"].to_numpy() + moved / 77_000 if by == "place" else np.nan,
            "latitude": rows["latitude"].to_numpy() if by == "place" else np.nan,
        }
    ).assign(
        clock_utc=lambda t: pd.to_datetime(t["clock_utc"], utc=True),
        gps_time=lambda t: pd.to_datetime(t["gps_time"], utc=True),
    )


AT_S = [400.0, 1500.0, 3100.0, 5200.0, 8000.0, 9900.0]


@pytest.mark.parametrize("offset_s", [0.0, 97.0, -3600.0, 7200.0 - 35.0, -12 * 3600.0])
@pytest.mark.parametrize("by", ["time", "place"])
def test_the_clocks_offset_is_found(offset_s, by):
    """Photos taken aboard at known moments; by place to the step and the boat's way."""
    found = clock_offsets(camera_photos(offset_s, AT_S, by=by, error=8.0), fixes_of())["Maker One"]
    assert found.offset_s == pytest.approx(offset_s, abs=0.01 if by == "time" else 15.0)
    assert found.photos == len(AT_S)


def test_some_photos_may_be_wrong_or_taken_ashore():
    photos = camera_photos(600.0, AT_S, by="place")
    photos.loc[0, ["longitude", "latitude"]] = [-33.0, 46.5]  # at home
    late = photos["clock_utc"].iloc[1] + pd.Timedelta(minutes=50)  # edited, and saved anew
    photos.loc[1, "clock_utc"] = late
    found = clock_offsets(photos, fixes_of())["Maker One"]
    assert found.offset_s == pytest.approx(600.0, abs=15.0)
    timed = camera_photos(600.0, AT_S, by="time")
    timed.loc[:1, "gps_time"] -= pd.Timedelta(minutes=20)  # satellites seen last before that
    assert clock_offsets(timed, fixes_of())["Maker One"].offset_s == 600.0


def test_what_does_not_agree_tells_no_offset():
    scattered = camera_photos(0.0, AT_S, by="time")
    scattered["clock_utc"] += pd.to_timedelta(np.arange(6) * 300.0, unit="s")
    found = clock_offsets(scattered, fixes_of())["Maker One"]
    assert np.isnan(found.offset_s) and "disagree" in found.why
    lone = clock_offsets(camera_photos(0.0, [400.0], by="place"), fixes_of())["Maker One"]
    assert np.isnan(lone.offset_s) and "too few" in lone.why
    nothing = clock_offsets(camera_photos(0.0, AT_S, by="none"), fixes_of())["Maker One"]
    assert np.isnan(nothing.offset_s) and "satellites" in nothing.why
    random = np.random.default_rng(4)
    strewn = camera_photos(0.0, AT_S, by="place")
    strewn["clock_utc"] = BEGIN + pd.to_timedelta(random.uniform(0, 10_000, 6), unit="s")
    assert np.isnan(clock_offsets(strewn, fixes_of())["Maker One"].offset_s)


def test_a_boat_that_lay_still_tells_no_offset():
    still = fixes_of().assign(longitude=-33.4, latitude=46.2)
    photos = camera_photos(7200.0, AT_S, by="place").assign(longitude=-33.4, latitude=46.2)
    found = clock_offsets(photos, still)["Maker One"]
    assert np.isnan(found.offset_s) or found.offset_s == pytest.approx(0.0, abs=60.0)


def test_the_offset_is_that_of_photos_of_the_same_camera(tmp_path):
    """One knows the satellites' time; another of that camera does not; a third is another's."""
    files = [
        write_photo(tmp_path / "boat.jpg", "2031:06:14 10:11:30", offset="+00:00",
                    gps_time=("2031:06:14", (10, 10, 0))),
        write_photo(tmp_path / "fish.jpg", "2031:06:14 10:20:00", offset="+00:00"),
        write_photo(tmp_path / "keeper.jpg", "2031:06:14 08:20:00", camera=("Other", "Two")),
    ]  # fmt: skip
    read = read_photos(files, timezone="Etc/GMT+2")
    assert read["zoned"].tolist() == [True, True, False]
    photos, offsets = set_clocks(read, fixes_of())
    assert photos["time"].dt.strftime("%H:%M:%S").tolist() == ["10:10:00", "10:18:30", "10:20:00"]
    assert offsets["Maker One"].offset_s == 90.0 and np.isnan(offsets["Other Two"].offset_s)
    given, none = set_clocks(read, fixes_of(), clock_offset_s=60.0)
    assert given["time"].dt.strftime("%H:%M:%S").tolist() == ["10:10:30", "10:19:00", "10:19:00"]
    assert none == {}
