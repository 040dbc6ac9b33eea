"""Lines of text, against those that fpdf2 breaks."""

from __future__ import annotations

import pytest
from fpdf import FPDF
from hypothesis import given, settings
from hypothesis import strategies as st
from thoroughness import examples

from layers.present.sheet.wrapping import wrapped


def document() -> FPDF:
    pdf = FPDF()
    pdf.c_margin = 0
    pdf.add_page()
    pdf.set_font("Helvetica", size=12)
    return pdf


PDF = document()


@settings(max_examples=examples(800), deadline=None)
@given(st.text("aiW.  ", max_size=80), st.floats(8.0, 60.0))
def test_lines_break_where_fpdf2_breaks_them(text: str, room: float) -> None:
    broken = PDF.multi_cell(room, 5, text, align="L", dry_run=True, output="LINES")
    assert wrapped(text, room, PDF.get_string_width) == broken


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("", [""]),
        ("abcd", ["abcd"]),
        ("abc de", ["abc", "de"]),
        ("abcd ef", ["abcd", "ef"]),
        ("ab cdefgh", ["ab", "cdef", "gh"]),
        ("a\nb", ["a", "b"]),
    ],
)
def test_letters_of_one_width_fill_a_room_of_four(text: str, lines: list[str]) -> None:
    assert wrapped(text, 4.0, lambda _: 1.0) == lines


def test_a_letter_wider_than_the_room_has_a_line_of_its_own() -> None:
    assert wrapped("ab", 0.5, lambda _: 1.0) == ["a", "b"]
