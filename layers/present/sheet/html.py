"""The sheet as a page for a browser, made for printing, black on white."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from layers.present.looks import css_variables
from layers.present.pictures.drawing import enlarged, svg
from layers.present.positions import degrees_minutes
from layers.present.sheet.content import (
    FATES,
    FOOT,
    NOTHING_WORTH,
    TALLY_BOXES,
    Sheet,
    SheetLine,
)
from layers.present.sheet.paper import Paper, paper_named
from layers.present.sheet.pictures import ground_picture, profile_picture, tide_strip
from layers.present.web_page import web_page
from seabed.files import write_text
from seabed.markup import markup_text

__all__ = ["write_sheet"]


def write_sheet(path: str | Path, sheet: Sheet, paper: str = "A4") -> None:
    """Write the sheet as one HTML file that loads nothing.

    Printed on A4, some five lines with their runs, slack and what-ifs fill a page.
    """
    on = paper_named(paper)
    curve = tide_strip(sheet, on)
    blocks = "".join(_line(line, sheet.depth_unit, on) for line in sheet.lines)
    what_if = "".join(
        f"<li><b>{markup_text(case)}:</b> {markup_text(words)}</li>"
        for case, words in sheet.what_if
    )
    beyond = f'<p class="beyond">{markup_text(sheet.beyond)}</p>' if sheet.beyond else ""
    first = [words for words in (sheet.hazard_words, *sheet.warnings) if words]
    warnings = "".join(f"<li>{markup_text(words)}</li>" for words in first)
    parts = [
        beyond,
        f"<header><h1>{markup_text(sheet.title)}</h1><p>{markup_text(sheet.water)}</p></header>",
        f'<ul class="warn">{warnings}</ul>' if warnings else "",
        f'<p class="home">{markup_text(sheet.home)}</p>' if sheet.home else "",
        "".join(f"<p>{markup_text(words)}</p>" for words in sheet.facts),
        "" if curve is None else f'<div class="tide">{svg(curve)}</div>',
        "" if sheet.lines else f"<p>{NOTHING_WORTH}</p>",
        blocks,
        _strips(sheet.after),
        f'<ul class="if">{what_if}</ul>' if what_if else "",
        f"<footer>{markup_text(FOOT)}</footer>",
    ]
    write_text(
        path,
        web_page(sheet.title, "".join(parts), styles=[css_variables(), _STYLE + on.css + _PHONE]),
    )


_STYLE: Final = """
* { box-sizing: border-box; }
body { font: 12pt/1.1 "Liberation Sans", Arial, Helvetica, sans-serif; color: var(--black);
  background: var(--white); margin: 6mm auto; }
@media print { body { margin: 0; line-height: 1.04; } .place { line-height: 1.04 !important; } }
svg { display: block; overflow: hidden; font-family: inherit; max-width: 100%; }
header { display: flex; justify-content: space-between; align-items: baseline; gap: 0 6mm;
  flex-wrap: wrap; }
h1 { font-size: 1.33em; margin: 0; } p { margin: 0; }
.beyond { border: 1.6pt solid; padding: 1mm 2mm; font-size: 1.25em; font-weight: bold; }
.warn { margin: 0.5mm 0; padding: 0; list-style: none; font-weight: bold; }
.tide { margin: 0.5mm 0; }
section { break-inside: avoid; }
.strip { border-top: 0.6pt solid; padding: 0.1mm 0; }
.line { border-top: 1.6pt solid; padding: 0.25mm 0; display: grid; gap: 0 2mm;
  grid-template-columns: 1fr 46mm 36mm; }
h2 { font-size: 1.25em; line-height: 1.15; margin: 0; display: flex; flex-wrap: wrap;
  justify-content: space-between; }
h2 small { font-size: 0.8em; font-weight: normal; align-self: end; }
.place { line-height: 1.1; } .place b { font-size: 1.17em; white-space: nowrap; }
.tally { display: flex; gap: 0.6mm; align-items: center; margin-top: 0.6mm; }
.tally span { min-width: 11.5mm; }
.tally i { flex: 1; height: 5mm; border: 0.9pt solid; }
.passes { border-collapse: collapse; line-height: 1.1; width: 100%; table-layout: fixed; }
.passes th { text-align: left; font-weight: normal; padding: 0 2mm 0 0; width: 23%; }
.passes td { padding: 0 2mm 0 0; }
.passes tr:first-child td { font-weight: bold; }
.if { margin: 0; padding: 0.3mm 0; border-top: 1.6pt solid; list-style: none; }
footer { border-top: 1.6pt solid; padding-top: 0.4mm; font-size: 8pt; line-height: 1.1; }
@media print { .warn, .tide { margin: 0; } .strip { padding: 0; } }
"""

_PHONE: Final = """
@media screen and (max-width: 820px) {
  body { width: auto; max-width: 190mm; margin: 0; padding: 8px; font-size: 17px;
    line-height: 1.3; overflow-wrap: anywhere; }
  .line { grid-template-columns: 1fr 1fr; }
  .line .words { grid-column: 1 / -1; }
  .line svg { width: 100%; height: auto; }
  .tide { overflow-x: auto; } .tide svg { max-width: none; }
  .tally i { height: 32px; }
  footer { font-size: 14px; }
}
"""


def _line(line: SheetLine, unit: str, on: Paper) -> str:
    places = "".join(_place(word, at) for word, at in (("Start", line.start), ("End", line.end)))
    facts = "".join(f"<div>{markup_text(fact)}</div>" for fact in line.facts)
    profile = profile_picture(line, unit)
    ground = None if line.ground is None else ground_picture(line.ground, line.name)
    latest = f"<small>start by {markup_text(line.latest)}</small>" if line.latest else ""
    boxes = "<i></i>" * TALLY_BOXES
    tally = "".join(f'<div class="tally"><span>{fate}</span>{boxes}</div>' for fate in FATES)
    return (
        f'<section>{_strips(line.before)}<div class="line"><div class="words">'
        f"<h2><span>{markup_text(line.name)} &nbsp;{markup_text(line.when)}</span>{latest}</h2>"
        f"{places}{facts}</div>"
        f"<div>{'' if profile is None else svg(enlarged(profile, on.times))}{tally}</div>"
        f"<div>{'' if ground is None else svg(enlarged(ground, on.times))}</div></div>"
        f"{_passes(line, on.passes)}{_beside(line)}</section>"
    )


def _place(word: str, at: tuple[float, float]) -> str:
    return f'<div class="place">{word} <b>{markup_text(degrees_minutes(at[1], at[0]))}</b></div>'


def _passes(line: SheetLine, most: int) -> str:
    """Set out what changes from pass to pass, a column a pass."""
    bands = "".join(
        "<tbody>"
        + "".join(
            f'<tr><th scope="row">{markup_text(name)}</th>'
            + "".join(f"<td>{markup_text(cell)}</td>" for cell in cells)
            + "</tr>"
            for name, cells in band
        )
        + "</tbody>"
        for band in line.pass_bands(most)
    )
    return f'<table class="passes">{bands}</table>' if bands else ""


def _beside(line: SheetLine) -> str:
    return "".join(
        f'<div class="strip">{markup_text(name)}: '
        f"<b>{markup_text(degrees_minutes(start[1], start[0]))}</b> to "
        f"<b>{markup_text(degrees_minutes(end[1], end[0]))}</b></div>"
        for name, start, end in line.beside
    )


def _strips(words: Sequence[str]) -> str:
    return "".join(f'<div class="strip">{markup_text(each)}</div>' for each in words)
