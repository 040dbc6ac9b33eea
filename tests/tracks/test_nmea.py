"""NMEA 0183 logs, against an independent parser (pynmea2) and the standard's published example."""

import numpy as np
import pandas as pd
import pynmea2
import pytest
from nmea_sentences import sentence

from layers.tracks import read_fixes
from seabed.errors import TrackError
from seabed.logs.sentences import looks_like_nmea


def rmc(clock="093012.25", status="A", date="140631", lat="3130.1250,S", lon="02430.5000,W"):
    return sentence(f"GPRMC,{clock},{status},{lat},{lon},1.2,045.0,{date},,,A")


def read(folder, *lines: str | bytes) -> pd.DataFrame:
    path = folder / "boat.log"
    path.write_bytes(b"".join(x if isinstance(x, bytes) else x.encode() for x in lines))
    return read_fixes(path)


def test_a_fix_with_depth_and_temperature(tmp_path):
    fixes = read(
        tmp_path, rmc(), "$IIDBT,036.41,f,011.10,M,005.99,F*25\r\n", sentence("IIMTW,12.5,C")
    )
    fix = fixes.iloc[0]
    assert fix["time"] == pd.Timestamp("2031-06-14T09:30:12.25Z")
    assert fix["latitude"] == pytest.approx(-(31 + 30.125 / 60), abs=1e-12)
    assert fix["longitude"] == pytest.approx(-(24 + 30.5 / 60), abs=1e-12)
    assert fix["depth_m"] == 11.10  # as the published example has it
    assert fix["temperature_c"] == 12.5
    assert fixes.attrs["notes"] == []


def test_against_pynmea2(tmp_path):
    rng = np.random.default_rng(1)
    lines = []
    for i in range(200):
        lat, lon = rng.uniform(0, 89), rng.uniform(0, 179)
        south, west = rng.random(2) < 0.5
        lines.append(
            rmc(
                clock=f"{i // 60 % 24:02d}{i % 60:02d}{rng.uniform(0, 59.9):05.2f}",
                lat=f"{int(lat):02d}{lat % 1 * 60:07.4f},{'S' if south else 'N'}",
                lon=f"{int(lon):03d}{lon % 1 * 60:07.4f},{'W' if west else 'E'}",
                date=f"{i % 28 + 1:02d}{i % 12 + 1:02d}{i % 100:02d}",
            )
        )
        lines.append(sentence(f"SDDPT,{rng.uniform(2, 30):.1f},{rng.choice(['0.4', '-0.6', ''])}"))
    fixes = read(tmp_path, *lines)
    assert len(fixes) == 200
    for i, fix in enumerate(fixes.itertuples()):
        place, sounding = (
            pynmea2.parse(line.strip(), check=True) for line in lines[2 * i : 2 * i + 2]
        )
        assert fix.latitude == pytest.approx(place.latitude, abs=1e-9)
        assert fix.longitude == pytest.approx(place.longitude, abs=1e-9)
        if 2000 <= place.datestamp.year < 2069:  # pynmea2 turns the century at 69
            assert fix.time == pd.Timestamp.combine(place.datestamp, place.timestamp).tz_convert(
                "UTC"
            )
        offset = max(float(sounding.offset or 0), 0.0)
        assert fix.depth_m == pytest.approx(float(sounding.depth) + offset)


def test_gga_and_gll_take_the_date_of_zda_over_midnight(tmp_path):
    gga = "GPGGA,{},3130.0,S,02430.0,W,1,08,1.0,0.0,M,,M,,"
    fixes = read(
        tmp_path,
        sentence(gga.format("235958")),
        sentence("GPZDA,235959,14,06,2031,00,00"),
        sentence(gga.format("235959")),
        sentence(gga.format("000001")),
        sentence(gga.format("000002").replace(",1,08", ",0,00")),
    )
    assert fixes["time"].dt.strftime("%d %H:%M:%S").tolist() == [
        "14 23:59:58", "14 23:59:59", "15 00:00:01", "15 00:00:02",
    ]  # fmt: skip
    assert fixes["latitude"].isna().tolist() == [False, False, False, True]
    gll = sentence("GPGLL,3130.0,S,02430.0,W,080000,A")
    assert len(read(tmp_path, sentence("GPZDA,075959,14,06,2031,00,00"), gll)) == 1


def test_a_receiver_without_a_fix_is_nan(tmp_path):
    wrong = [rmc(status="V"), rmc(lat=",", lon=","), rmc(lat="9x,S"), rmc(lat="3130.1250,")]
    fixes = read(tmp_path, rmc(), *wrong)
    assert fixes["latitude"].isna().tolist() == [False, True, True, True, True]


def test_depth_belongs_to_the_fix_before_it_and_the_last_one_counts(tmp_path):
    dbt = [sentence(f"SDDBT,,f,{m},M,,F") for m in (5, 6, 7)]
    fixes = read(tmp_path, dbt[2], rmc(), dbt[0], dbt[1], rmc("093013"), rmc("093014"), dbt[2])
    assert fixes["depth_m"].iloc[[0, 2]].tolist() == [6, 7]
    assert np.isnan(fixes["depth_m"].iloc[1])
    assert read(tmp_path, dbt[2], rmc(), rmc("093013"))["depth_m"].iloc[0] == 7


@pytest.mark.parametrize(
    "prefix", ["2031-06-14T09:30:12Z ", "1749893412.5;", r"\s:gps,c:1749893412*5A" + "\\"]
)
def test_loggers_prefixes_and_other_sentences(tmp_path, prefix):
    fixes = read(
        tmp_path, prefix + rmc(), "!AIVDM,1,1,,A,15M67FC000G?ufbE`FepT@3n00Sa,0*5C\r\n",
        "$PXYZ,1,2*00\r\n", prefix + rmc("093013"),
    )  # fmt: skip
    assert len(fixes) == 2
    assert fixes.attrs["notes"] == []


def test_wrong_sums_and_cut_sentences_are_left_out_and_counted(tmp_path):
    wrong = rmc("093013").replace("3130", "3131")
    fixes = read(
        tmp_path, rmc(), wrong, rmc("093014")[:-12] + "\n", rmc("093015"), rmc("093016")[:20]
    )
    assert fixes["time"].dt.second.tolist() == [12, 15]
    (note,) = fixes.attrs["notes"]
    assert "3 of 5 sentences were damaged or cut off" in note


def test_a_log_without_any_checksums(tmp_path):
    fixes = read(tmp_path, rmc()[:-5] + "\n", rmc("093013")[:-5] + "\n")
    assert len(fixes) == 2
    assert "no checksums" in fixes.attrs["notes"][0]


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ([sentence("SDDPT,5.0,0.3")], r"boat\.log: no position in it"),
        ([sentence("GPGLL,3130.0,S,02430.0,W,080000,A")], r"boat\.log: no date in it"),
        ([rmc().replace("*", "*0")], "1 of its 1 sentences are damaged.*no position is left"),
    ],
)
def test_bad_logs(tmp_path, lines, message):
    with pytest.raises(TrackError, match=message):
        read(tmp_path, *lines)


def test_what_looks_like_nmea():
    assert looks_like_nmea(b"$GPRMC,1")
    assert looks_like_nmea(b"12:00:01 $SDDPT,5")
    assert looks_like_nmea(b"!AIVDM,1,1")
    assert not looks_like_nmea(b"time,lat,lon,price\n1,2,3,$USD,4")
    assert not looks_like_nmea(b"<gpx>$GP</gpx>")
