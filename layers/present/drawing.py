"""A small drawing in millimetres, black on white, the same in HTML (as SVG) and in a PDF."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from seabed.markup import markup_text

__all__ = ["Drawing", "Stroke", "Words", "svg"]

Point = tuple[float, float]

MM_PER_PT = 25.4 / 72


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points, or a filled shape.

    Attributes
    ----------
    points : sequence of (x, y)
        Millimetres, y downward.
    width : float
        Of the stroke, mm; 0 draws none.
    grey : float
        Of the stroke: 0 black, 1 white.
    dash : (float, float), optional
        Drawn and left out, mm.
    fill : float, optional
        Grey that the shape is filled with.
    """

    points: Sequence[Point]
    width: float = 0.35
    grey: float = 0.0
    dash: tuple[float, float] | None = None
    fill: float | None = None


@dataclass(frozen=True, slots=True)
class Words:
    """A short text.

    Attributes
    ----------
    x, y : float
        Where its base line begins, ends or has its middle, mm.
    text : str
    size : float
        Points.
    anchor : str
        start, middle or end.
    bold : bool
    halo : bool
        White around the letters, where they stand on lines.
    """

    x: float
    y: float
    text: str
    size: float = 9.0
    anchor: str = "start"
    bold: bool = False
    halo: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    """Strokes and words in a box, in the order in which they are laid one over the other.

    Attributes
    ----------
    width, height : float
        Of the box, mm; what reaches beyond it is cut off.
    parts : sequence of Stroke or Words
    label : str
        What is told to who can't see it.
    """

    width: float
    height: float
    parts: Sequence[Stroke | Words]
    label: str = ""


def svg(drawing: Drawing) -> str:
    """Write a drawing as an SVG element of its own size."""
    body = "".join(_stroke(p) if isinstance(p, Stroke) else _words(p) for p in drawing.parts)
    width, height = f"{drawing.width:g}", f"{drawing.height:g}"
    return (
        f'<svg viewBox="0 0 {width} {height}" width="{width}mm" height="{height}mm" role="img" '
        f'aria-label="{markup_text(drawing.label)}">{body}</svg>'
    )


def _stroke(part: Stroke) -> str:
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in part.points)
    dash = f' stroke-dasharray="{_numbers(part.dash)}"' if part.dash else ""
    fill = "none" if part.fill is None else _grey(part.fill)
    name = "polyline" if part.fill is None else "polygon"
    stroke = _grey(part.grey) if part.width else "none"
    return (
        f'<{name} points="{points}" fill="{fill}" stroke="{stroke}" stroke-width="{part.width:g}"'
        f'{dash} stroke-linejoin="round"/>'
    )


def _words(part: Words) -> str:
    weight = ' font-weight="bold"' if part.bold else ""
    halo = ' stroke="#fff" stroke-width="0.9" paint-order="stroke"' if part.halo else ""
    return (
        f'<text x="{part.x:.2f}" y="{part.y:.2f}" font-size="{part.size * MM_PER_PT:.3f}" '
        f'text-anchor="{part.anchor}"{weight}{halo}>{markup_text(part.text)}</text>'
    )


def _numbers(values: Iterable[float]) -> str:
    return " ".join(f"{value:g}" for value in values)


def _grey(share: float) -> str:
    level = round(255 * share)
    return f"#{level:02x}{level:02x}{level:02x}"
