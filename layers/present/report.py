"""The report of a look at the bottom: where to look first, and why, on paper or a screen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from layers.cautions import CAUTIONS
from layers.present.positions import degrees_minutes
from layers.present.web_page import web_page
from seabed.files import write_text
from seabed.markup import markup_text
from seabed.units import convert, round_step

__all__ = ["Cut", "Prospect", "Report", "write_report"]

Position = tuple[float, float]

WIDE: Final = 420.0
HIGH: Final = 190.0
LEFT: Final = 44.0
RIGHT: Final = 8.0
TOP: Final = 22.0
BOTTOM: Final = 40.0


@dataclass(frozen=True, slots=True)
class Cut:
    """A depth profile across a feature, metres; NaN where unknown.

    Attributes
    ----------
    offset_m, depth_m, mean_m, spread_m : sequence of float
        As `seabed.structure.across_edges` gives them.
    ends : (str, str)
        What lies to the left and right.
    """

    offset_m: Sequence[float]
    depth_m: Sequence[float]
    mean_m: Sequence[float]
    spread_m: Sequence[float]
    ends: tuple[str, str]


@dataclass(frozen=True, slots=True)
class Prospect:
    """One place worth a look.

    Attributes
    ----------
    name, kind, why : str
    score : float
    parts : sequence of (str, float)
        What the score is made of, 0 to 1 each.
    position : (longitude, latitude)
    cut : Cut
    """

    name: str
    kind: str
    why: str
    score: float
    parts: Sequence[tuple[str, float]]
    position: Position
    cut: Cut


@dataclass(frozen=True, slots=True)
class Report:
    """A look at the bottom, ready to print.

    Attributes
    ----------
    title : str
    about : sequence of str
        Sentences under the title.
    charts : sequence of str
        Sentences about the chart; ``"Warning: …"`` stand out.
    prospects : sequence of Prospect
        Best first.
    band_m : (float, float)
    depth_unit : str
    """

    title: str
    about: Sequence[str]
    charts: Sequence[str]
    prospects: Sequence[Prospect]
    band_m: tuple[float, float]
    depth_unit: str


def write_report(path: str | Path, report: Report) -> None:
    """Write the report as one HTML page that loads nothing and prints black on white.

    Parameters
    ----------
    path : str or Path
    report : Report
        Text in it may come from files: it is never taken for HTML.

    Raises
    ------
    OutputError
        If it can't be written; what was there before stays.
    """
    blocks = "".join(_prospect(one, report) for one in report.prospects)
    none = "" if report.prospects else "<p>No edge, hump or hole was found here.</p>"
    charts = _list(report.charts)
    body = (
        f"<h1>{markup_text(report.title)}</h1>"
        f'<p class="care">{markup_text(CAUTIONS)}</p>{_list(report.about)}'
        f"{none}{blocks}<footer>{'<h2>Against the chart</h2>' + charts if charts else ''}"
        f"<h2>What the score is</h2><p>{markup_text(_SCORE)}</p>"
        f'<p class="care">{markup_text(CAUTIONS)}</p></footer>'
    )
    write_text(path, web_page(report.title, body, styles=[_STYLE]))


_SCORE: Final = (
    "A rule of thumb, with no fish behind it: 35 points for how much of the feature lies in your "
    "band, 25 for its drop, 20 for its steepness, 20 for other structure close by; all of it less "
    "the further it lies from the band in depth, where the grid's own doubt is as great as the "
    "drop, and beside charted dangers."
)

_STYLE: Final = """
@page { size: A4; margin: 12mm; }
* { box-sizing: border-box; }
body { font: 15pt/1.35 "Liberation Sans", Arial, sans-serif; color: #000; background: #fff;
  max-width: 190mm; margin: 0 auto; padding: 4mm; overflow-wrap: anywhere; }
h1 { font-size: 24pt; margin: 0 0 2mm; } h2 { font-size: 19pt; margin: 0; }
p { margin: 1mm 0 2mm; } ul { margin: 1mm 0 3mm; padding-left: 6mm; }
.care { font-size: 11pt; border-left: 3pt solid #000; padding-left: 3mm; }
.warning { font-weight: bold; }
section { border-top: 2pt solid #000; padding: 2mm 0 4mm; break-inside: avoid;
  display: grid; grid-template-columns: minmax(0, 1fr) 92mm; gap: 1mm 5mm; }
section h2 { grid-column: 1 / -1; display: flex; justify-content: space-between; gap: 4mm; }
h2 small { font-size: 13pt; font-weight: normal; white-space: nowrap; }
.place { font-size: 16pt; font-weight: bold; }
.parts { font-size: 11pt; color: #333; }
svg { width: 100%; height: auto; } svg text { font: 15px "Liberation Sans", Arial, sans-serif; }
footer { border-top: 2pt solid #000; padding-top: 2mm; }
@media screen and (max-width: 640px) {
  section { grid-template-columns: minmax(0, 1fr); }
}
@media print { body { padding: 0; max-width: none; font-size: 13pt; } }
"""


def _list(sentences: Sequence[str]) -> str:
    rows = "".join(f"<li{_warned(sentence)}>{markup_text(sentence)}</li>" for sentence in sentences)
    return f"<ul>{rows}</ul>" if rows else ""


def _warned(sentence: str) -> str:
    return ' class="warning"' if sentence.startswith("Warning") else ""


def _prospect(one: Prospect, report: Report) -> str:
    place = degrees_minutes(one.position[1], one.position[0])
    parts = ", ".join(f"{name} {part:.2f}" for name, part in one.parts)
    return (
        f"<section><h2>{markup_text(one.name)} &nbsp;{markup_text(one.kind)}"
        f"<small>score {one.score:.0f}</small></h2>"
        f'<div><div class="place">{markup_text(place)}</div><p>{markup_text(one.why)}</p>'
        f'<p class="parts">{markup_text(parts)}</p></div>'
        f"<div>{_drawing(one.cut, report)}</div></section>"
    )


def _drawing(cut: Cut, report: Report) -> str:
    """Depth across the feature: deeper downward, the band shaded, the mean with its spread."""
    pairs = list(zip(cut.offset_m, cut.depth_m, strict=True))
    known = [depth for _, depth in pairs if math.isfinite(depth)]
    if len(known) < 2:
        return "<p>No profile: the depths there are not known.</p>"
    spreads = zip(cut.mean_m, cut.spread_m, strict=True)
    reached = [mean + sign * spread for mean, spread in spreads for sign in (-1, 1)]
    low, high = _frame([*known, *filter(math.isfinite, reached)], report.band_m)
    span = (cut.offset_m[0], cut.offset_m[-1])

    def x(offset: float) -> float:
        return LEFT + (WIDE - LEFT - RIGHT) * (offset - span[0]) / (span[1] - span[0])

    def y(depth: float) -> float:
        kept = min(max(depth, low), high)
        return TOP + (HIGH - TOP - BOTTOM) * (kept - low) / (high - low)

    shallow, deep = (y(depth) for depth in report.band_m)
    unit = report.depth_unit
    levels = "".join(
        f'<line x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{y(depth):.1f}" y2="{y(depth):.1f}" '
        f'stroke="#bbb"/><text x="{LEFT - 5}" y="{y(depth) + 4.5:.1f}" text-anchor="end">'
        f"{shown:g}</text>"
        for depth, shown in _ticks(low, high, unit)
    )
    about = [
        (offset, mean, spread)
        for offset, mean, spread in zip(cut.offset_m, cut.mean_m, cut.spread_m, strict=True)
        if math.isfinite(mean) and math.isfinite(spread)
    ]
    around = " ".join(
        [f"{x(offset):.1f},{y(mean - spread):.1f}" for offset, mean, spread in about]
        + [f"{x(offset):.1f},{y(mean + spread):.1f}" for offset, mean, spread in reversed(about)]
    )
    lines = "".join(
        f'<polyline points="{piece}" fill="none" stroke="#000" stroke-width="2.5"/>'
        for piece in _pieces([(x(offset), y(depth), depth) for offset, depth in pairs])
    )
    ground = "m" if unit == "m" else "ft"
    reach = convert(span[1], ground)
    return (
        f'<svg viewBox="0 0 {WIDE:.0f} {HIGH:.0f}" role="img" '
        f'aria-label="Depth across it, from {convert(known[0], unit):.0f} to '
        f'{convert(known[-1], unit):.0f} {markup_text(unit)}">'
        f'<rect x="{LEFT}" width="{WIDE - LEFT - RIGHT}" y="{shallow:.1f}" '
        f'height="{max(deep - shallow, 0):.1f}" fill="#f3dc9a"/>{levels}'
        f'<polygon points="{around}" fill="#000" fill-opacity="0.16"/>{lines}'
        f'<line x1="{x(0):.1f}" x2="{x(0):.1f}" y1="{TOP}" y2="{HIGH - BOTTOM}" stroke="#000" '
        f'stroke-dasharray="3 4"/><text x="{LEFT}" y="14">{markup_text(unit)}, your band shaded'
        f'</text><text x="{LEFT}" y="{HIGH - 22:.0f}">{reach:,.0f} {ground}</text>'
        f'<text x="{x(0):.1f}" y="{HIGH - 22:.0f}" text-anchor="middle">0</text>'
        f'<text x="{WIDE - RIGHT}" y="{HIGH - 22:.0f}" text-anchor="end">{reach:,.0f} {ground}'
        f'</text><text x="{LEFT}" y="{HIGH - 5:.0f}">{markup_text(cut.ends[0])}</text>'
        f'<text x="{WIDE - RIGHT}" y="{HIGH - 5:.0f}" text-anchor="end">'
        f"{markup_text(cut.ends[1])}</text></svg>"
    )


def _frame(known: Sequence[float], band: tuple[float, float]) -> tuple[float, float]:
    """Depths at the top and bottom of the drawing: the profile's, and of the band what is near."""
    low, high = min(known), max(known)
    room = max(high - low, 1.0)
    low = min(low, max(band[0], low - room / 2))
    high = max(high, min(band[1], high + room / 2))
    return low - 0.05 * room, max(high, low + 1.0) + 0.05 * room


def _ticks(low_m: float, high_m: float, unit: str) -> list[tuple[float, float]]:
    """Round depths between two: metres, and the number shown."""
    one = 1 / convert(1.0, unit)
    low, high = convert(low_m, unit), convert(high_m, unit)
    step = round_step(max((high - low) / 5, 0.5))
    first = math.ceil(low / step)
    return [(step * k * one, step * k) for k in range(first, math.floor(high / step) + 1)]


def _pieces(points: Sequence[tuple[float, float, float]]) -> list[str]:
    """Join points that are known, apart where they are not."""
    pieces: list[list[str]] = [[]]
    for across, down, depth in points:
        if math.isfinite(depth):
            pieces[-1].append(f"{across:.1f},{down:.1f}")
        elif pieces[-1]:
            pieces.append([])
    return [" ".join(piece) for piece in pieces if len(piece) > 1]
