"""The sheet: the day's plan on paper, to read with wet hands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from layers.cautions import CAUTIONS
from layers.exports.positions import degrees_minutes
from seabed.files import write_text
from seabed.markup import markup_text

__all__ = ["NO_HAZARDS", "Sheet", "SheetLine", "write_sheet"]

NO_HAZARDS: Final = (
    "Charted hazards (wrecks, rocks, obstructions, cables) were not considered: hold each line "
    "against the official chart."
)
"""What a plan must say that looks at depths alone."""

Position = tuple[float, float]


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One line of the plan, in words ready to print.

    Attributes
    ----------
    name, when : str
    start, end : (longitude, latitude)
    facts : sequence of (str, str)
        What and how much.
    profile : sequence of (float, float)
        Metres along the line, and depth of water there in the unit shown.
    """

    name: str
    when: str
    start: Position
    end: Position
    facts: Sequence[tuple[str, str]]
    profile: Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A day's plan, ready to print.

    Attributes
    ----------
    title, water : str
        Water says the day's tide in a line.
    depth_unit : str
    lines : sequence of SheetLine
    """

    title: str
    water: str
    depth_unit: str
    lines: Sequence[SheetLine]


def write_sheet(path: str | Path, sheet: Sheet) -> None:
    """Write the sheet as one HTML page made for printing, black on white, in big type.

    Parameters
    ----------
    path : str or Path
    sheet : Sheet

    Raises
    ------
    OutputError
        If it can't be written; what was there before stays.
    """
    blocks = "".join(_line(line, sheet.depth_unit) for line in sheet.lines)
    none = "" if sheet.lines else "<p>No drift in this time is worth making.</p>"
    title = markup_text(sheet.title)
    write_text(
        path,
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{_STYLE}</style></head><body><h1>{title}</h1><p>{markup_text(sheet.water)}</p>"
        f"{none}{blocks}<footer><b>{markup_text(NO_HAZARDS)}</b> {markup_text(CAUTIONS)} "
        "Check the current local rule: sizes and bags change.</footer></body></html>\n",
    )


_STYLE = """
@page { size: A4; margin: 12mm; }
body { font: 15pt/1.3 "Liberation Sans", Arial, sans-serif; color: #000; background: #fff;
  max-width: 190mm; margin: 8mm auto; }
h1 { font-size: 22pt; margin: 0; } p { margin: 1mm 0 3mm; }
section { border-top: 2pt solid #000; padding: 2mm 0 3mm; break-inside: avoid;
  display: grid; grid-template-columns: 1fr 78mm; gap: 1mm 6mm; }
h2 { font-size: 19pt; margin: 0; grid-column: 1 / 3; }
.place { font-size: 18pt; font-weight: bold; white-space: nowrap; }
dl { margin: 0; display: grid; grid-template-columns: auto 1fr; gap: 0 4mm; }
dt { font-weight: normal; } dd { margin: 0; font-weight: bold; }
svg { width: 100%; } svg text { font: 11px sans-serif; }
.tally { grid-column: 1 / 3; display: flex; gap: 3mm; align-items: center; }
.tally i { display: inline-block; width: 9mm; height: 9mm; border: 1.2pt solid #000; }
footer { border-top: 2pt solid #000; font-size: 11pt; padding-top: 2mm; }
"""


def _line(line: SheetLine, unit: str) -> str:
    facts = "".join(
        f"<dt>{markup_text(what)}</dt><dd>{markup_text(much)}</dd>" for what, much in line.facts
    )
    places = "".join(
        f'<div>{word} <span class="place">{markup_text(degrees_minutes(at[1], at[0]))}</span></div>'
        for word, at in (("Start", line.start), ("End", line.end))
    )
    boxes = "<i></i>" * 8
    return (
        f"<section><h2>{markup_text(line.name)} &nbsp; {markup_text(line.when)}</h2>"
        f"<div>{places}<dl>{facts}</dl></div><div>{_profile(line.profile, unit)}</div>"
        f'<div class="tally">Kept {boxes} Short {boxes}</div></section>'
    )


def _profile(points: Sequence[tuple[float, float]], unit: str) -> str:
    """Depth along the line as a drawing: start at the left, deeper downward."""
    if len(points) < 2:
        return ""
    depths = [depth for _, depth in points]
    low, high = min(depths), max(depths)
    room = max(high - low, 1.0)
    length = max(points[-1][0], 1.0)
    path = " ".join(
        f"{34 + 260 * metres / length:.1f},{14 + 70 * (depth - low) / room:.1f}"
        for metres, depth in points
    )
    return (
        f'<svg viewBox="0 0 300 110" role="img" aria-label="Depth along the line">'
        f'<polyline points="{path}" fill="none" stroke="#000" stroke-width="2.5"/>'
        f'<text x="30" y="18" text-anchor="end">{low:.0f}</text>'
        f'<text x="30" y="{18 + 70 * (high - low) / room:.0f}" text-anchor="end">{high:.0f}</text>'
        f'<text x="34" y="106">start</text><text x="294" y="106" text-anchor="end">'
        f"end, {markup_text(unit)} of water</text></svg>"
    )
