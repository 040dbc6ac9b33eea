"""The sheet as a PDF: the same words and pictures, set by hand on A4."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

from layers.present.pictures.drawing import Drawing, Words, draw_on
from layers.present.positions import degrees_minutes
from layers.present.sheet.content import (
    FATES,
    NOTHING_WORTH,
    PASSES_ABREAST,
    TALLY_BOXES,
    Sheet,
    SheetLine,
    foot_words,
)
from layers.present.sheet.fonts import find_fonts
from layers.present.sheet.pictures import (
    MAP_SIZE,
    PROFILE_SIZE,
    ground_picture,
    profile_picture,
    tide_picture,
)
from seabed.files import MAKER, replacing

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["write_sheet_pdf"]

SIDE: Final = 10.0
TOP: Final = 6.0
WIDTH: Final = 190.0
HEIGHT: Final = 297.0
FOOT: Final = 24.0
"""Where the words at the foot begin, from the lower edge."""
FOOT_PT: Final = 8.0
FAMILY: Final = "sheet"

READ_PT: Final = 12.0
"""The least size of what is read afloat."""
ROW: Final = 4.8
PASS_LABEL: Final = 22.0
PASS_COLUMN: Final = (WIDTH - PASS_LABEL) / PASSES_ABREAST
TEXT_WIDTH: Final = WIDTH - PROFILE_SIZE[0] - MAP_SIZE[0] - 4.0


def write_sheet_pdf(path: str | Path, sheet: Sheet) -> str:
    """Write the sheet as a PDF with its fonts inside.

    Parameters
    ----------
    path : str or Path
    sheet : Sheet
        Six lines with their runs, slack and what-ifs fill a page; more take more pages.

    Returns
    -------
    str
        Letters that no font of this machine has, each once: they are printed as a question mark.

    Raises
    ------
    OutputError
        If it can't be written; what was there before stays.
    """
    setter = _Setter.of(sheet)
    setter.set_all()
    data = bytes(setter.pdf.output())
    with replacing(path) as partial:
        partial.write_bytes(data)
    return setter.missing


@dataclass(slots=True)
class _Setter:
    """Sets the sheet from the top down; `y` is where the next thing stands, mm."""

    pdf: FPDF
    sheet: Sheet
    missing: str
    y: float = TOP

    @classmethod
    def of(cls, sheet: Sheet) -> _Setter:
        from fpdf import FPDF  # noqa: PLC0415 - half a second that only a PDF needs

        fonts = find_fonts(_all_text(sheet))
        pdf = FPDF(format="A4")
        pdf.set_auto_page_break(False)
        pdf.set_margins(SIDE, TOP, SIDE)
        pdf.c_margin = 0
        pdf.set_title(sheet.title)
        pdf.set_creator(MAKER)
        pdf.add_font(FAMILY, "", fonts.regular)
        pdf.add_font(FAMILY, "B", fonts.bold)
        for number, path in enumerate(fonts.others):
            pdf.add_font(f"other{number}", "", path)
        pdf.set_fallback_fonts(
            [f"other{number}" for number in range(len(fonts.others))], exact_match=False
        )
        return cls(pdf, sheet, fonts.missing)

    def set_all(self) -> None:
        self._page()
        self._right(self.sheet.water, self.y - 0.9, SIDE + WIDTH)
        self._care()
        if self.sheet.tide is not None:
            picture = tide_picture(self.sheet.tide, self.sheet.depth_unit)
            if picture is not None:
                self._draw(picture, SIDE, self.y + 0.5)
                self.y += picture.height + 1.0
        if not self.sheet.lines:
            self.y += self._written(NOTHING_WORTH, self.y, READ_PT, width=WIDTH)
        for line in self.sheet.lines:
            self._line(line)
        self._strips(self.sheet.after)
        self._what_if()

    def _page(self) -> None:
        """Begin a page: title above, after a warning that the limits are passed; cautions below."""
        self.pdf.add_page()
        self.y = TOP
        if self.sheet.beyond:
            self.y += self._written(self.sheet.beyond, self.y, 15, bold=True, width=WIDTH)
            self._rule(self.y + 0.6, 0.6)
            self.y += 1.6
        self.y += self._written(self.sheet.title, self.y, 17, bold=True, width=WIDTH) + 0.3
        hazards, cautions = foot_words(self.sheet)
        at = HEIGHT - FOOT
        self._rule(at, 0.6)
        at += 0.6
        at += self._written(hazards, at, FOOT_PT, bold=True, width=WIDTH)
        self._written(cautions, at, FOOT_PT, width=WIDTH)

    def _care(self) -> None:
        """Set what could hurt, and when the boat is back."""
        for words in self.sheet.warnings:
            self.y += self._written(words, self.y, READ_PT, bold=True, width=WIDTH)
        if self.sheet.home:
            self.y += self._written(self.sheet.home, self.y, READ_PT, width=WIDTH)

    def _room(self, height: float) -> None:
        """Begin another page where so much does not fit on this one."""
        if self.y + height > HEIGHT - FOOT - 0.3:
            self._page()

    def _line(self, line: SheetLine) -> None:
        words = sum(self._height(fact, READ_PT, TEXT_WIDTH) for fact in line.facts)
        height = max(MAP_SIZE[1], 17.9 + words)
        strips = sum(self._height(text, READ_PT, WIDTH) + 0.7 for text in line.before)
        rows = sum(len(band) for band in line.pass_bands)
        self._room(height + strips + ROW * rows + (ROW + 0.9) * len(line.beside))
        self._strips(line.before)
        self._rule(self.y, 0.6)
        top = self.y + 0.7
        self._place_words(line, top)
        left = SIDE + TEXT_WIDTH + 2.0
        profile = profile_picture(line, self.sheet.depth_unit)
        if profile is not None:
            self._draw(profile, left, top)
        self._tally(left, top + PROFILE_SIZE[1] + 0.6)
        if line.ground is not None:
            self._draw(ground_picture(line.ground, line.name), SIDE + WIDTH - MAP_SIZE[0], top)
        self.y += height + 0.7
        self._passes(line)
        for name, start, end in line.beside:
            self._strips([f"{name}: {_position(start)} to {_position(end)}"], bold=True)

    def _place_words(self, line: SheetLine, top: float) -> None:
        self._text(SIDE, top + 4.9, f"{line.name}  {line.when}", 15, bold=True)
        if line.latest:
            self._right(f"start by {line.latest}", top + 4.9, SIDE + TEXT_WIDTH)
        for row, (word, at) in enumerate((("Start", line.start), ("End", line.end))):
            y = top + 10.8 + 5.8 * row
            self._text(SIDE, y, word, READ_PT)
            self._text(SIDE + 12.5, y, _position(at), 14, bold=True)
        y = top + 17.9
        for fact in line.facts:
            y += self._written(fact, y, READ_PT, width=TEXT_WIDTH)

    def _passes(self, line: SheetLine) -> None:
        """Set out what changes from pass to pass, a column a pass."""
        for band in line.pass_bands:
            for number, (name, cells) in enumerate(band):
                base = self.y + ROW - 1.2
                self._text(SIDE, base, name, READ_PT)
                for column, cell in enumerate(cells):
                    left = SIDE + PASS_LABEL + column * PASS_COLUMN
                    self._text(left, base, cell, READ_PT, bold=not number)
                self.y += ROW

    def _tally(self, left: float, top: float) -> None:
        """Blank boxes, a row a fate."""
        side, label = 5.0, 11.5
        step = (PROFILE_SIZE[0] - label) / TALLY_BOXES
        self.pdf.set_draw_color(0)
        self.pdf.set_line_width(0.3)
        self.pdf.set_dash_pattern()
        for row, fate in enumerate(FATES):
            y = top + row * (side + 0.8)
            self._text(left, y + side - 0.8, fate, READ_PT)
            for box in range(TALLY_BOXES):
                self.pdf.rect(left + label + box * step, y, step - 1.0, side)

    def _strips(self, words: Sequence[str], *, bold: bool = False) -> None:
        for each in words:
            height = self._height(each, READ_PT, WIDTH)
            self._room(height + 0.7)
            self._rule(self.y, 0.2)
            self._written(each, self.y + 0.4, READ_PT, bold=bold, width=WIDTH)
            self.y += height + 0.7

    def _what_if(self) -> None:
        if not self.sheet.what_if:
            return
        told = [f"{case}: {words}" for case, words in self.sheet.what_if]
        self._room(1.0 + sum(self._height(each, READ_PT, WIDTH) for each in told))
        self._rule(self.y, 0.6)
        self.y += 0.8
        for each in told:
            height = self._height(each, READ_PT, WIDTH)
            self._room(height)
            self._written(each, self.y, READ_PT, width=WIDTH)
            self.y += height

    def _height(self, text: str, size: float, width: float) -> float:
        return self._cell(0.0, text, size, bold=False, width=width, dry=True)

    def _written(
        self, text: str, y: float, size: float, *, width: float, bold: bool = False
    ) -> float:
        """Write text in lines no longer than `width`; give the height they took."""
        return self._cell(y, text, size, bold=bold, width=width, dry=False)

    def _cell(
        self, y: float, text: str, size: float, *, bold: bool, width: float, dry: bool
    ) -> float:
        row = size * ROW / READ_PT
        self._font(size, bold=bold)
        self.pdf.set_xy(SIDE, y)
        height = self.pdf.multi_cell(
            width, row, self._printable(text), align="L", dry_run=dry, output="HEIGHT"
        )
        return float(cast(float, height))

    def _text(self, x: float, y: float, text: str, size: float, *, bold: bool = False) -> None:
        """Write one line whose base is at `y`."""
        self._font(size, bold=bold)
        self.pdf.set_xy(x, y - size * 0.3528 * 0.95)
        width = self.pdf.get_string_width(self._printable(text)) + 1.0
        self.pdf.cell(width, size * 0.3528 * 1.2, self._printable(text))

    def _right(self, text: str, y: float, right: float) -> None:
        """Write one line that ends at `right`."""
        self._font(READ_PT, bold=False)
        self._text(right - self.pdf.get_string_width(self._printable(text)), y, text, READ_PT)

    def _font(self, size: float, *, bold: bool) -> None:
        self.pdf.set_font(FAMILY, "B" if bold else "", size)
        self.pdf.set_text_color(0)

    def _printable(self, text: str) -> str:
        table: dict[int, Any] = dict.fromkeys(map(ord, self.missing), "?")
        return text.translate(table)

    def _rule(self, y: float, width: float) -> None:
        self.pdf.set_draw_color(0)
        self.pdf.set_line_width(width)
        self.pdf.set_dash_pattern()
        self.pdf.line(SIDE, y, SIDE + WIDTH, y)

    def _draw(self, drawing: Drawing, left: float, top: float) -> None:
        draw_on(self.pdf, drawing, left, top, self._words)

    def _words(self, part: Words, left: float, top: float) -> None:
        size = part.size * 72 / 25.4
        self._font(size, bold=part.bold)
        text = self._printable(part.text)
        width = self.pdf.get_string_width(text)
        x = left + part.x - {"start": 0.0, "middle": width / 2, "end": width}[part.anchor]
        y = top + part.y
        if part.halo:
            self.pdf.set_fill_color(255)
            box = (x - 0.3, y - part.size * 0.76, width + 0.6, part.size * 0.82)
            self.pdf.rect(*box, style="F")
        self._text(x, y, text, size, bold=part.bold)


def _position(at: tuple[float, float]) -> str:
    return degrees_minutes(at[1], at[0])


def _all_text(sheet: Sheet) -> str:
    """Everything that is printed, for the choice of fonts."""
    told = [sheet.title, sheet.water, sheet.depth_unit, sheet.hazard_words, *sheet.after]
    told += [sheet.beyond, sheet.home, *sheet.warnings]
    told += [word for pair in sheet.what_if for word in pair]
    for line in sheet.lines:
        told += [line.name, line.when, line.latest, *line.facts, *line.before]
        told += [name for name, _, _ in line.beside]
        told += [word for name, cells in line.passes for word in (name, *cells)]
        if line.ground is not None:
            told += [name for name, _ in (*line.ground.others, *line.ground.hazards)]
    return "".join(told) + "°'\"?"
