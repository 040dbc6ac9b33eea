"""The reader of tables by itself: what is found where, and what is refused."""

from __future__ import annotations

import doctest
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo, available_timezones

import numpy as np
import pytest

from seabed.errors import CatchError, GridError, TrackError
from seabed.logs import read_delimited_fixes
from seabed.logs.delimited import MANY_BYTES
from seabed.tables import clocks, headings, zones
from seabed.tables.headings import meanings_of
from seabed.tables.spreadsheets import split_sheet
from seabed.tables.text_layout import layout_of_numbers, number, numbers
from seabed.tables.text_table import TextTable, read_text_table

ALL = partial(meanings_of, among=headings.ENGLISH)


def read(folder: Path, text: str | bytes, **options: bool) -> TextTable:
    path = folder / "table.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_text_table(path, ALL, error=CatchError, **options)


def test_headings_are_found_below_a_title_that_names_some_too(tmp_path):
    text = "Catch, time and place\n\nTime;Species;Note\n08:30;dab;slow\n"
    table = read(tmp_path, text)
    assert (table.heading_line, table.headings) == (3, ["Time", "Species", "Note"])
    assert (table.rows, table.lines) == ([["08:30", "dab", "slow"]], [4])
    assert table.notes == [f"{tmp_path / 'table.csv'}: the heading is line 3, under a title"]


def test_a_note_below_is_reported_and_a_row_of_one_cell_is_kept(tmp_path):
    table = read(tmp_path, "time,note\n08:30,\n\nAll by hand\n* of June\n")
    assert table.rows == [["08:30", ""]]
    assert [note.split(": ", 1)[1] for note in table.notes] == [
        "taken for a note: '* of June'", "taken for a note: 'All by hand'",
    ]  # fmt: skip


def test_a_number_sign_before_a_digit_is_no_comment(tmp_path):
    table = read(tmp_path, "rod,time\n# by hand\n#1,08:30\n")
    assert table.rows == [["#1", "08:30"]]


def test_quoted_cells_may_hold_lines(tmp_path):
    table = read(tmp_path, 'time,note\n08:30,"slow,\nthen ""fast"""\n08:31,x\n')
    assert table.rows[0] == ["08:30", 'slow,\nthen "fast"']
    assert table.lines == [3, 4]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("time,note\n08:30,a,b\n", r"table\.csv, line 2: 3 cells under 2 headings"),
        ('time,note\n08:30,"a\n', r"table\.csv, line 2: this row is not CSV"),
        (" \n;;\n", r"table\.csv: the file is empty\. Give it headings"),
        (b"time\x00note", r"table\.csv: this is not text"),
        (b"\x89PNG\r\n\x1a\n\0\0", r"table\.csv: this is a picture\. Save the table as CSV"),
        (b"PK\x03\x04\x14\0", r"this is a zip archive, or a spreadsheet's workbook\. Unpack it"),
    ],
)
def test_refused(tmp_path, text, message):
    with pytest.raises(CatchError, match=message):
        read(tmp_path, text)


def test_errors_name_row_and_column(tmp_path):
    table = read(tmp_path, "Zeit;Fischart\n08:30;dab\n")
    with pytest.raises(CatchError, match=r"table\.csv, line 2, column 'Fischart': no such fish"):
        table.refuse(0, "no such fish", meaning="species")


def test_missing(tmp_path):
    with pytest.raises(TrackError, match=r"none\.csv: no such file"):
        read_text_table(tmp_path / "none.csv", ALL, error=TrackError)
    with pytest.raises(TrackError, match=r"none\.xlsx: no such file"):
        read_text_table(tmp_path / "none.xlsx", ALL, error=TrackError)
    (tmp_path / "bad.xlsx").write_bytes(b"PK\x03\x04 damaged")
    with pytest.raises(TrackError, match=r"bad\.xlsx: this spreadsheet can't be read"):
        read_text_table(tmp_path / "bad.xlsx", ALL, error=TrackError)


def test_a_sheet_is_named_after_a_number_sign(tmp_path):
    assert split_sheet("log.xlsx#June 1") == (Path("log.xlsx"), "June 1")
    assert split_sheet("trip #2.gpx") == (Path("trip #2.gpx"), None)
    own = tmp_path / "a.ods#b"
    own.touch()
    assert split_sheet(own) == (own, None)


@pytest.mark.parametrize(
    ("text", "value"),
    [("7.5", 7.5), ("7,5", 7.5), (" -7 ", -7), ("1e-3", 1e-3), ("1,234,5", np.nan), ("", np.nan)],
)
def test_numbers(text, value):
    np.testing.assert_equal(number(text), value)
    np.testing.assert_equal(numbers([text, "2"])[0], value)


@pytest.mark.parametrize(
    ("text", "headings", "decimal"),
    [
        ("500000 4000000 7.5\n", [], "."),
        ("x y z\n500000 4000000 7.5\n", ["x", "y", "z"], "."),
        ("# x y z\n500000 4000000 7.5\n", ["x", "y", "z"], "."),
        ("# survey of a sound in June\n1,5 2,5 3,5\n", [], ","),
        ("Survey\nx;y;depth m\n1,5;2,5;3,5\n", ["x", "y", "depth m"], ","),
    ],
)
def test_tables_of_numbers(tmp_path, text, headings, decimal):
    path = tmp_path / "points.xyz"
    path.write_text(text, encoding="utf-8")
    among = partial(meanings_of, among=("latitude", "longitude", "depth"))
    layout = layout_of_numbers(path, among, GridError)
    assert layout is not None
    assert (layout.headings, layout.decimal) == (headings, decimal)


def test_a_large_table_is_read_as_a_small_one_is(tmp_path):
    """By columns at once where it is regular, by rows where one row is not."""
    rng = np.random.default_rng(1)
    rows = [
        f"2031-06-14T08:{n // 60 % 60:02d}:{n % 60:02d}Z,{46 + rng.uniform():.7f},{-33.5:.1f},"
        f"{'' if n % 7 == 0 else round(rng.uniform(5, 9), 2)}"
        for n in range(MANY_BYTES // 40)
    ]
    path = tmp_path / "boat.csv"
    path.write_text("time,lat,lon,depth\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert path.stat().st_size > MANY_BYTES
    quick = read_delimited_fixes(path)
    path.write_text("time,lat,lon,depth\n" + "\n".join(rows) + ",x\n", encoding="utf-8")
    slow = read_delimited_fixes(path)
    assert len(slow.notes) == 1 and not quick.notes
    for name in ("time", "latitude", "longitude", "depth_m"):
        np.testing.assert_array_equal(getattr(quick, name), getattr(slow, name))


def test_headings_that_name_utc_win_over_the_zone(tmp_path):
    table = read(tmp_path, "Time (UTC),species\n2031-06-14 08:30,dab\n")
    times, placed = table.moments(ZoneInfo("Etc/GMT+2"))
    assert times[0] == np.datetime64("2031-06-14T08:30")
    assert not placed[0]


def test_a_column_decides_which_number_is_the_day(tmp_path):
    table = read(tmp_path, "time,species\n3/4/2031 8:30,dab\n14/4/2031 8:30,dab\n")
    assert table.moments(ZoneInfo("UTC"))[0][0] == np.datetime64("2031-04-03T08:30")
    table = read(tmp_path, "time,species\n3/4/2031 8:30,dab\n")
    with pytest.raises(CatchError, match=r"line 2, column 'time': can't read .*3/4/2031"):
        table.moments(ZoneInfo("UTC"))
    assert table.moments(ZoneInfo("UTC"), date_order="mdy")[0][0] == np.datetime64(
        "2031-03-04T08:30"
    )
    table = read(tmp_path, "time\n13/4/2031 8:30\n4/13/2031 8:30\n")
    with pytest.raises(CatchError, match="'13/4/2031 8:30' puts the day first"):
        table.moments(ZoneInfo("UTC"))


LANGUAGES = {
    "de": "Datum;Uhrzeit;Fischart;Länge (cm);Behalten;Rute;Bemerkung;Breite;Längengrad",
    "fr": "Date;Heure;Espèce;Taille (cm);Gardé;Canne;Remarque;Latitude;Longitude",
    "nl": "Datum;Tijd;Vissoort;Lengte (cm);Meegenomen;Hengel;Opmerking;Breedtegraad;Lengtegraad",
    "da": "Dato;Klokkeslæt;Fiskeart;Længde (cm);Hjemtaget;Stang;Bemærkning;Breddegrad;Længdegrad",
    "no": "Dato;Klokkeslett;Fiskeart;Lengde (cm);Beholdt;Stang;Merknad;Breddegrad;Lengdegrad",
    "sv": "Datum;Klockslag;Fiskart;Längd (cm);Behållen;Spö;Anteckning;Latitud;Längdgrad",
    "es": "Fecha;Hora;Especie;Longitud (cm);Guardado;Caña;Comentario;Latitud;Longitud",
    "pt": "Data;Hora;Espécie;Comprimento (cm);Guardado;Cana;Observações;Latitude;Longitude",
    "it": "Data;Ora;Specie;Lunghezza (cm);Trattenuto;Canna;Osservazioni;Latitudine;Longitudine",
    "en": "Date;Time;Fish;Total length [cm];Kept?;Rod;Remarks;LAT;Long.",
}  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_headings_in_ten_languages(language):
    wanted = ["date", "time", "species", "length", "kept", "rod", "note", "latitude", "longitude"]
    assert meanings_of(LANGUAGES[language].split(";"), wanted) == wanted
    loud = LANGUAGES[language].upper().replace(" (CM)", "_cm").split(";")
    assert meanings_of(loud, wanted) == wanted


@pytest.mark.parametrize(
    ("line", "meanings"),
    [
        ("Datum ;Uhrzeit (ca.);FISCH-Art;Länge in cm;Behalten?;Köder / Farbe;Rute Nr.;Notiz!!",
         "date time species length kept bait rod note"),
        ("Date de sortie;Heure;Espèce;Taille en cm;Gardé ?;Appât;Canne n°;Remarque",
         "date time species length kept bait rod note"),
        ("Date;Time;Fish length;Time of day;Line length;Lead time", "date time - - - -"),
    ],
)  # fmt: skip
def test_headings_as_skippers_write_them(line, meanings):
    known = meanings_of(line.split(";"), headings.CATCH_MEANINGS)
    assert [one or "-" for one in known] == meanings.split()


def test_a_length_is_no_longitude_but_beside_a_latitude():
    wanted = ("length", "latitude", "longitude")
    assert meanings_of(["Länge"], wanted) == ["length"]
    assert meanings_of(["Breite", "Länge"], wanted) == ["latitude", "longitude"]
    assert meanings_of(["Breite", "Längengrad", "Länge"], wanted)[2] == "length"


@pytest.mark.parametrize("module", [clocks, headings])
def test_examples(module):
    assert doctest.testmod(module).failed == 0


def timed(folder: Path, text: str) -> tuple[TextTable, list[str]]:
    table = read(folder, text)
    return table, table.moments(ZoneInfo("UTC"))[0].astype("datetime64[m]").astype(str).tolist()


def test_merged_dates_hold_until_the_next_and_that_is_said(tmp_path):
    """In a spreadsheet whose cells are merged only the first of them holds the date."""
    table, times = timed(
        tmp_path,
        "date,time,species\n2031-06-14,06:21,dab\n,06:40,dab\n,07:10,sole\n2031-06-15,05:00,dab\n",
    )
    assert times == ["2031-06-14T06:21", "2031-06-14T06:40", "2031-06-14T07:10", "2031-06-15T05:00"]
    assert table.notes[-1].endswith("2 rows have no date and take that above them")


def test_a_first_row_without_a_date_is_refused(tmp_path):
    with pytest.raises(CatchError, match="line 2, column 'time': can't read the time '06:21'"):
        timed(tmp_path, "date,time,species\n,06:21,dab\n2031-06-14,06:40,dab\n")


def test_drawn_lines_and_sums_are_no_rows(tmp_path):
    text = "| date | time | species |\n|---|:--|---|\n| 2031-06-14 | 06:21 | dab |\n"
    table, times = timed(tmp_path, text + "|======|||\n| Total | | 1 |\n")
    assert times == ["2031-06-14T06:21"]
    assert "taken for a note: 'Total 1'" in table.notes[-1]


def test_letters_of_zones_are_those_of_the_tz_database():
    """Each is used with these hours by a zone of the database, in a January or July of late."""
    used = {
        (moment.tzname(), moment.utcoffset())
        for name in available_timezones() - {"localtime"}
        for year in (2005, 2024)
        for month in (1, 7)
        if (moment := datetime(year, month, 1, tzinfo=ZoneInfo(name)))
    }
    german = {"MEZ": "CET", "MESZ": "CEST"}
    for letters, hours in zones._HOURS.items():
        assert (german.get(letters, letters), timedelta(hours=hours)) in used, letters


@pytest.mark.parametrize(
    ("letters", "local", "hours"),
    [("CST", "Asia/Shanghai", 8), ("CST", "America/Chicago", -6), ("CST", "America/Havana", -5),
     ("PST", "Asia/Manila", 8), ("CST", "UTC", -6), ("MESZ", "Europe/Berlin", 2)],
)  # fmt: skip
def test_letters_that_two_zones_use_are_the_local_ones(letters, local, hours):
    named = zones.zone_named(f"All times {letters}", ZoneInfo(local))
    assert named.utcoffset(None) == timedelta(hours=hours)


@pytest.mark.parametrize(
    "below", ["\t\tin m\tArt", "TT.MM.JJJJ\thh:mm\t(m)\tArt", "\t\t[m]\tArt"]
)  # fmt: skip
def test_headings_over_two_lines_are_joined(tmp_path, below):
    text = f"Datum\tZeit\tHöhe\t\n{below}\n12.06.2031\t0:10\t2,9\tHW\n"
    table = read(tmp_path, text)
    assert (table.meanings[:3], table.unit("height")) == (["date", "time", "height"], "m")
    assert (table.headings[3], table.rows, table.lines) == (
        "Art", [["12.06.2031", "0:10", "2,9", "HW"]], [3],
    )  # fmt: skip


@pytest.mark.parametrize(
    "row", ["today,,dab,kept", ",,dab,", ",,,kept", ",noon,dab,m", ",,cm,kept"]
)
def test_a_first_row_without_digits_is_no_second_line_of_headings(tmp_path, row):
    table = read(tmp_path, f"date,time,species,fate\n{row}\n")
    assert table.rows == [row.split(",")]
