"""Depths as colours with light and shade, and what is drawn over them."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from layers.cautions import NOT_A_CHART
from layers.maps.picture.bottom_depths import BottomDepths, Box, Floats
from layers.maps.picture.inking import (
    Ink,
    SignPlaces,
    draw_contours,
    draw_places,
    write_numbers,
    write_words,
)
from layers.present.looks import RAMPS, channels

CAPTION: Final = NOT_A_CHART.rstrip(".")
MARGIN_PX: Final = 40
"""Painted around what is kept, so that signs on its edge are whole."""

SHARPER: Final = 2
"""Painted so many times as large, then reduced: lines have smooth sides."""

LIGHT: Final = (0.6, 1.24)
"""Least and most light on a slope, of that on level ground: as on the map."""

RELIEF: Final = 3.5
EARTH_M: Final = 6_378_137.0
SHADES: Final = 1024


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours of depths from end to end: light is shoal, dark is deep, the band is amber."""

    ends_m: tuple[float, float]
    band_m: tuple[float, float] | None = None

    def colours(self, depth: Floats) -> NDArray[np.float32]:
        """Give red, green and blue of depths, 0 to 255; of NaN those of the least."""
        least = max(self.ends_m[0], 0.0)
        colours = _along("depth", depth, least, self.ends_m[1])
        if self.band_m is not None:
            within = (depth >= self.band_m[0]) & (depth <= self.band_m[1])
            colours[within] = _along("band", depth[within], *self.band_m)
        return colours


def _along(ramp: str, depth: Floats, first: float, last: float) -> NDArray[np.float32]:
    stops = np.array([channels(one) for one in RAMPS[ramp]], np.float32)
    at = np.linspace(0, len(stops) - 1, SHADES)
    table = np.column_stack([np.interp(at, range(len(stops)), part) for part in stops.T])
    share = (np.nan_to_num(depth) - first) / max(last - first, 1e-6)
    place = np.clip(share * (SHADES - 1), 0, SHADES - 1).astype(np.int32)
    colours: NDArray[np.float32] = table.astype(np.float32)[place]
    return colours


def _lit(depth: Floats, pixel_m: float) -> Floats:
    """Light from the north-west on each pixel: ground that falls to the south-east is in shade."""
    around = np.pad(depth, 1, mode="edge")
    sides = [around[1:-1, :-2], around[1:-1, 2:], around[:-2, 1:-1], around[2:, 1:-1]]
    left, right, up, down = (np.where(np.isfinite(one), one, depth) for one in sides)
    light = 1 + RELIEF / (2 * pixel_m) * (left - right + up - down)
    return np.clip(np.nan_to_num(light, nan=1.0), *LIGHT).astype(np.float32)


@dataclass(frozen=True, slots=True)
class Painter:
    """Paints any box of a ground.

    levels: depths of contours, metres, and what is written on them.
    places: edges, humps, holes and hazards.
    """

    ground: BottomDepths
    palette: Palette
    levels: Sequence[tuple[float, str]]
    places: SignPlaces

    def paint(
        self, box: Box, shape: tuple[int, int], *, pen: float = 1.0, whole: bool = True
    ) -> Image.Image | None:
        """Paint a box as so many rows and columns, RGBA, clear where unknown; None if all is.

        pen: times the usual width of lines and size of numbers.
        whole: contours, numbers and places too, not depths alone.
        """
        width = (box[2] - box[0]) / shape[1]
        wide = (box[0] - MARGIN_PX * width, box[1] - MARGIN_PX * width,
                box[2] + MARGIN_PX * width, box[3] + MARGIN_PX * width)  # fmt: skip
        large = shape[0] + 2 * MARGIN_PX, shape[1] + 2 * MARGIN_PX
        known = self.ground.over(wide, large)
        if known is None or not np.isfinite(known[0]).any():
            return None
        depth, place = known
        picture = self._shaded(depth, width * _scale_at((box[1] + box[3]) / 2))
        if whole:
            size = (large[1] * SHARPER, large[0] * SHARPER)
            picture = picture.resize(size, Image.Resampling.NEAREST)
            ink = Ink.on(picture, place, SHARPER, pen)
            numbers = draw_contours(ink, depth, self.levels, self.palette.colours)
            draw_places(ink, self.places, wide)
            write_numbers(ink, numbers)
            picture = picture.reduce(SHARPER)
        kept = (MARGIN_PX, MARGIN_PX, MARGIN_PX + shape[1], MARGIN_PX + shape[0])
        return picture.crop(kept)

    def _shaded(self, depth: Floats, pixel_m: float) -> Image.Image:
        colours = self.palette.colours(depth) * _lit(depth, pixel_m)[..., None]
        pixels = np.empty((*depth.shape, 4), np.uint8)
        pixels[..., :3] = np.clip(np.rint(colours), 0, 255)
        pixels[..., 3] = np.where(np.isfinite(depth), 255, 0)
        return Image.fromarray(pixels, "RGBA")


def _scale_at(northing: float) -> float:
    """Metres over the ground of a metre of web Mercator."""
    return math.cos(2 * math.atan(math.exp(northing / EARTH_M)) - math.pi / 2)


def as_png(picture: Image.Image) -> bytes | None:
    """Give a tile as PNG of 256 colours, with the caption in its corner; None if it is clear."""
    if picture.getchannel("A").getbbox() is None:
        return None
    write_words(picture, (4, picture.height - 4), CAPTION)
    packed = io.BytesIO()
    few = picture.quantize(256, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.save(packed, "PNG", optimize=False)
    return packed.getvalue()
