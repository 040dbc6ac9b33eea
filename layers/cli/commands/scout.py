"""Find edges, humps and holes, and say where to look first.

They are ranked for the depth band, with reasons.  Grids of more than 40 million
cells are processed in chunks.  If a run is interrupted, the same command continues it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from layers.cli.showing import MOST_PRINTED, print_places, table_text
from layers.jobs.parts.words import counted, short_unit

if TYPE_CHECKING:
    from geopandas import GeoDataFrame

    from layers.area import Area
    from layers.jobs.scout import ScoutResult

EXAMPLES = """\
Examples:

  seabed scout sound.tif --contours "4:16:2 m" --band "6-9 m" --out scouted

  seabed scout --area area.toml --out scouted

  seabed scout this_year.tif --against last_year.tif --out scouted

  seabed scout coast.tif --out coast --scheduler tcp://192.0.2.7:8786
"""

PLACES = {
    "map": "Map", "report": "Report", "marks": "Marks", "structure": "Layers", "ranking": "Ranking",
}  # fmt: skip


def show(result: ScoutResult) -> None:
    """Print how much was found, and where to look first."""
    for guess in result.guesses:
        print(f"Guessed: {guess}")
    print(_counts(result))
    for sentence in (*result.charts, *result.notes):
        print(sentence)
    for line in (*result.moved, *result.depths):
        print(line)
    print()
    print_prospects(result.scouted.prospects.ranking, result.area)
    print()
    print_places(result.files, PLACES)


def _counts(result: ScoutResult) -> str:
    scouted = result.scouted
    structure, prospects = scouted.structure, scouted.prospects
    kinds = structure.features["kind"].value_counts()
    axes = prospects.axes["kind"].value_counts()
    words = [
        counted(len(structure.edges), "edge") + _in_band(result),
        counted(kinds.get("hump", 0), "hump"),
        counted(kinds.get("hole", 0), "hole"),
    ]
    if not result.in_chunks:
        words += [counted(axes.get("bank", 0), "bank"), counted(axes.get("channel", 0), "channel")]
    return ", ".join([*words, counted(len(structure.contours), "contour line")])


def _in_band(result: ScoutResult) -> str:
    if result.area.depths.band_m is None:
        return ""
    return f" ({int(result.scouted.structure.edges['in_band'].sum())} in the band)"


def _nothing(area: Area) -> str:
    from seabed.units import format_quantity

    unit = short_unit(area)
    least = area.structure.edge_min_drop_m, area.structure.hump_min_height_m
    drop, height = (format_quantity(metres, unit, digits=1) for metres in least)
    return (
        f"Nothing to rank: no edge that drops {drop} or more, no hump or hole of {height}. Lower "
        "edge_min_drop, hump_min_height or edge_min_length under [structure] in the area file to "
        "see what is lower."
    )


def print_prospects(ranking: GeoDataFrame, area: Area) -> None:
    """Print where to look first, in the area's units."""
    from math import isnan

    from layers.present.positions import degrees_minutes
    from seabed.units import convert, rounded

    if not len(ranking):
        print(_nothing(area))
        return
    unit = area.units.depth
    ground = short_unit(area)
    digits = 0 if unit == "ft" else 1
    best = ranking.head(MOST_PRINTED)
    places = best.geometry.to_crs("EPSG:4326")
    headers = ["name", "kind", f"from-to {unit}", f"drop {unit}", "slope", f"in band {ground}",
               "score", "position"]  # fmt: skip
    rows = [
        [
            row.name, row.kind,
            "-".join(rounded(convert(at, unit), digits) for at in (row.shallow_m, row.deep_m)),
            rounded(convert(row.drop_m, unit), 1), rounded(row.slope_deg, 1),
            "-" if isnan(row.band_length_m) else rounded(convert(row.band_length_m, ground)),
            rounded(row.score),
            degrees_minutes(place.y, place.x),
        ]
        for row, place in zip(best.drop(columns="geometry").itertuples(index=False), places,
                              strict=True)
    ]  # fmt: skip
    print(table_text(headers, rows))
    print(f"{best['name'].iloc[0]}: {best['why'].iloc[0]}")
    if len(ranking) > MOST_PRINTED:
        print(f"and {len(ranking) - MOST_PRINTED} more in the file; every reason is in the report")
