"""The sheet as a PDF: the same words and pictures, set by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from layers.cautions import CAUTIONS_SHORT
from layers.present.pictures.drawing import Drawing, Words, draw_on, enlarged, pt
from layers.present.positions import degrees_minutes
from layers.present.sheet.content import (
    FATES,
    FOOT,
    NOTHING_WORTH,
    TALLY_BOXES,
    Sheet,
    SheetLine,
)
from layers.present.sheet.fonts import FAMILY, Fonts, find_fonts, new_document
from layers.present.sheet.paper import Paper, paper_named
from layers.present.sheet.pictures import (
    MAP_SIZE,
    PROFILE_SIZE,
    ground_picture,
    profile_picture,
    tide_strip,
)
from layers.present.sheet.wrapping import wrapped
from seabed.files import replacing

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["write_sheet_pdf"]

TOP: Final = 6.0
FOOT_PT: Final = 8.0
LEADINGS: Final = (0.4, 0.37)
"""From base line to base line, mm for each point of size: as it is read best, and as it fits."""
EVEN: Final = (0.5, 0.6, 0.7, 0.8, 0.9)
"""Shares of a page's room, tried so that the last of several pages is not nearly empty."""
SOFT_HYPHEN: Final = 0xAD
BOX: Final = 5.0
"""Side of a box to tally fish in, mm."""


def write_sheet_pdf(path: str | Path, sheet: Sheet, paper: str = "A4") -> str:
    """Write the sheet as a PDF with its fonts inside, spread evenly over as many pages as it needs.

    Returned: letters that no font of this machine has, each once; they print as question marks.
    """
    fonts = find_fonts(_all_text(sheet))
    data = bytes(_set(sheet, paper_named(paper), fonts).output())
    with replacing(path) as partial:
        partial.write_bytes(data)
    return fonts.missing


def _set(sheet: Sheet, paper: Paper, fonts: Fonts) -> FPDF:
    """Set a sheet on as few pages as it needs, evenly filled."""
    pdf = _Setter.new(sheet, paper, fonts)
    once = _Once(tide_strip(sheet, paper), {True: {}, False: {}}, {})

    def pages(leading: float, share: float = 1.0) -> int:
        trial = _Setter(pdf, sheet, paper, fonts.missing, leading, share, once, dry=True)
        trial.set_all()
        return trial.pages

    tightest = LEADINGS[-1]
    ways: Iterable[tuple[float, float]] = [(leading, 1.0) for leading in LEADINGS]
    fewest = pages(tightest)
    if fewest > 1:
        ways = [(LEADINGS[0], share) for share in EVEN]
    best = (way for way in ways if pages(*way) <= fewest)
    leading, share = next(best, (tightest, 1.0))
    _Setter(pdf, sheet, paper, fonts.missing, leading, share, once).set_all()
    return pdf


class _Once(NamedTuple):
    """What is drawn or measured once for all trials of a sheet.

    widths: of each letter, mm for each point of size, bold and not.
    lines: of a text, by text, size, the width it may take, and whether it is bold.
    """

    tide: Drawing | None
    widths: dict[bool, dict[str, float]]
    lines: dict[tuple[str, float, float, bool], list[str]]


@dataclass(slots=True)
class _Setter:
    """Sets the sheet from the top down; `y` is where the next thing begins, mm.

    dry: whether only to count the `pages`.
    """

    pdf: FPDF
    sheet: Sheet
    paper: Paper
    missing: str
    leading: float
    share: float
    once: _Once
    dry: bool = False
    y: float = TOP
    foot: float = 0.0
    pages: int = 0

    @staticmethod
    def new(sheet: Sheet, paper: Paper, fonts: Fonts) -> FPDF:
        """Begin a document with its fonts, without a page."""
        pdf = new_document((paper.width, paper.height), fonts, sheet.title)
        pdf.set_margins(paper.side, TOP, paper.side)
        return pdf

    def set_all(self) -> None:
        sheet = self.sheet
        self._page()
        for words in sheet.warnings:
            self.y += self._written(words, self.y, self.size(), bold=True)
        self._block([sheet.home, *sheet.facts])
        picture = self.once.tide
        if picture:
            self._draw(picture, self.paper.side, self.y + 0.5)
            self.y += picture.height + 1.0
        if not sheet.lines:
            self._block([NOTHING_WORTH])
        for line in sheet.lines:
            self._line(line)
        self._strips(sheet.after)
        cases = [f"{case}: {words}" for case, words in sheet.what_if]
        if self.paper.short_foot:
            cases.append(FOOT)
        if cases:
            self._room(self._height(cases[0]) + 1.0)
            self._rule(self.y, 0.6)
            self.y += 0.8
        for words in cases:
            self._room(self._height(words))
            self._block([words])

    def _wind(self) -> None:
        """Set the wind beside the title where it has room there, else under it."""
        self._font(self.size(1.4), bold=True)
        title = self.pdf.get_string_width(self._printable(self.sheet.title))
        self._font(self.size(), bold=False)
        if (
            title + self.pdf.get_string_width(self._printable(self.sheet.water)) + 6
            < self.paper.room
        ):
            right = self.paper.side + self.paper.room
            self._right(self.sheet.water, self.y - 1.6, right)
        else:
            self._block([self.sheet.water])

    def size(self, times: float = 1.0) -> float:
        """Give a size in points: so many times that of what is read afloat."""
        return self.paper.read_pt * times

    def row(self, times: float = 1.0) -> float:
        return self.size(times) * self.leading

    def _page(self) -> None:
        """Begin a page: limits that are passed, title and hazards above; cautions below."""
        self.pages += 1
        if not self.dry:
            self.pdf.add_page()
        self.y = TOP
        if self.sheet.beyond:
            self.y += self._written(self.sheet.beyond, self.y, self.size(1.25), bold=True)
            self._rule(self.y + 0.6, 0.6)
            self.y += 1.6
        self.y += self._written(self.sheet.title, self.y, self.size(1.4), bold=True) + 0.3
        if self.pages == 1:
            self._wind()
        if self.pages == 1 or not self.paper.short_foot:
            self.y += self._written(self.sheet.hazard_words, self.y, self.size(), bold=True)
        words = CAUTIONS_SHORT if self.paper.short_foot else FOOT
        self.foot = 6.0 + self._height(words, FOOT_PT)
        at = self.paper.height - self.foot
        self._rule(at, 0.6)
        self._written(words, at + 0.6, FOOT_PT)

    def _room(self, height: float) -> None:
        """Begin another page where so much does not fit on this one."""
        bottom = self.paper.height - self.foot - 0.3
        full = self.y + height > bottom
        if full or self.y > TOP + self.share * (bottom - TOP):
            self._page()

    def _block(self, texts: Sequence[str]) -> None:
        for words in filter(None, texts):
            self.y += self._written(words, self.y, self.size())

    def _line(self, line: SheetLine) -> None:
        """Set a line: its words, and beside or under them profile, tally and map."""
        paper = self.paper
        times = paper.times
        pictures = PROFILE_SIZE[0] + MAP_SIZE[0] + 4.0
        width = paper.room - pictures if paper.abreast else paper.room
        words = self.row(1.25) + 2 * self.row(1.17) + 1.5
        words += sum(self._height(fact, width=width) for fact in line.facts)
        tall = max(MAP_SIZE[1], PROFILE_SIZE[1] + 2 * (BOX + 0.8) + 0.6) * times
        height = max(tall, words) if paper.abreast else tall + words
        strips = sum(self._height(text) + 0.7 for text in line.before)
        below = sum(self._pass_height(line, row) for band in self._bands(line) for row in band)
        self._room(height + strips + below + (self.row() + 0.9) * len(line.beside))
        self._strips(line.before, held=True)
        self._rule(self.y, 0.6)
        self._line_words(line, self.y + 0.7, width)
        left = paper.side + (width + 2.0 if paper.abreast else 0.0)
        top = self.y + 0.7 + (0.0 if paper.abreast else words)
        profile = None if self.dry else profile_picture(line, self.sheet.depth_unit)
        if profile is not None:
            self._draw(enlarged(profile, times), left, top)
        self._tally(left, top + (PROFILE_SIZE[1] + 0.6) * times)
        if line.ground is not None and not self.dry:
            right = paper.side + paper.room - MAP_SIZE[0] * times
            self._draw(enlarged(ground_picture(line.ground, line.name), times), right, top)
        self.y += height + 0.7
        for band in self._bands(line):
            for number, row in enumerate(band):
                self._pass_row(line, row, bold=not number)
        for name, start, end in line.beside:
            self._strips([f"{name}: {_position(start)} to {_position(end)}"], bold=True, held=True)

    def _line_words(self, line: SheetLine, top: float, width: float) -> None:
        side = self.paper.side
        base = top + self.row(1.25) * 0.8
        self._text(side, base, f"{line.name}  {line.when}", self.size(1.25), bold=True)
        if line.latest:
            self._right(f"start by {line.latest}", base, side + width)
        for word, at in (("Start", line.start), ("End", line.end)):
            base += self.row(1.17)
            self._text(side, base, word, self.size())
            self._text(side + self.size() * 1.04, base, _position(at), self.size(1.17), bold=True)
        y = base + 1.5
        for fact in line.facts:
            y += self._written(fact, y, self.size(), width=width)

    def _bands(self, line: SheetLine) -> list[list[tuple[str, Sequence[str]]]]:
        return line.pass_bands(self.paper.passes)

    def _columns(self, line: SheetLine) -> tuple[float, float]:
        """Give the widths of the names of what changes from pass to pass, and of a pass."""
        label = self.size() * 1.85
        count = max(len(cells) for _, cells in self._bands(line)[0])
        return label, (self.paper.room - label) / count

    def _pass_height(self, line: SheetLine, row: tuple[str, Sequence[str]]) -> float:
        _, column = self._columns(line)
        return max(self._height(cell, width=column - 2.0) for cell in (row[0], *row[1]))

    def _pass_row(self, line: SheetLine, row: tuple[str, Sequence[str]], *, bold: bool) -> None:
        label, column = self._columns(line)
        left = self.paper.side
        self._written(row[0], self.y, self.size(), width=label)
        for place, cell in enumerate(row[1]):
            x = left + label + place * column
            self._written(cell, self.y, self.size(), x=x, width=column - 2.0, bold=bold)
        self.y += self._pass_height(line, row)

    def _tally(self, left: float, top: float) -> None:
        """Blank boxes, a row a fate."""
        if self.dry:
            return
        times = self.paper.times
        label, box = 11.5 * times, BOX * times
        step = (PROFILE_SIZE[0] * times - label) / TALLY_BOXES
        self.pdf.set_draw_color(0)
        self.pdf.set_line_width(0.3)
        self.pdf.set_dash_pattern()
        for row, fate in enumerate(FATES):
            y = top + row * (box + 0.8)
            self._text(left, y + box - 0.8, fate, 12.0 * times)
            for place in range(TALLY_BOXES):
                self.pdf.rect(left + label + place * step, y, step - 1.0, box)

    def _strips(self, words: Sequence[str], *, bold: bool = False, held: bool = False) -> None:
        """Set strips one under the other, `held` together with what is around them."""
        for each in words:
            height = self._height(each)
            if not held:
                self._room(height + 0.7)
            self._rule(self.y, 0.2)
            self._written(each, self.y + 0.4, self.size(), bold=bold)
            self.y += height + 0.7

    def _height(self, text: str, size: float = 0.0, *, width: float = 0.0) -> float:
        return self._written(text, 0.0, size or self.size(), width=width, dry=True)

    def _written(
        self, text: str, y: float, size: float, *, x: float = 0.0, width: float = 0.0,
        bold: bool = False, dry: bool = False,
    ) -> float:  # fmt: skip
        """Write text in lines no longer than `width`, or only measure it; give their height."""
        lines = self._wrapped(text, size, width or self.paper.room, bold)
        if not (self.dry or dry):
            self._font(size, bold=bold)
            self.pdf.set_xy(x or self.paper.side, y)
            for line in lines:
                self.pdf.cell(0, size * self.leading, line, new_x="LEFT", new_y="NEXT")
        return len(lines) * size * self.leading

    def _wrapped(self, text: str, size: float, width: float, bold: bool) -> list[str]:
        """Break a text into lines no longer than `width`."""
        widths, lines = self.once.widths[bold], self.once.lines
        key = text, size, width, bold
        if key not in lines:
            words = self._printable(text)
            self._font(size, bold=bold)
            for letter in {*words} - widths.keys():
                widths[letter] = self.pdf.get_string_width(letter) / size
            lines[key] = wrapped(words, width / size, widths.__getitem__)
        return lines[key]

    def _text(self, x: float, y: float, text: str, size: float, *, bold: bool = False) -> None:
        """Write one line whose base is at `y`."""
        if self.dry:
            return
        self._font(size, bold=bold)
        self.pdf.set_xy(x, y - pt(size) * 0.95)
        self.pdf.cell(0, pt(size) * 1.2, self._printable(text))

    def _right(self, text: str, y: float, right: float) -> None:
        """Write one line that ends at `right`."""
        self._font(self.size(), bold=False)
        self._text(right - self.pdf.get_string_width(self._printable(text)), y, text, self.size())

    def _font(self, size: float, *, bold: bool) -> None:
        self.pdf.set_font(FAMILY, "B" if bold else "", size)
        self.pdf.set_text_color(0)

    def _printable(self, text: str) -> str:
        table: dict[int, Any] = dict.fromkeys(map(ord, self.missing), "?")
        table[SOFT_HYPHEN] = ""
        return text.translate(table)

    def _rule(self, y: float, width: float) -> None:
        if self.dry:
            return
        self.pdf.set_draw_color(0)
        self.pdf.set_line_width(width)
        self.pdf.set_dash_pattern()
        self.pdf.line(self.paper.side, y, self.paper.side + self.paper.room, y)

    def _draw(self, drawing: Drawing, left: float, top: float) -> None:
        if self.dry:
            return
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
    texts = [sheet.title, sheet.water, sheet.depth_unit, sheet.hazard_words, *sheet.after]
    texts += [sheet.beyond, sheet.home, *sheet.facts, *sheet.warnings]
    texts += [word for pair in sheet.what_if for word in pair]
    for line in sheet.lines:
        texts += [line.name, line.when, line.latest, *line.facts, *line.before]
        texts += [name for name, _, _ in line.beside]
        texts += [word for name, cells in line.passes for word in (name, *cells)]
        if line.ground is not None:
            texts += [name for name, _ in (*line.ground.others, *line.ground.hazards)]
    return "".join(texts) + "°'\"?"
