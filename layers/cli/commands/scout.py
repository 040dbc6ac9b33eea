"""``seabed scout``: what the bottom holds, from a depth grid."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from layers.cli import options as o

if TYPE_CHECKING:
    from collections.abc import Sequence

    from geopandas import GeoDataFrame

    from layers.area import Area
    from layers.cli.scouting.whole import Scouted

__all__ = ["EXAMPLES", "scout"]

EXAMPLES = """\
Examples:

  seabed scout sound.tif --contours "10:60:5 ft" --band "17-25 ft" --out scouted

  seabed scout --area area.toml --out scouted

  seabed scout coast.tif --out coast --scheduler tcp://192.0.2.7:8786
"""


def scout(
    *,
    grids: o.GridArguments = None,
    area: o.AreaFile = None,
    contours: o.Contours = None,
    band: o.Band = None,
    charts: o.ChartFiles = None,
    out: o.OutFolder = Path("scouted"),
    units: o.Units = None,
    pages: o.PageOptions,
    grid_words: o.GridOptions,
    effort: o.EffortOptions,
    as_json: o.Json = False,
) -> None:
    """Find edges, humps and holes, and say where to look first.

    They are ranked for the band of depth, with the reasons in words.  A grid of more than 40
    million cells is worked through in chunks; a run that was broken off goes on from the finished
    ones when the same command is given again.
    """
    from layers.cli import settings
    from layers.cli.outputs import files_of, keep_inputs
    from layers.cli.progress import progress

    chosen = settings.area_of(
        area,
        units=units,
        contours=contours,
        band=band,
        pages=pages,
        charts=charts,
        grid=grid_words,
    )
    from layers.cli import bottom
    from layers.cli.scouting import coast, whole

    keep_inputs(whole.scout_files(out).values(), [*(grids or []), *files_of(chosen)])
    stored = coast.stored_grid(chosen, grids or (), effort)
    if stored is not None:
        if not as_json:
            print(coast.told(stored, effort, out))
        with progress(coast.coast_steps(stored, effort), quiet=as_json) as step:
            found = coast.scout_stored(stored, chosen, out, effort, step)
            files = whole.write_scout(
                out, found.whole, chosen, step, shown=found.shown, notes=found.notes
            )
        found.coast.store.remove()
        _tell(found.whole, files, chosen, notes=found.notes, as_json=as_json)
        return
    with progress(whole.SCOUT_STEPS, quiet=as_json) as step:
        step("reading depths")
        surface = bottom.open_area_surface(chosen, grids or ())
        scouted = whole.scout_area(surface, chosen, step)
        files = whole.write_scout(out, scouted, chosen, step)
    _tell(scouted, files, chosen, as_json=as_json)


def _tell(
    scouted: Scouted,
    files: dict[str, Path],
    area: Area,
    *,
    notes: Sequence[str] = (),
    as_json: bool,
) -> None:
    from layers.cli.showing import print_json, print_places, records

    found = scouted.prospects
    guesses = list(scouted.structure.grid.attrs.get("guesses", []))
    said = [] if found.charted is None else list(found.charted.said)
    if as_json:
        counts = {name: len(table) for name, table in scouted.layers.items()}
        print_json(
            {"files": files, "counts": counts, "guesses": guesses, "charts": said,
             "notes": list(notes), "ranking": records(found.ranking)}
        )  # fmt: skip
        return
    for guess in guesses:
        print(f"Guessed: {guess}")
    print(_counts(scouted, in_chunks=bool(notes)))
    for sentence in (*said, *notes):
        print(sentence)
    print()
    print_prospects(found.ranking, area)
    print()
    print_places(
        files,
        {"map": "Map", "report": "Report", "marks": "Marks", "structure": "Layers",
         "ranking": "Ranking"},
    )  # fmt: skip


def _counts(scouted: Scouted, *, in_chunks: bool) -> str:
    from layers.cli.showing import counted

    structure, found = scouted.structure, scouted.prospects
    kinds = structure.features["kind"].value_counts()
    axes = found.axes["kind"].value_counts()
    words = [
        f"{counted(len(structure.edges), 'edge')} "
        f"({int(structure.edges['in_band'].sum())} in the band)",
        counted(kinds.get("hump", 0), "hump"),
        counted(kinds.get("hole", 0), "hole"),
    ]
    if not in_chunks:
        words += [counted(axes.get("bank", 0), "bank"), counted(axes.get("channel", 0), "channel")]
    return ", ".join([*words, counted(len(structure.contours), "contour line")])


def print_prospects(ranking: GeoDataFrame, area: Area, *, most: int = 10) -> None:
    """Print where to look first, in the area's units."""
    from layers.cli.showing import table_text
    from layers.exports import degrees_minutes
    from seabed.units import convert

    if not len(ranking):
        print("Nothing to rank: no edge, hump or hole.")
        return
    unit = area.units.depth
    ground = "m" if unit == "m" else "ft"
    digits = 0 if unit == "ft" else 1
    best = ranking.head(most)
    places = best.geometry.to_crs("EPSG:4326")
    headers = ["name", "kind", f"from-to {unit}", f"drop {unit}", "slope", f"in band {ground}",
               "score", "position"]  # fmt: skip
    rows = [
        [
            row.name, row.kind,
            f"{convert(row.shallow_m, unit):.{digits}f}-{convert(row.deep_m, unit):.{digits}f}",
            f"{convert(row.drop_m, unit):.1f}", f"{row.slope_deg:.1f}",
            f"{convert(row.band_length_m, ground):.0f}", f"{row.score:.0f}",
            degrees_minutes(place.y, place.x),
        ]
        for row, place in zip(best.drop(columns="geometry").itertuples(index=False), places,
                              strict=True)
    ]  # fmt: skip
    print(table_text(headers, rows))
    print(f"{best['name'].iloc[0]}: {best['why'].iloc[0]}")
    if len(ranking) > most:
        print(f"and {len(ranking) - most} more in the file; every reason is in the report")
