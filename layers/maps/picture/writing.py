"""The picture of a bottom: how large it will be, and its files."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np

from layers.area import Units
from layers.cautions import CAUTIONS
from layers.maps.picture.bottom_depths import BottomDepths
from layers.maps.picture.inking import places_of
from layers.maps.picture.painting import Painter, Palette, as_png
from layers.maps.picture.printed import write_pdf
from layers.maps.picture.pyramid import BLOCK, TILE_PX, Pyramid, Tile, tile_box
from layers.maps.picture.tile_files import TILE_FILES, About
from layers.present.sheet.paper import Paper
from seabed.files import replacing
from seabed.structure.contours import round_levels
from seabed.units import LENGTH, format_quantity

BARE: Final = 3
"""So many zooms above the finest are drawn in full; coarser ones show depths alone."""

SAMPLED: Final = 3
"""Blocks painted to see how large a tile is."""

REDUCED: Final = "Zoomed out, a pixel has the mean of several depths: a small shoal may not show."


@dataclass(frozen=True, slots=True)
class Estimate:
    """How large a picture will be: by zoom so many tiles, at most, and about so many bytes."""

    tiles: dict[int, int]
    tile_bytes: float

    @property
    def zooms(self) -> range:
        """From the coarsest to the finest."""
        return range(min(self.tiles), max(self.tiles) + 1)

    @property
    def size(self) -> float:
        """About so many bytes a file of tiles."""
        return sum(self.tiles.values()) * self.tile_bytes

    def finest_within(self, most: float) -> int | None:
        """Give the finest zoom with which a file is no larger; None if there is none."""
        total = np.cumsum([self.tiles[zoom] for zoom in self.zooms]) * self.tile_bytes
        fit = [zoom for zoom, size in zip(self.zooms, total, strict=True) if size <= most]
        return fit[-1] if fit else None


class BottomPicture:
    """Depths, contours and structure, to be written as files that other programs open.

    ground: of one in a file, no more is held at a time than a block of tiles needs.
    credits: whose depths they are.
    zooms: of web Mercator tiles of 256 pixels; by default from where all of it is small to a pixel
        no wider than a cell.
    contours_m: by default about a dozen round depths.
    """

    def __init__(
        self,
        ground: BottomDepths,
        *,
        title: str,
        credits: str,
        units: Units,
        zooms: range | None = None,
        band_m: tuple[float, float] | None = None,
        contours_m: Sequence[float] | None = None,
        edges: gpd.GeoDataFrame | None = None,
        features: gpd.GeoDataFrame | None = None,
        hazards: gpd.GeoDataFrame | None = None,
    ) -> None:
        self.ground = ground
        self.pyramid = Pyramid.of(ground, zooms)
        self.unit = units.depth, LENGTH[units.depth]
        digits = 0 if units.depth == "ft" else 1
        levels = contours_m or round_levels(*self.pyramid.ends_m, unit_m=self.unit[1])

        def words(metres: float) -> str:
            return format_quantity(metres, units.depth, digits=digits)

        self.painter = Painter(
            self.ground,
            Palette(self.pyramid.ends_m, band_m),
            [(one, f"{one / self.unit[1]:.{digits}f}".removesuffix(".0")) for one in levels],
            places_of(edges, features, hazards, words),
        )
        depth_note = f"Depths in {units.depth}, below {self.ground.datum}."
        self.about = About(
            title, f"{CAUTIONS} {depth_note} {REDUCED}", credits, self.pyramid.zooms, ground.box
        )

    def estimate(self) -> Estimate:
        """Count the tiles of each zoom, and paint a few to see how large one is."""
        finest = self.pyramid.zooms[-1]
        blocks = list(self.pyramid.blocks(finest))
        middle = [blocks[int(share * (len(blocks) - 1))] for share in (0.5, 0.25, 0.75)]
        sizes = [len(png) for one in middle[:SAMPLED] for _, png in self._painted(*one)]
        counts = {zoom: len(tiles) for zoom, tiles in self.pyramid.tiles.items()}
        return Estimate(counts, float(np.mean(sizes)) if sizes else 0.0)

    def write_tiles(
        self, files: Sequence[Path], done: Callable[[float], None] = lambda share: None
    ) -> int:
        """Paint every tile once, and put it into each file, by its suffix; give how many there are.

        done: called with the share of the tiles that is painted.
        """
        with ExitStack() as stack:
            partials = [stack.enter_context(replacing(path)) for path in files]
            try:
                writers = [TILE_FILES[one.suffix[1:]](one, self.about) for one in partials]
                for writer in writers:
                    stack.callback(writer.stop)
                count = 0
                for tile, png in self._tiles(done):
                    for writer in writers:
                        writer.put(tile, png)
                    count += 1
                for writer in writers:
                    writer.close()
            except sqlite3.OperationalError as error:  # of a file of ours: there is no room
                raise OSError(errno.ENOSPC, str(error)) from error
        return count

    def _tiles(self, done: Callable[[float], None]) -> Iterator[tuple[Tile, bytes]]:
        count, whole = 0, len(self.pyramid)
        for zoom in self.pyramid.zooms:
            for corner, tiles in self.pyramid.blocks(zoom):
                done(count / whole)
                yield from self._painted(corner, tiles)
                count += len(tiles)

    def _painted(self, corner: Tile, tiles: Sequence[Tile]) -> Iterator[tuple[Tile, bytes]]:
        """Paint a block, and cut its tiles out."""
        side = BLOCK * TILE_PX
        drawn = corner[0] > self.pyramid.zooms[-1] - BARE - 1
        picture = self.painter.paint(tile_box(*corner, BLOCK), (side, side), whole=drawn)
        if picture is None:
            return
        for tile in tiles:
            left, top = ((tile[i] - corner[i]) * TILE_PX for i in (1, 2))
            png = as_png(picture.crop((left, top, left + TILE_PX, top + TILE_PX)))
            if png is not None:
                yield tile, png

    def write_page(self, path: Path, paper: Paper) -> None:
        """Write the picture on one page of a PDF."""
        with replacing(path) as partial:
            write_pdf(partial, self.painter, self.about, paper, unit=self.unit)
