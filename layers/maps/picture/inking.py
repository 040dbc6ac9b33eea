"""Contours with their numbers, edges, humps, holes and hazards, drawn on pixels."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import shapely
from affine import Affine
from contourpy import contour_generator
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from layers.maps.depths import WEB
from layers.maps.picture.bottom_depths import Box, Floats
from layers.present.looks import BLACK, MARKS, WHITE, ink_on, tint
from layers.present.sheet.fonts import PACKAGE
from layers.present.sheet.pictures import hazard_letter, overlap

Points = NDArray[np.float64]

LEAST_LINE_PX: Final = 24.0
"""A shorter contour is not drawn, one of four times as much has a number."""

APART_PX: Final = 300.0
"""Between two numbers of a contour."""

SOFTENED: Final = 0.15
"""Share of white in a dark contour, so that numbers stand out from it."""

NUMBER_PX: Final = 11.0
NAME_PX: Final = 12.0
CAPTION_PX: Final = 10
TICK_PX: Final = (14.0, 6.0)
"""From tick to tick along an edge, and how long each is."""


@dataclass(slots=True)
class Ink:
    """What is drawn on: a picture, where its pixels lie, and what is taken already."""

    draw: ImageDraw.ImageDraw
    to_pixel: Affine
    pen: float
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)

    @classmethod
    def on(cls, picture: Image.Image, place: Affine, sharper: int, pen: float) -> Ink:
        """Draw on a picture that is `sharper` times as large as `place` says."""
        draw = ImageDraw.Draw(picture)
        return cls(draw, Affine.scale(sharper) @ ~place, pen * sharper)

    def pixels(self, metres: Points) -> Points:
        """Give places in web Mercator as pixels."""
        t = self.to_pixel
        return np.column_stack([t.a * metres[:, 0] + t.c, t.e * metres[:, 1] + t.f])

    def line(self, pixels: Points, colour: str, width: float, dash: Sequence[float] = ()) -> None:
        """Draw a line, whole or broken."""
        wide = max(1, round(width * self.pen))
        for part in _dashed(pixels, [one * self.pen for one in dash]) if dash else [pixels]:
            self.draw.line([tuple(one) for one in part], fill=colour, width=wide, joint="curve")

    def words(self, at: tuple[float, float], text: str, size: float, ink: str, halo: str) -> bool:
        """Write words with their middle at a place, unless others are there."""
        font = _font(round(size * self.pen))
        left, top, right, bottom = self.draw.textbbox(at, text, font=font, anchor="mm")
        room = 2 * self.pen
        box = (left - room, top - room, right + room, bottom + room)
        if any(overlap(box, other) for other in self.taken):
            return False
        self.taken.append(box)
        self.draw.text(
            at, text, fill=ink, font=font, anchor="mm", stroke_width=max(1, round(1.6 * self.pen)),
            stroke_fill=halo,
        )  # fmt: skip
        return True


@dataclass(frozen=True, slots=True)
class SignPlace:
    """A thing of the bottom: its shape in web Mercator, and how it is drawn."""

    kind: str
    shape: Any
    at: tuple[float, float]
    words: str = ""


class SignPlaces:
    """Things of the bottom, found again by the box that they are in."""

    def __init__(self, places: Sequence[SignPlace]) -> None:
        self._places = list(places)
        self._tree = shapely.STRtree([one.shape for one in self._places])

    def within(self, box: Box) -> list[SignPlace]:
        """Give those that reach into a box, in their order."""
        return [self._places[i] for i in sorted(self._tree.query(shapely.box(*box)).tolist())]


@dataclass(frozen=True, slots=True)
class Number:
    """What is written along a contour, once there is room."""

    long: float
    pixels: Points
    words: str
    ink: str
    halo: str


def draw_contours(
    ink: Ink,
    depth: Floats,
    levels: Sequence[tuple[float, str]],
    colours: Callable[[Floats], Any],
) -> list[Number]:
    """Draw a line at each depth, in the ink that contrasts there; give numbers, longest first."""
    sharper = ink.draw.im.size[0] / depth.shape[1]
    traced = contour_generator(z=np.ma.masked_invalid(depth), corner_mask=True)
    numbers: list[Number] = []
    for metres, words in levels:
        colour = "#" + bytes(int(part) for part in colours(np.array([metres], "f4"))[0]).hex()
        stands_out = ink_on(colour)
        halo = WHITE if stands_out == BLACK else BLACK
        for line in traced.lines(metres):
            pixels = (np.asarray(line) + 0.5) * sharper
            long = float(np.hypot(*np.diff(pixels, axis=0).T).sum()) / ink.pen
            if long >= LEAST_LINE_PX:
                ink.line(pixels, tint(stands_out, SOFTENED), MARKS["contour"].width)
            if long >= 4 * LEAST_LINE_PX:
                numbers.append(Number(long, pixels, words, stands_out, halo))
    return sorted(numbers, key=lambda one: -one.long)


def write_numbers(ink: Ink, numbers: Sequence[Number]) -> None:
    """Write depths along contours, the longest first, where nothing else is."""
    for one in numbers:
        for at in _spaced(one.pixels, one.long / APART_PX):
            ink.words(at, one.words, NUMBER_PX, one.ink, one.halo)


def draw_places(ink: Ink, places: SignPlaces, box: Box) -> None:
    """Draw edges, humps and holes, and over them hazards."""
    near = places.within(box)
    for kind in ("edge", "hump", "hole", "danger"):
        for place in near:
            if place.kind == kind:
                _DRAWN[kind](ink, place)


def _draw_edge(ink: Ink, place: SignPlace) -> None:
    look, (apart, tick) = MARKS["edge"], TICK_PX
    for part in shapely.get_parts(place.shape):
        pixels = ink.pixels(shapely.get_coordinates(part))
        ticks = _ticks(pixels, apart * ink.pen, tick * ink.pen)
        for colour, more in ((look.casing, 2.0), (look.colour, 0.0)):
            ink.line(pixels, colour, look.width * 0.7 + more)
            for one in ticks:
                ink.line(one, colour, look.width * 0.5 + more)


def _draw_feature(ink: Ink, place: SignPlace) -> None:
    look = MARKS[place.kind]
    for rim in shapely.get_parts(shapely.get_exterior_ring(shapely.get_parts(place.shape))):
        pixels = ink.pixels(shapely.get_coordinates(rim))
        ink.line(pixels, look.casing, look.width + 1.5)
        ink.line(pixels, look.colour, look.width, look.dash)
    ((x, y),) = ink.pixels(np.array([place.at]))
    ink.words((x, y + 8 * ink.pen), place.words, NAME_PX, look.colour, look.casing)
    half = 4.0 * ink.pen
    up = -1 if place.kind == "hump" else 1
    corners = [(x - half, y - up * half), (x + half, y - up * half), (x, y + up * half)]
    fill = look.colour if place.kind == "hump" else look.casing
    ink.draw.polygon(corners, fill=fill, outline=look.colour)


def _draw_hazard(ink: Ink, place: SignPlace) -> None:
    look = MARKS["danger"]
    outlines = shapely.boundary(place.shape) if place.shape.area else place.shape
    for part in shapely.get_parts(outlines):
        pixels = ink.pixels(shapely.get_coordinates(part))
        if len(pixels) > 1:
            ink.line(pixels, look.casing, look.width + 2)
            ink.line(pixels, look.colour, look.width, look.dash[:2])
    ((x, y),) = ink.pixels(np.array([place.at]))
    half = 8 * ink.pen
    box = [x - half, y - half, x + half, y + half]
    ink.draw.rectangle(box, fill=look.casing, outline=look.colour, width=round(2 * ink.pen))
    font = _font(round(NAME_PX * ink.pen))
    ink.draw.text((x, y), place.words, fill=look.colour, font=font, anchor="mm")


_DRAWN: Final = {
    "edge": _draw_edge,
    "hump": _draw_feature,
    "hole": _draw_feature,
    "danger": _draw_hazard,
}


def write_words(picture: Image.Image, at: tuple[float, float], text: str) -> None:
    """Write words in black on white from a lower left corner."""
    draw = ImageDraw.Draw(picture)
    draw.text(
        at, text, fill=BLACK, font=_font(CAPTION_PX), anchor="ls", stroke_width=2, stroke_fill=WHITE
    )


@cache
def _font(size: int) -> ImageFont.FreeTypeFont:
    path = Path(str(resources.files(PACKAGE) / "ttf" / "OpenSans-Bold.ttf"))
    return ImageFont.truetype(str(path), max(size, 6))


def _dashed(pixels: Points, dash: Sequence[float]) -> list[Points]:
    """Cut a line into its dashes."""
    along = np.concatenate([[0.0], np.hypot(*np.diff(pixels, axis=0).T).cumsum()])
    drawn, period = dash[0], sum(dash)
    dashes = []
    for begin in np.arange(0.0, along[-1], period):
        end = min(begin + drawn, along[-1])
        inside = pixels[np.searchsorted(along, begin, "right") : np.searchsorted(along, end)]
        ends = [[np.interp(at, along, part) for part in pixels.T] for at in (begin, end)]
        dashes.append(np.vstack([ends[:1], inside, ends[1:]]))
    return dashes


def _spaced(pixels: Points, times: float) -> list[tuple[float, float]]:
    """Give places along a line, evenly, about so many."""
    count = max(1, round(times))
    line = shapely.LineString(pixels)
    at = [line.interpolate((i + 0.5) / count, normalized=True) for i in range(count)]
    return [(point.x, point.y) for point in at]


def _ticks(pixels: Points, apart: float, length: float) -> list[Points]:
    """Short lines to the left of a line of pixels, y down."""
    ticks: list[Points] = []
    left = apart / 2
    for (x, y), (u, v) in pairwise(pixels):
        leg = math.hypot(u - x, v - y)
        if not leg:
            continue
        right, down = (u - x) / leg, (v - y) / leg
        for along in np.arange(left, leg, apart):
            foot_x, foot_y = x + right * along, y + down * along
            ticks.append(
                np.array([(foot_x, foot_y), (foot_x + down * length, foot_y - right * length)])
            )
        left = (left - leg) % apart
    return ticks


def places_of(
    edges: gpd.GeoDataFrame | None,
    features: gpd.GeoDataFrame | None,
    hazards: gpd.GeoDataFrame | None,
    depth_words: Callable[[float], str],
) -> SignPlaces:
    """Put tables of the bottom and of charts together; `depth_words` writes a depth in metres."""
    places: list[SignPlace] = []
    for shape in _in_web(edges):
        middle = shape.interpolate(0.5, normalized=True)
        places.append(SignPlace("edge", shape, (middle.x, middle.y)))
    if features is not None:
        peaks = gpd.points_from_xy(features["peak_x"], features["peak_y"], crs=features.crs)
        for row, shape, peak in zip(
            features.to_dict("records"), _in_web(features), peaks.to_crs(WEB), strict=True
        ):
            if _is_trough(row):
                continue
            words = depth_words(row["crest_depth_m"])
            places.append(SignPlace(row["kind"], shape, (peak.x, peak.y), words))
    if hazards is not None:
        for kind, shape in zip(hazards["kind"], _in_web(hazards), strict=True):
            at = shape.representative_point()
            places.append(SignPlace("danger", shape, (at.x, at.y), hazard_letter(kind)))
    return SignPlaces(places)


def _is_trough(row: Mapping[Any, Any]) -> bool:
    """Say whether a low is one of many between sand waves, hardly deeper than they are high."""
    waves = row.get("wave_height_m", math.nan)  # NaN without: less than nothing
    return bool(row["kind"] == "hole" and row["height_m"] < 1.5 * waves)


def _in_web(table: gpd.GeoDataFrame | None) -> list[Any]:
    return [] if table is None or not len(table) else list(table.geometry.to_crs(WEB))
