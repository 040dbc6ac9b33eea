"""The report of a look at the bottom: where to look first, and why, on paper or a screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from layers.cautions import CAUTIONS
from layers.present.pictures.cut import Cut, cut_picture
from layers.present.pictures.drawing import svg
from layers.present.positions import degrees_minutes
from layers.present.sheet.ground_plan import GroundPlan
from layers.present.sheet.pictures import ground_picture
from layers.present.web_page import web_page
from seabed.files import write_text
from seabed.markup import markup_text

Position = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Prospect:
    """One place worth a look: what counts for it and against it, its cut, and what is around it."""

    name: str
    kind: str
    why: str
    score: float
    merits: Sequence[str]
    faults: Sequence[str]
    position: Position
    cut: Cut
    ground: GroundPlan | None = None


@dataclass(frozen=True, slots=True)
class Report:
    """A look at the bottom, ready to print; sentences like ``"Warning: …"`` stand out."""

    title: str
    about: Sequence[str]
    charts: Sequence[str]
    prospects: Sequence[Prospect]
    band_m: tuple[float, float] | None
    depth_unit: str


def write_report(path: str | Path, report: Report) -> None:
    """Write the report as one HTML page for paper; it loads nothing, and takes no text for HTML."""
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


_NO_PROFILE: Final = "<p>No profile: the depths there are not known.</p>"
_SCORE: Final = (
    "A rule of thumb, with no fish behind it: 35 points for how much of the feature is in your "
    "band, 25 for its drop, 20 for its steepness, 20 for other structure close by; all of it less "
    "the further it is from the band in depth, where the grid's own doubt is as great as the "
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
  display: grid; grid-template-columns: minmax(0, 1fr) 62mm; gap: 1mm 4mm; }
.words { grid-column: 1 / -1; }
section h2 { grid-column: 1 / -1; display: flex; justify-content: space-between; gap: 4mm; }
h2 small { font-size: 13pt; font-weight: normal; white-space: nowrap; }
.place { font-size: 14pt; font-weight: bold; white-space: nowrap; }
.parts { font-size: 11pt; color: #333; }
svg { width: 100%; height: auto; display: block; }
svg text { font-family: "Liberation Sans", Arial, sans-serif; }
footer { border-top: 2pt solid #000; padding-top: 2mm; }
@media screen and (max-width: 640px) {
  section { grid-template-columns: minmax(0, 1fr); }
  .ground { max-width: 110mm; }
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
    drawing = cut_picture(one.cut, report.band_m, report.depth_unit)
    picture = _NO_PROFILE if drawing is None else svg(drawing)
    ground = "" if one.ground is None else svg(ground_picture(one.ground, one.name))
    return (
        f"<section><h2>{markup_text(one.name)} &nbsp;{markup_text(one.kind)}"
        f"<small>score {one.score:.0f} of 100</small></h2>"
        f'<div class="words"><div class="place">{markup_text(place)}</div>'
        f"<p>{markup_text(one.why)}</p>"
        f'<p class="parts">{markup_text(_weighed(one))}</p></div>'
        f'<div>{picture}</div><div class="ground">{ground}</div></section>'
    )


def _weighed(one: Prospect) -> str:
    sides = (("For it", one.merits), ("Against it", one.faults))
    return " ".join(f"{side}: {', '.join(words)}." for side, words in sides if words)
