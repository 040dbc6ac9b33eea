"""The picture on one page of a PDF with its place on the ground."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from PIL import Image
from pyproj import CRS

from layers.maps.picture.bottom_depths import Box
from layers.maps.picture.painting import CAPTION, Painter
from layers.maps.picture.tile_files import About, in_degrees
from layers.present.looks import RAMPS, shade
from layers.present.pictures.drawing import Box as Frame
from layers.present.pictures.drawing import Drawing, Part, Raster, Stroke, Words, draw_on, pt
from layers.present.sheet.fonts import FAMILY, find_fonts, new_document
from layers.present.sheet.paper import Paper
from seabed.geodesy import distance_m
from seabed.units import round_step

if TYPE_CHECKING:
    from fpdf import FPDF

DPI: Final = 200
STRIP_PX: Final = 768
"""Side of the squares in which the page is painted."""

HEAD_MM: Final = 12.0
FOOT_MM: Final = 30.0
SIDE_MM: Final = 8.0


@dataclass(frozen=True, slots=True)
class Page:
    """Where the map is on a page, mm from its upper left corner, and the box that it shows."""

    width: float
    height: float
    map_width: float
    map_height: float
    box: Box

    @classmethod
    def of(cls, paper: Paper, box: Box) -> Page:
        """Lay a box on a paper, upright or on its side, as large as it goes."""
        west, south, east, north = box
        upright = north - south >= east - west
        width, height = sorted((paper.width, paper.height), reverse=not upright)
        room = width - 2 * SIDE_MM, height - HEAD_MM - FOOT_MM
        metres = max((east - west) / room[0], (north - south) / room[1])
        wide, tall = metres * room[0] / 2, metres * room[1] / 2
        x, y = (west + east) / 2, (south + north) / 2
        return cls(width, height, *room, (x - wide, y - tall, x + wide, y + tall))


def write_pdf(
    path: Path, painter: Painter, about: About, paper: Paper, *, unit: tuple[str, float]
) -> None:
    """Write the page: the map in a frame, its scale and colours, cautions and credits.

    The map is a viewport with geographic measures (ISO 32000-2, 12.9 and 12.10), by which a program
    shows one's own position on it.  `unit` is that of depth, with its length in metres.
    """
    page = Page.of(paper, about.box)
    fonts = find_fonts(about.title + about.cautions + about.credits)
    pdf = new_document((page.width, page.height), fonts, about.title)
    pdf.set_subject(about.cautions)
    pdf.set_keywords(about.credits)
    pdf.add_page()
    _write(pdf, about.title, (SIDE_MM, 4.0), size=15.0, width=page.map_width, bold=True)
    rasters = _painted(painter, page)
    frame: list[Part] = [*rasters, Frame(0, 0, page.map_width, page.map_height, line=0.3)]
    frame.append(Words(1.5, page.map_height - 1.5, CAPTION, pt(9), bold=True, halo=True))
    map_drawing = Drawing(page.map_width, page.map_height, frame)

    def set_words(part: Words, left: float, top: float) -> None:
        pdf.set_font(FAMILY, "B" if part.bold else "", part.size * 72 / 25.4)
        width = pdf.get_string_width(part.text)
        x = left + part.x - {"start": 0.0, "middle": width / 2, "end": width}[part.anchor]
        if part.halo:
            pdf.set_fill_color(255)
            pdf.rect(x - 0.4, top + part.y - part.size * 0.8, width + 0.8, part.size, style="F")
        pdf.set_text_color(0)
        pdf.text(x, top + part.y, part.text)

    draw_on(pdf, map_drawing, SIDE_MM, HEAD_MM, set_words)
    foot = HEAD_MM + page.map_height + 2.0
    legend = Drawing(page.map_width, 9.0, [*_scale(page), *_ramp(painter, page, unit)])
    draw_on(pdf, legend, SIDE_MM, foot, set_words)
    at = foot + 9.5
    at += _write(pdf, about.cautions, (SIDE_MM, at), size=7.0, width=page.map_width)
    _write(pdf, about.credits, (SIDE_MM, at), size=7.0, width=page.map_width, bold=True)
    setattr(pdf.pages[1], "v_p", _viewport(page))  # noqa: B010 (becomes the page's /VP)
    path.write_bytes(bytes(pdf.output()))


def _painted(painter: Painter, page: Page) -> list[Part]:
    """Paint the map in squares, so that no more than one is held as pixels."""
    west, _, _, north = page.box
    columns = round(page.map_width / 25.4 * DPI)
    rows = round(page.map_height / 25.4 * DPI)
    metres, mm = (page.box[2] - west) / columns, page.map_width / columns
    parts: list[Part] = []
    for top in range(0, rows, STRIP_PX):
        for left in range(0, columns, STRIP_PX):
            tall, wide = min(STRIP_PX, rows - top), min(STRIP_PX, columns - left)
            x, y = west + left * metres, north - top * metres
            box = (x, y - tall * metres, x + wide * metres, y)
            picture = painter.paint(box, (tall, wide), pen=DPI / 96)
            if picture is None:
                continue
            flat = Image.new("RGB", picture.size, "white")
            flat.paste(picture, mask=picture.getchannel("A"))
            packed = io.BytesIO()
            flat.quantize(256, dither=Image.Dither.NONE).save(packed, "PNG")
            place = (left * mm, top * mm, wide * mm, tall * mm)
            parts.append(Raster(*place, packed.getvalue()))
    return parts


def _scale(page: Page) -> list[Part]:
    """Draw a bar of a round length, as long as the ground is in the middle of the map."""
    west, south, east, north = in_degrees(page.box)
    middle = (south + north) / 2
    mm_of_m = page.map_width / float(distance_m(west, middle, east, middle))
    metres = round_step(25.0 / mm_of_m)
    length = metres * mm_of_m
    name = f"{metres / 1000:g} km" if metres >= 1000 else f"{metres:g} m"
    line = Stroke([(0.2, 3), (0.2, 5), (length, 5), (length, 3)], 0.4)
    return [line, Words(length / 2, 4.2, name, pt(8), "middle")]


def _ramp(painter: Painter, page: Page, unit: tuple[str, float]) -> list[Part]:
    """Draw the colours of depth, with the band's under its depths."""
    palette, (name, metre) = painter.palette, unit
    wide, right, steps = 80.0, page.map_width, 60
    left = right - wide
    least, most = max(palette.ends_m[0], 0.0), palette.ends_m[1]
    parts: list[Part] = []
    for i in range(steps):
        colour = shade("depth", i / (steps - 1))
        parts.append(Frame(left + wide * i / steps, 1, wide / steps + 0.05, 3, fill=colour))
    words = [(left, f"{least / metre:.0f}", "start"), (right, f"{most / metre:.0f} {name}", "end")]
    if palette.band_m is not None:
        ends = [min(max((one - least) / (most - least), 0), 1) for one in palette.band_m]
        at, width = left + wide * ends[0], wide * (ends[1] - ends[0])
        parts.append(Frame(at, 1, width, 3, fill=RAMPS["band"][1], line=0.2))
        low, high = (f"{one / metre:.0f}" for one in palette.band_m)
        if 0.1 < ends[0] < ends[1] < 0.85:
            words.append((at + width / 2, f"band {low} to {high}", "middle"))
    return parts + [Words(x, 7.4, text, pt(8), anchor) for x, text, anchor in words]


def _write(
    pdf: FPDF, text: str, at: tuple[float, float], *, size: float, width: float, bold: bool = False
) -> float:
    """Write words in lines; give their height, mm."""
    pdf.set_font(FAMILY, "B" if bold else "", size)
    pdf.set_text_color(0)
    pdf.set_xy(*at)
    height = pdf.multi_cell(width, size * 0.4, text, align="L", output="HEIGHT")
    return float(height)  # type: ignore[arg-type]


def _viewport(page: Page) -> str:
    """Write the page's viewports: one, the map, with the corners of its box in degrees."""
    mm = 72 / 25.4
    left, top = SIDE_MM * mm, (page.height - HEAD_MM) * mm
    right, bottom = left + page.map_width * mm, top - page.map_height * mm
    west, south, east, north = in_degrees(page.box)
    corners = ((south, west), (north, west), (north, east), (south, east))
    degrees = " ".join(f"{latitude:.9f} {longitude:.9f}" for latitude, longitude in corners)
    wkt = CRS.from_epsg(3857).to_wkt("WKT1_ESRI").replace("(", r"\(").replace(")", r"\)")
    unit_square = "0 0 0 1 1 1 1 0"
    return (
        f"[<< /Type /Viewport /Name (Map) /BBox [{left:.3f} {bottom:.3f} {right:.3f} {top:.3f}] "
        f"/Measure << /Type /Measure /Subtype /GEO /Bounds [{unit_square}] /GPTS [{degrees}] "
        f"/LPTS [{unit_square}] /GCS << /Type /PROJCS /EPSG 3857 /WKT ({wkt}) >> >> >>]"
    )
