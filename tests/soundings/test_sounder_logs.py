"""Sounders' logs, against pynmea2, published sentences and a real log of another program."""

import numpy as np
import pandas as pd
import pynmea2
import pytest
from nmea_sentences import sentence
from simulated_survey import survey, write_nmea

from seabed.errors import TrackError
from seabed.soundings import SOUNDINGS, Mounting, read_soundings


def rmc(clock, date="140631", lat="3130.0000,S", lon="02430.0000,W", talker="GP", knots="5.0"):
    return sentence(f"{talker}RMC,{clock},A,{lat},{lon},{knots},090.0,{date},,,A")


def read(folder, *lines, name="boat.log", **options):
    path = folder / name
    path.write_bytes("".join(lines).encode())
    return read_soundings(path, **options)


def test_the_published_example_of_a_depth(tmp_path):
    """`$IIDBT,036.41,f,011.10,M,005.99,F*25`: an example printed with the sentence's definition."""
    log = read(
        tmp_path, rmc("093012"), "$IIDBT,036.41,f,011.10,M,005.99,F*25\r\n", rmc("093013"),
        sentence("IIMTW,12.5,C"), "$IIDBT,036.41,f,011.10,M,005.99,F*25\r\n", rmc("093014"),
    )  # fmt: skip
    table = log.soundings
    assert list(table.columns) == list(SOUNDINGS.names)
    assert table["measured_m"].tolist() == pytest.approx([11.10, 11.10], abs=1e-6)
    assert table["time"].tolist() == [
        pd.Timestamp("2031-06-14T09:30:12.5Z"), pd.Timestamp("2031-06-14T09:30:13.5Z"),
    ]  # fmt: skip
    assert np.isnan(table["temperature_c"].iloc[0])
    assert table["temperature_c"].iloc[1] == 12.5
    assert table["row"].tolist() == [2, 5]
    assert table["sog_mps"].iloc[0] == pytest.approx(5 * 1852 / 3600, rel=1e-6)


def test_feet_and_fathoms_where_metres_are_blank(tmp_path):
    lines = [rmc("093012"), sentence("SDDBT,10.0,f,,M,,F"), sentence("SDDBT,,f,,M,10.0,F")]
    table = read(tmp_path, *lines, rmc("093013")).soundings
    assert table["measured_m"].tolist() == pytest.approx([3.048, 18.288])  # exact by definition


def test_against_pynmea2(tmp_path):
    """Positions half way between those that pynmea2 reads, depths and offsets as it reads them."""
    rng = np.random.default_rng(3)
    fixes, depths = [], []
    for i in range(60):
        minute = rng.uniform(0, 59.99)
        fixes.append(rmc(f"1200{i:02d}", lat=f"31{minute:08.5f},S", lon=f"024{minute:08.5f},W"))
        depths.append(sentence(f"SDDPT,{rng.uniform(2, 30):.1f},{rng.choice(['0.4', '0.7'])}"))
    # steps of up to a degree in a second are no sailing: only what is read is tested here
    text = [line for pair in zip(fixes, depths, strict=True) for line in pair]
    table = read(tmp_path, *text).soundings
    for i in range(59):
        before, after = (pynmea2.parse(fixes[k].strip(), check=True) for k in (i, i + 1))
        depth = pynmea2.parse(depths[i].strip(), check=True)
        row = table.iloc[i]
        assert row["latitude"] == pytest.approx((before.latitude + after.latitude) / 2, abs=1e-9)
        assert row["longitude"] == pytest.approx((before.longitude + after.longitude) / 2, abs=1e-9)
        assert row["measured_m"] == pytest.approx(float(depth.depth), rel=1e-6)
        assert row["to_surface_m"] == pytest.approx(float(depth.offset), rel=1e-6)


def test_midnight(tmp_path):
    table = read(
        tmp_path, rmc("235959"), sentence("SDDPT,5.0,0.3"), rmc("000000", "150631"),
        sentence("SDDPT,5.1,0.3"), rmc("000001", "150631"),
    ).soundings  # fmt: skip
    assert table["time"].dt.strftime("%d %H:%M:%S.%f").str[:-5].tolist() == [
        "14 23:59:59.5", "15 00:00:00.5",
    ]  # fmt: skip
    assert table["line"].nunique() == 1


def test_several_depths_between_two_positions_share_the_time(tmp_path):
    depths = [sentence(f"SDDPT,{m}.0,0.3") for m in (3, 4, 5, 6)]
    table = read(
        tmp_path, rmc("093012", lon="02430.0000,W"), *depths, rmc("093013", lon="02430.0080,W")
    ).soundings
    seconds = (table["time"] - pd.Timestamp("2031-06-14T09:30:12Z")).dt.total_seconds()
    assert seconds.tolist() == pytest.approx([0.125, 0.375, 0.625, 0.875])
    assert table["measured_m"].tolist() == [3, 4, 5, 6]
    share = (table["longitude"] + 24.5) * -60 / 0.008
    assert share.tolist() == pytest.approx([0.125, 0.375, 0.625, 0.875], abs=1e-6)


def test_mixed_talkers_and_kinds_are_used_once_and_counted(tmp_path):
    lines = []
    for i in range(5):
        lines += [
            rmc(f"0930{i:02d}"), rmc(f"0930{i:02d}", talker="GN", lat="3131.0000,S"),
            sentence(f"SDDPT,{5 + i}.0,0.3"), sentence(f"IIDBT,,f,{9 + i}.0,M,,F"),
        ]  # fmt: skip
    log = read(tmp_path, *lines, rmc("093005"), sentence("IIDPT,7.0,0.3"), rmc("093006"))
    assert log.soundings["measured_m"].tolist() == [5, 6, 7, 8, 9]
    assert (log.soundings["latitude"] == -31.5).all()
    told = " ".join(log.notes)
    assert "5 depths of DBT sentences were not used" in told
    assert "1 depths of other talkers were not used" in told
    assert "5 positions of other talkers were not used" in told


def test_of_talkers_with_as_many_depths_the_first_heard_is_used(tmp_path):
    """An instrument that repeats the sounder says as much as it, a moment later."""
    lines = [
        rmc(f"0930{i:02d}") + sentence(f"SDDPT,{5 + i}.0,0.3") + sentence(f"IIDPT,{9 + i}.0,0.3")
        for i in range(5)
    ]
    log = read(tmp_path, *lines, rmc("093005"))
    assert log.soundings["measured_m"].tolist() == [5, 6, 7, 8, 9]
    assert any("5 depths of other talkers" in n and "SDDPT was heard first" in n for n in log.notes)


def test_wrong_sums_cut_lines_and_blanks(tmp_path):
    wrong = sentence("SDDPT,7.0,0.3").replace("7.0", "7.1")
    log = read(
        tmp_path, rmc("093012"), sentence("SDDPT,5.0,0.3"), wrong, rmc("093013"),
        sentence("SDDPT,,0.3"), sentence("SDDPT,6.0,0.3")[:9] + "\r\n", rmc("093014"),
    )  # fmt: skip
    assert log.soundings["measured_m"].fillna(-1).tolist() == [5, -1]
    assert any("2 of 7 sentences were damaged or cut off" in note for note in log.notes)


def test_a_gap_in_the_positions_leaves_depths_without_one(tmp_path):
    depth = sentence("SDDPT,5.0,0.3")
    log = read(tmp_path, rmc("093000"), depth, rmc("093001"), *[depth] * 30, rmc("093101"), depth)
    known = log.soundings["longitude"].notna()
    assert len(known) == 32
    assert known.sum() == 2  # the first, and one as soon after the last position
    assert any("30 depths have no position within 10 s" in note for note in log.notes)


@pytest.mark.parametrize(
    ("body", "mounting", "expected"),
    [
        ("SDDPT,5.0,0.4", Mounting(), 0.4),
        ("SDDPT,5.0,0.4", Mounting(transducer_m=0.6), 0.6),
        ("SDDPT,5.0,-0.3", Mounting(draft_m=0.8), 0.5),
        ("SDDPT,5.0,0.0", Mounting(), 0.0),
        ("SDDBT,,f,5.0,M,,F", Mounting(transducer_m=0.6), 0.6),
        ("SDDBS,,f,5.0,M,,F", Mounting(transducer_m=0.6), 0.0),
        ("SDDBK,,f,5.0,M,,F", Mounting(draft_m=0.8, transducer_m=0.6), 0.8),
        ("SDDBT,,f,5.0,M,,F", Mounting(transducer_m=0.6, measured_from="surface"), 0.0),
    ],
)
def test_what_is_added_to_reach_the_surface(tmp_path, body, mounting, expected):
    """As the definitions of the sentences say: from the transducer, the surface, the keel."""
    log = read(tmp_path, rmc("093012"), sentence(body), rmc("093013"), mounting=mounting)
    assert log.soundings["to_surface_m"].iloc[0] == pytest.approx(expected)


def test_guesses_and_contradictions_are_reported(tmp_path):
    lines = [rmc("093012"), sentence("SDDPT,5.0,0.4"), rmc("093013")]
    assert any("0.40 m" in n for n in read(tmp_path, *lines, mounting=Mounting(0.6)).notes)
    lines[1] = sentence("SDDPT,5.0,")
    assert any("neither given nor logged" in note for note in read(tmp_path, *lines).notes)


def test_gpx_and_csv(tmp_path):
    points = "".join(
        f'<trkpt lat="-31.5" lon="{-24.5 + i * 1e-5}"><time>2031-06-14T09:00:{i:02d}Z</time>'
        + (f"<extensions><x:depth>{i}.5</x:depth></extensions>" if i != 2 else "")
        + "</trkpt>"
        for i in range(4)
    )
    gpx = f'<gpx xmlns:x="urn:x"><trk><trkseg>{points}</trkseg></trk></gpx>'
    log = read(tmp_path, gpx, name="a.gpx")
    assert log.soundings["measured_m"].tolist() == [0.5, 1.5, 3.5]
    assert log.soundings["row"].tolist() == [1, 2, 4]
    assert any("1 positions have no depth" in note for note in log.notes)
    row = "2031-06-14T09:00:00Z,-31.5,-24.5,10\n"
    for head, metres in (
        ("time,lat,lon,depth_ft", 3.048),
        ("Time (UTC),Latitude [deg],Longitude [deg],Depth (m)", 10.0),
        ("Time,Lat (°),Lon (°),Water depth [feet]", 3.048),
        ("Time,Lat,Lon,Depth (fathoms)", 18.288),
        ("Time,Lat,Lon,Depth [metres]", 10.0),
    ):
        found = read(tmp_path, f"{head}\n{row}", name="a.csv").soundings["measured_m"]
        assert found.tolist() == [np.float32(metres)], head


def test_several_logs_keep_their_order_and_names(tmp_path):
    for name, depth in (("b.log", 5), ("a.log", 6)):
        read(tmp_path, rmc("093012"), sentence(f"SDDPT,{depth}.0,0.3"), rmc("093013"), name=name)
    table = read_soundings([tmp_path / "b.log", tmp_path / "a.log"]).soundings
    assert table["measured_m"].tolist() == [5, 6]
    assert table["line"].tolist() == [0, 1]
    assert [str(f).endswith(n) for f, n in zip(table["file"], ("b.log", "a.log"), strict=True)] == [
        True, True,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ([rmc("093012")], r"boat\.log: no depths in it"),
        ([sentence("SDDPT,5.0,0.3")], r"boat\.log: no position in it"),
        ([rmc("093012").replace(",A,", ",V,", 1)], "no depths|no position"),
        (
            [rmc("093012").replace("3130", "3131"), sentence("SDDPT,5.0,0.3").replace("5", "6")],
            r"2 of its 2 sentences are damaged.*Copy the log again",
        ),
    ],
)
def test_bad_logs(tmp_path, lines, message):
    with pytest.raises(TrackError, match=message):
        read(tmp_path, *lines)


def test_a_survey_is_read_as_it_was_sailed(tmp_path):
    sailed = survey(box=(2800.0, 2400.0, 3300.0, 2600.0), visits=1)
    table = read_soundings(write_nmea(sailed, tmp_path / "a.nmea")).soundings
    assert len(table) == len(sailed.hours)
    np.testing.assert_allclose(
        table["measured_m"], sailed.measured_m.astype(np.float32), equal_nan=True
    )
    lon, lat = sailed.degrees
    # midway between two positions that wander by 0.2 m a second; corners are cut by half a second
    assert np.median(np.abs(table["latitude"] - lat)) < 1e-6
    assert np.abs(table["longitude"][:-1] - lon[:-1]).max() < 3e-5
    off = (pd.DatetimeIndex(table["time"]).tz_localize(None) - sailed.time).total_seconds()
    assert np.abs(off).max() < 0.02


def test_a_real_log_is_read_whole(npm_file):
    """Four hours under sail from the samples of a server for boats' data (Apache-2.0).

    Counted by its text: 7250 DBT sentences, of which pynmea2 reads the same depths.
    """
    path = npm_file("signalk-server", "2.23.0", "samples/plaka.log")
    lines = path.read_text(encoding="ascii", errors="replace").splitlines()
    said = [pynmea2.parse(line).depth_meters for line in lines if line[3:6] == "DBT"]
    log = read_soundings(path, day=pd.Timestamp("2031-06-14").date())
    table = log.soundings
    assert len(table) == len(said) == 7250
    np.testing.assert_allclose(table["measured_m"], np.array(said, float), rtol=1e-6)
    clock = [line.split(",")[5] for line in lines if line[3:6] == "GLL"]
    assert clock[99] < f"{table['time'].iloc[100]:%H%M%S}" < clock[100]  # it is between them
    assert table["longitude"].notna().mean() > 0.999
    undated = read_soundings(path)
    assert undated.soundings["time"].isna().all()
    assert any("give its day" in note and "{date}" in note for note in undated.notes)
