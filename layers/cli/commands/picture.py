"""Write the bottom as tiles and a page for offline map programs.

Depths, contours, edges, humps and holes as MBTiles, GeoPackage, KMZ and PDF, so that a phone shows
its own position on them.  They are pictures, not charts: each tile says so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layers.cli.showing import print_places

if TYPE_CHECKING:
    from layers.jobs.picture import PictureResult

EXAMPLES = """\
Examples:

  seabed picture sound.tif --band "6-9 m" --out picture

  seabed picture --area area.toml --structure scouted/structure.gpkg --kind mbtiles --zoom 10-17

  seabed picture coast.tif --estimate
"""

LABELS = {"mbtiles": "MBTiles", "gpkg": "GeoPackage", "kmz": "KMZ", "pdf": "PDF"}


def show(result: PictureResult) -> None:
    """Print zooms and sizes, and where the files are."""
    from layers.jobs.picture import estimate_words

    words = estimate_words(result.estimate)
    print(f"{words[0].upper()}{words[1:]}")
    for sentence in result.notes:
        print(sentence)
    if result.files:
        print(f"{result.tiles:,} tiles written\n")
        print_places(result.files, LABELS)
    else:
        print("Nothing was written.")
