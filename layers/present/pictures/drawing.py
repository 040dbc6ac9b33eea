"""The one way to draw: values placed, parts in a box, written as SVG or laid on a page of a PDF."""

from __future__ import annotations

import base64
import io
import math
from collections.abc import Callable, Iterable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np

from layers.present.looks import BLACK, MARKS, WHITE, channels
from seabed.array_types import Floats
from seabed.markup import markup_text
from seabed.units import round_step

if TYPE_CHECKING:
    from fpdf import FPDF


Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Placing:
    """Lays `low` at `start` and `high` at `end`, by proportion or by square roots.

    >>> float(Placing(0.0, 10.0, 100.0, 0.0)(2.5))
    75.0
    """

    low: float
    high: float
    start: float
    end: float
    root: bool = False

    def __call__(self, values: Any) -> Any:
        """Give the place of a value, or of each of an array."""
        share = (np.asarray(values, float) - self.low) / max(self.high - self.low, 1e-9)
        share = np.sqrt(np.maximum(share, 0.0)) if self.root else share
        return self.start + (self.end - self.start) * share

    def inside(self, values: Any) -> Any:
        """Place values, those beyond the ends at the ends."""
        return self(np.clip(values, self.low, self.high))


def ticks(low: float, high: float, *, least: float = 0.0) -> Floats:
    """Give some five round values from `low` to `high`, `least` apart or more."""
    step = round_step(max((high - low) / 5, least))
    return np.asarray(np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step, np.float64)


def known_runs(x: Any, y: Any) -> list[Sequence[Point]]:
    """Give the points of each stretch in which both are known; single ones are left out."""
    points = np.column_stack([x, y]).astype(np.float64)
    at = np.flatnonzero(np.isfinite(points).all(axis=1))
    runs = np.split(at, np.flatnonzero(np.diff(at) > 1) + 1)
    return [[(float(a), float(b)) for a, b in points[run]] for run in runs if len(run) > 1]


_NAMESPACE: Final = 'xmlns="http://www.w3.org/2000/svg" '
_HALO: Final = 0.26
"""Width of the white around letters, of their size."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points; with `fill`, a closed shape.  `width` 0 draws no line."""

    points: Sequence[Point]
    width: float = 0.35
    colour: str = BLACK
    dash: Sequence[float] = ()
    fill: str | None = None
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle; `title` is what a pointer over it shows."""

    left: float
    top: float
    width: float
    height: float
    fill: str | None = None
    line: float = 0.0
    colour: str = BLACK
    dash: Sequence[float] = ()
    title: str = ""
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Disc:
    """A dot, or with `line` a ring."""

    x: float
    y: float
    radius: float
    fill: str
    line: float = 0.0
    colour: str = WHITE
    title: str = ""


@dataclass(frozen=True, slots=True)
class Words:
    """A short text whose base line begins, ends or has its middle at a place.

    `anchor` is start, middle or end; `halo` lays white around letters that are over lines.
    """

    x: float
    y: float
    text: str
    size: float
    anchor: str = "start"
    bold: bool = False
    halo: bool = False
    colour: str = BLACK


@dataclass(frozen=True, slots=True)
class Raster:
    """Pixels as PNG, stretched over a box."""

    left: float
    top: float
    width: float
    height: float
    png: bytes
    title: str = ""


Part: TypeAlias = Stroke | Box | Disc | Words | Raster


@dataclass(frozen=True, slots=True)
class Drawing:
    """Parts in a box, in the order in which they cover each other.

    width, height: of the box; what reaches beyond it is cut off.  Places and sizes are in `unit`, y
        downward.
    label: what it shows, for those who can't see it.
    unit: {"mm", "px"}.
    """

    width: float
    height: float
    parts: Sequence[Part]
    label: str = ""
    unit: str = "mm"


def pt(points: float) -> float:
    """Give a size in points as millimetres."""
    return points * 25.4 / 72


def arrow(
    at: Point,
    toward_deg: float,
    length: float,
    *,
    back: float = 0.0,
    head: float,
    width: float,
    colour: str = MARKS["current"].colour,
    dash: Sequence[float] = (),
) -> list[Part]:
    """Draw an arrow, north up, from `back` behind a place to `length` ahead of it."""
    turn = math.radians(toward_deg)

    def place(ahead: float, right: float) -> Point:
        return (
            at[0] + ahead * math.sin(turn) + right * math.cos(turn),
            at[1] - ahead * math.cos(turn) + right * math.sin(turn),
        )

    barbs = [place(length - head, -0.8 * head), place(length, 0), place(length - head, 0.8 * head)]
    return [
        Stroke([place(-back, 0), place(length, 0)], width, colour, dash),
        Stroke(barbs, width, colour),
    ]


def enlarged(drawing: Drawing, times: float) -> Drawing:
    """Make a drawing so many times as large, its lines and words too.

    >>> enlarged(Drawing(2, 1, [Disc(1, 0.5, 0.2, "#000000")]), 3).parts[0].radius.__round__(3)
    0.6
    """
    if times == 1:
        return drawing
    parts = [replace(part, **_enlarged(part, times)) for part in drawing.parts]
    return replace(drawing, width=drawing.width * times, height=drawing.height * times, parts=parts)


def _enlarged(part: Part, times: float) -> dict[str, Any]:
    """Give the lengths of a part so many times as long."""
    lengths = {name: getattr(part, name) * times for name in _LENGTHS if hasattr(part, name)}
    if isinstance(part, Stroke):
        lengths["points"] = [(x * times, y * times) for x, y in part.points]
    if isinstance(part, Stroke | Box):
        lengths["dash"] = tuple(one * times for one in part.dash)
    return lengths


_LENGTHS: Final = ("left", "top", "width", "height", "line", "x", "y", "radius", "size")


def svg(drawing: Drawing, *, alone: bool = False) -> str:
    """Write a drawing as an SVG element of its own size, or `alone` as a whole document."""
    width, height = f"{drawing.width:g}", f"{drawing.height:g}"
    body = ("\n" if alone else "").join(_SVG[type(part)](part) for part in drawing.parts)
    ground = f'<rect width="{width}" height="{height}" fill="{WHITE}"/>\n' if alone else ""
    return (
        f'<svg {_NAMESPACE if alone else ""}viewBox="0 0 {width} {height}" '
        f'width="{width}{drawing.unit}" height="{height}{drawing.unit}" font-family="sans-serif" '
        f'role="img" aria-label="{markup_text(drawing.label)}">{ground}{body}</svg>' + "\n" * alone
    )


def _svg_stroke(part: Stroke) -> str:
    line = f"{_filled(part.fill, part.opacity)}{_line(part.width, part.colour, part.dash)}/>"
    if len(part.points) == 2:
        (x, y), (u, v) = part.points
        return f'<line x1="{x:.2f}" y1="{y:.2f}" x2="{u:.2f}" y2="{v:.2f}"{line}'
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in part.points)
    name = "polyline" if part.fill is None else "polygon"
    return f'<{name} points="{points}" stroke-linejoin="round"{line}'


def _svg_box(part: Box) -> str:
    return (
        f'<rect x="{part.left:.2f}" y="{part.top:.2f}" width="{part.width:.2f}" '
        f'height="{part.height:.2f}"{_filled(part.fill, part.opacity)}'
        f"{_line(part.line, part.colour, part.dash)}{_titled('rect', part.title)}"
    )


def _svg_disc(part: Disc) -> str:
    return (
        f'<circle cx="{part.x:.2f}" cy="{part.y:.2f}" r="{part.radius:g}"{_filled(part.fill, 1.0)}'
        f"{_line(part.line, part.colour, ())}{_titled('circle', part.title)}"
    )


def _svg_words(part: Words) -> str:
    weight = ' font-weight="bold"' if part.bold else ""
    halo = f' stroke="{WHITE}" stroke-width="{_HALO * part.size:.2f}" paint-order="stroke"'
    return (
        f'<text x="{part.x:.2f}" y="{part.y:.2f}" font-size="{part.size:.3f}" '
        f'fill="{part.colour}" text-anchor="{part.anchor}"{weight}{halo if part.halo else ""}>'
        f"{markup_text(part.text)}</text>"
    )


def _svg_raster(part: Raster) -> str:
    data = base64.b64encode(part.png).decode("ascii")
    return (
        f'<image x="{part.left:.2f}" y="{part.top:.2f}" width="{part.width:.2f}" '
        f'height="{part.height:.2f}" preserveAspectRatio="none" image-rendering="pixelated" '
        f'href="data:image/png;base64,{data}"{_titled("image", part.title)}'
    )


_SVG: Final[dict[type, Callable[..., str]]] = {
    Stroke: _svg_stroke,
    Box: _svg_box,
    Disc: _svg_disc,
    Words: _svg_words,
    Raster: _svg_raster,
}


def _filled(fill: str | None, opacity: float) -> str:
    sheer = "" if opacity == 1 else f' opacity="{opacity:g}"'
    return f' fill="{fill or "none"}"{sheer}'


def _line(width: float, colour: str, dash: Iterable[float]) -> str:
    if not width:
        return ""
    dashes = " ".join(f"{part:g}" for part in dash)
    broken = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f' stroke="{colour}" stroke-width="{width:g}"{broken}'


def _titled(name: str, title: str) -> str:
    return f"><title>{markup_text(title)}</title></{name}>" if title else "/>"


def draw_on(
    pdf: FPDF,
    drawing: Drawing,
    left: float,
    top: float,
    write: Callable[[Words, float, float], None],
) -> None:
    """Lay a drawing in millimetres on a page of a PDF; `write` sets words, moved right and down."""
    clip = pdf.rect_clip(left, top, drawing.width, drawing.height)
    with pdf.local_context(), clip:
        for part in drawing.parts:
            if isinstance(part, Words):
                write(part, left, top)
            elif isinstance(part, Raster):
                place = (left + part.left, top + part.top, part.width, part.height)
                pdf.image(io.BytesIO(part.png), *place)
            else:
                opacity = getattr(part, "opacity", 1.0)
                with nullcontext() if opacity == 1 else pdf.local_context(fill_opacity=opacity):
                    _pdf_shape(pdf, part, left, top)
    pdf.set_dash_pattern()


def _pdf_shape(pdf: FPDF, part: Stroke | Box | Disc, left: float, top: float) -> None:
    width = part.width if isinstance(part, Stroke) else part.line
    dash = () if isinstance(part, Disc) else part.dash
    pdf.set_line_width(width)
    pdf.set_draw_color(*channels(part.colour))
    pdf.set_dash_pattern(*(dash[:2] or (0, 0)))
    if part.fill is not None:
        pdf.set_fill_color(*channels(part.fill))
    style = ("D" if width else "") + ("" if part.fill is None else "F")
    if isinstance(part, Disc):
        pdf.circle(left + part.x, top + part.y, part.radius, style=style)
    elif isinstance(part, Box):
        if style:
            pdf.rect(left + part.left, top + part.top, part.width, part.height, style=style)
    elif len(part.points) > 1:
        points = [(left + x, top + y) for x, y in part.points]
        if part.fill is None:
            pdf.polyline(points)
        else:
            pdf.polygon(points, style=style)
