"""Names that would run in a spreadsheet, a browser, a calendar, a terminal; in all that is written.

Formulas: OWASP, "CSV injection".  Markup: the HTML and XML standards.  Calendars: RFC 5545, 3.1.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import tomllib
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from coarse_demo import coarse_demo

from layers.area import load_area
from layers.cli.main import main

DEMO = coarse_demo(4)
MARKUP = "</script><script>window.hit=1</script><img src=x onerror='window.hit=1'>\"&{{7*7}}"
FORMULA = "=HYPERLINK(1)"
STEERING = "\x1b[2J\x07"
TURNING = "\u202ekcab\u2066"
"""What turns the text after it around, numbers too (Unicode Standard Annex 9)."""
LATER = "dab;=1+1\n\uff0b1"
"""Formulas to a spreadsheet that is set to another separator."""
AREA = "\r\nEND:VCALENDAR\n"
BOX = "-33.392,46.190,-33.380,46.197"


def toml(text: str) -> str:
    return json.dumps(text)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """What every command writes about a water, its fish and its marks with such names."""
    folder = tmp_path_factory.mktemp("hostile")
    for name in ("sound.tif", "tide_table.csv", "current_table.csv", "XX5TOLLI.000"):
        shutil.copy(DEMO / name, folder)
    area = (DEMO / "area.toml").read_text(encoding="utf-8")
    area = area.replace('"Tollivane Sound"', toml(FORMULA + MARKUP + AREA + STEERING + TURNING))
    area = area.replace('"mean lower low water (invented)"', toml(FORMULA + MARKUP))
    area = area.replace("[grid]\n", f'[grid]\nbox = "{BOX}"\n')
    area = area.replace('"brindle flounder"', toml(f"+{MARKUP}"))
    area += f"\n[map]\nbasemap_credit = {toml(MARKUP)}\n"
    (folder / "area.toml").write_text(area, encoding="utf-8")
    log = (DEMO / "catches.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.reader(io.StringIO(log)))
    species, note = rows[0].index("species"), rows[0].index("note")
    for number, row in enumerate(rows[1:]):
        row[species] = (f"+{MARKUP}", f"@{STEERING}dab{TURNING}", FORMULA)[number % 3]
        row[note] = (FORMULA, f"-{MARKUP}", LATER)[number % 3]
    with (folder / "catches.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    track = (DEMO / "trip_2a.gpx").read_text(encoding="utf-8")
    safe = MARKUP.replace("&", "&amp;").replace("<", "&lt;")
    point = re.search(r'<trkpt lat="[^"]+" lon="[^"]+"', track)[0].replace("trkpt", "wpt")
    time = re.search(r"<time>[^<]+</time>", track.split("<trkseg>")[1])[0]
    mark = f"{point}>{time}<name>fish {safe}</name><desc>={safe}</desc></wpt>"
    track = re.sub(r"<trk>", f"{mark}<trk><name>={safe}</name>", track, count=1)
    hostile = folder / "=1+1<img src=x>.gpx"
    hostile.write_text(track, encoding="utf-8")
    return folder, hostile


@pytest.fixture(scope="module")
def said(written):
    """Run the commands; give what they print."""
    folder, track = written
    area = ["--area", str(folder / "area.toml")]
    day = ["--date", "2031-06-14"]
    log = ["--log", str(folder / "log.gpkg")]
    words = [
        ["trip", str(track), *area, *log, "--catches", str(folder / "catches.csv"),
         "--out", str(folder / "trip")],
        ["season", *area, *log, "--rank", "--out", str(folder / "rank")],
        ["season", *area, *log, "--export", "csv", "--out", str(folder / "csv")],
        ["season", *area, *log, "--export", "geojson", "--out", str(folder / "geojson")],
        ["season", *log],
        ["marks", str(folder / "trip" / "trip.gpkg"), *area, "--out",
         str(folder / "marks" / "marks.gpx")],
        ["tide", *area, *day, "--out", str(folder / "tide")],
        ["check", str(folder / "area.toml"), str(folder / "catches.csv"), str(track)],
    ]  # fmt: skip
    told = []
    for line in words:
        out = io.StringIO()
        with pytest.MonkeyPatch.context() as patch, pytest.raises(SystemExit) as ended:
            patch.setattr("sys.stdout", out)
            main(line)
        assert not ended.value.code, line
        told.append(out.getvalue())
    return told


def made(folder: Path, *endings: str) -> list[Path]:
    """Files of these endings that the commands wrote, in folders of their own."""
    return [path for path in sorted(folder.glob("*/*")) if path.suffix in endings]


def test_nothing_printed_steers_the_terminal(said):
    whole = "".join(said)
    assert "dab" in whole and "HYPERLINK" in whole
    assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", whole)


def test_no_cell_of_a_table_is_a_formula(written, said):
    tables = made(written[0], ".csv")
    assert {"catches.csv", "lines.csv", "untied_catches.csv"} <= {file.name for file in tables}
    seen = 0
    for file in tables:
        for row in csv.reader(io.StringIO(file.read_text(encoding="utf-8-sig"))):
            for cell in row:
                seen += "HYPERLINK" in cell
                number = re.fullmatch(r"[-+]?[\d.]+(e[-+]?\d+)?", cell)
                assert number or not cell.startswith(("=", "+", "-", "@", "\t", "\r")), file
    assert seen


class _Seen(HTMLParser):
    """Elements and attributes of a page, and the text of its scripts."""

    def __init__(self) -> None:
        super().__init__()
        self.elements: list[str] = []
        self.handlers: list[str] = []
        self.scripts: list[str] = []
        self.text = ""

    def handle_starttag(self, tag, attrs):
        self.elements.append(tag)
        self.handlers += [name for name, _ in attrs if name.startswith("on")]
        if tag == "script":
            self.scripts.append("")

    def handle_data(self, data):
        if self.elements and self.cdata_elem == "script":
            self.scripts[-1] += data
        else:
            self.text += data


def test_no_name_is_an_element_of_a_page(written, said):
    pages = made(written[0], ".html")
    assert len(pages) > 1  # sheet and report are held in tests/present
    for file in pages:
        seen = _Seen()
        seen.feed(file.read_text(encoding="utf-8"))
        assert "img" not in seen.elements, file
        assert seen.handlers == [], file
        # in a script the name may stand inside data only, where "<" is written otherwise
        assert not [one for one in seen.scripts if "<script>window" in one or "</script" in one]
        assert "window.hit=1" in seen.text + "".join(seen.scripts), f"{file} has no such name"


def test_no_name_turns_what_a_page_or_picture_shows_around(written, said):
    for file in made(written[0], ".html", ".gpx", ".svg"):
        text = file.read_text(encoding="utf-8")
        assert not re.search("[\u202a-\u202e\u2066-\u2069]|u202e", text), file


def test_no_cell_of_a_table_is_a_formula_where_another_separator_is_set(written, said):
    (file,) = (file for file in made(written[0], ".csv") if file.name == "catches.csv" and
               file.parent.name == "csv")  # fmt: skip
    text = file.read_text(encoding="utf-8-sig")
    assert "dab;" in text
    assert not re.search(r"[;\t\n]\s*[=+@\uff0b]", text)


def test_no_name_is_an_element_of_xml(written, said):
    files = made(written[0], ".gpx", ".svg")
    assert len(files) > 4
    for file in files:
        tree = ElementTree.fromstring(file.read_bytes())  # whole, else it raises
        tags = {element.tag.rsplit("}")[-1] for element in tree.iter()}
        assert not tags & {"script", "img"}, file
    assert any("window.hit" in file.read_text(encoding="utf-8") for file in files)


def test_no_name_ends_a_calendar_or_begins_another(written, said):
    (calendar,) = made(written[0], ".ics")
    lines = calendar.read_bytes().split(b"\r\n")
    assert lines.count(b"END:VCALENDAR") == 1 and lines.count(b"BEGIN:VCALENDAR") == 1
    assert not [line for line in lines if b"\n" in line or b"\r" in line or b"\x1b" in line]


def test_geojson_and_json_stay_whole(written, said):
    files = made(written[0], ".geojson", ".json")
    assert files
    for file in files:
        json.loads(file.read_text(encoding="utf-8"))
    assert any("window.hit" in file.read_text(encoding="utf-8") for file in files)


@pytest.mark.parametrize("name", ['a"]\n[grid]\nsign = "depth', "a\\", "\u2028", "# a", STEERING])
def test_a_name_stays_a_name_in_the_area_file(tmp_path, name):
    path = tmp_path / "area.toml"
    with pytest.raises(SystemExit):
        main(["area", "--name", name, "--out", str(path)])
    assert tomllib.loads(path.read_text(encoding="utf-8"))["area"]["name"] == name
    assert load_area(path).grid.sign == "auto"
