"""The printed sheet: what is on it, read back by another library, and its pages."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pypdf
import pytest
from sheet_lines import END, END_WORDS, START, START_WORDS, line_of, sheet_of
from thoroughness import THOROUGH

from layers.present.sheet.content import BACK_BY_HAND, NO_HAZARDS
from layers.present.sheet.fonts import find_fonts
from layers.present.sheet.html import write_sheet
from layers.present.sheet.paper import PAPERS
from layers.present.sheet.pdf import write_sheet_pdf
from seabed.errors import OutputError


def pages_of(path: Path) -> list[str]:
    """Text of each page; runs of white space are one space."""
    return [re.sub(r"\s+", " ", page.extract_text()) for page in pypdf.PdfReader(path).pages]


def sizes_of(path: Path) -> dict[str, float]:
    """The size in points in which each piece of text on the first page is set."""
    found: dict[str, float] = {}

    def visit(text: str, current: list, matrix: list, font: object, size: float) -> None:
        if text.strip():
            found[text.strip()] = size * abs(matrix[0])

    pypdf.PdfReader(path).pages[0].extract_text(visitor_text=visit)
    return found


def test_the_pdf_holds_all_that_is_read_afloat(tmp_path: Path) -> None:
    assert write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of()) == ""
    (page,) = pages_of(tmp_path / "sheet.pdf")
    for words in ("Hollow Reach", "Wind 8 kn from 225°T", "P1 07:00 to 07:45", "start by 07:20",
                  f"Start {START_WORDS}", f"End {END_WORDS}", "352°T, 0.15 nm", "motor 0.3 kn",
                  "06:52 run to P1", "run home", "If an hour late: plan again", "Kept", "Short",
                  "Low 06:36, 1.0 ft", NO_HAZARDS, "Not for navigation",
                  "a drifting boat is still under way under the collision regulations",
                  "Check the current local rule", "lightning", "fog", "lookout", "cut-off cord",
                  "lifejackets", "lights from sunset", "Leave the plan ashore"):  # fmt: skip
        assert words in page, words


def test_what_is_read_afloat_is_12_points_or_more(tmp_path: Path) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of())
    sizes = sizes_of(tmp_path / "sheet.pdf")
    afloat = {
        text: size
        for text, size in sizes.items()
        if re.search(r"07:00|11\.400|0\.15 nm|motor|run |start by|If |Kept|Wind|hazards", text)
    }
    assert len(afloat) >= 8
    assert min(afloat.values()) >= 12 - 1e-6, afloat
    assert max(size for text, size in sizes.items() if "11.400" in text) >= 14 - 1e-6


@pytest.mark.parametrize(("lines", "pages"), [(6, 1), (7, 2)] + THOROUGH * [(1, 1), (16, 3)])
def test_six_lines_fill_a_page(tmp_path: Path, lines: int, pages: int) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(lines))
    told = pages_of(tmp_path / "sheet.pdf")
    assert len(told) == pages
    for number in range(1, lines + 1):  # each line whole, on one page
        (page,) = [page for page in told if f"P{number} 07:00 to 07:45" in page]
        assert page.count(START_WORDS) == page.count(END_WORDS)
    for page in told:
        assert "Not for navigation" in page and NO_HAZARDS in page


def places_of(path: Path) -> list[list[tuple[float, str]]]:
    """Height above the foot, as a share of the page, and text of each piece, page by page."""
    made = []
    for page in pypdf.PdfReader(path).pages:
        found: list[tuple[float, str]] = []
        high = float(page.mediabox.height)

        def visit(text: str, current: list, matrix: list, font: object, size: float) -> None:
            if text.strip():
                found.append(((current[5] + matrix[5]) / high, text.strip()))  # noqa: B023

        page.extract_text(visitor_text=visit)
        made.append(found)
    return made


@pytest.mark.parametrize("name", PAPERS)
def test_every_paper_has_its_size_and_large_positions(tmp_path: Path, name: str) -> None:
    paper = PAPERS[name]
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(3), name)
    pages = pypdf.PdfReader(tmp_path / "sheet.pdf").pages
    width, height = (float(side) / 72 * 25.4 for side in pages[0].mediabox[2:])
    assert (width, height) == pytest.approx((paper.width, paper.height), abs=0.1)
    told = pages_of(tmp_path / "sheet.pdf")
    assert all("Not for navigation" in page for page in told)
    for number in (1, 2, 3):
        (page,) = [page for page in told if f"P{number} 07:00 to 07:45" in page]
        assert START_WORDS in page and END_WORDS in page
    assert sum("collision regulations" in page for page in told) >= 1
    sizes = sizes_of(tmp_path / "sheet.pdf")
    largest = {text: size for text, size in sizes.items() if "11.400" in text}
    assert min(largest.values(), default=14) >= max(14, 1.16 * paper.read_pt)


@pytest.mark.parametrize("lines", [7, 8, 11, 13] if THOROUGH else [7, 13])
def test_no_page_is_nearly_empty(tmp_path: Path, lines: int) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(lines))
    pages = places_of(tmp_path / "sheet.pdf")
    assert len(pages) > 1
    for page in pages:
        words = " ".join(text for _, text in page)
        assert len(re.findall(r"P\d+ +07:00", words)) >= 2


def test_what_if_alone_does_not_take_a_page(tmp_path: Path) -> None:
    """Five lines with passes fill a page to the last rows: the rest is drawn together."""
    many = [(f"If case {n}", "keep to the plan") for n in range(4)]
    for lines in range(3, 7):
        write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(lines, what_if=many))
        pages = pages_of(tmp_path / "sheet.pdf")
        assert "07:00 to 07:45" in pages[-1], lines


def test_an_unknown_paper_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="no paper is called 'B5'"):
        write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(), "B5")


def test_cells_of_passes_keep_apart(tmp_path: Path) -> None:
    motor = "0.3 to 306, then 0.2 to 262"
    line = line_of(passes=[("Pass at", ["07:17", "07:47", "08:15", "08:40"]),
                           ("motor kn", [motor] * 4)])  # fmt: skip
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(lines=[line]))
    (page,) = pages_of(tmp_path / "sheet.pdf")
    assert page.count("0.3 to 306, then") == 4  # each wrapped in its own column
    write_sheet(tmp_path / "sheet.html", sheet_of(lines=[line]))
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8").count(motor) == 4


def test_a_plan_beyond_the_limits_says_so_before_all_else(tmp_path: Path) -> None:
    """On every page: pages of a sheet get apart."""
    beyond, others = (
        "BEYOND THE BOAT'S LIMITS: wind 45 kn",
        ["P1: in the dark", "P2: strong current"],
    )
    sheet = sheet_of(7, beyond=beyond, warnings=others, home="Leave a copy ashore: back by 12:47.")
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet)
    pages = pages_of(tmp_path / "sheet.pdf")
    assert len(pages) == 2 and all(page.startswith(beyond) for page in pages)
    first = pages[0]
    order = [first.index(words) for words in (*others, "back by 12:47", "P1 07:00 to 07:45")]
    assert order == sorted(order)
    write_sheet(tmp_path / "sheet.html", sheet)
    page = html.unescape((tmp_path / "sheet.html").read_text(encoding="utf-8"))
    body = re.sub(r"<[^>]+>", " ", page.partition("<body>")[2]).split()
    assert " ".join(body).startswith(f"{beyond} Hollow Reach")
    order = [page.index(words) for words in (*others, "back by 12:47", "<svg", "P1")]
    assert order[:4] == sorted(order[:4])


def test_the_hour_home_is_left_to_the_hand_where_it_is_not_known(tmp_path: Path) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of())
    write_sheet(tmp_path / "sheet.html", sheet_of())
    assert BACK_BY_HAND in (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "with the hour at which you will be back: __" in pages_of(tmp_path / "sheet.pdf")[0]


def test_no_lines_say_so(tmp_path: Path) -> None:
    write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(0, tide=None))
    write_sheet(tmp_path / "sheet.html", sheet_of(0, tide=None))
    assert "No drift in these hours is worth making" in pages_of(tmp_path / "sheet.pdf")[0]
    assert "No drift in these hours" in (tmp_path / "sheet.html").read_text(encoding="utf-8")


def test_names_of_many_scripts_are_printed(tmp_path: Path) -> None:
    title = "Σκαρί Банка Kjølsvík Đá"
    assert write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(title=title)) == ""
    assert title in pages_of(tmp_path / "sheet.pdf")[0]


def test_letters_that_no_font_has_are_reported_and_marked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("layers.present.sheet.fonts._font_folders", list)
    lacking = write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(title="Bay שלום"))
    assert set(lacking) == set("שלום")
    assert "Bay ????" in pages_of(tmp_path / "sheet.pdf")[0]
    page = tmp_path / "sheet.html"
    write_sheet(page, sheet_of(title="Bay שלום"))
    assert "Bay שלום" in page.read_text(encoding="utf-8")


def test_a_font_of_the_machine_steps_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from matplotlib import get_data_path  # carries DejaVu Sans, which has Hebrew

    folder = Path(get_data_path()) / "fonts" / "ttf"
    monkeypatch.setattr("layers.present.sheet.fonts._font_folders", lambda: [folder])
    assert [path.stem for path in find_fonts("Bay שלום").others] == ["DejaVuSans"]
    assert find_fonts("Bay").others == ()
    assert write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of(title="Bay שלום")) == ""
    # right to left on paper: pypdf gives letters in the order in which they stand
    told = pages_of(tmp_path / "sheet.pdf")[0]
    assert "שלום" in told or "שלום"[::-1] in told


def test_the_page_is_text_and_loads_nothing(tmp_path: Path) -> None:
    hostile = "<script>window.hit=1</script>&"
    line = line_of(hostile, facts=[hostile], before=[hostile], beside=[(hostile, START, END)])
    sheet = sheet_of(title=hostile, lines=[line], what_if=[(hostile, hostile)], after=[hostile],
                     hazard_words=hostile)  # fmt: skip
    write_sheet(tmp_path / "sheet.html", sheet)
    raw = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert not re.search(r"(src|href)\s*=|https?://|<script", raw)
    page = html.unescape(raw)
    assert page.count(START_WORDS) == page.count(END_WORDS) == 2
    assert "Not for navigation" in page and page.count(hostile) >= 9


def test_nothing_is_left_where_it_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "sheet.pdf").mkdir()
    with pytest.raises(OutputError):
        write_sheet_pdf(tmp_path / "sheet.pdf", sheet_of())
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.pdf"]


def test_the_page_says_before_its_lines_what_no_chart_said(tmp_path: Path) -> None:
    write_sheet(tmp_path / "sheet.html", sheet_of())
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert 0 < page.index(NO_HAZARDS) < page.index("07:00 to 07:45")
