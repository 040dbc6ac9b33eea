"""Merge your own soundings onto an open depth grid.

They are read, cleaned, freed of the tide and the sounder's lag, compared where lines cross,
gridded with their uncertainty, and merged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layers.cli.showing import print_places

if TYPE_CHECKING:
    from layers.jobs.soundings import SoundingsResult

EXAMPLES = """\
Examples:

  seabed soundings sounder.nmea --area area.toml --grid sound.tif --out soundings

  seabed soundings june.gpx july.gpx --grid sound.tif --no-tide --transducer "0.4 m" --out soundings
"""

PLACES = {
    "merged": "Merged grid",
    "own_depth": "Own grid",
    "picture": "Picture",
    "next_lines": "Sound next",
    "crossovers": "Crossovers",
    "soundings": "Soundings",
}


def show(result: SoundingsResult) -> None:
    """Print what was found, and where it is."""
    for line in (*result.sentences(), *result.notes):
        print(line)
    print()
    print_places(result.files, PLACES)
